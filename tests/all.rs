//! All tests, one program: each is a sentence, in a shop of its own, on both databases.

mod reference;
mod shop;

mod answers;
mod api;
mod bench;
mod catalogue;
mod customer;
mod data_folder;
mod database;
mod demo;
mod diagnosis;
mod fault;
mod guard;
mod intake;
mod month;
mod order;
mod pickup;
mod printing;
mod question;
mod question_change;
mod ranking;
mod recurrence;
mod routes;
mod sentences;
mod serve;
mod shop_settings;
mod simulated;
mod staff;
