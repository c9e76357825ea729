//! Every JSON shape that the API promises, noun by noun. Names here are fixed: add, don't rename.
//!
//! Money is in minor units of the shop's currency, times are RFC 3339 in UTC, dates are days of the shop's calendar.
//! What a call sends that is the same on a page (a check, a finding, a step) stands with the noun it makes.

mod acts;
mod asked;
mod catalogue;
mod common;
mod customer;
mod house;
mod order;
mod work;

pub use acts::*;
pub use asked::*;
pub use catalogue::*;
pub use common::*;
pub use customer::*;
pub use house::*;
pub use order::*;
pub use work::*;
