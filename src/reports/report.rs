//! A report is all that the month's page tells of one span: the figures that were read, and how each table shows them.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::{Day, YearMonth};
use crate::error::Result;
use crate::page::Markup;

use super::ask::Asked;
use super::calendar::Calendar;
use super::chart;
use super::counted;
use super::course::{Course, Drawn};
use super::in_force::{self, InForce};
use super::lately::{self, Lately};
use super::recurrence::{self, Names, Recurrence, Totals, Years};
use super::reported::Reported;
use super::season::Season;
use super::sentence::Sentence;
use super::sentences::Told;
use super::share::{self, Share};
use super::span::Span;
use super::standing::{self, Standing};
use super::takings::{Job, Takings, total};
use super::tally::DEFINITIONS;
use super::weigh;

/// So many causes stand in each table, so that the month prints on two pages; the others fold away below.
pub const SHOWN: usize = 5;
/// So many jobs.
pub const JOBS_SHOWN: usize = 4;
/// So many causes are drawn by age beside each other.
pub const DRAWN: usize = 6;
/// So many causes stand in the table of the months.
pub const HEATED: usize = 6;
/// So many causes stand in the narrow table of comebacks.
pub const FEW_SHOWN: usize = 3;

/// A cause with all its shares.
pub struct CauseRow {
    /// The years from which each band counts.
    marks: Vec<String>,
    pub name: String,
    pub share: Share,
    pub bar: Markup,
    pub standing: Standing,
    /// Each month of the year, and how it is tinted.
    pub heat: [(Share, Option<u8>); 12],
    pub years: Vec<Share>,
}

/// A job with its words.
pub struct JobRow {
    pub name: String,
    pub job: Job,
}

/// The column of a span in the table of years.
pub struct Year {
    pub head: String,
    pub inspected: i64,
    /// The shop's counting began within it.
    pub since: Option<YearMonth>,
}

impl Year {
    /// "1,204"
    pub fn inspected(&self) -> String {
        crate::words::grouped(self.inspected.unsigned_abs())
    }
}

/// All that was read of one span, so that it can be kept and shown again.
#[derive(Serialize, Deserialize)]
pub struct Figures {
    pub recurrence: Recurrence,
    /// The months that the seasons are read from, and their figures.
    pub season_span: Span,
    pub by_season: Calendar,
    /// The months that the swing over the year is read from.
    pub year_span: Span,
    pub over_year: Calendar,
    /// Those that the shop has.
    pub seasons: Vec<Season>,
    pub earlier: Vec<(Span, Totals)>,
    pub takings: Takings,
    pub every_family: Totals,
    pub names: Names,
    pub job_names: Names,
    pub first: Option<YearMonth>,
    /// The most frequent cause over the twelve months up to the span's end, or over the last years of a long one.
    pub course: Course,
    /// By which they are shown; not known of what was kept before this was.
    #[serde(default)]
    pub in_force: Option<InForce>,
    /// How repairs of the leading causes held; not known of what was kept before this was, nor where none can be told of.
    #[serde(default)]
    pub lately: Option<Lately>,
}

/// All that the page tells of one span.
pub struct Report {
    pub asked: Asked,
    pub today: Day,
    pub shop: Shop,
    pub figures: Figures,
    /// Of each cause of the figures.
    pub standings: Vec<Standing>,
    /// It is as it was kept under this id.
    pub reported: Option<Uuid>,
}

/// What stands under the figures, so that everybody reads them alike.
pub fn definitions() -> impl Iterator<Item = &'static (&'static str, &'static str)> {
    DEFINITIONS
        .iter()
        .chain(share::READING.iter())
        .chain(weigh::READING.iter())
}

impl CauseRow {
    /// The small picture of its shares by age.
    pub fn by_age(&self, scale: &f64) -> Markup {
        let shares = self.standing.bands.iter().map(|band| band.share);
        let bands: Vec<(&str, Share)> = self.marks.iter().map(String::as_str).zip(shares).collect();
        chart::bands(&bands, *scale)
    }
}

