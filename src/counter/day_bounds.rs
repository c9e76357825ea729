//! The bounds of an order's days: what else is written of it, and of the other visits of its instrument, that they cannot
//! go against.

use sqlx::FromRow;
use uuid::Uuid;

use crate::act::Act;
use crate::bench::finding::Finding;
use crate::bench::step::Step;
use crate::clock::{Day, Moment};
use crate::error::Result;
use crate::form::Problems;
use crate::old_book;

use super::days_stood;
use super::gone::Gone;
use super::order_days::NewDays;
use super::story::Story;
use super::tag;

/// An order that is taken in with the instrument was here no more than so many days before.
const LONGEST_UNWRITTEN: i64 = 5 * 366;

/// Another visit of the same instrument.
#[derive(Clone, Debug, FromRow)]
struct Visit {
    id: Uuid,
    tag: String,
    received_at: Moment,
    received_on: Day,
    collected_at: Option<Moment>,
    collected_on: Option<Day>,
}

impl Visit {
    fn last_day(&self) -> Day {
        self.collected_on.unwrap_or(self.received_on)
    }

    fn spoken(&self) -> String {
        tag::spoken(&self.tag)
    }
}

/// What stands beside the days of an order.
#[derive(Clone, Debug)]
pub struct Bounds {
    /// It was looked at in the very act that took it in.
    pub with_intake: bool,
    /// It was played quiet in the very act that handed it back.
    pub with_pickup: bool,
    /// Something was first done to it on this day, and last on that; not what goes with the intake or the pickup.
    first: Option<Day>,
    last: Option<Day>,
    /// In the order in which they came in.
    earlier: Vec<Visit>,
    later: Vec<Visit>,
    gone_on: Option<Day>,
    /// The day it was written down, unless it came out of an old book.
    written: Option<Day>,
    /// The moments of all that was done to it between intake and pickup.
    between: Vec<Moment>,
}

impl Bounds {
    /// # Errors
    /// What the database says.
    pub async fn of(act: &mut Act) -> Result<Bounds> {
        let (order, tx) = (&act.order, &mut act.tx);
        let findings = Finding::of(&mut *tx, order.id).await?;
        let steps = Step::of(&mut *tx, order.id).await?;
        let looks: Vec<(Moment,)> = tx
            .query("select at from cause_check where work_order = $1")
            .bind(order.id)
            .all()
            .await?;
        let tests: Vec<(Moment, String)> = tx
            .query("select at, result from play_test where work_order = $1")
            .bind(order.id)
            .all()
            .await?;
        let answers: Vec<(Moment,)> = tx
            .query("select at from approval where work_order = $1")
            .bind(order.id)
            .all()
            .await?;
        let (mut earlier, later): (Vec<Visit>, Vec<Visit>) = tx
            .query(
                "select id, tag, received_at, received_on, collected_at, collected_on from work_order
                 where instrument = $1 and id <> $2 order by received_at, id",
            )
            .bind(order.instrument)
            .bind(order.id)
            .all::<Visit>()
            .await?
            .into_iter()
            .partition(|visit| (visit.received_at, visit.id) < (order.received_at, order.id));
        earlier.sort_by_key(Visit::last_day);
        let looked = |at: Moment| at == order.received_at;
        let home = |at: Option<Moment>| at.is_some() && at == order.collected_at;
        let with_intake = order.inspected_on == Some(order.received_on)
            && (looks.iter().any(|look| looked(look.0)) || findings.iter().any(|it| looked(it.at)));
        let with_pickup = tests.iter().any(|test| home(Some(test.0)) && test.1 == "quiet");
        let found = findings.iter().filter(|finding| !looked(finding.at));
        let done = steps.iter().filter(|step| !home(step.done_at));
        let zone = act.shop.zone();
        let looks_later = looks.iter().map(|look| look.0).filter(|at| !looked(*at));
        let tests_before = tests.iter().map(|test| test.0).filter(|at| !home(Some(*at)));
        let days: Vec<Day> = found
            .map(|finding| finding.found_on)
            .chain(looks_later.chain(tests_before).map(|at| zone.day(at)))
            .chain(done.filter_map(|step| step.done_on))
            .chain(order.inspected_on.filter(|_| !with_intake))
            .chain(order.ready_on.filter(|_| !with_pickup))
            .collect();
        let between = looks.iter().map(|look| look.0);
        let between = between
            .chain(findings.iter().map(|finding| finding.at))
            .chain(tests.iter().map(|test| test.0))
            .chain(answers.iter().map(|answer| answer.0))
            .chain(steps.iter().filter_map(|step| step.done_at))
            .chain(steps.iter().map(|step| step.created_at))
            .filter(|at| *at > order.received_at && !home(Some(*at)))
            .collect();
        let first = days
            .iter()
            .copied()
            .chain(days_stood::left_intake(order, with_intake))
            .min();
        let last = days
            .iter()
            .copied()
            .chain(days_stood::was_to_go_home(order, with_pickup))
            .max();
        let gone_on = Gone::of(&mut *tx, order.instrument)
            .await?
            .map(|gone| gone.gone_on);
        let written = if old_book::brought(tx, order.id).await? {
            None
        } else {
            let story = Story::first(&mut *tx, order.id).await?;
            Some(story.map_or(order.received_on, |line| zone.day(line.at)))
        };
        Ok(Bounds {
            with_intake,
            with_pickup,
            first,
            last,
            earlier,
            later,
            gone_on,
            written,
            between,
        })
    }

