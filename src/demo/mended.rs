//! What was mended in the invented shop, as the acts would have kept it to be watched; and which instruments are gone.

use std::cmp::Reverse;

use uuid::Uuid;

use crate::bench::step::Step;
use crate::clock::Day;
use crate::counter::stage::Stage;
use crate::db::{Tx, insert_rows};
use crate::error::Result;
use crate::reports::bands::age;
use crate::reports::group;
use crate::reports::repaired::{self, Repaired};

use super::World;
use super::book::Book;
use super::chance::Chance;
use super::history::Batch;

/// What was repaired on the orders of a batch and went home; and what came back of what had been repaired before, in the
/// order of the visits.
#[must_use]
pub fn repaired_in(batch: &Batch) -> (Vec<Repaired>, Vec<(Uuid, String, Day)>) {
    let (mut rows, mut back) = (Vec::new(), Vec::new());
    for (book, brought) in batch.books.iter().zip(&batch.of) {
        let order = &book.order;
        let mut causes: Vec<&str> = Vec::new();
        for finding in book.findings.iter().filter(|finding| finding.is_confirmed()) {
            if let Some(earlier) = finding.comeback_of {
                back.push((earlier, finding.cause.clone(), order.received_on));
            }
            if !causes.contains(&&*finding.cause) {
                causes.push(&finding.cause);
            }
        }
        let (Some(collected_on), Stage::Collected) = (order.collected_on, order.stage) else {
            continue;
        };
        for cause in causes {
            if let Some(main) = main_step(book, cause) {
                let [size, account] = group::of_order(brought.family, brought.size, brought.kind.code());
                rows.push(Repaired {
                    work_order: order.id,
                    instrument: order.instrument,
                    cause: cause.to_owned(),
                    family: brought.family.to_owned(),
                    job: main.job.clone().unwrap_or_default(),
                    age: age(brought.year_made, order.received_on.year()),
                    size: size.to_owned(),
                    account: account.to_owned(),
                    month: repaired::month_of(order.received_on),
                    technician: main.done_by,
                    collected_on,
                    back_on: None,
                    gone_on: None,
                });
            }
        }
    }
    (rows, back)
}

/// The step that took longest among those done for a cause, or else among those for nothing in particular.
fn main_step<'a>(book: &'a Book, cause: &str) -> Option<&'a Step> {
    let finding = |id: Uuid| book.findings.iter().find(|finding| finding.id == id);
    let done = book.steps.iter().filter(|step| step.done_at.is_some());
    let own = done.filter(|step| {
        let of = step.finding.map(finding);
        of.is_none_or(|of| of.is_some_and(|of| of.is_confirmed() && of.cause == cause))
    });
    own.min_by_key(|step| {
        (
            step.finding.is_none(),
            Reverse(step.actual_minutes),
            step.position,
            step.id,
        )
    })
}

/// Some instruments that were not seen for half a year are gone: about one in twenty is sold, and one in fifty lost sight
/// of as its owner moves away (from memory, no source).
///
/// # Errors
/// What the database says.
pub async fn gone(tx: &mut Tx, world: &World) -> Result<()> {
    let last: Vec<(Uuid, Day)> = tx
        .query(
            "select instrument, max(collected_on) from work_order group by instrument
             having count(*) = count(collected_on) and max(received_on) < $1 order by instrument",
        )
        .bind(world.wish.as_of.plus(-220))
        .all()
        .await?;
    let mut gone: Vec<(Uuid, Day, &str)> = Vec::new();
    for (at, (instrument, last)) in (0_u64..).zip(last) {
        let mut chance = Chance::of(world.wish.seed, "gone", at);
        let why = match chance.weighted([5.0, 2.0, 0.2, 92.8].into_iter()) {
            0 => "sold",
            1 => "moved_away",
            2 => "destroyed",
            _ => continue,
        };
        gone.push((
            instrument,
            last.plus(chance.range(20, 200)).min(world.wish.as_of),
            why,
        ));
    }
    let owner = world
        .hands
        .iter()
        .find(|hand| hand.roles.owner)
        .map(|hand| hand.id);
    let into = "insert into gone (instrument, gone_on, why, at, staff) values";
    insert_rows(tx, into, 5, &gone, |query, row| {
        let at = world.zone.moment(row.1, 12, 0);
        query.bind(row.0).bind(row.1).bind(row.2).bind(at).bind(owner)
    })
    .await?;
    tx.query(
        "update repaired set gone_on = (select g.gone_on from gone g where g.instrument = repaired.instrument)
         where instrument in (select instrument from gone)",
    )
    .execute()
    .await?;
    Ok(())
}
