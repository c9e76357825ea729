//! A deed is one act of somebody on an order, at its moment: a life of an order is its intake and its deeds.

use crate::bench::step::NewPart;
use crate::clock::Moment;

#[derive(Clone, Debug)]
pub struct Done {
    pub at: Moment,
    /// Place among the people of the shop.
    pub by: usize,
    pub deed: Deed,
}

#[derive(Clone, Debug)]
pub enum Deed {
    /// `result` as the checks know it: `found`, `not_found`, `unclear`.
    Check {
        cause: usize,
        result: &'static str,
        minutes: Option<i64>,
        note: String,
    },
    Find {
        cause: usize,
        confirmed: bool,
        place: String,
        note: String,
    },
    Plan {
        /// A job of the catalogue, or else the title.
        job: Option<usize>,
        title: String,
        /// Place among the findings of the order.
        finding: Option<usize>,
        minutes: i64,
        parts: Vec<NewPart>,
        free: bool,
    },
    /// Of the step at this place.
    Work {
        step: usize,
        minutes: i64,
    },
    Hold {
        until: Moment,
        why: &'static str,
    },
    Answer {
        yes: bool,
        said_by: String,
        channel: &'static str,
        limit: Option<i64>,
    },
    Play {
        result: &'static str,
        note: String,
    },
    Pay {
        amount: i64,
        method: &'static str,
    },
    /// `nothing_found` or `beyond_repair`.
    GiveBack {
        why: &'static str,
    },
    HandBack {
        collected_by: String,
        paid: i64,
        method: Option<&'static str>,
    },
}
