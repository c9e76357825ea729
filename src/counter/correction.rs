//! A correction puts right what is written of a customer or an instrument; years, sizes and kinds put right move the counts.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::clock::{Day, Moment};
use crate::db::Tx;
use crate::diagnosis::lesson;
use crate::error::Result;
use crate::form::Problems;
use crate::reports::repaired::Repairs;
use crate::reports::{moved, repaired};

use super::customer::{Customer, NewCustomer};
use super::instrument::{Instrument, NewInstrument};
use super::size::SizeClass;

/// What may be put right of an instrument; what it is and whose it is stays.
#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct NewWords {
    pub size: String,
    /// Maker or label as read.
    pub maker: String,
    pub year_made: Option<i64>,
    /// `exact`, `circa` or `unknown`; empty follows from whether there is a year.
    pub year_certainty: String,
    pub serial: String,
    pub marks: String,
}

impl NewWords {
    /// As they stand.
    #[must_use]
    pub fn of(kept: &Instrument) -> NewWords {
        let kept = kept.clone();
        NewWords {
            size: kept.size,
            maker: kept.maker,
            year_made: kept.year_made,
            year_certainty: kept.year_certainty,
            serial: kept.serial,
            marks: kept.marks,
        }
    }
}

/// Corrects a customer, unless somebody else did since `version`. Sent twice, the second time it is kept already.
///
/// # Errors
/// Not found, problems, stale, or what the database says.
pub async fn customer(tx: &mut Tx, id: Uuid, version: i64, new: &NewCustomer) -> Result<Customer> {
    let kept = Customer::get(&mut *tx, id).await?;
    let mut problems = Problems::default();
    let mut changed = Customer {
        id,
        ..new.check(&mut problems, "", kept.created_at)
    };
    problems.settle()?;
    if kept.says_the_same(&changed) {
        return Ok(kept);
    }
    changed.update(tx, version).await?;
    changed.version = version + 1;
    if kept.kind != changed.kind {
        moved::account(tx, &kept).await?;
        repaired::move_account(tx, id, &changed.kind).await?;
    }
    Ok(changed)
}

/// Corrects an instrument in the same way; `problems` are those with what was typed, to be told together.
///
/// # Errors
/// Not found, problems, stale, or what the database says.
pub async fn instrument(
    tx: &mut Tx,
    mut problems: Problems,
    (id, version): (Uuid, i64),
    new: &NewWords,
    now: Moment,
) -> Result<Instrument> {
    let kept = Instrument::get(&mut *tx, id).await?;
    let latest = latest_year(tx, id, now).await?;
    let new = new.clone();
    let new = NewInstrument {
        family: kept.family.clone(),
        size: new.size,
        maker: new.maker,
        year_made: new.year_made,
        year_certainty: new.year_certainty,
        serial: new.serial,
        marks: new.marks,
    };
    let mut changed = Instrument {
        id,
        ..new.check(&mut problems, "", kept.customer, latest, kept.created_at)
    };
    problems.settle()?;
    if kept.says_the_same(&changed) {
        return Ok(kept);
    }
    changed.update(tx, version).await?;
    changed.version = version + 1;
    let class = |it: &Instrument| SizeClass::of(&it.family, &it.size);
    if kept.year_made != changed.year_made || class(&kept) != class(&changed) {
        moved::instrument(tx, &kept).await?;
        repaired::keep(tx, id, &Repairs::All).await?;
    }
    if kept.year_made != changed.year_made {
        lesson::move_band(tx, &changed).await?;
    }
    Ok(changed)
}

/// It was made before it was first taken in.
async fn latest_year(tx: &mut Tx, id: Uuid, now: Moment) -> Result<i64> {
    let (first,): (Option<Day>,) = tx
        .query("select min(received_on) from work_order where instrument = $1")
        .bind(id)
        .one()
        .await?;
    let today = Shop::get(tx).await?.today(now);
    Ok(first.unwrap_or(today).year())
}
