//! A table of the report as CSV (RFC 4180), for a spreadsheet: texts that would start a formula there are defused.

use std::cmp::Reverse;
use std::collections::BTreeSet;

use axum::response::{IntoResponse, Response};
use csv::{Terminator, Writer, WriterBuilder};

use crate::error::{Error, Result};
use crate::money::Currency;
use crate::pieces::csv_headers;

use super::calendar::Calendar;
use super::corrected::Corrected;
use super::group::{GROUPS, Group};
use super::recurrence::{Names, Recurrence, Totals};
use super::season::{Season, Seasons};
use super::share::Share;
use super::span::Span;
use super::standing::standings;
use super::takings::Takings;
use super::weigh;

pub struct Table {
    head: &'static [&'static str],
    rows: Vec<Vec<String>>,
    /// Stands in each row of a table that may be of one; others are of the whole shop.
    group: Option<&'static Group>,
}

impl Table {
    /// Each row has a cell for each word of the head.
    #[must_use]
    pub fn new(head: &'static [&'static str], rows: Vec<Vec<String>>) -> Table {
        Table {
            head,
            rows,
            group: None,
        }
    }

    /// Says in a last column of what it is.
    #[must_use]
    pub fn of(self, group: &'static Group) -> Table {
        Table {
            group: Some(group),
            ..self
        }
    }

    /// "all" or the code of the group.
    #[must_use]
    pub fn of_what(&self) -> &'static str {
        self.group.unwrap_or(&GROUPS[0]).name()
    }
}

/// A text that a spreadsheet would take for a formula gets an apostrophe before it.
#[must_use]
pub fn text(words: &str) -> String {
    let begins = words.trim_start_matches([' ', '\u{a0}']);
    if begins.starts_with([
        '=', '+', '-', '@', '\t', '\r', '\n', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}',
    ]) {
        format!("'{words}")
    } else {
        words.to_owned()
    }
}

pub(super) fn figure(number: Option<f64>) -> String {
    number.map_or(String::new(), |number| number.to_string())
}

/// Inspected, confirmed, and the rate with its range: empty where nobody was inspected.
pub(super) fn share(share: Share) -> Vec<String> {
    let interval = share.interval();
    vec![
        share.inspected.to_string(),
        share.confirmed.to_string(),
        figure(share.rate()),
        figure(interval.map(|interval| interval.low)),
        figure(interval.map(|interval| interval.high)),
        if share.few() { "yes" } else { "no" }.to_owned(),
    ]
}

pub(super) fn row(begin: impl IntoIterator<Item = String>, rest: Vec<String>) -> Vec<String> {
    begin.into_iter().chain(rest).collect()
}

#[must_use]
pub fn cells(figures: &Recurrence, only: Option<&str>, names: &Names) -> Table {
    let cells = weigh::cells(figures, only).into_iter().map(|cell| {
        let begin = [
            text(&cell.cause.cause),
            text(&names.of(&cell.cause.cause)),
            figures.bands.code(cell.band),
            cell.season.code().to_owned(),
        ];
        let weighed = cell.weighed;
        let mut row = row(begin, share(weighed.share));
        row.extend([cell.shrunk, weighed.p_value, weighed.q_value].map(figure));
        row
    });
    Table::new(
        &[
            "cause",
            "name",
            "age_band",
            "season",
            "inspected",
            "confirmed",
            "rate",
            "low",
            "high",
            "too_few",
            "shrunk_rate",
            "p_value",
            "q_value",
        ],
        cells.collect(),
    )
}

#[must_use]
pub fn causes(figures: &Recurrence, names: &Names, seasons: Seasons) -> Table {
    let calendar = Calendar::of_figures(figures, seasons);
    let standings = standings(figures, &Season::ALL, &calendar, &calendar);
    let causes = figures.causes.iter().zip(standings).map(|(cause, standing)| {
        let begin = [text(&cause.cause), text(&names.of(&cause.cause))];
        let mut row = row(begin, share(figures.share(cause)));
        let (trend, swing) = (standing.trend, standing.swing);
        row.extend([
            figure(trend.map(|trend| trend.slope)),
            figure(trend.map(|trend| trend.p_value)),
            figure(standing.trend_q),
            swing.map_or(String::new(), |swing| swing.peak_month().to_string()),
            figure(swing.map(|swing| swing.amplitude)),
            figure(swing.map(|swing| swing.p_value)),
            figure(standing.swing_q),
        ]);
        row
    });
    Table::new(
        &[
            "cause",
            "name",
            "inspected",
            "confirmed",
            "rate",
            "low",
            "high",
            "too_few",
            "age_slope",
            "age_p_value",
            "age_q_value",
            "peak_month",
            "season_amplitude",
            "season_p_value",
            "season_q_value",
        ],
        causes.collect(),
    )
}

