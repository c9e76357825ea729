//! The month is the owner's page: what keeps coming back over a month or any span, what it took, and what it brought.

use askama::Template;
use axum::extract::{Extension, RawQuery, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::{Day, YearMonth};
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::page::{Frame, Markup, html};
use crate::staff::Who;

use super::age::AgeBand;
use super::ask::{Ask, Asked, families};
use super::chart;
use super::recurrence::{self, Names, Recurrence, Totals};
use super::season::Season;
use super::sentences::{Sentence, Told};
use super::share::{self, Share};
use super::span::{Span, month_name};
use super::table_csv;
use super::takings::{Job, Takings, total};
use super::tally::DEFINITIONS;

/// So many causes and jobs stand in each table, so that the month prints on two pages; the others fold away below.
const SHOWN: usize = 5;
/// So many causes stand in the narrow table of comebacks.
const FEW_SHOWN: usize = 4;

/// A cause with all its shares.
struct CauseRow {
    name: String,
    share: Share,
    bar: Markup,
    bands: Vec<Share>,
    seasons: Vec<Share>,
    years: Vec<Share>,
}

/// A job with its words.
struct JobRow {
    name: String,
    job: Job,
}

/// The column of a span in the table of years.
struct Year {
    head: String,
    inspected: i64,
    /// The shop's counting began within it.
    since: Option<YearMonth>,
}

impl Year {
    /// "1,204"
    fn inspected(&self) -> String {
        crate::words::grouped(self.inspected.unsigned_abs())
    }
}

/// All that the page tells of one span.
struct Report {
    asked: Asked,
    today: Day,
    shop: Shop,
    figures: Recurrence,
    /// The months that the seasons are read from, and their figures.
    season_span: Span,
    season_figures: Recurrence,
    seasons: Vec<Season>,
    earlier: Vec<(Span, Totals)>,
    takings: Takings,
    every_family: Totals,
    names: Names,
    job_names: Names,
    first: Option<YearMonth>,
    /// The most frequent cause over the twelve months up to the span's end.
    months: Vec<(YearMonth, Share)>,
}

#[derive(Template)]
#[template(path = "reports/month.html")]
struct MonthPage {
    frame: Frame,
    ask: Ask,
    problems: Problems,
    report: Option<Report>,
}

/// `GET /month?from=2025-12&to=2026-02&family=cello`
///
/// # Errors
/// What the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    RawQuery(query): RawQuery,
) -> Result<Response> {
    let mut ask = Ask::read(query.as_deref())?;
    let shop = Shop::get(&app.db).await?;
    let name = shop.name.clone();
    let (title, report, problems) = match ask.understand(shop.today(app.clock.now())) {
        Ok(asked) => {
            (ask.from, ask.to) = (asked.span.from.iso(), asked.span.to.iso());
            let report = Report::read(&app, shop, asked).await?;
            (asked.span.title(), Some(report), Problems::default())
        }
        Err(problems) => ("The month".to_owned(), None, problems),
    };
    let status = if report.is_some() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = MonthPage {
        frame: Frame::new(title, name, &who, "month"),
        ask,
        problems,
        report,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /month.csv?from=2025-12&to=2026-02&family=cello&table=cells`
///
/// # Errors
/// Problems with what was asked, or what the database says.
pub async fn csv(State(app): State<App>, RawQuery(query): RawQuery) -> Result<Response> {
    let ask = Ask::read(query.as_deref())?;
    let shop = Shop::get(&app.db).await?;
    let asked = ask.understand(shop.today(app.clock.now()))?;
    let (db, span) = (&app.db, asked.span);
    let names = Names::of_causes(db).await?;
    let kept = ask.table.as_str();
    let table = match kept {
        "cells" => table_csv::cells(
            &Recurrence::read(db, span, asked.family, &shop.seasons()).await?,
            &names,
        ),
        "causes" => table_csv::causes(
            &Recurrence::read(db, span, asked.family, &shop.seasons()).await?,
            &names,
        ),
        "years" => {
            let mut spans = vec![(span, Totals::read(db, span, asked.family).await?)];
            spans.extend(recurrence::earlier(db, span, asked.family).await?);
            table_csv::years(&spans, &names)
        }
        "jobs" => table_csv::jobs(&Takings::read(db, span).await?, &Names::of_jobs(db).await?),
        "money" => table_csv::money(&Takings::read(db, span).await?, &shop.currency()),
        "comebacks" => {
            let every_family = Totals::read(db, span, "").await?;
            table_csv::comebacks(&Takings::read(db, span).await?, &every_family, &names)
        }
        _ => return Err(no_such_table()),
    };
    let family = if asked.family.is_empty() {
        "all"
    } else {
        asked.family
    };
    table.answer(&format!("{kept}-{family}-{span}"))
}

fn no_such_table() -> Error {
    let mut problems = Problems::default();
    problems.add(
        "table",
        format!("Choose one of the tables: {}.", table_csv::TABLES.join(", ")),
    );
    problems.into()
}

/// What stands under the figures, so that everybody reads them alike.
fn definitions() -> impl Iterator<Item = &'static (&'static str, &'static str)> {
    DEFINITIONS.iter().chain(share::READING.iter())
}

impl Report {
    async fn read(app: &App, shop: Shop, asked: Asked) -> Result<Report> {
        let (db, span, family) = (&app.db, asked.span, asked.family);
        let seasons: Vec<Season> = Season::ALL
            .into_iter()
            .filter(|season| shop.seasons().months(*season).next().is_some())
            .collect();
        let figures = Recurrence::read(db, span, family, &shop.seasons()).await?;
        let season_span = season_span(span, &shop, &seasons);
        let season_figures = if season_span == span {
            figures.clone()
        } else {
            Recurrence::read(db, season_span, family, &shop.seasons()).await?
        };
        let months = match figures.causes.first() {
            Some(first) => recurrence::by_month(db, Span::up_to(span.to, 12), family, &first.cause).await?,
            None => Vec::new(),
        };
        Ok(Report {
            today: shop.today(app.clock.now()),
            earlier: recurrence::earlier(db, span, family).await?,
            takings: Takings::read(db, span).await?,
            every_family: Totals::read(db, span, "").await?,
            names: Names::of_causes(db).await?,
            job_names: Names::of_jobs(db).await?,
            first: recurrence::first_month(db).await?,
            asked,
            shop,
            figures,
            season_span,
            season_figures,
            seasons,
            months,
        })
    }

    fn span(&self) -> Span {
        self.asked.span
    }

    /// The span is not over yet.
    fn so_far(&self) -> bool {
        self.span().to >= self.today.month()
    }

    /// Nothing of it has begun.
    fn is_ahead(&self) -> bool {
        self.span().from > self.today.month()
    }

    fn sentences(&self) -> Vec<Sentence> {
        let charged = self.all_charged();
        let told = Told {
            span: self.span(),
            so_far: self.so_far(),
            family: self.asked.family,
            figures: &self.figures,
            seasons: (self.season_span, &self.season_figures),
            earlier: &self.earlier,
            takings: &self.takings,
            every_family: &self.every_family,
            names: &self.names,
            charged: &charged,
        };
        told.sentences()
    }

    fn rows(&self) -> Vec<CauseRow> {
        let scale = self.scale();
        let row = |cause: &recurrence::Confirmed| {
            let share = self.figures.share(cause);
            let before = self.earlier.iter().map(|year| year.1.share(&cause.cause));
            CauseRow {
                name: self.names.of(&cause.cause),
                share,
                bar: chart::bar(&share, scale),
                bands: AgeBand::ALL
                    .map(|band| self.figures.of_band(cause, band))
                    .to_vec(),
                seasons: self
                    .seasons
                    .iter()
                    .map(|season| self.season_figures.of_season(&cause.cause, *season))
                    .collect(),
                years: std::iter::once(share).chain(before).collect(),
            }
        };
        self.figures.causes.iter().map(row).collect()
    }

    /// What the full width of the bars stands for.
    fn scale(&self) -> f64 {
        let shares: Vec<Share> = self
            .figures
            .causes
            .iter()
            .map(|cause| self.figures.share(cause))
            .collect();
        chart::scale(&shares)
    }

    fn scale_words(&self) -> String {
        share::percent(self.scale())
    }

    /// A band in years, and how many were inspected in it.
    fn bands(&self) -> Vec<(String, i64)> {
        let words = |band: AgeBand| band.words().replace(" years", "").replace("age ", "");
        AgeBand::ALL
            .map(|band| (words(band), self.figures.inspected.of_band(band)))
            .to_vec()
    }

    /// A season, its months, and how many were inspected in it.
    fn season_heads(&self) -> Vec<(&'static str, String, i64)> {
        let head = |season: &Season| {
            let months = runs(&self.shop.seasons().months(*season).collect::<Vec<u8>>());
            let inspected = self.season_figures.inspected.of_season(*season);
            (season.words(), months, inspected)
        };
        self.seasons.iter().map(head).collect()
    }

    fn season_caption(&self) -> String {
        let words = "Confirmed, of those inspected, by season of intake";
        if self.season_span == self.span() {
            words.to_owned()
        } else {
            format!("{words}, over the twelve months to {}", self.season_span.to)
        }
    }

    /// "Cello"; empty for all families.
    fn family_word(&self) -> &'static str {
        families()
            .find(|family| family.0 == self.asked.family)
            .map_or("", |family| family.1)
    }

    fn years(&self) -> Vec<Year> {
        let this = (self.span(), self.figures.inspected.all());
        let before = self.earlier.iter().map(|year| (year.0, year.1.inspected));
        std::iter::once(this)
            .chain(before)
            .map(|(span, inspected)| Year {
                head: span.column(),
                inspected,
                since: self.first.filter(|first| *first > span.from && *first <= span.to),
            })
            .collect()
    }

    fn jobs(&self) -> Vec<JobRow> {
        let jobs = self.takings.jobs.iter().map(|job| JobRow {
            name: self.job_names.of(&job.job),
            job: job.clone(),
        });
        jobs.collect()
    }

    fn all_jobs(&self) -> Job {
        Job::sum(&self.takings.jobs)
    }

    /// Cause, comebacks, and how often it was confirmed; the most first.
    fn comebacks(&self) -> Vec<(String, i64, i64)> {
        let mut rows: Vec<(String, i64, i64)> = self
            .takings
            .comebacks
            .iter()
            .map(|(cause, back)| {
                (
                    self.names.of(cause),
                    *back,
                    self.every_family.share(cause).confirmed,
                )
            })
            .collect();
        rows.sort_by_key(|row| std::cmp::Reverse(row.1));
        rows
    }

    fn comebacks_shown(&self) -> i64 {
        self.comebacks().iter().take(FEW_SHOWN).map(|row| row.1).sum()
    }

    fn leader(&self) -> String {
        let first = self.figures.causes.first();
        first.map_or(String::new(), |cause| self.names.of(&cause.cause))
    }

    fn chart(&self) -> Markup {
        chart::months(&self.months)
    }

    fn charged(&self) -> Vec<(&'static str, String)> {
        let lines = self.takings.charged().into_iter();
        lines
            .map(|(words, sum)| (words, self.money(sum.amount.0)))
            .collect()
    }

    fn taken(&self) -> Vec<(&'static str, String)> {
        let lines = self.takings.taken().into_iter();
        lines
            .map(|(words, sum)| (words, self.money(sum.amount.0)))
            .collect()
    }

    fn all_charged(&self) -> String {
        self.money(total(&self.takings.charged()).0)
    }

    fn all_taken(&self) -> String {
        self.money(total(&self.takings.taken()).0)
    }

    fn has_money(&self) -> bool {
        !self.takings.money.is_empty()
    }

    fn payments(&self) -> i64 {
        self.takings.taken().iter().map(|line| line.1.orders).sum()
    }

    fn money(&self, minor: i64) -> String {
        self.shop.money(&crate::money::Money(minor))
    }

    fn address(&self, span: Span) -> String {
        let family = self.asked.family;
        if family.is_empty() {
            format!("/month?{}", span.query())
        } else {
            format!("/month?{}&family={family}", span.query())
        }
    }

    fn csv_address(&self, table: &str) -> String {
        self.address(self.span())
            .replacen("/month?", &format!("/month.csv?table={table}&"), 1)
    }

    /// The spans to choose from: up to the same month, and all that was counted.
    fn choices(&self) -> Vec<(String, String, bool)> {
        let to = self.span().to;
        let mut choices = vec![
            (to.to_string(), Span::month(to)),
            ("three months".to_owned(), Span::up_to(to, 3)),
            ("twelve months".to_owned(), Span::up_to(to, 12)),
            (format!("the year {}", to.year()), Span::year(to.year())),
        ];
        if let Some(first) = self.first {
            let to = self.today.month();
            choices.push((format!("all since {first}"), Span { from: first, to }));
        }
        choices
            .into_iter()
            .map(|(words, span)| (words, self.address(span), span == self.span()))
            .collect()
    }

    /// The span before this one, back to the first that anything was counted in.
    fn previous(&self) -> Option<(String, String)> {
        let before = self.span().moved(-self.span().months());
        let counted = self.first.is_some_and(|first| before.to >= first);
        counted.then(|| (before.words(), self.address(before)))
    }

    fn next(&self) -> Option<(String, String)> {
        let next = self.span().moved(self.span().months());
        (next.from <= self.today.month()).then(|| (next.words(), self.address(next)))
    }
}

/// The span itself if it holds every season that the shop has; otherwise the twelve months up to its end.
fn season_span(span: Span, shop: &Shop, seasons: &[Season]) -> Span {
    let months = span.from.0..=span.to.0;
    let held = |season: &Season| {
        months
            .clone()
            .any(|month| shop.seasons().of_month(YearMonth(month).month_number()) == Some(*season))
    };
    if seasons.iter().all(held) {
        span
    } else {
        Span::up_to(span.to, 12)
    }
}

/// Months of the year as runs, over the turn of the year too: "Dec to Mar", "Apr to Jun, Sep to Nov", "Jul".
fn runs(months: &[u8]) -> String {
    let held = |month: u8| months.contains(&month);
    let after = |month: u8| month % 12 + 1;
    let before = |month: u8| (month + 10) % 12 + 1;
    let words = months.iter().filter(|month| !held(before(**month))).map(|first| {
        let mut last = *first;
        while held(after(last)) {
            last = after(last);
        }
        if last == *first {
            short_month(*first)
        } else {
            format!("{} to {}", short_month(*first), short_month(last))
        }
    });
    words.collect::<Vec<_>>().join(", ")
}

/// "Jan" for 1.
fn short_month(number: u8) -> String {
    let name = month_name(YearMonth(i64::from(number) - 1));
    name.get(..3).unwrap_or(&name).to_owned()
}

#[cfg(test)]
mod tests {
    use super::runs;

    #[test]
    fn months_stand_together_over_the_turn_of_the_year() {
        assert_eq!(runs(&[1, 2, 3, 12]), "Dec to Mar");
        assert_eq!(runs(&[7, 8]), "Jul to Aug");
        assert_eq!(runs(&[4, 5, 6, 9, 10, 11]), "Apr to Jun, Sep to Nov");
        assert_eq!((runs(&[7]), runs(&[])), ("Jul".to_owned(), String::new()));
    }
}
