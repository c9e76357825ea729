//! The counter: who comes, with what, taken in and handed back.

pub mod answers;
pub mod book;
pub mod correction;
pub mod customer;
pub mod customer_page;
pub mod find;
pub mod gone;
pub mod instrument;
pub mod instrument_page;
pub mod intake;
pub mod intake_page;
pub mod order;
pub mod order_changes;
pub mod order_page;
pub mod order_sheet;
pub mod pickup;
pub mod pickup_page;
pub mod put_right;
pub mod put_right_page;
pub mod size;
pub mod stage;
pub mod story;
pub mod tag;
pub mod today;
pub mod visits;
