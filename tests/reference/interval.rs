//! Wilson's interval, and what is made of it, against Newcombe's printed tables and statsmodels.

use purfle::reports::figures::interval::{wilson, wilson_at};
use statrs::distribution::{ContinuousCDF, Normal};

use super::not_used::NotUsed;
use super::{near, rows};

const TABLE: &str = include_str!("data/binomial_intervals.csv");
const DIFFERENCES: &str = include_str!("data/rate_difference_intervals.csv");
const POISSON: &str = include_str!("data/poisson_rate_intervals.csv");

/// How many deviations hold so much of the normal distribution, to both sides.
fn deviations(confidence: f64) -> f64 {
    let normal = Normal::standard();
    normal.inverse_cdf(0.5 + confidence / 2.0)
}

#[test]
fn wilson_gives_the_printed_limits() {
    let (mut not_used, mut checked) = (NotUsed::of("binomial_intervals"), 0);
    for row in rows(TABLE) {
        if row.text("method") != "wilson" {
            not_used.cross_off(row.text("method"));
            continue;
        }
        let (successes, trials) = (row.number("successes").unwrap(), row.number("trials").unwrap());
        let confidence: f64 = row.number("confidence").unwrap();
        let ours = wilson_at(deviations(confidence), successes, trials).unwrap();
        if (confidence - 0.95).abs() < 1e-12 {
            let usual = wilson(successes, trials).unwrap();
            near(usual.low, Some(ours.low), 1e-12, &row.source());
            near(usual.high, Some(ours.high), 1e-12, &row.source());
        }
        checked += 1;
        let tolerance: f64 = row.number("tolerance").unwrap();
        for (limit, end) in [(ours.low, "lower"), (ours.high, "upper")] {
            if let Some(printed) = row.number::<f64>(&format!("published_{end}")) {
                assert!(
                    (limit - printed).abs() <= tolerance,
                    "{limit} {printed} {}",
                    row.source()
                );
            }
            // The table keeps ten significant digits.
            let computed: f64 = row.number(&format!("computed_{end}")).unwrap();
            assert!(
                (limit - computed).abs() <= 1e-9,
                "{limit} {computed} {}",
                row.source()
            );
        }
    }
    assert_eq!(checked, 12);
}

/// Two shares are told beside each other, each with its range; of these ranges Newcombe makes that of their difference.
#[test]
fn of_two_ranges_follows_the_printed_range_of_the_difference() {
    let all = rows(DIFFERENCES);
    assert_eq!(all.len(), 3);
    for row in all {
        assert_eq!(row.text("method"), "newcombe_hybrid_score");
        let count = |column| row.number::<u64>(column).unwrap();
        let z = deviations(row.number("confidence").unwrap());
        let of = |x: u32, n: u32| {
            (
                f64::from(x) / f64::from(n),
                wilson_at(z, x.into(), n.into()).unwrap(),
            )
        };
        let small = |column| u32::try_from(count(column)).unwrap();
        let (one, other) = (of(small("x1"), small("n1")), of(small("x2"), small("n2")));
        let difference = one.0 - other.0;
        let low = difference - (one.0 - one.1.low).hypot(other.1.high - other.0);
        let high = difference + (one.1.high - one.0).hypot(other.0 - other.1.low);
        for (ours, what) in [(difference, "difference"), (low, "lower"), (high, "upper")] {
            let tolerance = row.number("tolerance").unwrap();
            near(
                ours,
                row.number(&format!("published_{what}")),
                tolerance,
                &row.source(),
            );
            near(ours, row.number(&format!("computed_{what}")), 1e-9, &row.source());
        }
    }
}

#[test]
fn rates_per_time_are_said_not_to_be_used() {
    let mut not_used = NotUsed::of("poisson_rate_intervals");
    for row in rows(POISSON) {
        assert!(!row.source().is_empty());
        not_used.cross_off("garwood");
    }
}

#[test]
fn nothing_counted_has_no_interval() {
    assert_eq!(wilson(0, 0), None);
    assert_eq!(wilson(3, 2), None);
}

/// The limits are the rates that the score test at 95 % just does not refuse: Wilson's own definition (1927).
#[test]
fn each_limit_lies_one_quantile_from_the_rate() {
    for trials in 1..=60_u64 {
        for successes in 1..trials {
            let ours = wilson(successes, trials).unwrap();
            let n = f64::from(u32::try_from(trials).unwrap());
            let rate = f64::from(u32::try_from(successes).unwrap()) / n;
            assert!(0.0 < ours.low && ours.low < rate && rate < ours.high && ours.high < 1.0);
            for limit in [ours.low, ours.high] {
                let score = (rate - limit).abs() / (limit * (1.0 - limit) / n).sqrt();
                assert!(
                    (score - 1.959_963_984_540_054).abs() < 1e-9,
                    "{successes} of {trials}: {score}"
                );
            }
        }
    }
}
