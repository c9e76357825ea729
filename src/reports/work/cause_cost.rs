//! The cost of a cause: the minutes and parts of the steps planned for it, and what was charged for them.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use crate::money::Money;
use crate::reports::counted::Sum;
use crate::reports::tally::What;

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CauseCost {
    pub cause: String,
    pub orders: i64,
    pub minutes: i64,
    pub parts: Money,
    /// Minutes at the labour rate of today, and parts.
    pub cost: Money,
    pub charged: Money,
    pub free_minutes: i64,
    pub free_parts: Money,
    /// Of the cost, what was put right without charge as it came back within the comeback window.
    pub free: Money,
}

/// Each cause, the dearest to the shop first.
#[must_use]
pub fn of(sums: &[Sum], rate: Money) -> Vec<CauseCost> {
    let mut causes = BTreeMap::<&str, CauseCost>::new();
    for sum in sums.iter().filter(|sum| sum.what == What::Cost) {
        let Some((cause, kind)) = sum.code.rsplit_once(' ') else {
            continue;
        };
        let (of, n) = (causes.entry(cause).or_default(), sum.n);
        match kind {
            "orders" => of.orders += n,
            "minutes" => of.minutes += n,
            "parts" => of.parts.0 += n,
            "charged" => of.charged.0 += n,
            "free_minutes" => of.free_minutes += n,
            "free_parts" => of.free_parts.0 += n,
            _ => {}
        }
    }
    let mut causes: Vec<CauseCost> = causes
        .into_iter()
        .filter(|(_, of)| of.orders > 0)
        .map(|(cause, of)| CauseCost {
            cause: cause.to_owned(),
            cost: Money(labour(of.minutes, rate) + of.parts.0),
            free: Money(labour(of.free_minutes, rate) + of.free_parts.0),
            ..of
        })
        .collect();
    causes.sort_by_key(|of| (Reverse(of.cost), of.cause.clone()));
    causes
}

/// Of years of work, which may come to more than one bill may.
fn labour(minutes: i64, rate: Money) -> i64 {
    let sixtieths = i128::from(minutes) * i128::from(rate.0);
    i64::try_from((sixtieths + 30).div_euclid(60)).unwrap_or(i64::MAX)
}
