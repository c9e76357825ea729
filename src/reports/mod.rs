//! What keeps coming back: the month's figures, counted as the work is done.

pub mod age;
pub mod ask;
pub mod block;
pub mod calendar;
pub mod chart;
pub mod comebacks;
pub mod counted;
pub mod course;
pub mod figures;
pub mod month;
pub mod recount;
pub mod recurrence;
pub mod repaired;
pub mod report;
pub mod reported;
pub mod season;
pub mod sentences;
pub mod share;
pub mod span;
pub mod standing;
pub mod table_csv;
pub mod takings;
pub mod tally;
pub mod weigh;
