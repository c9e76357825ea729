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
use crate::clock::Day;
use crate::diagnosis::{lesson, score};
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::reports::repaired::{self, Repairs};
use crate::reports::visits;

use super::day_bounds::Bounds;
use super::day_shift::{self, Shift};
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
    let shift = day_shift::moved(act, &bounds, new);
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
