//! An interval is the range in which a rate may well lie, given how few orders it was counted from.

use serde::Serialize;

/// A rate's range, both ends within 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Interval {
    pub low: f64,
    pub high: f64,
}

/// The 95 % score interval for a rate, which stays honest for small counts and for none or all.
///
/// E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212; recommended by R. G. Newcombe, Statistics in Medicine 17 (1998)
/// 857-872 (method 3, without continuity correction). Nothing where there is nothing to count: no trials, or more
/// successes than trials.
#[must_use]
pub fn wilson(successes: u64, trials: u64) -> Option<Interval> {
    wilson_at(super::Z95, successes, trials)
}

/// The same of another level: `z` is the quantile of the standard normal distribution.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "counts of orders lie far below 2^53")]
pub fn wilson_at(z: f64, successes: u64, trials: u64) -> Option<Interval> {
    if trials == 0 || successes > trials {
        return None;
    }
    let n = trials as f64;
    let rate = successes as f64 / n;
    let z2 = z * z;
    let middle = rate + z2 / (2.0 * n);
    let half = z * (rate * (1.0 - rate) / n + z2 / (4.0 * n * n)).sqrt();
    let shrink = 1.0 + z2 / n;
    // At none and at all the formula gives 0 and 1 exactly; floating point misses them by a hair.
    let low = if successes == 0 {
        0.0
    } else {
        (middle - half) / shrink
    };
    let high = if successes == trials {
        1.0
    } else {
        (middle + half) / shrink
    };
    Some(Interval {
        low: low.clamp(0.0, 1.0),
        high: high.clamp(0.0, 1.0),
    })
}
