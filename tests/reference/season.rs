//! The swing over the year against Poisson and binomial regressions of statsmodels.

use purfle::reports::figures::regression::Family;
use purfle::reports::figures::season::{Swing, swing};

use purfle::reports::figures::chi_square_2;

use super::not_used::NotUsed;
use super::{near, rows};

const COUNTS: &str = include_str!("data/seasonality_counts.csv");
const TESTS: &str = include_str!("data/seasonality_tests.csv");
const BINOMIAL: &str = include_str!("data/seasonality_binomial.csv");
const BARTLETT: &str = include_str!("data/bartlett_computed.csv");

fn degrees(swing: &Swing) -> f64 {
    swing.peak * 30.0
}

#[test]
fn counts_by_month_swing_as_the_poisson_regression_says() {
    let (mut not_used, mut checked) = (NotUsed::of("seasonality_tests"), 0);
    for row in rows(TESTS) {
        if row.text("test") != "cosinor_poisson_days" {
            not_used.cross_off(row.text("test"));
            continue;
        }
        let dataset = row.text("dataset");
        let mut months = [(0, 0); 12];
        for month in rows(COUNTS) {
            if month.text("dataset") == dataset {
                let at: usize = month.number("month").unwrap();
                let days: f64 = month.number("days").unwrap();
                // February of several years has days and a quarter: in quarters all are whole.
                #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "days")]
                let quarters = (days * 4.0).round() as u64;
                months[at - 1] = (month.number("count").unwrap(), quarters);
            }
        }
        let swing = swing(Family::Poisson, &months).unwrap();
        let ours = match row.text("quantity") {
            "lr_chi2" => swing.chi_square,
            // As the library has it, without the correction.
            "p" => chi_square_2(swing.chi_square),
            "amplitude_log" => swing.amplitude,
            "peak_deg" => degrees(&swing),
            other => panic!("{other}"),
        };
        let computed: f64 = row.number("computed").unwrap();
        near(ours, Some(computed), 1e-8 + computed.abs() * 2e-6, &row.source());
        let tolerance = row.number("tolerance").unwrap();
        near(ours, row.number("published"), tolerance, &row.source());
        checked += 1;
    }
    assert_eq!(checked, 24);
}

#[test]
fn shares_by_month_swing_as_the_binomial_regression_says() {
    for row in rows(BINOMIAL) {
        let list = |column: &str| -> Vec<u64> {
            row.text(column)
                .split(';')
                .map(|count| count.parse().unwrap())
                .collect()
        };
        let (counts, sizes) = (list("counts"), list("sizes"));
        let months = std::array::from_fn(|month| (counts[month], sizes[month]));
        let swing = swing(Family::Binomial, &months).unwrap();
        let is = |ours: f64, column: &str| {
            let computed: f64 = row.number(column).unwrap();
            near(ours, Some(computed), 1e-7 + computed.abs() * 1e-6, &row.source());
        };
        is(swing.chi_square, "lr_chi2");
        is(chi_square_2(swing.chi_square), "p");
        is(swing.amplitude, "amplitude");
        is(degrees(&swing), "peak_deg");
        // The half width of the peak, by the same delta method on the covariances that statsmodels gives.
        let number = |column: &str| row.number::<f64>(column).unwrap();
        let (amplitude, angle) = (number("amplitude"), number("peak_deg").to_radians());
        let (sine, cosine) = (angle.sin(), angle.cos());
        let variance = sine * sine * number("var_cos") + cosine * cosine * number("var_sin")
            - 2.0 * sine * cosine * number("cov");
        let half = 1.959_963_984_540_054 * variance.sqrt() / amplitude * 6.0 / std::f64::consts::PI;
        match swing.peak_within {
            Some(within) => near(within, Some(half), half * 1e-5, &row.source()),
            None => assert!(half >= 6.0, "{half} {}", row.source()),
        }
    }
}

/// Few counted and many, by size and by days: large counts are hardly corrected, small ones by some percent.
#[test]
fn the_ratio_is_corrected_as_bartlett_and_cordeiro_say() {
    for row in rows(BARTLETT) {
        let list = |column: &str| -> Vec<u64> {
            let counts = row.text(column).split(';');
            counts.map(|count| count.parse().unwrap()).collect()
        };
        let (counts, sizes) = (list("counts"), list("sizes"));
        let family = match row.text("family") {
            "binomial" => Family::Binomial,
            "poisson" => Family::Poisson,
            other => panic!("{other}"),
        };
        let swing = swing(
            family,
            &std::array::from_fn(|month| (counts[month], sizes[month])),
        )
        .unwrap();
        near(swing.chi_square, row.number("lr_chi2"), 1e-7, &row.source());
        near(swing.correction, row.number("correction"), 1e-9, &row.source());
        near(swing.p_value, row.number("p_corrected"), 1e-8, &row.source());
    }
}

#[test]
fn there_is_no_swing_where_none_can_be_fitted() {
    let none = [(0, 20); 12];
    assert_eq!(swing(Family::Binomial, &none), None);
    assert_eq!(swing(Family::Binomial, &[(20, 20); 12]), None);
    assert_eq!(swing(Family::Binomial, &[(0, 0); 12]), None);
    let mut two = [(0, 0); 12];
    (two[0], two[6]) = ((3, 10), (1, 10));
    assert_eq!(swing(Family::Binomial, &two), None);
    // All of them in one month alone: the wave that fits best has no end.
    let mut one = [(0, 10); 12];
    one[3] = (10, 10);
    if let Some(swing) = swing(Family::Binomial, &one) {
        assert!(swing.p_value.is_finite() && swing.amplitude.is_finite());
    }
    let flat = swing(Family::Binomial, &[(2, 20); 12]).unwrap();
    assert!((flat.p_value - 1.0).abs() < 1e-9 && flat.peak_within.is_none());
}

#[test]
fn the_peak_has_its_month() {
    for peak in 0..12 {
        let months = std::array::from_fn(|month| if month == peak { (30, 60) } else { (10, 60) });
        let swing = swing(Family::Binomial, &months).unwrap();
        assert_eq!(usize::from(swing.peak_month()), peak + 1);
        assert!(swing.p_value < 0.05 && swing.ratio() > 1.0);
    }
}
