//! What goes on paper.

pub mod code;
