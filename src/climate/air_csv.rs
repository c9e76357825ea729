//! The figures of the air as CSV: the days of the last year, what those days had in earlier years, plates, or the causes
//! beside the air.

use crate::clock::Day;
use crate::reports::recurrence::Names;
use crate::reports::table_csv::{Table, text};

use super::course::Course;
use super::follow::Weighed;
use super::plate::PLATES;
use super::plate_ask::Here;

/// The tables to ask for.
pub const TABLES: [&str; 5] = ["days", "earlier", "plates", "causes", "months"];

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

/// Every day of the span that any reading of earlier years stands beside.
#[must_use]
pub fn earlier(course: &Course, from: Day, to: Day) -> Table {
    let rows = (from.0..=to.0).filter_map(|day| {
        let (least, most) = course.earlier(Day(day))?;
        Some(vec![Day(day).iso(), format!("{least:.3}"), format!("{most:.3}")])
    });
    Table::new(
        &["day", "wood_moisture_least", "wood_moisture_most"],
        rows.collect(),
    )
}

/// How plates would move between the two moistures that the page speaks of; none where it speaks of none.
#[must_use]
pub fn plates(here: Here) -> Table {
    let sides = here.furthest.zip(here.now);
    let rows = sides.into_iter().flat_map(|((month, then), now)| {
        PLATES.iter().map(move |plate| {
            let moves = plate.moves(then, now);
            vec![
                plate.words.to_owned(),
                format!("{:.0}", plate.width),
                plate.wood.code().to_owned(),
                plate.cut.code().to_owned(),
                month.iso(),
                format!("{then:.3}"),
                format!("{now:.3}"),
                format!("{:.3}", moves.millimetres),
                if moves.at_least { "yes" } else { "no" }.to_owned(),
            ]
        })
    });
    Table::new(
        &[
            "plate",
            "width_mm",
            "wood",
            "cut",
            "from_month",
            "from_moisture_percent",
            "to_moisture_percent",
            "change_mm",
            "at_least",
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
