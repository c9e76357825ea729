//! Moved are counts that a correction puts elsewhere: of an instrument, or of a customer.

use crate::counter::customer::Customer;
use crate::counter::instrument::Instrument;
use crate::db::Tx;
use crate::error::Result;

use super::history::{self, Stood};
use super::tally::Counts;

/// Moves an instrument's orders to the age band and the size that follow from its year and size as they were corrected.
///
/// Each order takes a new version first. That settles who comes first when the bench writes on one of them in the
/// same moment: either its act is counted here, or it finds its order changed and is done again by the new year.
///
/// # Errors
/// What the database says.
pub async fn instrument(tx: &mut Tx, before: &Instrument) -> Result<()> {
    tx.query("update work_order set version = version + 1 where instrument = $1")
        .bind(before.id)
        .execute()
        .await?;
    let stand = history::of_instrument(tx, before.id).await?;
    let stood = |now: &Stood| Stood {
        size: before.size.clone(),
        year_made: before.year_made,
        ..now.clone()
    };
    all(tx, &stand, stood).await
}

/// Moves a customer's orders to the kind of account that they were corrected to, in the same way.
///
/// # Errors
/// What the database says.
pub async fn account(tx: &mut Tx, before: &Customer) -> Result<()> {
    tx.query("update work_order set version = version + 1 where customer = $1")
        .bind(before.id)
        .execute()
        .await?;
    let stand = history::of_customer(tx, before.id).await?;
    let stood = |now: &Stood| Stood {
        kind: before.kind.clone(),
        ..now.clone()
    };
    all(tx, &stand, stood).await
}

async fn all(tx: &mut Tx, stand: &[Stood], stood: impl Fn(&Stood) -> Stood) -> Result<()> {
    let mut counts = Counts::default();
    for now in stand {
        counts.orders(stood(now).cell(), &now.cause, -now.orders);
        counts.orders(now.cell(), &now.cause, now.orders);
    }
    counts.keep(tx).await
}
