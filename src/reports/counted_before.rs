//! What was before these counts were kept is counted once, when the program first opens a shop that is older than they are.

use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::clock::{Clock, Day};
use crate::db::{Db, Read, Tx, insert_rows};
use crate::error::Result;
use crate::money::Money;

use super::home;
use super::recount;
use super::tally::{Counts, What};

/// Counts time and money of a shop that was there before they were counted; mostly there is nothing to do. What acts counted
/// since these counts came is counted anew with the rest.
///
/// # Errors
/// What the database says.
pub async fn count(db: &Db, clock: &Clock) -> Result<()> {
    let due: Option<(i64,)> = db
        .read("select id from older_shop where since is null")
        .optional()
        .await?;
    if due.is_none() {
        return Ok(());
    }
    let mut tx = db.begin().await?;
    let Some(shop) = Shop::find(&mut tx).await? else {
        return Ok(());
    };
    // Whoever comes second waits here, and finds it done.
    let mine = tx
        .query("update older_shop set since = $1 where id = 1 and since is null")
        .bind(shop.today(clock.now()))
        .execute()
        .await?;
    if mine == 0 {
        return Ok(());
    }
    for what in What::OF_WORK {
        tx.query("delete from tally_block where what = $1")
            .bind(what.code())
            .execute()
            .await?;
    }
    let mut counts = Counts::default();
    let owed = recount::work(&mut tx, &mut counts).await?;
    counts.retain(&What::OF_WORK);
    counts.keep(&mut tx).await?;
    tx.query("update work_order set owed = 0 where owed <> 0")
        .execute()
        .await?;
    note(&mut tx, &owed).await?;
    tx.commit().await?;
    Ok(())
}

/// What was put right without charge is that of comebacks alone: where all that was free was counted, it is counted anew.
///
/// # Errors
/// What the database says.
pub async fn count_free(db: &Db) -> Result<()> {
    let (done,): (bool,) = db
        .read("select free_of_comebacks from counted where id = 1")
        .one()
        .await?;
    if done {
        return Ok(());
    }
    let mut tx = db.begin().await?;
    let mine = tx
        .query("update counted set free_of_comebacks = true where id = 1 and not free_of_comebacks")
        .execute()
        .await?;
    if mine == 0 {
        return Ok(());
    }
    tx.query("delete from tally_block where what = $1 and (code like '% free_minutes' or code like '% free_parts')")
        .bind(What::Cost.code())
        .execute()
        .await?;
    let mut counts = Counts::default();
    if let Some(shop) = Shop::find(&mut tx).await? {
        home::free_anew(
            &mut tx,
            &mut counts,
            home::BACK_WITHIN,
            (-1, shop.rules.window()),
            1,
        )
        .await?;
    }
    counts.keep(&mut tx).await?;
    tx.commit().await?;
    Ok(())
}

/// By way of a table of its own, so that a hundred thousand are a few statements.
async fn note(tx: &mut Tx, owed: &[(Uuid, Money)]) -> Result<()> {
    let into = "insert into owed_before (work_order, owed) values";
    insert_rows(tx, into, 2, owed, |query, (order, owed)| {
        query.bind(*order).bind(*owed)
    })
    .await?;
    tx.query(
        "update work_order set owed = (select b.owed from owed_before b where b.work_order = work_order.id)
         where id in (select work_order from owed_before)",
    )
    .execute()
    .await?;
    tx.query("delete from owed_before").execute().await?;
    Ok(())
}

/// The day from which on days by stage are kept, of a shop that is older.
///
/// # Errors
/// What the database says.
pub async fn since(mut on: impl Read) -> Result<Option<Day>> {
    let row: Option<(Option<Day>,)> = on
        .read("select since from older_shop where id = 1")
        .optional()
        .await?;
    Ok(row.and_then(|row| row.0))
}
