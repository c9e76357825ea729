//! Writing what was invented: a batch a transaction, and the counts at the end.

use crate::bulk::{Counted, Lot, Sums};
use crate::counter::tag::FIRST_NUMBER;
use crate::db::Db;
use crate::error::Result;
use crate::reports::repaired;

use super::history::Batch;
use super::taught::{Learned, Rows};
use super::{World, air, mended, shop};

/// Adds a batch to the counts.
///
/// # Errors
/// When an amount is larger than money here can be.
pub fn add(sums: &mut Sums, batch: &Batch) -> Result<()> {
    for (book, brought) in batch.books.iter().zip(&batch.of) {
        let counted = Counted {
            order: &book.order,
            family: brought.family,
            size: brought.size,
            year_made: brought.year_made,
            kind: brought.kind.code(),
            findings: &book.findings,
            steps: &book.steps,
            parts: &book.parts,
            payments: &book.payments,
            charged: book.charged.as_ref(),
        };
        sums.add(&counted)?;
    }
    Ok(())
}

/// Says what the database is to be, and who works there.
///
/// # Errors
/// What the database says.
pub async fn begin(db: &Db, world: &World, hashes: &[String]) -> Result<()> {
    let mut tx = db.begin().await?;
    tx.query("insert into demo (id, seed, orders, as_of, whole) values (1, $1, $2, $3, $4)")
        .bind(i64::try_from(world.wish.seed).unwrap_or(i64::MAX))
        .bind(i64::try_from(world.wish.orders).unwrap_or(i64::MAX))
        .bind(world.wish.as_of)
        .bind(false)
        .execute()
        .await?;
    for (hand, hash) in world.hands.iter().zip(hashes) {
        let at = world.zone.moment(hand.since, 8, 30);
        shop::staff(hand, hash, at).insert(&mut tx).await?;
    }
    air::write(&mut tx, world).await?;
    tx.commit().await?;
    Ok(())
}

/// Writes a batch with what became known meanwhile, wholly or not at all.
///
/// # Errors
/// What the database says.
pub async fn batch(db: &Db, batch: Batch, taught: &Rows) -> Result<()> {
    let (repaired, back) = mended::repaired_in(&batch);
    let mut lot = Lot {
        customers: batch.customers,
        instruments: batch.instruments,
        ..Lot::default()
    };
    for book in batch.books {
        lot.orders.push(book.order);
        lot.checks.extend(book.checks);
        lot.findings.extend(book.findings);
        lot.steps.extend(book.steps);
        lot.parts.extend(book.parts);
        lot.approvals.extend(book.approvals);
        lot.play_tests.extend(book.play_tests);
        lot.payments.extend(book.payments);
        lot.story.extend(book.story);
    }
    let mut tx = db.begin().await?;
    lot.write(&mut tx).await?;
    repaired::insert(&mut tx, &repaired).await?;
    for (earlier, cause, day) in back {
        repaired::comes_back(&mut tx, earlier, &cause, day).await?;
    }
    taught.write(&mut tx).await?;
    tx.commit().await?;
    Ok(())
}

/// The counts, the next number, and last of all the shop itself.
///
/// # Errors
/// What the database says.
pub async fn finish(db: &Db, world: &World, sums: &Sums, (rows, learned): (Rows, Learned)) -> Result<()> {
    let mut tx = db.begin().await?;
    rows.write(&mut tx).await?;
    learned.write(&mut tx).await?;
    sums.counts().keep(&mut tx).await?;
    mended::gone(&mut tx, world).await?;
    tx.query("update tag_counter set next = $1 where id = 1")
        .bind(FIRST_NUMBER + i64::try_from(world.wish.orders).unwrap_or(0))
        .execute()
        .await?;
    world.shop.insert(&mut tx).await?;
    tx.query("update demo set whole = true where id = 1")
        .execute()
        .await?;
    tx.commit().await?;
    Ok(())
}

/// Takes away what a broken-off filling left; only ever called on a database that says it was being filled.
///
/// # Errors
/// What the database says.
pub async fn sweep(db: &Db) -> Result<()> {
    let mut tx = db.begin().await?;
    for sql in [
        "delete from gone",
        "delete from repaired",
        "delete from old_book",
        "delete from book_file",
        "delete from lesson",
        "delete from scored",
        "delete from story",
        "delete from payment",
        "delete from play_test",
        "delete from approval",
        "delete from part",
        "delete from repair_step",
        "delete from finding",
        "delete from cause_check",
        "delete from work_order",
        "delete from find",
        "delete from instrument",
        "delete from customer",
        "delete from reading",
        "delete from air_day",
        "delete from staff",
        "delete from demo",
    ] {
        tx.query(sql).execute().await?;
    }
    tx.commit().await?;
    Ok(())
}
