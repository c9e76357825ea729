//! Comebacks in what was brought in, looked for once it is all there: by the rule of the bench, whatever order the
//! lines came in, and of what the shop itself found on the same instruments before the book was brought.

use uuid::Uuid;

use crate::clock::{Day, Moment};
use crate::db::Tx;
use crate::error::Result;
use crate::reports::home;
use crate::reports::repaired;
use crate::reports::tally::{Counts, What};

/// Writes on each confirmed finding of these instruments which visit it is a comeback of, and counts those within the
/// window. Where there are `many`, the database is told to look how many.
///
/// # Errors
/// What the database says.
pub async fn find(
    tx: &mut Tx,
    brought_at: Moment,
    window: i64,
    many: bool,
    counts: &mut Counts,
) -> Result<()> {
    if many {
        tx.analyze().await?;
    }
    repaired(tx, brought_at).await?;
    if many {
        tx.analyze().await?;
    }
    // The cross join has SQLite begin with what was brought, of which it knows no number in a fresh shop.
    tx.query(
        "update finding set comeback_of = (
           select r.work_order from repaired r
           where r.instrument = finding.instrument and r.cause = finding.cause and r.work_order <> finding.work_order
           and r.collected_on <= (select w.received_on from work_order w where w.id = finding.work_order)
           order by r.collected_on desc, r.work_order desc limit 1)
         where certainty = 'confirmed' and not withdrawn and comeback_of is null and instrument in (
           select w.instrument from old_book b cross join work_order w where w.id = b.work_order and b.brought_at = $1)",
    )
    .bind(brought_at)
    .execute()
    .await?;
    // Those that have no days yet are new.
    let back: Vec<(Day, String, i64)> = tx
        .query(
            "select received_on, cause, count(*) from (select distinct o.id, o.received_on, f.cause from finding f
             cross join work_order o cross join work_order e where o.id = f.work_order and e.id = f.comeback_of
             and f.comeback_days is null and o.received_on - e.collected_on <= $1) c group by 1, 2 order by 1, 2",
        )
        .bind(window)
        .all()
        .await?;
    for (day, cause, orders) in back {
        counts.by_code(What::Comebacks, day.month(), &cause, orders);
    }
    home::free_anew(tx, counts, home::BACK_ONLY_NOW, (-1, window), 1).await?;
    tx.query(
        "update finding set comeback_days = (select w.received_on from work_order w where w.id = finding.work_order)
           - (select e.collected_on from work_order e where e.id = finding.comeback_of)
         where comeback_of is not null and comeback_days is null",
    )
    .execute()
    .await?;
    Ok(())
}

/// So many instruments are looked for at once.
const PAGE: i64 = 2000;

/// Keeps what was repaired on these instruments, and the day it came back.
async fn repaired(tx: &mut Tx, brought_at: Moment) -> Result<()> {
    let mut after = Uuid::nil();
    loop {
        let page: Vec<(Uuid,)> = tx
            .query(
                "select distinct w.instrument from old_book b cross join work_order w where w.id = b.work_order
                 and b.brought_at = $1 and w.inspected_on is not null and w.instrument > $2 order by 1 limit $3",
            )
            .bind(brought_at)
            .bind(after)
            .bind(PAGE)
            .all()
            .await?;
        let Some(&(last,)) = page.last() else {
            return Ok(());
        };
        repaired::keep_between(tx, after, last).await?;
        after = last;
    }
}
