//! What the owner looks after: the shop itself, and the house it lives in.

pub mod check;
pub mod data_folder;
pub mod health;
pub mod new_shop;
pub mod private;
pub mod set_up;
pub mod settings;
pub mod shop;
pub mod shop_form;
