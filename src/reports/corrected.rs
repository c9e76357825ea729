//! What is corrected is each figure of a report that is not any more as it was kept: the most telling first.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::admin::shop::Shop;
use crate::counter::pickup::METHODS;
use crate::money::Money;
use crate::words::{grouped, minutes};

use super::bands::Band;
use super::in_force;
use super::recurrence::{Confirmed, Grid};
use super::report::Figures;
use super::season::Season;
use super::span::{Span, month_name};
use super::takings::{Takings, total};
use crate::clock::YearMonth;

/// So many are shown on the page; a list of all is handed out beside it.
pub const SHOWN: usize = 8;
/// So many on paper, so that the month keeps to its two pages.
pub const ON_PAPER: usize = 4;

/// A figure that is not what it was when it was reported.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Corrected {
    /// What was counted, in words.
    pub what: String,
    pub was: String,
    pub is: String,
}

/// What a figure is of, the most telling first; an empty cause is all that were inspected.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum What {
    Inspected,
    Cause(String),
    Comebacks,
    Charged,
    Taken,
    /// The comebacks of a cause.
    CameBack(String),
    /// In the whole shop, beside which a group is put.
    WholeShop(String),
    Amount(String),
    Pickups,
    Payments(String),
    Needed(String),
    Planned(String),
    Steps(String),
    OfAge(String, usize),
    InSeason(String, u8),
    InMonth(String, i64),
    Before(String, (i64, i64)),
    Course(String, (i64, i64)),
}

/// What two reports can be compared by: ages, seasons, comebacks and the months of the year only where they were told alike.
#[derive(Clone, Copy)]
struct Alike {
    bands: bool,
    seasons: bool,
    year: bool,
    window: bool,
    /// The cause that is drawn.
    leader: bool,
    /// So many earlier years, and so many thin lines: an earlier year that was not told of then was not corrected since.
    earlier: usize,
    lines: usize,
}

impl Alike {
    fn of(was: &Figures, is: &Figures) -> Alike {
        let leader = |figures: &Figures| figures.recurrence.causes.first().map(|first| first.cause.clone());
        Alike {
            bands: was.recurrence.bands == is.recurrence.bands,
            seasons: was.by_season.seasons() == is.by_season.seasons() && was.season_span == is.season_span,
            year: was.year_span == is.year_span,
            window: same_window(was, is),
            leader: leader(was) == leader(is),
            earlier: was.earlier.len().min(is.earlier.len()),
            lines: was.course.before.len().min(is.course.before.len()),
        }
    }
}

/// Where it is not known by which window comebacks were counted then, they are compared.
fn same_window(was: &Figures, is: &Figures) -> bool {
    let (then, now) = (in_force::window_of(was), in_force::window_of(is));
    then.is_none() || then == now
}

/// What was told otherwise then, and so is not compared: "ages by the bands under 2, 2 and over; seasons by other months".
#[must_use]
pub fn told_otherwise(was: &Figures, is: &Figures) -> String {
    let bands = &was.recurrence.bands;
    let mut words = Vec::new();
    if *bands != is.recurrence.bands {
        words.push(format!("ages by the bands {}", bands.told()));
    }
    if let (false, Some(days)) = (same_window(was, is), in_force::window_of(was)) {
        words.push(format!("comebacks within {days} days"));
    }
    if was.by_season.seasons() != is.by_season.seasons() {
        words.push("seasons by other months".to_owned());
    }
    if was.year_span != is.year_span {
        words.push(format!("the year from {}", was.year_span.words()));
    }
    words.join("; ")
}

/// Each figure that a page shows, nought left out.
struct Shown {
    figures: BTreeMap<What, i64>,
}

impl Shown {
    fn of(figures: &Figures, alike: Alike) -> Shown {
        let mut shown = Shown {
            figures: BTreeMap::new(),
        };
        let recurrence = &figures.recurrence;
        shown.add(What::Inspected, recurrence.inspected.all());
        for Confirmed { cause, orders, .. } in &recurrence.causes {
            shown.add(What::Cause(cause.clone()), orders.all());
        }
        shown.takings(&figures.takings, alike.window);
        let whole = &figures.every_family;
        shown.add(What::WholeShop(String::new()), whole.inspected);
        for (cause, orders) in &whole.confirmed {
            shown.add(What::WholeShop(cause.clone()), *orders);
        }
        if alike.bands {
            let bands: Vec<Band> = recurrence.bands.all().collect();
            shown.ages("", &recurrence.inspected, &bands);
            for confirmed in &recurrence.causes {
                shown.ages(&confirmed.cause, &confirmed.orders, &bands);
            }
        }
        shown.year(figures, alike);
        for (span, totals) in figures.earlier.iter().take(alike.earlier) {
            let at = (span.from.0, span.to.0);
            shown.add(What::Before(String::new(), at), totals.inspected);
            for (cause, orders) in &totals.confirmed {
                shown.add(What::Before(cause.clone(), at), *orders);
            }
        }
        if alike.leader {
            shown.course(figures, alike.lines);
        }
        shown
    }

