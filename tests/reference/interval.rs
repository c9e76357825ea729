//! Wilson's interval against Newcombe's printed table and statsmodels.

use purfle::reports::figures::interval::wilson;

use super::rows;

const TABLE: &str = include_str!("data/binomial_intervals.csv");

#[test]
fn wilson_gives_the_printed_limits() {
    for row in rows(TABLE) {
        let ours = wilson(row.number("successes").unwrap(), row.number("trials").unwrap()).unwrap();
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
