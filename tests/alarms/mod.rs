//! Alarms: in shops where there is nothing to find no more is told than was stated, and what is there is found.
//!
//! How many alarms are too many follows from the rate that is stated, and is no figure of ours: [`at_most`].

mod comebacks;
mod minutes;
mod parts;
mod swings;

use statrs::distribution::{Binomial, DiscreteCDF};

/// So many alarms at a stated rate are gone beyond one time in forty by chance alone (binomial distribution).
pub fn at_most(rate: f64, shops: u64) -> f64 {
    let alarms = Binomial::new(rate, shops).expect("a rate").inverse_cdf(0.975);
    f64::from(u32::try_from(alarms).expect("few"))
}

/// As few are fallen short of one time in forty.
pub fn at_least(rate: f64, shops: u64) -> f64 {
    let found = Binomial::new(rate, shops).expect("a rate").inverse_cdf(0.025);
    f64::from(u32::try_from(found).expect("few"))
}

/// scipy 1.17: stats.binom.ppf(0.975, 1000, 0.05), (0.975, 10000, 0.05) and (0.025, 1000, 0.95).
#[test]
fn the_margins_are_those_of_scipy() {
    let margins = [at_most(0.05, 1000), at_most(0.05, 10_000), at_least(0.95, 1000)];
    assert_eq!(margins.map(|margin| format!("{margin}")), ["64", "543", "936"]);
}