    fn add(&mut self, what: What, n: i64) {
        if n != 0 {
            *self.figures.entry(what).or_default() += n;
        }
    }

    fn ages(&mut self, cause: &str, orders: &Grid, bands: &[Band]) {
        for band in bands {
            self.add(What::OfAge(cause.to_owned(), band.place()), orders.of_band(*band));
        }
    }

    fn takings(&mut self, takings: &Takings, same_window: bool) {
        self.add(What::Charged, total(&takings.charged()).0);
        self.add(What::Taken, total(&takings.taken()).0);
        for (cause, back) in takings.comebacks.iter().filter(|_| same_window) {
            self.add(What::Comebacks, *back);
            self.add(What::CameBack(cause.clone()), *back);
        }
        for (_, sum) in takings.charged().into_iter().chain(takings.taken()) {
            self.add(What::Amount(sum.kind), sum.amount.0);
        }
        self.add(What::Pickups, takings.pickups());
        for (_, sum) in takings.taken() {
            self.add(What::Payments(sum.kind), sum.orders);
        }
        for job in &takings.jobs {
            self.add(What::Needed(job.job.clone()), job.actual_minutes);
            self.add(What::Planned(job.job.clone()), job.planned_minutes);
            self.add(What::Steps(job.job.clone()), job.steps);
        }
    }

    /// By season and by month of the year, as far as they are told alike; an empty cause is all that were inspected.
    fn year(&mut self, figures: &Figures, alike: Alike) {
        let (by_season, over_year) = (&figures.by_season, &figures.over_year);
        for season in Season::ALL.into_iter().filter(|_| alike.seasons) {
            self.add(
                What::InSeason(String::new(), season as u8),
                by_season.inspected(season),
            );
        }
        for (month, share) in (0..).zip(over_year.by_month("")).filter(|_| alike.year) {
            self.add(What::InMonth(String::new(), month), share.inspected);
        }
        for Confirmed { cause, .. } in &figures.recurrence.causes {
            for season in Season::ALL.into_iter().filter(|_| alike.seasons) {
                let share = by_season.share(season, cause);
                self.add(What::InSeason(cause.clone(), season as u8), share.confirmed);
            }
            for (month, share) in (0..).zip(over_year.by_month(cause)).filter(|_| alike.year) {
                self.add(What::InMonth(cause.clone(), month), share.confirmed);
            }
        }
    }

    /// The months or years that are drawn of the first cause, and the thin lines.
    fn course(&mut self, figures: &Figures, lines: usize) {
        let Some(leader) = figures.recurrence.causes.first() else {
            return;
        };
        let course = &figures.course;
        let before = (1..).zip(course.before.iter().take(lines));
        let before = before.flat_map(|(back, shares)| {
            let spans = course.parts.iter().map(move |part| part.0.moved(-12 * back));
            spans.zip(shares.iter().copied())
        });
        for (span, share) in course.parts.iter().copied().chain(before) {
            let at = (span.from.0, span.to.0);
            self.add(What::Course(leader.cause.clone(), at), share.confirmed);
            self.add(What::Course(String::new(), at), share.inspected);
        }
    }

    fn at(&self, what: &What) -> i64 {
        self.figures.get(what).copied().unwrap_or_default()
    }
}

impl What {
    /// The first of the two is more telling.
    fn rank(&self) -> u8 {
        match self {
            What::Inspected => 0,
            What::Cause(_) => 1,
            What::Comebacks => 2,
            What::Charged => 3,
            What::Taken => 4,
            What::CameBack(_) => 5,
            What::WholeShop(_) => 6,
            What::Amount(_) | What::Pickups | What::Payments(_) => 7,
            What::Needed(_) | What::Planned(_) | What::Steps(_) => 8,
            What::OfAge(..) => 9,
            What::InSeason(..) => 10,
            What::InMonth(..) => 11,
            What::Before(..) => 12,
            What::Course(..) => 13,
        }
    }

