//! All tests, one program: each is a sentence, in a shop of its own, on both databases.

mod reference;
mod shop;

mod customer;
mod intake;
mod pickup;
mod printing;
mod question;
mod routes;
mod serve;
mod staff;
