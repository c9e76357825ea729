//! The days of an order are when the instrument came in and when it went home; the owner puts right what was written wrong.
//!
//! What was written in the very moment of the intake (a look at the counter) goes with it, and what was written in that of
//! the pickup (what was paid, what was put right while they waited) with the pickup. A visit that began and ended on one
//! day, and is moved to another, goes there whole. All else stays on its day, and bounds the two ([`super::day_bounds`]).
//! What is counted by these days is counted out and in again ([`crate::reports::visits`]), and comebacks are told by the
//! days as they are then ([`crate::bench::comeback`]).

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::act::Act;
use crate::bench::comeback;
use crate::bench::finding::Finding;
use crate::bench::play_test::PlayTest;
use crate::clock::{Day, Moment};
use crate::diagnosis::{lesson, score};
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::reports::repaired::{self, Repairs};
use crate::reports::visits;

use super::day_bounds::{self, Bounds};
use super::order::{self, Order};
use super::story::Story;
use super::tag;

/// When it came in and, once it has, when it went home.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NewDays {
    pub received_on: Day,
    pub collected_on: Option<Day>,
}

/// The days of an order: what is left out stays as it was.
#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct OrderDays {
    /// When it came in.
    #[schema(format = Date)]
    pub received_on: String,
    /// When it went home, once it has.
    #[schema(format = Date)]
    pub collected_on: Option<String>,
}

impl OrderDays {
    /// As days; what cannot be read is told at its field.
    ///
    /// # Errors
    /// Problems.
    pub fn read(&self) -> Result<NewDays> {
        let mut problems = Problems::default();
        let mut day = |field: &str, text: &str, missing: &str| {
            let day = Day::parse(text.trim());
            if text.trim().is_empty() {
                problems.add(field, missing);
            } else if day.is_none() {
                problems.add(
                    field,
                    "Write a day of the calendar from 1900 on, like 2026-02-28.",
                );
            }
            day
        };
        let received = day(
            "received_on",
            &self.received_on,
            "Write the day it came in, like 2026-02-28.",
        );
        let collected_on = match self.collected_on.as_deref() {
            Some(text) => day(
                "collected_on",
                text,
                "Write the day it went home, like 2026-02-28.",
            ),
            None => None,
        };
        problems.settle()?;
        Ok(NewDays {
            received_on: received.ok_or_else(|| Error::fault("a day without problems was read"))?,
            collected_on,
        })
    }
}

impl Order {
    #[must_use]
    pub fn days(&self) -> NewDays {
        NewDays {
            received_on: self.received_on,
            collected_on: self.collected_on,
        }
    }

    /// It came and went on one day, and does so by other days: everything that was done in between was done on that day.
    #[must_use]
    pub fn is_of_a_day(&self, new: &NewDays) -> bool {
        self.collected_on == Some(self.received_on) && new.collected_on == Some(new.received_on)
    }
}

/// What is written otherwise, beside the order itself.
struct Shift {
    order: Uuid,
    /// Of the intake, before and after; and so many days later.
    intake: (Moment, Moment),
    intake_days: i64,
    /// Of the pickup, if it went home.
    pickup: Option<(Moment, Moment)>,
    pickup_days: i64,
    /// All between goes with the intake.
    whole: bool,
}

/// Puts the days right, and everything that is kept by them.
///
/// # Errors
/// Problems, not allowed, stale, or what the database says.
pub async fn put_right(act: &mut Act, new: &NewDays) -> Result<()> {
    if !act.who.roles.owner {
        return Err(Error::NotAllowed);
    }
    let bounds = Bounds::of(act).await?;
    bounds.check(act, new).settle()?;
    let before = act.order.clone();
    if before.days() == *new {
        return Ok(());
    }
    let shift = moved(act, &bounds, new);
    // The ranking's turn first, then the instrument's, as every act takes them.
    lesson::learn(act).await?;
    score_month(act, &shift).await?;
    let instrument = act.order.instrument;
    repaired::begin(&mut act.tx, instrument).await?;
    others_wait(act).await?;
    let counted = visits::counted(&mut act.tx, instrument).await?;
    write(act).await?;
    let paid = shift.write(act).await?;
    repaired::keep(&mut act.tx, instrument, &Repairs::All).await?;
    let told_anew = comeback::again(&mut act.tx, act.order.id, instrument).await?;
    act.counts.join(&counted, -1);
    let counted = visits::counted(&mut act.tx, instrument).await?;
    act.counts.join(&counted, 1);
    tell_others(act, &told_anew).await?;
    act.say(said(&before, new, paid));
    Ok(())
}

