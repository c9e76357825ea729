//! A new window of comebacks has those counted anew that lie between it and the one before, in the background.
//!
//! It is one step of those of [`super::new_bands`], alone with the counts: what came back is few and found by its days, so that
//! a million orders take about a second. Until it is done the reports tell by the window before; what is promised to a
//! customer goes by the new one at once.

use crate::clock::Day;
use crate::db::Tx;
use crate::error::Result;

use super::home;
use super::tally::{Counts, What};

/// Counts anew, and puts the new window in force.
///
/// # Errors
/// What the database says.
pub async fn take(tx: &mut Tx, before: i64, after: i64) -> Result<()> {
    let between = (before.min(after), before.max(after));
    // An order counts once for a cause, by the finding of it that was back soonest.
    let moved: Vec<(Day, String, i64)> = tx
        .query(
            "select received_on, cause, count(*) from (select o.received_on, f.cause from finding f
             join work_order o on o.id = f.work_order where f.certainty = 'confirmed' and not f.withdrawn
             and f.comeback_days is not null and f.comeback_days <= $2 group by o.id, o.received_on, f.cause
             having min(f.comeback_days) > $1) c group by 1, 2 order by 1, 2",
        )
        .bind(between.0)
        .bind(between.1)
        .all()
        .await?;
    let way = if after > before { 1 } else { -1 };
    let mut counts = Counts::default();
    home::free_anew(tx, &mut counts, home::BACK_WITHIN, between, way).await?;
    for (day, cause, orders) in moved {
        counts.by_code(What::Comebacks, day.month(), &cause, way * orders);
    }
    counts.keep(tx).await?;
    tx.query("update counted set comeback_window = $1, next_window = null where id = 1")
        .bind(after)
        .execute()
        .await?;
    Ok(())
}
