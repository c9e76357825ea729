//! All tests, one program: each is a sentence, in a shop of its own, on both databases.

mod reference;
mod shop;

mod answers;
mod api;
mod bench;
mod catalogue;
mod counter_ears;
mod customer;
mod data_folder;
mod database;
mod demo;
mod diagnosis;
mod ears;
mod ears_page;
mod fault;
mod guard;
mod intake;
mod month;
mod order;
mod pickup;
mod printing;
mod put_right;
mod question;
mod question_change;
mod ranking;
mod recount;
mod recurrence;
mod routes;
mod sentences;
mod serve;
mod shop_settings;
mod simulated;
mod staff;
mod standing;
mod tally;
