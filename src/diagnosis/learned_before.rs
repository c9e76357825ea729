//! What was learned before, by another definition of what teaches, is learned anew when the program first opens a shop of then.

use uuid::Uuid;

use crate::bench::finding::Finding;
use crate::bench::play_test::PlayTest;
use crate::counter::instrument::Instrument;
use crate::counter::order::Order;
use crate::db::{Db, Tx};
use crate::error::Result;

use super::evidence;
use super::lesson::{self, Lesson, settled};
use super::score;

/// What teaches: 1, what was confirmed and did not still buzz once it was mended.
const DEFINITION: i64 = 1;
/// So many orders are looked up at once.
const PAGE: i64 = 500;

/// Has a shop that learned by an older definition learn by this one; mostly there is nothing to do.
///
/// # Errors
/// What the database says.
pub async fn learn_anew(db: &Db) -> Result<()> {
    let (taught_as,): (i64,) = db
        .read("select taught_as from counted where id = 1")
        .one()
        .await?;
    if taught_as == DEFINITION {
        return Ok(());
    }
    let mut tx = db.begin().await?;
    // Of two programs that start at once the second waits here, and finds it done.
    let turn = tx
        .query("update counted set taught_as = $1 where id = 1 and taught_as <> $1")
        .bind(DEFINITION)
        .execute()
        .await?;
    if turn == 1 {
        every_order(&mut tx).await?;
        tx.commit().await?;
    }
    Ok(())
}

/// Only what still buzzed can have been learned otherwise.
async fn every_order(tx: &mut Tx) -> Result<()> {
    let mut after = Uuid::nil();
    loop {
        let page: Vec<(Uuid,)> = tx
            .query(
                "select distinct work_order from play_test where result = 'still_buzzes' and work_order > $1
                 order by work_order limit $2",
            )
            .bind(after)
            .bind(PAGE)
            .all()
            .await?;
        let Some(&(last,)) = page.last() else {
            return Ok(());
        };
        for (order,) in page {
            one_order(tx, order).await?;
        }
        after = last;
    }
}

/// Unlearns what an order taught and does not, and the other way round. A guess that was scored by what was not it is
/// scored no more: how another would have been guessed then is not known any longer.
async fn one_order(tx: &mut Tx, id: Uuid) -> Result<()> {
    let order = Order::get(&mut *tx, &id.to_string()).await?;
    let instrument = Instrument::get(&mut *tx, order.instrument).await?;
    let findings = Finding::of(&mut *tx, id).await?;
    let play_tests = PlayTest::of(&mut *tx, id).await?;
    let settled = settled(&findings, &play_tests);
    let before = lesson::of_order(tx, id).await?;
    let mut after = Lesson::of(&order, &instrument, &lesson::causes(&settled));
    if let Some(after) = &mut after {
        after.answers = match &before {
            Some(before) => before.answers.clone(),
            None => evidence::first_answers_kept(&mut *tx, &order).await?,
        };
    }
    let stand = lesson::next(tx).await?;
    let scored = score::unless(tx, id, settled.first().map(|finding| &*finding.cause), &stand).await?;
    lesson::change(tx, &stand, &scored, (id, before.as_ref(), after.as_ref())).await
}
