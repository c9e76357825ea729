//! The months of the air as CSV: each with its air and what was confirmed in it, which is all that the causes are told by.

use std::collections::BTreeSet;

use crate::clock::Day;
use crate::db::Db;
use crate::error::Result;
use crate::reports::recurrence::{self, Names};
use crate::reports::span::Span;
use crate::reports::table_csv::{Table, text};

use super::course::Course;
use super::follow::{air_of, span};

/// Each cause in each month in which anything was inspected; where too few days have readings the air stays empty.
///
/// # Errors
/// What the database says.
pub async fn months(db: &Db, course: &Course, today: Day, names: &Names) -> Result<Table> {
    let (from, to) = span(today);
    let months = recurrence::by_month(db, Span { from, to }, "").await?;
    let causes: BTreeSet<&String> = months.iter().flat_map(|month| month.1.confirmed.keys()).collect();
    let inspected = months.iter().filter(|month| month.1.inspected > 0);
    let rows = inspected.flat_map(|(month, totals)| {
        let air = air_of(course, *month);
        let figure = |figure: Option<f64>| figure.map_or(String::new(), |figure| figure.to_string());
        causes.iter().map(move |cause| {
            let confirmed = totals.confirmed.get(*cause).copied().unwrap_or_default();
            vec![
                month.iso(),
                figure(air.map(|air| air.moisture)),
                figure(air.map(|air| air.change)),
                text(cause),
                text(&names.of(cause)),
                totals.inspected.to_string(),
                confirmed.to_string(),
            ]
        })
    });
    let head = &[
        "month",
        "wood_moisture_percent",
        "change_percent",
        "cause",
        "name",
        "inspected",
        "confirmed",
    ];
    Ok(Table::new(head, rows.collect()))
}
