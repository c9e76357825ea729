//! The figures of the air as CSV: the days of the last year, or the causes beside the air.

use crate::clock::Day;
use crate::reports::recurrence::Names;
use crate::reports::table_csv::{Table, text};

use super::course::Course;
use super::follow::Weighed;

/// The tables to ask for.
pub const TABLES: [&str; 3] = ["days", "causes", "months"];

#[must_use]
pub fn days(course: &Course, from: Day, to: Day) -> Table {
    let figure = |number: f64| format!("{number:.3}");
    let thousandths = |number: i64| format!("{}.{:03}", number / 1000, number % 1000);
    let rows = course.within(from, to).iter().map(|day| {
        vec![
            day.day.iso(),
            day.readings.to_string(),
            figure(day.mean_temperature()),
            figure(day.mean_humidity()),
            figure(day.mean_moisture()),
            thousandths(day.moisture_least),
            thousandths(day.moisture_most),
        ]
    });
    Table::new(
        &[
            "day",
            "readings",
            "temperature_c",
            "relative_humidity",
            "wood_moisture_percent",
            "wood_moisture_least",
            "wood_moisture_most",
        ],
        rows.collect(),
    )
}

#[must_use]
pub fn causes(weighed: &Weighed, names: &Names) -> Table {
    let rows = weighed.causes.iter().map(|cause| {
        let mut row = vec![
            text(&cause.cause),
            text(&names.of(&cause.cause)),
            cause.confirmed.to_string(),
            cause.inspected.to_string(),
        ];
        for odds in [&cause.drier, &cause.drying] {
            row.extend([odds.times, odds.low, odds.high].map(|figure| figure.to_string()));
        }
        row.extend([cause.p_value.to_string(), cause.q_value.to_string()]);
        row
    });
    Table::new(
        &[
            "cause",
            "name",
            "confirmed",
            "inspected",
            "odds_per_percent_drier",
            "drier_low",
            "drier_high",
            "odds_per_percent_lost",
            "lost_low",
            "lost_high",
            "p_value",
            "q_value",
        ],
        rows.collect(),
    )
}
