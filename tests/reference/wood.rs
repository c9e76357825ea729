//! Wood moisture, shrinkage and movement against the tables of the Wood Handbook.

use purfle::climate::wood::{Cut, Wood, change, coefficient_of_shrinkage, moisture, movement};

use super::not_used::NotUsed;
use super::{near, rows};

const TABLE: &str = include_str!("data/wood_emc_table.csv");
const MODELS: &str = include_str!("data/wood_emc_models.csv");
const COEFFICIENTS: &str = include_str!("data/wood_emc_coefficients.csv");
/// The equation in degrees Fahrenheit has coefficients of its own, rounded otherwise: so far they are apart at most.
const ROUNDED: f64 = 0.013;
const SHRINKAGE: &str = include_str!("data/wood_shrinkage.csv");
const MOVEMENT: &str = include_str!("data/wood_movement.csv");

#[test]
fn moisture_is_that_of_the_handbooks_table() {
    for row in rows(TABLE) {
        let fahrenheit: f64 = row.number("temperature_f").unwrap();
        let humidity = row.number("relative_humidity_pct").unwrap();
        let ours = moisture((fahrenheit - 32.0) / 1.8, humidity);
        let tolerance: f64 = row.number("tolerance_pct").unwrap();
        let published: f64 = row.number("published_emc_pct").unwrap();
        assert!(
            (ours - published).abs() <= tolerance,
            "{ours} {published} {}",
            row.source()
        );
        let computed: f64 = row.number("computed_emc_c_pct").unwrap();
        assert!(
            (ours - computed).abs() < 6e-4,
            "{ours} {computed} {}",
            row.source()
        );
    }
}

#[test]
fn moisture_is_that_of_worked_examples() {
    let (mut not_used, mut checked) = (NotUsed::of("wood_emc_models"), 0);
    for row in rows(MODELS) {
        let within = match row.text("model") {
            "simpson1973_celsius" => 1e-6,
            "simpson1973_fahrenheit" => ROUNDED,
            other => {
                not_used.cross_off(other);
                continue;
            }
        };
        let ours = moisture(
            row.number("temperature_c").unwrap(),
            row.number("relative_humidity_pct").unwrap(),
        );
        let computed: f64 = row.number("computed_emc_pct").unwrap();
        assert!(
            (ours - computed).abs() < within,
            "{ours} {computed} {}",
            row.source()
        );
        if let Some(published) = row.number::<f64>("published_emc_pct") {
            let tolerance: f64 = row.number("tolerance_pct").unwrap();
            assert!(
                (ours - published).abs() <= tolerance,
                "{ours} {published} {}",
                row.source()
            );
        }
        checked += 1;
    }
    assert_eq!(checked, 23);
}

/// Equation 4-5 with the coefficients as they are printed, at every degree and percent that a hygrometer shows.
#[test]
fn moisture_is_that_of_the_printed_coefficients() {
    let printed = |model: &str, parameter: &str, t: f64| {
        let all = rows(COEFFICIENTS);
        let row = all
            .iter()
            .find(|row| row.text("model") == model && row.text("parameter") == parameter)
            .expect("coefficients");
        let c = |column| row.number::<f64>(column).unwrap();
        c("c0") + c("c1") * t + c("c2") * t * t
    };
    assert_eq!(rows(COEFFICIENTS).len(), 8);
    for celsius in [-10, 0, 5, 12, 18, 20, 21, 24, 30, 40] {
        let celsius = f64::from(celsius);
        for (model, t, within) in [
            ("simpson1973_celsius", celsius, 1e-9),
            ("simpson1973_fahrenheit", celsius * 1.8 + 32.0, 0.02),
        ] {
            let [w, k, k1, k2] = ["W", "K", "K1", "K2"].map(|parameter| printed(model, parameter, t));
            for humidity in 0..=95 {
                let kh = k * f64::from(humidity) / 100.0;
                let (one, two) = (k1 * kh, k1 * k2 * kh * kh);
                let theirs = 1800.0 / w * (kh / (1.0 - kh) + (one + 2.0 * two) / (1.0 + one + two));
                near(
                    moisture(celsius, f64::from(humidity)),
                    Some(theirs),
                    within,
                    &format!("{model} {celsius} {humidity}"),
                );
            }
        }
    }
}

#[test]
fn coefficients_follow_from_shrinkage_and_ours_are_published() {
    let ours = |species: &str, cut| match species {
        "spruce, Engelmann" => Some(Wood::Spruce.coefficient(cut)),
        "maple, sugar" => Some(Wood::Maple.coefficient(cut)),
        _ => None,
    };
    let mut known = 0;
    for row in rows(SHRINKAGE) {
        let tolerance: f64 = row.number("tolerance_per_pct_mc").unwrap();
        let published: Option<f64> = row.number("published_coefficient_per_pct_mc");
        if let Some(shrinkage) = row.number("shrinkage_green_to_ovendry_pct") {
            let computed = coefficient_of_shrinkage(shrinkage);
            near(
                computed,
                row.number("computed_coefficient_per_pct_mc"),
                1e-8,
                &row.source(),
            );
            near(computed, published, tolerance, &row.source());
        }
        let cut = if row.text("direction") == "radial" {
            Cut::Radial
        } else {
            Cut::Tangential
        };
        if let Some(ours) = ours(row.text("species"), cut) {
            assert!(published.is_some());
            near(ours, published, 1e-12, &row.source());
            known += 1;
        }
    }
    assert_eq!(known, 4);
}

#[test]
fn plates_move_as_the_examples_say() {
    for row in rows(MOVEMENT) {
        let figure = |column| row.number::<f64>(column).unwrap();
        let (width, coefficient) = (figure("dimension_mm"), figure("coefficient_per_pct_mc"));
        let (from, to) = (figure("moisture_start_pct"), figure("moisture_end_pct"));
        let ours = change(width, coefficient, from, to);
        near(ours, row.number("computed_change_mm"), 0.001, &row.source());
        near(
            ours,
            row.number("published_change_mm"),
            figure("tolerance_mm"),
            &row.source(),
        );
        // All of them lie where the rule holds, so that the whole of it is told.
        let told = movement(width, coefficient, from, to);
        near(told.millimetres, Some(ours), 1e-12, &row.source());
        assert!(!told.at_least);
    }
}
