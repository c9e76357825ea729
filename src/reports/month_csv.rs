//! The month as CSV: each of its tables, as it is now or as it was reported.

use axum::extract::{RawQuery, State};
use axum::response::Response;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::{Error, Result};
use crate::form::Problems;

use super::ask::Ask;
use super::corrected::corrected;
use super::lately;
use super::month::one_of;
use super::month_tables;
use super::report::Report;
use super::reported;
use super::table_csv::{self, Table};

/// The tables to ask for.
pub const TABLES: [&str; 14] = [
    "causes",
    "course",
    "lately",
    "comebacks",
    "money",
    "jobs",
    "years",
    "inspected",
    "ages",
    "heat",
    "year",
    "seasons",
    "cells",
    "months",
];
/// Of a month that was reported: all that is not any more as it was.
pub const CORRECTED: &str = "corrected";

/// `GET /month.csv?from=2025-12&to=2026-02&family=cello&table=cells`, with `&reported=ID` as it was reported
///
/// # Errors
/// Problems with what was asked, not found, or what the database says.
pub async fn csv(State(app): State<App>, RawQuery(query): RawQuery) -> Result<Response> {
    let ask = Ask::read(query.as_deref())?;
    let table = ask.table.as_str();
    if table != CORRECTED && !TABLES.contains(&table) {
        return Err(no_such_table());
    }
    let shop = Shop::get(&app.db).await?;
    let asked = ask.understand(shop.today(app.clock.now()))?;
    let kept = reported::asked_for(&app.db, asked, &ask.reported, table == CORRECTED).await?;
    let (report, rows) = match kept {
        Some((_, was)) if table == CORRECTED => {
            let report = Report::read(&app, shop, asked).await?;
            let lines = corrected(&report.shop, &was, &report.figures);
            (report, Some(table_csv::corrected(&lines)))
        }
        Some((kept, was)) => (Report::as_it_was(asked, shop, &kept, was), None),
        None => (Report::read(&app, shop, asked).await?, None),
    };
    let rows = rows.unwrap_or_else(|| of_report(&report, table, one_of(&ask.cause)));
    // Work, money and comebacks are of the whole shop, whichever group was asked for.
    let (of, span) = (rows.of_what(), asked.span);
    let as_of = match report.reported {
        Some(_) => format!("-as-reported-{}", report.today.iso()),
        None => String::new(),
    };
    rows.answer(&format!("{table}-{of}-{span}{as_of}"))
}

/// The cells are of one cause alone where that is asked for.
fn of_report(report: &Report, table: &str, only: Option<&str>) -> Table {
    let (figures, group) = (&report.figures, report.asked.group);
    let (names, seasons) = (&figures.names, figures.by_season.seasons());
    match table {
        "cells" => table_csv::cells(&figures.recurrence, only, names).of(group),
        "causes" => table_csv::causes(&figures.recurrence, names, seasons).of(group),
        "months" => table_csv::months(&figures.recurrence, names, seasons).of(group),
        "years" => {
            let this = (report.span(), &report.totals());
            let before = figures.earlier.iter().map(|(span, totals)| (*span, totals));
            let spans: Vec<_> = std::iter::once(this).chain(before).collect();
            table_csv::years(&spans, names).of(group)
        }
        "ages" => month_tables::ages(report).of(group),
        "seasons" => month_tables::seasons(report).of(group),
        "heat" => month_tables::heat(report).of(group),
        "year" => month_tables::year(report).of(group),
        "course" => month_tables::course(report).of(group),
        "inspected" => month_tables::inspected(report).of(group),
        "lately" => lately::table(figures),
        "jobs" => table_csv::jobs(&figures.takings, &figures.job_names),
        "money" => table_csv::money(&figures.takings, &report.shop.currency()),
        "comebacks" => table_csv::comebacks(&figures.takings, &figures.every_family, names),
        _ => table_csv::corrected(&[]),
    }
}

fn no_such_table() -> Error {
    let mut problems = Problems::default();
    problems.add(
        "table",
        format!("Choose one of the tables: {}.", TABLES.join(", ")),
    );
    problems.into()
}