/// Gives the order its days, and says what goes with them.
fn moved(act: &mut Act, bounds: &Bounds, new: &NewDays) -> Shift {
    let before = act.order.clone();
    let whole = before.is_of_a_day(new);
    let shift = moments(act, bounds, new, whole);
    let order = &mut act.order;
    (order.received_on, order.collected_on) = (new.received_on, new.collected_on);
    order.received_at = shift.intake.1;
    order.collected_at = shift.pickup.map(|pickup| pickup.1);
    let from = |day: Option<Day>, days: i64| day.map(|day| day.plus(days));
    if whole {
        order.inspected_on = from(order.inspected_on, shift.intake_days);
        order.ready_on = from(order.ready_on, shift.intake_days);
        order.stage_on = from(order.stage_on, shift.intake_days);
        return shift;
    }
    if bounds.with_intake {
        order.inspected_on = from(order.inspected_on, shift.intake_days);
    }
    if bounds.with_pickup {
        order.ready_on = from(order.ready_on, shift.pickup_days);
    }
    stood(&before, order, bounds, (shift.intake_days, shift.pickup_days));
    shift
}

/// The days it stood where, as the intake and the pickup are so many days later.
fn stood(before: &Order, order: &mut Order, bounds: &Bounds, (intake, pickup): (i64, i64)) {
    let less = |days: &mut Option<i64>, by: i64| {
        if let Some(days) = days {
            *days -= by;
        }
    };
    if day_bounds::stays(before, bounds.with_intake) {
        // Only since when it stands there is another day.
        order.stage_on = order.stage_on.map(|_| order.received_on);
    } else if bounds.with_intake {
        less(&mut order.days_bench, intake);
    } else {
        less(&mut order.days_first, intake);
    }
    if before.is_handed_back() {
        less(
            if bounds.with_pickup {
                &mut order.days_bench
            } else {
                &mut order.days_ready
            },
            -pickup,
        );
        order.stage_on = order.stage_on.and(order.collected_on);
    }
    // Both ends at the bench: what is too short there waited for the customer less.
    if let (Some(bench), Some(answer)) = (&mut order.days_bench, &mut order.days_answer) {
        let short = (-*bench).max(0);
        (*bench, *answer) = (*bench + short, *answer - short);
    }
}

/// The moments that follow: at the same time of day, as far as that leaves all in its order.
fn moments(act: &Act, bounds: &Bounds, new: &NewDays, whole: bool) -> Shift {
    let (order, zone) = (&act.order, act.shop.zone());
    let near = |at: Moment, day: Day| {
        let (_, hour, minute) = zone.local(at);
        zone.moment(day, hour, minute).plus_ms(at.0.rem_euclid(60_000))
    };
    let long = order.collected_at.map_or(0, |at| at.0 - order.received_at.0);
    let by = if whole { act.now.plus_ms(-long) } else { act.now };
    let intake = if new.received_on == order.received_on {
        order.received_at
    } else if whole {
        bounds.visit(near(order.received_at, new.received_on), (long, by))
    } else {
        bounds.intake(near(order.received_at, new.received_on), by)
    };
    let pickup = order.collected_at.zip(new.collected_on).map(|(at, day)| {
        if whole {
            (at, intake.plus_ms(long))
        } else if order.collected_on == Some(day) {
            (at, at)
        } else {
            (at, bounds.pickup(near(at, day), (intake, act.now)))
        }
    });
    Shift {
        order: order.id,
        intake: (order.received_at, intake),
        intake_days: new.received_on.0 - order.received_on.0,
        pickup,
        pickup_days: new
            .collected_on
            .zip(order.collected_on)
            .map_or(0, |(new, old)| new.0 - old.0),
        whole,
    }
}

/// How well it was guessed is told by the month in which it was found.
async fn score_month(act: &mut Act, shift: &Shift) -> Result<()> {
    let findings = Finding::of(&mut act.tx, act.order.id).await?;
    let play_tests = PlayTest::of(&mut act.tx, act.order.id).await?;
    let settled = lesson::settled(&findings, &play_tests);
    match settled.first() {
        Some(first) if shift.whole || first.at == shift.intake.0 => {
            let month = first.found_on.plus(shift.intake_days).month();
            score::move_month(&mut act.tx, act.order.id, month).await
        }
        _ => Ok(()),
    }
}

/// Whoever writes on another visit of the instrument in this moment is counted here, or finds the visit changed and does it
/// again by the new days.
async fn others_wait(act: &mut Act) -> Result<()> {
    act.tx
        .query("update work_order set version = version + 1 where instrument = $1 and id <> $2")
        .bind(act.order.instrument)
        .bind(act.order.id)
        .execute()
        .await?;
    Ok(())
}

