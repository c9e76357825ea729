//! Owed is what is still to be paid for an order that went home; it is paid when it comes, and until then somebody asks.

use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::Day;
use crate::db::{Db, Read};
use crate::error::Result;
use crate::money::Money;

use super::instrument;
use super::order::Order;
use super::tag;

/// An order that went home with something owed.
#[derive(Clone, Debug, FromRow)]
pub struct Owed {
    pub id: Uuid,
    pub tag: String,
    pub collected_on: Day,
    pub owed: Money,
    pub customer: Uuid,
    pub customer_name: String,
    pub family: String,
    pub size: String,
}

/// What is owed on how many orders together.
#[derive(Clone, Copy, Debug, Default, FromRow)]
pub struct Sum {
    pub orders: i64,
    pub owed: Money,
}

/// Those after an order, which went home on `$1` and is `$2`, and what else is said; at most `$3`.
macro_rules! owed {
    ($also:literal) => {
        concat!(
            "select o.id, o.tag, o.collected_on, o.owed, o.customer, c.name as customer_name, i.family, i.size
             from work_order o join customer c on c.id = o.customer join instrument i on i.id = o.instrument
             where o.owed > 0 and (o.collected_on, o.id) > ($1, $2)",
            $also,
            " order by o.collected_on, o.id limit $3"
        )
    };
}

impl Owed {
    #[must_use]
    pub fn spoken(&self) -> String {
        tag::spoken(&self.tag)
    }

    /// "Violin 3/4"
    #[must_use]
    pub fn what(&self) -> String {
        instrument::in_short(&self.family, &self.size)
    }

    /// Those that are owed longest, after an order; of one customer or of all.
    ///
    /// # Errors
    /// What the database says.
    pub async fn longest(
        db: &Db,
        customer: Option<Uuid>,
        after: Option<&Order>,
        limit: i64,
    ) -> Result<Vec<Owed>> {
        let sql = if customer.is_some() {
            owed!(" and o.customer = $4") // said plainly, so that its index is used
        } else {
            owed!("")
        };
        let after = after.and_then(|order| Some((order.collected_on?, order.id)));
        let (day, id) = after.unwrap_or((Day(i64::MIN), Uuid::nil()));
        let query = db.read(sql).bind(day).bind(id).bind(limit);
        let query = match customer {
            Some(customer) => query.bind(customer),
            None => query,
        };
        Ok(query.all().await?)
    }
}

impl Sum {
    /// All that is owed to the shop.
    ///
    /// # Errors
    /// What the database says.
    pub async fn of_all(db: &Db) -> Result<Sum> {
        Ok(db
            .read(
                "select count(*) as orders, cast(coalesce(sum(owed), 0) as bigint) as owed
                 from work_order where owed > 0",
            )
            .one()
            .await?)
    }

    /// What one customer owes.
    ///
    /// # Errors
    /// What the database says.
    pub async fn of_customer(mut on: impl Read, customer: Uuid) -> Result<Sum> {
        Ok(on
            .read(
                "select count(*) as orders, cast(coalesce(sum(owed), 0) as bigint) as owed
                 from work_order where owed > 0 and customer = $1",
            )
            .bind(customer)
            .one()
            .await?)
    }
}