impl Report {
    pub async fn read(app: &App, shop: Shop, asked: Asked) -> Result<Report> {
        let (db, span, group) = (&app.db, asked.span, asked.group.code);
        let seasons: Vec<Season> = Season::ALL
            .into_iter()
            .filter(|season| shop.seasons().months(*season).next().is_some())
            .collect();
        let figures = Recurrence::read(db, span, group, &shop.seasons()).await?;
        let reach = counted::reach(db).await?;
        let leader = figures.causes.first().map_or("", |cause| cause.cause.as_str());
        let drawn = Drawn::of(span);
        // Of the years drawn the leader alone is wanted; of the last five all, for their months.
        let year_span = if drawn.by_year {
            span
        } else {
            last_years(span, reach)
        };
        let (first, last) = drawn.years();
        let before = reach.map_or(Vec::new(), |reach| recurrence::earlier_spans(span, reach));
        let oldest = before.last().map_or(first, |oldest| oldest.from.year());
        let years = if drawn.by_year {
            Years::read(db, group, (first, last), leader).await?
        } else {
            let first = first.min(oldest).min(year_span.from.year());
            Years::read(db, group, (first, last), "").await?
        };
        let earlier = if drawn.by_year {
            recurrence::earlier(db, span, group).await?
        } else {
            years.of(before)
        };
        let of_figures = Calendar::of_figures(&figures, shop.seasons());
        let over_year = if drawn.by_year {
            of_figures.clone()
        } else {
            Calendar::of_years(&years, year_span, shop.seasons())
        };
        let (season_span, by_season) = if drawn.by_year || holds_all(span, &shop, &seasons) {
            (span, of_figures)
        } else {
            (year_span, over_year.clone())
        };
        let every_family = if group.is_empty() {
            Totals::of_figures(&figures)
        } else {
            Totals::read(db, span, "").await?
        };
        let course = drawn.course(&years, leader, year_span);
        let today = shop.today(app.clock.now());
        let leading = figures.causes.iter().take(lately::MOST);
        let leading: Vec<&str> = leading.map(|cause| cause.cause.as_str()).collect();
        let of_leading = leading.iter().map(|cause| every_family.share(cause).confirmed);
        let a_month = of_leading.sum::<i64>() / span.months().max(1);
        let lately = Lately::read(db, span, (&leading, a_month), today).await?;
        let figures = Figures {
            earlier,
            takings: Takings::read(db, span).await?,
            every_family,
            names: Names::of_causes(db).await?,
            job_names: Names::of_jobs(db).await?,
            first: reach.map(|reach| reach.from),
            recurrence: figures,
            season_span,
            by_season,
            year_span,
            over_year,
            seasons,
            course,
            in_force: Some(InForce::of(&shop)),
            lately,
        };
        Ok(Report::new(asked, today, shop, figures))
    }

    /// What is thought of the figures is thought anew.
    #[must_use]
    pub fn new(asked: Asked, today: Day, shop: Shop, figures: Figures) -> Report {
        let standings = standing::standings(
            &figures.recurrence,
            &figures.seasons,
            &figures.by_season,
            &figures.over_year,
        );
        Report {
            asked,
            today,
            shop,
            figures,
            standings,
            reported: None,
        }
    }

    /// As it was kept, by what was in force then.
    #[must_use]
    pub fn as_it_was(asked: Asked, shop: Shop, kept: &Reported, figures: Figures) -> Report {
        let shop = in_force::shop_of(&figures, shop);
        Report {
            reported: Some(kept.id),
            ..Report::new(asked, shop.today(kept.kept_at), shop, figures)
        }
    }

    /// What was inspected and confirmed in the span itself.
    #[must_use]
    pub fn totals(&self) -> Totals {
        Totals::of_figures(&self.figures.recurrence)
    }

    pub fn span(&self) -> Span {
        self.asked.span
    }

    /// The span is not over yet.
    pub fn so_far(&self) -> bool {
        self.span().to >= self.today.month()
    }

    /// Nothing of it has begun.
    pub fn is_ahead(&self) -> bool {
        self.span().from > self.today.month()
    }

    /// Within how many days what comes back is a comeback.
    pub fn comeback_window(&self) -> i64 {
        in_force::window_of(&self.figures).unwrap_or(self.shop.rules.window())
    }

