//! Statistics without a database or a page in sight.

pub mod interval;