/// Each cause in each month of the year, whatever the year; how many were inspected stands in each row.
#[must_use]
pub fn months(figures: &Recurrence, names: &Names, seasons: Seasons) -> Table {
    let calendar = Calendar::of_figures(figures, seasons);
    let rows = figures.causes.iter().flat_map(|cause| {
        let months = (1..).zip(calendar.by_month(&cause.cause));
        months.map(|(month, share)| {
            vec![
                text(&cause.cause),
                text(&names.of(&cause.cause)),
                month.to_string(),
                share.inspected.to_string(),
                share.confirmed.to_string(),
            ]
        })
    });
    Table::new(
        &["cause", "name", "month", "inspected", "confirmed"],
        rows.collect(),
    )
}

/// Each cause that was confirmed in any of the spans, in each of them.
#[must_use]
pub fn years(spans: &[(Span, &Totals)], names: &Names) -> Table {
    let causes: BTreeSet<&String> = spans.iter().flat_map(|span| span.1.confirmed.keys()).collect();
    let rows = causes.into_iter().flat_map(|cause| {
        spans.iter().map(move |(span, totals)| {
            let begin = [
                text(cause),
                text(&names.of(cause)),
                span.from.iso(),
                span.to.iso(),
            ];
            row(begin, share(totals.share(cause)))
        })
    });
    Table::new(
        &[
            "cause",
            "name",
            "from",
            "to",
            "inspected",
            "confirmed",
            "rate",
            "low",
            "high",
            "too_few",
        ],
        rows.collect(),
    )
}

#[must_use]
pub fn jobs(takings: &Takings, names: &Names) -> Table {
    let jobs = takings.jobs.iter().map(|job| {
        vec![
            text(&job.job),
            text(&names.of(&job.job)),
            job.steps.to_string(),
            job.planned_minutes.to_string(),
            job.actual_minutes.to_string(),
        ]
    });
    Table::new(
        &["job", "name", "steps", "planned_minutes", "actual_minutes"],
        jobs.collect(),
    )
}

#[must_use]
pub fn money(takings: &Takings, currency: &Currency) -> Table {
    let lines = takings.charged().into_iter().chain(takings.taken());
    let rows = lines.map(|(_, sum)| {
        vec![
            sum.kind,
            sum.amount.typed(currency),
            currency.code().to_owned(),
            sum.orders.to_string(),
        ]
    });
    Table::new(&["kind", "amount", "currency", "count"], rows.collect())
}

/// Of the whole shop: each cause that was confirmed, of how many inspected, and how often it was a comeback; the most first.
#[must_use]
pub fn comebacks(takings: &Takings, every_family: &Totals, names: &Names) -> Table {
    let back = |cause: &String| takings.comebacks.get(cause).copied().unwrap_or_default();
    let causes: BTreeSet<&String> = takings
        .comebacks
        .keys()
        .chain(every_family.confirmed.keys())
        .collect();
    let mut causes: Vec<&String> = causes.into_iter().collect();
    causes.sort_by_key(|cause| Reverse(back(cause)));
    let rows = causes.into_iter().map(|cause| {
        vec![
            text(cause),
            text(&names.of(cause)),
            every_family.share(cause).confirmed.to_string(),
            back(cause).to_string(),
            every_family.inspected.to_string(),
        ]
    });
    Table::new(
        &["cause", "name", "confirmed", "comebacks", "inspected"],
        rows.collect(),
    )
}

/// What is not any more as it was reported.
#[must_use]
pub fn corrected(lines: &[Corrected]) -> Table {
    let rows = lines
        .iter()
        .map(|line| vec![text(&line.what), text(&line.was), text(&line.is)]);
    Table::new(&["counted", "reported", "now"], rows.collect())
}

/// Writes the lines of a CSV file, with the ends that RFC 4180 gives them.
pub(super) fn writer() -> Writer<Vec<u8>> {
    WriterBuilder::new()
        .terminator(Terminator::CRLF)
        .from_writer(Vec::new())
}

impl Table {
    /// As a file to keep.
    ///
    /// # Errors
    /// A fault, should it not be writable.
    pub fn answer(self, name: &str) -> Result<Response> {
        let mut writer = writer();
        let head = self.group.map(|_| "group");
        writer
            .write_record(self.head.iter().copied().chain(head))
            .map_err(Error::fault)?;
        for row in &self.rows {
            let of = self.group.map(Group::name);
            writer
                .write_record(row.iter().map(String::as_str).chain(of))
                .map_err(Error::fault)?;
        }
        let bytes = writer.into_inner().map_err(Error::fault)?;
        Ok((csv_headers(name), bytes).into_response())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_would_start_a_formula_is_defused() {
        for words in ["=1+1", "+44 1", "-2", "@cause", "\t=1", " =1", "\u{ff1d}1"] {
            assert_eq!(text(words), format!("'{words}"));
        }
        for words in ["Open seam", "Slot (nut) = low", "'=1", ""] {
            assert_eq!(text(words), words);
        }
    }
}