    /// What it may be all of.
    fn whole(&self) -> Option<What> {
        match self {
            What::WholeShop(cause)
            | What::InSeason(cause, _)
            | What::InMonth(cause, _)
            | What::Course(cause, _) => Some(if cause.is_empty() {
                What::Inspected
            } else {
                What::Cause(cause.clone())
            }),
            _ => None,
        }
    }

    /// The same months beside earlier years and in the course are told once.
    fn told_before(&self) -> Option<What> {
        match self {
            What::Course(cause, at) => Some(What::Before(cause.clone(), *at)),
            _ => None,
        }
    }

    fn words(&self, figures: &Figures) -> String {
        let of = |cause: &str| {
            if cause.is_empty() {
                "Inspected".to_owned()
            } else {
                figures.names.of(cause)
            }
        };
        let months = |at: (i64, i64)| Span {
            from: YearMonth(at.0),
            to: YearMonth(at.1),
        };
        match self {
            What::Inspected => of(""),
            What::Cause(cause) => of(cause),
            What::Comebacks => "Comebacks".to_owned(),
            What::Charged => "Charged".to_owned(),
            What::Taken => "Taken".to_owned(),
            What::CameBack(cause) => format!("{}, comebacks", of(cause)),
            What::WholeShop(cause) => format!("{}, in the whole shop", of(cause)),
            What::Amount(kind) => of_money(kind),
            What::Pickups => "Pickups".to_owned(),
            What::Payments(kind) => format!("{}, payments", of_money(kind)),
            What::Needed(job) => format!("{}, needed", figures.job_names.of(job)),
            What::Planned(job) => format!("{}, planned", figures.job_names.of(job)),
            What::Steps(job) => format!("{}, steps", figures.job_names.of(job)),
            What::OfAge(cause, place) => {
                let bands = &figures.recurrence.bands;
                let band = bands.all().find(|band| band.place() == *place);
                format!(
                    "{}, {}",
                    of(cause),
                    band.map_or(String::new(), |band| bands.words(band))
                )
            }
            What::InSeason(cause, season) => {
                let season = Season::ALL.into_iter().find(|known| *known as u8 == *season);
                let words = season.map_or("", Season::words);
                format!("{}, {words}, {}", of(cause), figures.season_span.words())
            }
            What::InMonth(cause, month) => {
                let name = month_name(YearMonth(*month));
                format!("{}, every {name}, {}", of(cause), figures.year_span.words())
            }
            What::Before(cause, at) | What::Course(cause, at) => {
                format!("{}, {}", of(cause), months(*at).words())
            }
        }
    }

    fn value(&self, n: i64, shop: &Shop) -> String {
        match self {
            What::Charged | What::Taken | What::Amount(_) => shop.money(&Money(n)),
            What::Needed(_) | What::Planned(_) => minutes(n),
            _ => grouped(n.max(0).unsigned_abs()),
        }
    }
}

/// "Charged: Labour", "Taken: Card"
fn of_money(kind: &str) -> String {
    let taken = METHODS
        .iter()
        .find(|method| kind.strip_prefix("taken_") == Some(method.0));
    match (kind, taken) {
        (_, Some(method)) => format!("Taken: {}", method.1),
        ("charged_labour", _) => "Charged: Labour".to_owned(),
        ("charged_parts", _) => "Charged: Parts".to_owned(),
        ("charged_tax", _) => "Charged: Tax".to_owned(),
        (other, _) => other.to_owned(),
    }
}

/// Each figure that is not any more as it was reported; amounts are said in the money of their day.
#[must_use]
pub fn corrected(shop: &Shop, was: &Figures, is: &Figures) -> Vec<Corrected> {
    let alike = Alike::of(was, is);
    let (then, now) = (Shown::of(was, alike), Shown::of(is, alike));
    let shop_then = in_force::shop_of(was, shop.clone());
    let pair = |what: &What| (then.at(what), now.at(what));
    let told = |what: &&What| {
        let both = pair(what);
        let same = |other: Option<What>| other.is_some_and(|other| pair(&other) == both);
        both.0 != both.1 && !same(what.whole()) && !same(what.told_before())
    };
    let all: BTreeSet<&What> = then.figures.keys().chain(now.figures.keys()).collect();
    let mut all: Vec<&What> = all.into_iter().filter(told).collect();
    all.sort_by_key(|what| {
        let (was, is) = pair(what);
        (what.rank(), -(was - is).abs())
    });
    let line = |what: &What| Corrected {
        what: what.words(is),
        was: what.value(then.at(what), &shop_then),
        is: what.value(now.at(what), shop),
    };
    all.into_iter().map(line).collect()
}
