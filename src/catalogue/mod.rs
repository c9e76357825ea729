//! The catalogue: what can buzz, what to ask, and what mends it, as the trade knows it and the shop changed it.

pub mod answer;
pub mod cause;
pub mod descriptor;
pub mod job;
pub mod seed;
