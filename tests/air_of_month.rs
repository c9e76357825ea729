//! The air of a month: the last 30 days as they were on any of its days, and from how many days it is told.

use purfle::climate::course::{Course, Mean};
use purfle::climate::day::by_day;
use purfle::climate::follow::{WINDOW, air_of};
use purfle::climate::reading::Air;
use purfle::clock::{Day, YearMonth, Zone};

/// A room that gets damper day by day, read on some of them.
fn rising(from: Day, days: i64, read: impl Fn(i64) -> bool) -> Course {
    let zone = Zone::named("UTC").expect("air");
    let readings = (0..days).filter(|at| read(*at)).map(|at| {
        let air = Air {
            temperature: 2000,
            humidity: 3000 + 20 * at,
        };
        (zone.moment(from.plus(at), 12, 0), air)
    });
    Course::new(by_day(&zone, readings))
}

const MAY: YearMonth = YearMonth(2025 * 12 + 4);

#[test]
fn a_month_leans_to_neither_of_its_ends() {
    let course = rising(MAY.first_day().plus(-70), 120, |_| true);
    let month = air_of(&course, MAY).expect("air");
    let up_to = |day| {
        course
            .up_to(day, WINDOW)
            .and_then(Mean::enough)
            .expect("air")
            .moisture
    };
    let all: Vec<f64> = (MAY.first_day().0..=MAY.last_day().0)
        .map(|day| up_to(Day(day)))
        .collect();
    let mean = all.iter().sum::<f64>() / 31.0;
    assert!((month.moisture - mean).abs() < 1e-9);
    // In a room that changes evenly the days of the month are as if all had come on the 16th.
    let middle = MAY.first_day().plus(15);
    assert!((month.moisture - up_to(middle)).abs() < 0.01);
    assert!((month.change - (up_to(middle) - up_to(middle.plus(-WINDOW)))).abs() < 0.01);
    assert!(up_to(MAY.last_day()) - month.moisture > 0.3);
}

#[test]
fn a_month_needs_half_of_its_days_with_both_windows() {
    let from = MAY.first_day().plus(-59);
    // The last of the readings still stands in the windows of the first days alone.
    let until = |last: i64| air_of(&rising(from, 59 + last, |_| true), MAY).is_some();
    assert!(until(31) && until(1) && !until(-10));
    let since = |first: i64| air_of(&rising(from, 90, |at| at >= first), MAY).is_some();
    // From the 16th on the 30 days before the window hold ten readings: 16 days of 31.
    assert!(since(35) && !since(37));
    assert!(air_of(&Course::default(), MAY).is_none());
}
