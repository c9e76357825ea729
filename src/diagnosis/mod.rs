//! The second pair of ears: which cause it may be, what to look at next and why, and what the shop has taught.

pub mod age;
pub mod alike;
pub mod calibration;
pub mod checks;
pub mod ears_page;
pub mod evidence;
pub mod learn;
pub mod learned_before;
pub mod lesson;
pub mod line;
pub mod measure;
pub mod models;
pub mod opinion;
pub mod question;
pub mod rank;
pub mod reason;
pub mod recount;
pub mod score;
pub mod score_report;
pub mod settings;
pub mod taught;
pub mod temper;