    pub fn sentences(&self) -> Vec<Sentence> {
        let charged = self.all_charged();
        let told = Told {
            span: self.span(),
            so_far: self.so_far(),
            group: self.asked.group,
            figures: &self.figures.recurrence,
            seasons: (self.figures.season_span, &self.figures.by_season),
            years: self.figures.year_span,
            standings: &self.standings,
            earlier: &self.figures.earlier,
            takings: &self.figures.takings,
            every_family: &self.figures.every_family,
            names: &self.figures.names,
            charged: &charged,
        };
        told.sentences()
    }

    pub fn rows(&self) -> Vec<CauseRow> {
        let scale = self.scale();
        let bands = &self.figures.recurrence.bands;
        let marks: Vec<String> = bands.all().map(|band| bands.mark(band)).collect();
        let row = |(cause, standing): (&recurrence::Confirmed, &Standing)| {
            let share = self.figures.recurrence.share(cause);
            let before = self.figures.earlier.iter().map(|year| year.1.share(&cause.cause));
            CauseRow {
                marks: marks.clone(),
                name: self.figures.names.of(&cause.cause),
                share,
                bar: chart::bar(&share, scale),
                standing: standing.clone(),
                heat: self.figures.over_year.heat(&cause.cause),
                years: std::iter::once(share).chain(before).collect(),
            }
        };
        self.figures
            .recurrence
            .causes
            .iter()
            .zip(&self.standings)
            .map(row)
            .collect()
    }

    /// The scale of the small pictures by age.
    pub fn band_scale(&self) -> f64 {
        let drawn = self.standings.iter().take(DRAWN);
        chart::panel_scale(drawn.flat_map(|standing| standing.bands.iter().map(|band| &band.share)))
    }

    pub fn band_scale_words(&self) -> String {
        share::percent(self.band_scale())
    }

    /// What the full width of the bars stands for.
    pub fn scale(&self) -> f64 {
        let shares: Vec<Share> = self
            .figures
            .recurrence
            .causes
            .iter()
            .map(|cause| self.figures.recurrence.share(cause))
            .collect();
        chart::scale(&shares)
    }

    pub fn scale_words(&self) -> String {
        share::percent(self.scale())
    }

    /// A band in years, and how many were inspected in it.
    pub fn bands(&self) -> Vec<(String, i64)> {
        let figures = &self.figures.recurrence;
        let bands = figures.bands.all();
        bands
            .map(|band| (figures.bands.short(band), figures.inspected.of_band(band)))
            .collect()
    }

    /// A season, its months, and how many were inspected in it.
    pub fn season_heads(&self) -> Vec<(&'static str, String, i64)> {
        let head = |season: &Season| {
            let months = self.shop.seasons().runs(*season);
            let inspected = self.figures.by_season.inspected(*season);
            (season.words(), months, inspected)
        };
        self.figures.seasons.iter().map(head).collect()
    }

    /// Which months the swing over the year is read from.
    pub fn year_words(&self) -> String {
        self.figures.year_span.words()
    }

    pub fn season_caption(&self) -> String {
        let words = "Confirmed, of those inspected, by season of intake";
        if self.figures.season_span == self.span() {
            words.to_owned()
        } else {
            format!("{words}, {}", self.figures.season_span.words())
        }
    }

    /// It is of some of the instruments alone.
    pub fn is_of_group(&self) -> bool {
        !self.asked.group.code.is_empty()
    }

    pub fn years(&self) -> Vec<Year> {
        let this = (self.span(), self.figures.recurrence.inspected.all());
        let before = self.figures.earlier.iter().map(|year| (year.0, year.1.inspected));
        std::iter::once(this)
            .chain(before)
            .map(|(span, inspected)| Year {
                head: span.column(),
                inspected,
                since: self
                    .figures
                    .first
                    .filter(|first| *first > span.from && *first <= span.to),
            })
            .collect()
    }

    pub fn jobs(&self) -> Vec<JobRow> {
        let jobs = self.figures.takings.jobs.iter().map(|job| JobRow {
            name: self.figures.job_names.of(&job.job),
            job: job.clone(),
        });
        jobs.collect()
    }

    pub fn all_jobs(&self) -> Job {
        Job::sum(&self.figures.takings.jobs)
    }

