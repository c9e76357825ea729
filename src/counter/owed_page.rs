//! The page of what is owed: the orders that went home with something still to be paid, the longest owed first.

use askama::Template;
use axum::extract::{Extension, Query, State};
use axum::response::Response;
use serde::Deserialize;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::{Error, Result};
use crate::page::{Frame, html};
use crate::staff::Who;
use crate::words;

use super::customer::Customer;
use super::order::Order;
use super::owed::{Owed, Sum};

/// So many stand on one page.
const SHOWN: usize = 50;

#[derive(Template)]
#[template(path = "counter/owed_page.html")]
struct OwedPage {
    frame: Frame,
    shop: Shop,
    /// Whose they are, if they are one customer's.
    customer: Option<Customer>,
    sum: Sum,
    rows: Vec<Owed>,
    /// The tag after which the next page begins.
    next: Option<String>,
    /// It is not the first page.
    goes_on: bool,
}

#[derive(Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    customer: String,
    after: String,
}

impl OwedPage {
    fn on_orders(&self) -> String {
        words::count(self.sum.orders, "order", "orders")
    }

    fn whose(&self) -> String {
        let id = self.customer.as_ref().map(|customer| customer.id);
        id.map_or(String::new(), |id| format!("customer={id}&"))
    }
}

/// `GET /owed?customer=ID&after=TAG`
///
/// # Errors
/// Not found, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Query(asked): Query<Asked>,
) -> Result<Response> {
    let db = &app.db;
    let customer = if asked.customer.is_empty() {
        None
    } else {
        let id: Uuid = asked.customer.parse().map_err(|_| Error::NotFound)?;
        Some(Customer::get(db, id).await?)
    };
    let after = if asked.after.is_empty() {
        None
    } else {
        Some(Order::get(db, &asked.after).await?)
    };
    let whose = customer.as_ref().map(|customer| customer.id);
    let sum = match whose {
        Some(customer) => Sum::of_customer(db, customer).await?,
        None => Sum::of_all(db).await?,
    };
    // One more than is shown, to know whether there is a next page.
    let limit = i64::try_from(SHOWN).unwrap_or(i64::MAX) + 1;
    let mut rows = Owed::longest(db, whose, after.as_ref(), limit).await?;
    let more = rows.len() > SHOWN;
    rows.truncate(SHOWN);
    let next = rows.last().filter(|_| more).map(|last| last.tag.clone());
    let shop = Shop::get(db).await?;
    html(OwedPage {
        frame: Frame::new("Still owed", &*shop.name, &who, "today"),
        goes_on: after.is_some(),
        shop,
        customer,
        sum,
        rows,
        next,
    })
}
