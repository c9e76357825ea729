//! The second pair of ears: what the answers say of the causes.

pub mod question;
