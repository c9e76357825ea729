//! Visits are the orders of a customer or an instrument, newest first, each with what was found on it.

use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::Moment;
use crate::db::Db;
use crate::error::Result;

use super::order::Order;

/// So many are shown; whoever wants more asks for the month's report.
pub const SHOWN: i64 = 20;

pub struct Visit {
    pub order: Order,
    /// The causes that were confirmed, by name.
    pub found: Vec<String>,
}

#[derive(FromRow)]
struct Found {
    work_order: Uuid,
    name: String,
}

impl Visit {
    /// What it was about: what was found, or else what was said.
    #[must_use]
    pub fn about(&self) -> String {
        if self.found.is_empty() {
            crate::printing::paper::in_short(&self.order.words, 70)
        } else {
            self.found.join(", ").to_lowercase()
        }
    }
}

/// # Errors
/// What the database says.
pub async fn of_customer(db: &Db, customer: Uuid) -> Result<Vec<Visit>> {
    let orders = Order::of_customer(db, customer, SHOWN).await?;
    let found = db
        .read(
            "select f.work_order, c.name from finding f join cause c on c.code = f.cause
             join work_order o on o.id = f.work_order where o.customer = $1 and o.received_at >= $2
             and f.certainty = 'confirmed' and not f.withdrawn order by f.at, f.id",
        )
        .bind(customer)
        .bind(oldest(&orders))
        .all()
        .await?;
    Ok(together(orders, &found))
}

/// # Errors
/// What the database says.
pub async fn of_instrument(db: &Db, instrument: Uuid) -> Result<Vec<Visit>> {
    let orders = Order::of_instrument(db, instrument, SHOWN).await?;
    let found = db
        .read(
            "select f.work_order, c.name from finding f join cause c on c.code = f.cause
             join work_order o on o.id = f.work_order where f.instrument = $1 and o.received_at >= $2
             and f.certainty = 'confirmed' and not f.withdrawn order by f.at, f.id",
        )
        .bind(instrument)
        .bind(oldest(&orders))
        .all()
        .await?;
    Ok(together(orders, &found))
}

fn oldest(orders: &[Order]) -> Moment {
    orders.last().map_or(Moment(0), |order| order.received_at)
}

fn together(orders: Vec<Order>, found: &[Found]) -> Vec<Visit> {
    let visit = |order: Order| {
        let mut names: Vec<String> = Vec::new();
        for found in found.iter().filter(|found| found.work_order == order.id) {
            if !names.contains(&found.name) {
                names.push(found.name.clone());
            }
        }
        Visit { order, found: names }
    };
    orders.into_iter().map(visit).collect()
}
