//! Comebacks in what was brought in, looked for once it is all there: by the rule of the bench, whatever order the
//! lines came in, and of what the shop itself found on the same instruments before the book was brought.

use crate::clock::{Day, Moment};
use crate::db::Tx;
use crate::error::Result;
use crate::reports::tally::Counts;

/// Writes on each confirmed finding of these instruments which visit it is a comeback of, and counts those within the
/// window.
///
/// # Errors
/// What the database says.
pub async fn find(tx: &mut Tx, brought_at: Moment, window: i64, counts: &mut Counts) -> Result<()> {
    // In a fresh shop neither database knows yet how much there is. The cross joins have SQLite begin with the findings
    // of the instrument, the sums with nothing have PostgreSQL not begin with all that was ever collected.
    tx.query(
        "update finding set comeback_of = (
           select o.id from finding f cross join work_order o
           where o.id = f.work_order and f.instrument = finding.instrument and f.cause = finding.cause and f.certainty = 'confirmed'
           and not f.withdrawn and o.id <> finding.work_order and o.stage = 'collected'
           and o.collected_on + 0 <= (select w.received_on from work_order w where w.id = finding.work_order)
           and exists (select 1 from repair_step s where s.work_order = o.id and s.done_at is not null
                       and (s.finding is null or s.finding = f.id))
           order by o.collected_on + 0 desc, o.id desc limit 1)
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
        counts.comeback(day.month(), &cause, orders);
    }
    tx.query(
        "update finding set comeback_days = (select w.received_on from work_order w where w.id = finding.work_order)
           - (select e.collected_on from work_order e where e.id = finding.comeback_of)
         where comeback_of is not null and comeback_days is null",
    )
    .execute()
    .await?;
    Ok(())
}
