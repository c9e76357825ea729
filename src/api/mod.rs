//! The JSON API: the same acts as the pages, for programs.

pub mod acts;
pub mod beside;
pub mod catalogue;
pub mod change_shape;
pub mod climate;
pub mod comebacks;
pub mod customers;
pub mod diagnosis;
pub mod doing;
pub mod ears;
pub mod entries;
pub mod json;
pub mod late;
pub mod old_book;
pub mod openapi;
pub mod orders;
pub mod recurrence;
pub mod reported;
pub mod shape;
pub mod shop;
pub mod staff;
pub mod strict;
pub mod tellings;
pub mod token;
pub mod whole;
pub mod work;
