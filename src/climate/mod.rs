//! The air of the shop, as its hygrometer shows it, and what the wood makes of it.

pub mod air_csv;
pub mod air_page;
pub mod chart;
pub mod course;
pub mod day;
pub mod file;
pub mod follow;
pub mod gap;
pub mod known;
pub mod months_csv;
pub mod plate;
pub mod plate_ask;
pub mod plate_chart;
pub mod plate_told;
pub mod reading;
pub mod reading_page;
pub mod wood;
