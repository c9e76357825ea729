//! The counter: who comes, with what, taken in and handed back.

pub mod customer;
pub mod find;
pub mod instrument;
pub mod intake;
pub mod order;
pub mod order_changes;
pub mod order_page;
pub mod order_sheet;
pub mod pickup;
pub mod story;
pub mod tag;