    /// What cannot be of these days; `act` is on the order as it stands.
    #[must_use]
    pub fn check(&self, act: &Act, new: &NewDays) -> Problems {
        let mut problems = Problems::default();
        if new.received_on != act.order.received_on {
            self.received(act, new, &mut problems);
        }
        match (act.order.collected_on, new.collected_on) {
            (None, Some(_)) => problems.add(
                "collected_on",
                "It has not gone home yet. Hand it back first: that writes the day.",
            ),
            (Some(_), None) => problems.add("collected_on", "Write the day it went home, like 2026-02-28."),
            (Some(before), Some(day)) if before != day => self.collected(act, day, new, &mut problems),
            _ => {}
        }
        let (field, words) = if new.collected_on == act.order.collected_on {
            ("received_on", "It cannot come in after it went home.")
        } else {
            ("collected_on", "It cannot go home before it came in.")
        };
        if problems.is_empty() && new.collected_on.is_some_and(|day| day < new.received_on) {
            problems.add(field, words);
        }
        problems
    }

    fn received(&self, act: &Act, new: &NewDays, problems: &mut Problems) {
        let day = new.received_on;
        let before = self.earlier.last().filter(|visit| day < visit.last_day());
        let next = self.later.iter().map(|visit| visit.received_on).min();
        let words = if day > act.today {
            STILL_TO_COME.to_owned()
        } else if self.written.is_some_and(|on| day < on.plus(-LONGEST_UNWRITTEN)) {
            "This is more than five years before it was written down. Look at the year again.".to_owned()
        } else if let Some(made) = act.instrument.year_made.filter(|made| *made > day.year()) {
            format!(
                "It was made in {made}, as it is written. Write a day from then on, or put the year right first."
            )
        } else if let Some(visit) = before {
            format!(
                "On the visit before, order {}, it was here until {}. Write that day or a later one, or put that visit right first.",
                visit.spoken(),
                visit.last_day().with_year()
            )
        } else if let Some(first) = self
            .first
            .filter(|first| day > *first && !act.order.is_of_a_day(new))
        {
            format!(
                "It was here on {}: something was done to it then. Write that day or an earlier one.",
                first.with_year()
            )
        } else if let Some(next) = next.filter(|next| day > *next) {
            format!(
                "It came in again on {}. Write that day or an earlier one.",
                next.with_year()
            )
        } else {
            return;
        };
        problems.add("received_on", words);
    }

    fn collected(&self, act: &Act, day: Day, new: &NewDays, problems: &mut Problems) {
        let next = self.later.iter().min_by_key(|visit| visit.received_on);
        let words = if day > act.today {
            STILL_TO_COME.to_owned()
        } else if let Some(last) = self
            .last
            .filter(|last| day < *last && !act.order.is_of_a_day(new))
        {
            format!(
                "It was still here on {}: something was done to it then. Write that day or a later one.",
                last.with_year()
            )
        } else if let Some(next) = next.filter(|next| day > next.received_on) {
            format!(
                "It came in again on {}, order {}. Write that day or an earlier one, or put that visit right first.",
                next.received_on.with_year(),
                next.spoken()
            )
        } else if let Some(gone) = self.gone_on.filter(|gone| day > *gone) {
            format!(
                "The instrument is noted as gone since {}. Put that right first.",
                gone.with_year()
            )
        } else {
            return;
        };
        problems.add("collected_on", words);
    }

    /// A moment for the intake near this one, that leaves all in the order in which it was written.
    #[must_use]
    pub fn intake(&self, near: Moment, by: Moment) -> Moment {
        let after = self
            .earlier
            .iter()
            .map(|visit| {
                visit
                    .received_at
                    .max(visit.collected_at.unwrap_or(visit.received_at))
            })
            .max();
        let before = self.later.iter().map(|visit| visit.received_at);
        let before = before.chain(self.between.iter().copied()).min();
        let low = after.map_or(near, |after| near.max(after.plus_ms(1)));
        before.map_or(low, |before| low.min(before.plus_ms(-1))).min(by)
    }

    /// The same for a visit that is moved whole, so many milliseconds long.
    #[must_use]
    pub fn visit(&self, near: Moment, (long, by): (i64, Moment)) -> Moment {
        let apart = Bounds {
            between: Vec::new(),
            ..self.clone()
        };
        let before = self.later.iter().map(|visit| visit.received_at).min();
        let by = before.map_or(by, |before| by.min(before.plus_ms(-1 - long)));
        apart.intake(near, by)
    }

    /// The same for the pickup.
    #[must_use]
    pub fn pickup(&self, near: Moment, (from, by): (Moment, Moment)) -> Moment {
        let after = self.between.iter().max();
        let before = self.later.iter().map(|visit| visit.received_at).min();
        let low = after.map_or(near, |after| near.max(after.plus_ms(1))).max(from);
        before.map_or(low, |before| low.min(before)).min(by)
    }
}

const STILL_TO_COME: &str = "This day is still to come.";
