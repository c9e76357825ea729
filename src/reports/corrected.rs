//! What is corrected is each figure of a report that is not any more as it was kept: the most telling first.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::admin::shop::Shop;

use super::bands::Band;
use super::corrected_what::What;
use super::in_force;
use super::recurrence::{Confirmed, Grid};
use super::report::Figures;
use super::season::Season;
use super::takings::{Takings, total};

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
