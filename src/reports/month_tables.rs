//! The tables of the month that are read from more than its own months, or weighed as they are shown: each picture's own CSV.

use crate::clock::YearMonth;

use super::recurrence::Confirmed;
use super::report::Report;
use super::share::Share;
use super::span::Span;
use super::standing::Standing;
use super::table_csv::{Table, figure, row, share, text};
use super::weigh::{self, Weighed};

fn causes(report: &Report) -> impl Iterator<Item = (&Confirmed, &Standing)> {
    report.figures.recurrence.causes.iter().zip(&report.standings)
}

/// The code and the name of a cause.
fn cause(report: &Report, code: &str) -> Vec<String> {
    vec![text(code), text(&report.figures.names.of(code))]
}

fn months(span: Span) -> [String; 2] {
    [span.from.iso(), span.to.iso()]
}

fn yes(so: bool) -> String {
    if so { "yes" } else { "no" }.to_owned()
}

/// The share, what is to be expected, the chances over the table that is shown, and how it is marked there.
fn weighed(weighed: &Weighed, shrunk: Option<f64>) -> Vec<String> {
    let mut told = share(weighed.share);
    told.extend([shrunk, weighed.p_value, weighed.q_value].map(figure));
    let way = weighed.way().filter(|_| !weighed.share.few());
    told.push(way.map_or("", |way| way.code()).to_owned());
    told
}

/// Each cause in each band of age, as the page weighs them.
#[must_use]
pub fn ages(report: &Report) -> Table {
    let bands = &report.figures.recurrence.bands;
    let rows = causes(report).flat_map(|(confirmed, standing)| {
        let shrunk = weigh::shrunk(&standing.bands);
        let parts = bands.all().zip(&standing.bands).zip(shrunk);
        parts.map(|((band, part), shrunk)| {
            let mut begin = cause(report, &confirmed.cause);
            begin.push(bands.code(band));
            row(begin, weighed(part, shrunk))
        })
    });
    Table::new(
        &[
            "cause",
            "name",
            "age_band",
            "inspected",
            "confirmed",
            "rate",
            "low",
            "high",
            "too_few",
            "shrunk_rate",
            "p_value",
            "q_value",
            "marked",
        ],
        rows.collect(),
    )
}

/// Each cause in each season that the shop has, with the months these are read from.
#[must_use]
pub fn seasons(report: &Report) -> Table {
    let figures = &report.figures;
    let of_shop = figures.by_season.seasons();
    let rows = causes(report).flat_map(|(confirmed, standing)| {
        let shrunk = weigh::shrunk(&standing.seasons);
        let parts = figures.seasons.iter().zip(&standing.seasons).zip(shrunk);
        parts.map(|((season, part), shrunk)| {
            let mut begin = cause(report, &confirmed.cause);
            begin.extend([season.code().to_owned(), of_shop.runs(*season)]);
            begin.extend(months(figures.season_span));
            row(begin, weighed(part, shrunk))
        })
    });
    Table::new(
        &[
            "cause",
            "name",
            "season",
            "months",
            "from",
            "to",
            "inspected",
            "confirmed",
            "rate",
            "low",
            "high",
            "too_few",
            "shrunk_rate",
            "p_value",
            "q_value",
            "marked",
        ],
        rows.collect(),
    )
}

/// Each cause in each month of the year, how many times its share over the year that is, and its tint.
#[must_use]
pub fn heat(report: &Report) -> Table {
    let figures = &report.figures;
    let rows = causes(report).flat_map(|(confirmed, _)| {
        let code = &confirmed.cause;
        let mean = figures.over_year.all(code).rate().filter(|rate| *rate > 0.0);
        (1..)
            .zip(figures.over_year.heat(code))
            .map(move |(month, (of_month, tint))| {
                let mut begin = cause(report, code);
                begin.push(month.to_string());
                begin.extend(months(figures.year_span));
                let mut row = row(begin, share(of_month));
                let times = of_month.rate().zip(mean).map(|(rate, mean)| rate / mean);
                row.push(figure(times));
                row.push(tint.map_or(String::new(), |tint| tint.to_string()));
                row
            })
    });
    Table::new(
        &[
            "cause",
            "name",
            "month",
            "from",
            "to",
            "inspected",
            "confirmed",
            "rate",
            "low",
            "high",
            "too_few",
            "times_its_share",
            "tint",
        ],
        rows.collect(),
    )
}

/// How each cause rises and falls over the year, with the months that is read from.
#[must_use]
pub fn year(report: &Report) -> Table {
    let figures = &report.figures;
    let rows = causes(report).map(|(confirmed, standing)| {
        let mut begin = cause(report, &confirmed.cause);
        begin.extend(months(figures.year_span));
        let mut row = row(begin, share(figures.over_year.all(&confirmed.cause)));
        let swing = standing.swing;
        row.push(swing.map_or(String::new(), |swing| swing.peak_month().to_string()));
        row.extend([
            figure(swing.map(|swing| swing.peak)),
            figure(swing.and_then(|swing| swing.peak_within)),
            figure(swing.map(|swing| swing.amplitude)),
            figure(swing.map(|swing| swing.p_value)),
            figure(standing.swing_q),
            yes(standing.told_swing().is_some()),
        ]);
        row
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
            "peak_month",
            "peak",
            "peak_within",
            "amplitude",
            "p_value",
            "q_value",
            "told",
        ],
        rows.collect(),
    )
}

/// The course of the first cause, and of the same months so many years before: the thin lines.
#[must_use]
pub fn course(report: &Report) -> Table {
    let course = &report.figures.course;
    let code = report
        .figures
        .recurrence
        .causes
        .first()
        .map(|first| first.cause.as_str());
    let line = |back: i64, parts: Vec<(Span, Share)>| {
        parts.into_iter().map(move |(span, part)| {
            let mut begin = cause(report, code.unwrap_or_default());
            begin.push(back.to_string());
            begin.extend(months(span));
            row(begin, share(part))
        })
    };
    let before = (1..).zip(&course.before).flat_map(|(back, shares)| {
        let spans = course.parts.iter().map(|part| part.0.moved(-12 * back));
        line(back, spans.zip(shares.iter().copied()).collect())
    });
    Table::new(
        &[
            "cause",
            "name",
            "years_before",
            "from",
            "to",
            "inspected",
            "confirmed",
            "rate",
            "low",
            "high",
            "too_few",
        ],
        line(0, course.parts.clone()).chain(before).collect(),
    )
}

/// All that were inspected in these months and in the same ones of earlier years, and of which ages.
#[must_use]
pub fn inspected(report: &Report) -> Table {
    let figures = &report.figures;
    let bands = &figures.recurrence.bands;
    let line = |span: Span, band: String, inspected: i64| {
        let counted_from = figures.first.map_or(String::new(), YearMonth::iso);
        let mut row = months(span).to_vec();
        row.extend([band, inspected.to_string(), counted_from]);
        row
    };
    let all = line(
        report.span(),
        "all".to_owned(),
        figures.recurrence.inspected.all(),
    );
    let by_age = bands.all().map(|band| {
        line(
            report.span(),
            bands.code(band),
            figures.recurrence.inspected.of_band(band),
        )
    });
    let before = figures.earlier.iter();
    let before = before.map(|(span, totals)| line(*span, "all".to_owned(), totals.inspected));
    Table::new(
        &["from", "to", "age_band", "inspected", "counted_from"],
        std::iter::once(all).chain(by_age).chain(before).collect(),
    )
}
