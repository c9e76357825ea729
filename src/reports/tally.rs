//! A tally is a count kept in the transaction of the act that changes it, so that a report never reads the history.
//!
//! The definitions of the recurrence report are here and nowhere else:
//!
//! - An order is **inspected** once a check or a finding is written on it, or it goes back as "nothing found".
//!   Which kind of visit it is does not matter. A bow has no buzz causes and is never counted.
//! - It counts in the **month**, and so in the **season**, of the day it was **received**, by the shop's own calendar:
//!   that is when the trouble brought it in.
//! - Its **age band** is that of the instrument on that day, from the year it was made; an unknown year is a band of
//!   its own.
//! - A cause is **confirmed** on an order when a confirmed finding of it stands there, once however often it is written.
//!   A finding that was withdrawn does not count.
//! - A **comeback** is a confirmed cause on an instrument that was handed back with the same cause repaired, and that was
//!   received again within the comeback window of the shop.

use crate::clock::{Day, YearMonth};
use crate::counter::instrument::Instrument;
use crate::counter::order::Order;
use crate::db::Tx;
use crate::error::Result;
use crate::money::Money;

use super::age::AgeBand;

/// As shown on the report's page, so that everybody reads the figures alike.
pub const DEFINITIONS: [(&str, &str); 5] = [
    (
        "Inspected",
        "Orders on which a check or a finding is written, or that went back as nothing found. Bows are not counted.",
    ),
    (
        "Month and season",
        "Of the day the instrument was received, by the shop's calendar.",
    ),
    (
        "Age",
        "Of the instrument on that day. A year that is not known is a band of its own.",
    ),
    (
        "Confirmed",
        "Orders with a confirmed finding of the cause; a withdrawn finding does not count.",
    ),
    (
        "Comeback",
        "The same cause again on the same instrument, received within the comeback window after a pickup on which it had been repaired.",
    ),
];

/// Where an order stands in the recurrence report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cell<'a> {
    pub month: YearMonth,
    pub family: &'a str,
    pub band: AgeBand,
}

impl<'a> Cell<'a> {
    #[must_use]
    pub fn of(order: &Order, instrument: &'a Instrument) -> Cell<'a> {
        Cell {
            month: order.received_on.month(),
            family: &instrument.family,
            band: AgeBand::at(instrument.year_made, order.received_on.year()),
        }
    }
}

/// Counts an order in or out of a cell: of a cause, or of all that were inspected when `cause` is empty.
///
/// # Errors
/// What the database says.
pub async fn count(tx: &mut Tx, cell: Cell<'_>, cause: &str, orders: i64) -> Result<()> {
    tx.query(
        "insert into tally (month, family, age_band, cause, orders) values ($1, $2, $3, $4, $5)
         on conflict (month, cause, family, age_band) do update set orders = tally.orders + excluded.orders",
    )
    .bind(cell.month)
    .bind(cell.family.to_owned())
    .bind(cell.band.code())
    .bind(cause.to_owned())
    .bind(orders)
    .execute()
    .await?;
    Ok(())
}

/// Moves an instrument's orders to the age band that follows from its year as it was corrected.
///
/// Each order takes a new version first. That settles who comes first when the bench writes on one of them in the
/// same moment: either its act is counted here, or it finds its order changed and is done again by the new year.
///
/// # Errors
/// What the database says.
pub async fn move_band(tx: &mut Tx, before: &Instrument, after: &Instrument) -> Result<()> {
    tx.query("update work_order set version = version + 1 where instrument = $1")
        .bind(before.id)
        .execute()
        .await?;
    let inspected: Vec<Order> = tx
        .query("select * from work_order where instrument = $1 and inspected_on is not null order by id")
        .bind(before.id)
        .all()
        .await?;
    for order in inspected {
        let (from, to) = (Cell::of(&order, before), Cell::of(&order, after));
        if from == to {
            continue;
        }
        let confirmed: Vec<(String,)> = tx
            .query(
                "select distinct cause from finding where work_order = $1 and certainty = 'confirmed'
                 and not withdrawn order by cause",
            )
            .bind(order.id)
            .all()
            .await?;
        let all = std::iter::once("").chain(confirmed.iter().map(|cause| cause.0.as_str()));
        for cause in all {
            count(tx, from, cause, -1).await?;
            count(tx, to, cause, 1).await?;
        }
    }
    Ok(())
}

/// Counts a comeback in or out, in the month in which the order that came back was received.
///
/// # Errors
/// What the database says.
pub async fn comeback(tx: &mut Tx, month: YearMonth, cause: &str, orders: i64) -> Result<()> {
    tx.query(
        "insert into comeback_tally (month, cause, orders) values ($1, $2, $3)
         on conflict (month, cause) do update set orders = comeback_tally.orders + excluded.orders",
    )
    .bind(month)
    .bind(cause.to_owned())
    .bind(orders)
    .execute()
    .await?;
    Ok(())
}

/// Counts the comebacks anew that lie between two windows, when the owner changes the window: what counts as one is
/// always said by the window of now.
///
/// # Errors
/// What the database says.
pub async fn move_window(tx: &mut Tx, before: i64, after: i64) -> Result<()> {
    let moved: Vec<(Day, String, i64)> = tx
        .query(
            "select received_on, cause, count(*) from (select distinct o.id, o.received_on, f.cause from finding f
             join work_order o on o.id = f.work_order where f.certainty = 'confirmed' and not f.withdrawn
             and f.comeback_days > $1 and f.comeback_days <= $2) c group by 1, 2 order by 1, 2",
        )
        .bind(before.min(after))
        .bind(before.max(after))
        .all()
        .await?;
    for (day, cause, orders) in moved {
        let orders = if after > before { orders } else { -orders };
        comeback(tx, day.month(), &cause, orders).await?;
    }
    Ok(())
}

/// Counts a step that was done, in the month it was done in.
///
/// # Errors
/// What the database says.
pub async fn job(tx: &mut Tx, month: YearMonth, job: &str, planned: i64, actual: i64) -> Result<()> {
    tx.query(
        "insert into job_tally (month, job, steps, planned_minutes, actual_minutes) values ($1, $2, 1, $3, $4)
         on conflict (month, job) do update set steps = job_tally.steps + 1,
         planned_minutes = job_tally.planned_minutes + excluded.planned_minutes,
         actual_minutes = job_tally.actual_minutes + excluded.actual_minutes",
    )
    .bind(month)
    .bind(job.to_owned())
    .bind(planned)
    .bind(actual)
    .execute()
    .await?;
    Ok(())
}

/// Counts money: what was charged at a pickup, what was taken by a payment.
///
/// # Errors
/// What the database says.
pub async fn money(tx: &mut Tx, month: YearMonth, kind: &str, amount: Money, orders: i64) -> Result<()> {
    tx.query(
        "insert into money_tally (month, kind, amount, orders) values ($1, $2, $3, $4)
         on conflict (month, kind) do update set amount = money_tally.amount + excluded.amount,
         orders = money_tally.orders + excluded.orders",
    )
    .bind(month)
    .bind(kind.to_owned())
    .bind(amount)
    .bind(orders)
    .execute()
    .await?;
    Ok(())
}
