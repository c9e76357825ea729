//! All tests, one program: each is a sentence, in a shop of its own, on both databases.

mod reference;
mod shop;

mod bench;
mod customer;
mod intake;
mod order;
mod pickup;
mod printing;
mod question;
mod routes;
mod serve;
mod staff;
