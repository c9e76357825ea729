//! What keeps coming back: the month's figures, counted as the work is done.

pub mod age;
pub mod figures;
pub mod season;
pub mod tally;
