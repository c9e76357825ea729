//! What goes on paper: the tag, the claim stub, the pickup summary, and the codes on them.

pub mod care;
pub mod code;
pub mod cost;
pub mod drawing;
pub mod fit;
pub mod left;
pub mod paper;
pub mod stub;
pub mod summary;
pub mod tag;
