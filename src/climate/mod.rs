//! The air of the shop, as its hygrometer shows it, and what the wood makes of it.

pub mod air_csv;
pub mod air_page;
pub mod chart;
pub mod course;
pub mod day;
pub mod file;
pub mod follow;
pub mod months_csv;
pub mod plate;
pub mod reading;
pub mod reading_page;
pub mod wood;
