//! The JSON API: the same acts as the pages, for programs.

pub mod recurrence;
pub mod token;
