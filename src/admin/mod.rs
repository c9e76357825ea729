//! What the owner looks after: the shop itself, and the house it lives in.

pub mod data_folder;
pub mod health;
pub mod shop;
