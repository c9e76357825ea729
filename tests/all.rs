//! All tests, one program: each is a sentence, in a shop of its own, on both databases.

mod reference;
mod shop;

mod bench;
mod order;
mod staff;
