//! Gone is an instrument that will not come again, as far as the shop knows: sold, destroyed, or its owner moved away.

use serde::{Deserialize, Serialize};
use sqlx::FromRow;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::clock::{Day, Moment};
use crate::db::{Read, Tx};
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::reports::repaired::{self, Repairs};

use super::instrument::Instrument;

/// Why it will not come again.
pub const WHYS: [(&str, &str); 3] = [
    ("sold", "Sold"),
    ("destroyed", "Destroyed"),
    ("moved_away", "The owner moved away"),
];

#[derive(Clone, Debug, FromRow)]
pub struct Gone {
    pub instrument: Uuid,
    /// Seen no longer from this day on.
    pub gone_on: Day,
    pub why: String,
    pub at: Moment,
    pub staff: Option<Uuid>,
}

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewGone {
    /// `sold`, `destroyed` or `moved_away`.
    pub why: String,
    /// `2026-02-10`; left out: today.
    #[serde(default)]
    pub on: Option<String>,
}

impl Gone {
    /// # Errors
    /// What the database says.
    pub async fn of(mut on: impl Read, instrument: Uuid) -> Result<Option<Gone>> {
        Ok(on
            .read("select * from gone where instrument = $1")
            .bind(instrument)
            .optional()
            .await?)
    }

    /// "Sold, Thu 4 Dec 2025"
    #[must_use]
    pub fn words(&self) -> String {
        let why = WHYS
            .iter()
            .find(|why| why.0 == self.why)
            .map_or("Gone", |why| why.1);
        format!("{why}, {}", self.gone_on.with_year())
    }
}

/// Notes that an instrument is gone, or puts right what is noted: its repairs are watched no longer from that day on.
///
/// # Errors
/// Not found, problems, stale, a conflict, or what the database says.
pub async fn note(
    tx: &mut Tx,
    (id, version): (Uuid, i64),
    new: &NewGone,
    (staff, now): (Option<Uuid>, Moment),
) -> Result<Gone> {
    change(tx, id, version).await?;
    let today = Shop::get(&mut *tx).await?.today(now);
    let mut problems = Problems::default();
    if !WHYS.iter().any(|why| why.0 == new.why) {
        problems.add("why", "Say sold, destroyed, or that the owner moved away.");
    }
    let last = last_here(tx, id).await?;
    let gone_on = match new.on.as_deref().map(str::trim).filter(|on| !on.is_empty()) {
        Some(on) => Day::parse(on),
        None => Some(today),
    };
    match gone_on {
        None => problems.add("on", "Write a day, such as 2026-02-10."),
        Some(day) if day > today => problems.add("on", "This day is to come. Note it when it is gone."),
        Some(day) if last.is_some_and(|last| day < last) => {
            let last = last.map_or(String::new(), Day::with_year);
            problems.add(
                "on",
                format!("It was here on {last}. Write that day or a later one."),
            );
        }
        Some(_) => {}
    }
    problems.settle()?;
    let gone = Gone {
        instrument: id,
        gone_on: gone_on.unwrap_or(today),
        why: new.why.clone(),
        at: now,
        staff,
    };
    tx.query(
        "insert into gone (instrument, gone_on, why, at, staff) values ($1, $2, $3, $4, $5)
         on conflict (instrument) do update set gone_on = $2, why = $3, at = $4, staff = $5",
    )
    .bind(gone.instrument)
    .bind(gone.gone_on)
    .bind(gone.why.clone())
    .bind(gone.at)
    .bind(gone.staff)
    .execute()
    .await?;
    repaired::keep(tx, id, &Repairs::All).await?;
    Ok(gone)
}

/// Takes it back: it was a mistake, and the instrument is still about.
///
/// # Errors
/// Not found, stale, or what the database says.
pub async fn take_back(tx: &mut Tx, (id, version): (Uuid, i64)) -> Result<()> {
    change(tx, id, version).await?;
    forget(tx, id).await?;
    Ok(())
}

/// Forgets that an instrument was gone, since it came in again; whether it was.
///
/// # Errors
/// What the database says.
pub async fn is_here_again(tx: &mut Tx, id: Uuid) -> Result<bool> {
    if Gone::of(&mut *tx, id).await?.is_none() {
        return Ok(false);
    }
    repaired::begin(tx, id).await?;
    forget(tx, id).await
}

async fn forget(tx: &mut Tx, id: Uuid) -> Result<bool> {
    let query = tx.query("delete from gone where instrument = $1").bind(id);
    let was = query.execute().await? > 0;
    if was {
        repaired::keep(tx, id, &Repairs::All).await?;
    }
    Ok(was)
}

async fn change(tx: &mut Tx, id: Uuid, version: i64) -> Result<()> {
    Instrument::get(&mut *tx, id).await?;
    let rows = tx
        .query("update instrument set version = version + 1 where id = $1 and version = $2")
        .bind(id)
        .bind(version)
        .execute()
        .await?;
    if rows == 0 {
        return Err(Error::Stale(
            "Somebody else changed this instrument just now. Read it again, then change it.".into(),
        ));
    }
    Ok(())
}

/// The last day on which it was in the shop; a conflict while it still is.
async fn last_here(tx: &mut Tx, id: Uuid) -> Result<Option<Day>> {
    let (last, visits, over): (Option<Day>, i64, i64) = tx
        .query(
            "select max(collected_on), count(*), count(collected_on) from work_order where instrument = $1",
        )
        .bind(id)
        .one()
        .await?;
    if over < visits {
        return Err(Error::conflict("It is in the shop. Hand it back first."));
    }
    Ok(last)
}
