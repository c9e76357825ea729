//! Product limit, its errors and ranges, and the log-rank test, against printed figures and lifelines.

use std::collections::BTreeMap;

use purfle::reports::figures::survival::{Curve, LogRank, Watched, log_rank};

use super::not_used::NotUsed;
use super::rows;

/// Of each data set and group: those who were watched. Freireich et al., Blood 21 (1963) 699-716; Embury et al. (1977).
fn groups() -> BTreeMap<(String, String), Watched> {
    let mut groups: BTreeMap<(String, String), Watched> = BTreeMap::new();
    for row in rows(include_str!("data/survival_data.csv")) {
        let key = (row.text("dataset").to_owned(), row.text("group").to_owned());
        let event: u64 = row.number("event").unwrap();
        let group = groups.entry(key).or_default();
        group.add(row.number("time").unwrap(), event, 1 - event);
    }
    groups
}

fn group(dataset: &str, group: &str) -> Watched {
    groups()[&(dataset.to_owned(), group.to_owned())].clone()
}

fn test(dataset: &str, one: &str, other: &str) -> LogRank {
    log_rank(&[&group(dataset, one), &group(dataset, other)]).unwrap()
}

#[test]
fn the_curve_is_the_printed_one() {
    for row in rows(include_str!("data/survival_curve.csv")) {
        let curve = Curve::of(&group(row.text("dataset"), row.text("group")));
        let day: i64 = row.number("time").unwrap();
        let point = curve.points.iter().find(|point| point.day == day).unwrap();
        assert_eq!(row.number("n_risk"), Some(point.at_risk), "{}", row.source());
        assert_eq!(row.number("n_event"), Some(point.back), "{}", row.source());
        let (error, range) = (point.standard_error(), point.interval());
        let tolerance: f64 = row.number("tolerance").unwrap();
        for (column, ours) in [
            ("survival", Some(point.survival)),
            ("se", error),
            ("loglog_lower", range.map(|range| range.low)),
            ("loglog_upper", range.map(|range| range.high)),
        ] {
            // Where all have come back the error and the range are not said.
            let computed: Option<f64> = row.number(&format!("computed_{column}"));
            if let (Some(computed), Some(ours)) = (computed, ours) {
                assert!(
                    (ours - computed).abs() <= 1e-9_f64.max(computed.abs() * 2e-9),
                    "{column}: {ours} {computed} {}",
                    row.source()
                );
            }
            if let (Some(printed), Some(ours), false) =
                (printed(&row, column), ours, column.starts_with("loglog"))
            {
                assert!(
                    (ours - printed).abs() <= tolerance,
                    "{column}: {ours} {printed} {}",
                    row.source()
                );
            }
            assert!(
                ours.is_some() || point.survival <= 0.0,
                "{column} {}",
                row.source()
            );
        }
    }
}

fn printed(row: &super::Row, column: &str) -> Option<f64> {
    matches!(column, "survival" | "se")
        .then(|| row.number(&format!("published_{column}")))
        .flatten()
}

#[test]
fn the_curves_are_compared_as_printed() {
    for row in rows(include_str!("data/survival_tests.csv")) {
        let (dataset, a, b) = (row.text("dataset"), row.text("group_a"), row.text("group_b"));
        let test = test(dataset, a, b);
        let half = |group_: &str| {
            let curve = Curve::of(&group(dataset, group_));
            let point = curve.points.into_iter().find(|point| point.survival <= 0.5);
            f64::from(i32::try_from(point.unwrap().day).unwrap())
        };
        let count = |n: u64| f64::from(u32::try_from(n).unwrap());
        let ours = match row.text("quantity") {
            "logrank_chi2" => test.chi_square,
            "logrank_p" => test.p_value,
            "observed_a" => count(test.observed[0]),
            "observed_b" => count(test.observed[1]),
            "expected_a" => test.expected[0],
            "expected_b" => test.expected[1],
            "median_a" => half(a),
            other => panic!("{other}"),
        };
        let (computed, tolerance): (f64, f64) =
            (row.number("computed").unwrap(), row.number("tolerance").unwrap());
        assert!(
            (ours - computed).abs() <= computed.abs() * 1e-8,
            "{ours} {computed} {}",
            row.source()
        );
        if let Some(published) = row.number::<f64>("published") {
            assert!(
                (ours - published).abs() <= tolerance.max(1e-12),
                "{ours} {published} {}",
                row.source()
            );
        }
        assert_eq!(test.df, 1);
    }
}

/// A column is read, or said not to be used.
#[test]
fn all_figures_of_the_curve_are_read() {
    let mut not_used = NotUsed::of("survival_curve");
    let all = rows(include_str!("data/survival_curve.csv"));
    for column in all[0].0.keys() {
        let figure = column
            .strip_prefix("computed_")
            .or_else(|| column.strip_prefix("published_"));
        match figure {
            None | Some("survival" | "se" | "loglog_lower" | "loglog_upper") => {}
            Some(other) => not_used.cross_off(other),
        }
    }
}

/// All four groups of both data sets beside each other: lifelines 0.30.3, `multivariate_logrank_test`, on the same rows.
#[test]
fn four_groups_are_compared_at_once() {
    let all = groups();
    let four: Vec<&Watched> = all.values().collect();
    let test = log_rank(&four).unwrap();
    assert_eq!(test.df, 3);
    let (observed, expected): (u64, f64) = (test.observed.iter().sum(), test.expected.iter().sum());
    assert!((expected - f64::from(u32::try_from(observed).unwrap())).abs() < 1e-9);
    assert!(
        (test.chi_square - 32.986_649_020_607_99).abs() < 1e-9,
        "{}",
        test.chi_square
    );
    assert!(
        (test.p_value - 3.241_624_810_142_961_3e-7).abs() < 1e-15,
        "{}",
        test.p_value
    );
}
