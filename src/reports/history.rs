//! The history is every inspected order with its confirmed causes, gone through for a recount, or when a correction moves many.

use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::{Day, YearMonth};
use crate::db::Tx;
use crate::error::Result;

use super::tally::Cell;

/// Orders alike that were inspected, when the cause is empty, or in which it was confirmed.
#[derive(Clone, Debug, FromRow)]
pub struct Stood {
    pub received_on: Day,
    pub family: String,
    pub size: String,
    pub year_made: Option<i64>,
    /// The kind of the account.
    pub kind: String,
    pub cause: String,
    pub orders: i64,
}

impl Stood {
    /// Where they stand.
    #[must_use]
    pub fn cell(&self) -> Cell<'_> {
        Cell::at(
            self.received_on,
            (&self.family, &self.size, self.year_made),
            &self.kind,
        )
    }
}

macro_rules! stood {
    ($which:literal) => {
        concat!(
            "select o.received_on, i.family, i.size, i.year_made, c.kind, '' as cause, count(*) as orders
             from work_order o join instrument i on i.id = o.instrument join customer c on c.id = o.customer
             where o.inspected_on is not null and ",
            $which,
            " group by o.received_on, i.family, i.size, i.year_made, c.kind
             union all
             select received_on, family, size, year_made, kind, cause, count(*) from (
               select distinct o.id, o.received_on, i.family, i.size, i.year_made, c.kind, f.cause
               from work_order o join finding f on f.work_order = o.id
               join instrument i on i.id = o.instrument join customer c on c.id = o.customer
               where f.certainty = 'confirmed' and not f.withdrawn and ",
            $which,
            ") each_order group by received_on, family, size, year_made, kind, cause"
        )
    };
}

/// Received from a day on, and before another.
///
/// # Errors
/// What the database says.
pub async fn of_days(tx: &mut Tx, from: Day, to: Day) -> Result<Vec<Stood>> {
    let stood = tx.query(stood!("o.received_on >= $1 and o.received_on < $2"));
    Ok(stood.bind(from).bind(to).all().await?)
}

/// Received in a month, found by the moment in which they came in: that lies on the day they were received on, in the zone
/// that the shop had, so within a day of it in UTC.
///
/// # Errors
/// What the database says.
pub async fn of_month(tx: &mut Tx, month: YearMonth) -> Result<Vec<Stood>> {
    let (from, to) = (month.first_day(), month.plus(1).first_day());
    let at = |day: Day| day.0 * 86_400_000;
    let stood = tx.query(stood!(
        "o.received_on >= $1 and o.received_on < $2 and o.received_at >= $3 and o.received_at < $4"
    ));
    let stood = stood.bind(from).bind(to);
    Ok(stood.bind(at(from.plus(-2))).bind(at(to.plus(2))).all().await?)
}

/// Of one instrument.
///
/// # Errors
/// What the database says.
pub async fn of_instrument(tx: &mut Tx, instrument: Uuid) -> Result<Vec<Stood>> {
    Ok(tx
        .query(stood!("o.instrument = $1"))
        .bind(instrument)
        .all()
        .await?)
}

/// Of one customer.
///
/// # Errors
/// What the database says.
pub async fn of_customer(tx: &mut Tx, customer: Uuid) -> Result<Vec<Stood>> {
    Ok(tx.query(stood!("o.customer = $1")).bind(customer).all().await?)
}

/// The years in which anything came in, from the first day to before the last.
///
/// # Errors
/// What the database says.
pub async fn years(tx: &mut Tx) -> Result<Vec<(Day, Day)>> {
    let (first, last): (Option<Day>, Option<Day>) = tx
        .query("select min(received_on), max(received_on) from work_order")
        .one()
        .await?;
    let (Some(mut first), Some(last)) = (first, last) else {
        return Ok(Vec::new());
    };
    let mut years = Vec::new();
    while first <= last {
        years.push((first, first.plus(365)));
        first = first.plus(365);
    }
    Ok(years)
}