    /// Cause, comebacks, and how often it was confirmed; the most first.
    pub fn comebacks(&self) -> Vec<(String, i64, i64)> {
        let mut rows: Vec<(String, i64, i64)> = self
            .figures
            .takings
            .comebacks
            .iter()
            .map(|(cause, back)| {
                (
                    self.figures.names.of(cause),
                    *back,
                    self.figures.every_family.share(cause).confirmed,
                )
            })
            .collect();
        rows.sort_by_key(|row| std::cmp::Reverse(row.1));
        rows
    }

    pub fn comebacks_shown(&self) -> i64 {
        self.comebacks().iter().take(FEW_SHOWN).map(|row| row.1).sum()
    }

    pub fn leader(&self) -> String {
        let first = self.figures.recurrence.causes.first();
        first.map_or(String::new(), |cause| self.figures.names.of(&cause.cause))
    }

    pub fn charged(&self) -> Vec<(&'static str, String)> {
        let lines = self.figures.takings.charged().into_iter();
        lines
            .map(|(words, sum)| (words, self.money(sum.amount.0)))
            .collect()
    }

    pub fn taken(&self) -> Vec<(&'static str, String)> {
        let lines = self.figures.takings.taken().into_iter();
        lines
            .map(|(words, sum)| (words, self.money(sum.amount.0)))
            .collect()
    }

    pub fn all_charged(&self) -> String {
        self.money(total(&self.figures.takings.charged()).0)
    }

    pub fn all_taken(&self) -> String {
        self.money(total(&self.figures.takings.taken()).0)
    }

    pub fn has_money(&self) -> bool {
        !self.figures.takings.money.is_empty()
    }

    pub fn payments(&self) -> i64 {
        self.figures
            .takings
            .taken()
            .iter()
            .map(|line| line.1.orders)
            .sum()
    }

    pub fn money(&self, minor: i64) -> String {
        self.shop.money(&crate::money::Money(minor))
    }

    pub fn address(&self, span: Span) -> String {
        format!("/month?{}{}", span.query(), self.asked.group.query())
    }

    pub fn cells_address(&self) -> String {
        self.address(self.span()).replacen("/month?", "/month/cells?", 1)
    }

    pub fn csv_address(&self, table: &str) -> String {
        let address = self.address(self.span());
        let address = address.replacen("/month?", &format!("/month.csv?table={table}&"), 1);
        match self.reported {
            Some(id) => format!("{address}&reported={id}"),
            None => address,
        }
    }

    /// The spans to choose from: up to the same month, and all that was counted.
    pub fn choices(&self) -> Vec<(String, String, bool)> {
        let to = self.span().to;
        let mut choices = vec![
            (to.to_string(), Span::month(to)),
            ("three months".to_owned(), Span::up_to(to, 3)),
            ("twelve months".to_owned(), Span::up_to(to, 12)),
            (format!("the year {}", to.year()), Span::year(to.year())),
        ];
        if let Some(first) = self.figures.first {
            let to = self.today.month();
            choices.push((format!("all since {first}"), Span { from: first, to }));
        }
        choices
            .into_iter()
            .map(|(words, span)| (words, self.address(span), span == self.span()))
            .collect()
    }

    /// The span before this one, back to the first that anything was counted in.
    pub fn previous(&self) -> Option<(String, String)> {
        let before = self.span().moved(-self.span().months());
        let counted = self.figures.first.is_some_and(|first| before.to >= first);
        counted.then(|| (before.words(), self.address(before)))
    }

    pub fn next(&self) -> Option<(String, String)> {
        let next = self.span().moved(self.span().months());
        (next.from <= self.today.month()).then(|| (next.words(), self.address(next)))
    }
}

/// So many months say how a cause swings over the year.
const YEARS: i64 = 60;

/// The last five years of what was counted, up to the span's end.
fn last_years(span: Span, reach: Option<Span>) -> Span {
    let years = Span::up_to(span.to, YEARS);
    let from = reach.map_or(years.from, |reach| reach.from.max(years.from));
    Span {
        from: from.min(span.from),
        to: span.to,
    }
}

/// Whether every season that the shop has falls into the span; otherwise seasons are read from five years.
fn holds_all(span: Span, shop: &Shop, seasons: &[Season]) -> bool {
    let months = span.from.0..=span.to.0;
    seasons.iter().all(|season| {
        months
            .clone()
            .any(|month| shop.seasons().of_month(YearMonth(month).month_number()) == Some(*season))
    })
}