/// Writes what [`Order::update`] leaves alone, for all that is counted from it before the act ends.
async fn write(act: &mut Act) -> Result<()> {
    let order = &act.order;
    let rows = act
        .tx
        .query(
            "update work_order set received_at = $3, received_on = $4, collected_at = $5, collected_on = $6,
             inspected_on = $7, ready_on = $8, stage_on = $9, days_first = $10, days_answer = $11, days_bench = $12,
             days_ready = $13 where id = $1 and version = $2",
        )
        .bind(order.id)
        .bind(order.version)
        .bind(order.received_at)
        .bind(order.received_on)
        .bind(order.collected_at)
        .bind(order.collected_on)
        .bind(order.inspected_on)
        .bind(order.ready_on)
        .bind(order.stage_on)
        .bind(order.days_first)
        .bind(order.days_answer)
        .bind(order.days_bench)
        .bind(order.days_ready)
        .execute()
        .await?;
    if rows == 0 {
        return Err(Error::Stale(order::STALE.into()));
    }
    Ok(())
}

impl Shift {
    /// Whether what was paid goes along.
    async fn write(&self, act: &mut Act) -> Result<bool> {
        let (from, to) = self.intake;
        let last = self.pickup.map_or(from, |pickup| pickup.0);
        // All of a visit that is moved whole, and else what has the very moment of the one or of the other.
        let with_intake = (from, if self.whole { last } else { from }, to.0 - from.0);
        for sql in [
            "update cause_check set at = at + $4 where work_order = $1 and at between $2 and $3",
            "update repair_step set created_at = created_at + $4 where work_order = $1 and created_at between $2 and $3",
        ] {
            self.all(act, sql, with_intake, None).await?;
        }
        let found = "update finding set at = at + $4, found_on = found_on + $5 where work_order = $1 and at between $2 and $3";
        self.all(act, found, with_intake, Some(self.intake_days)).await?;
        let Some((was, is)) = self.pickup else {
            return Ok(false);
        };
        let with_pickup = (if self.whole { from } else { was }, was, is.0 - was.0);
        for sql in [
            "update play_test set at = at + $4 where work_order = $1 and at between $2 and $3",
            "update approval set at = at + $4 where work_order = $1 and at between $2 and $3",
        ] {
            self.all(act, sql, with_pickup, None).await?;
        }
        let days = Some(self.pickup_days);
        let done = "update repair_step set done_at = done_at + $4, done_on = done_on + $5 where work_order = $1 and done_at between $2 and $3";
        self.all(act, done, with_pickup, days).await?;
        let paid = "update payment set at = at + $4, paid_on = paid_on + $5 where work_order = $1 and at between $2 and $3";
        let paid = self.all(act, paid, with_pickup, days).await?;
        Ok(paid > 0 && self.pickup_days != 0)
    }

    async fn all(
        &self,
        act: &mut Act,
        sql: &'static str,
        (from, to, ms): (Moment, Moment, i64),
        days: Option<i64>,
    ) -> Result<u64> {
        let query = act.tx.query(sql).bind(self.order).bind(from).bind(to).bind(ms);
        let query = match days {
            Some(days) => query.bind(days),
            None => query,
        };
        Ok(query.execute().await?)
    }
}

/// Visits after this one that came back so many days after it now.
async fn tell_others(act: &mut Act, told_anew: &[comeback::Anew]) -> Result<()> {
    let spoken = tag::spoken(&act.order.tag);
    let lines: Vec<Story> = told_anew
        .iter()
        .filter(|anew| anew.order != act.order.id)
        .map(|anew| Story {
            id: Uuid::now_v7(),
            work_order: anew.order,
            at: act.now,
            by_name: act.who.name.clone(),
            words: format!(
                "The days of order {spoken} were put right: {} was repaired then, and collected {} before it came in again",
                anew.cause,
                crate::words::count(anew.days, "day", "days")
            ),
        })
        .collect();
    Story::insert(&mut act.tx, &lines).await?;
    Ok(())
}

/// "Days put right: it came in on Thu 5 Feb 2026, not on Mon 9 Feb 2026"
fn said(before: &Order, new: &NewDays, paid: bool) -> String {
    let not = |is: Day, was: Day| format!("on {}, not on {}", is.with_year(), was.with_year());
    let mut parts = Vec::new();
    if new.received_on != before.received_on {
        parts.push(format!("it came in {}", not(new.received_on, before.received_on)));
    }
    if let (Some(is), Some(was)) = (new.collected_on, before.collected_on)
        && is != was
    {
        parts.push(format!("it went home {}", not(is, was)));
    }
    let paid = if paid { ", with what was paid then" } else { "" };
    format!("Days put right: {}{paid}", parts.join(", and "))
}
