//! Today: what must happen now at the counter, and the field that finds everything.

use crate::admin::shop::Shop;
use crate::app::App;
use crate::bench::waits::{self, Row};
use crate::clock::Day;
use crate::error::Result;
use crate::form::Form;
use crate::page::{Frame, html};
use crate::staff::Who;
use askama::Template;
use axum::extract::{Extension, State};
use axum::response::{IntoResponse, Redirect, Response};

use super::customer::Customer;
use super::instrument::Instrument;
use super::order::Order;
use super::owed::{Owed, Sum};
use super::stage::Stage;
use super::tag::{self, Misread};

/// So many orders that went home with something owed are named.
const OWED: i64 = 3;

#[derive(Template)]
#[template(path = "counter/today.html")]
struct TodayPage {
    frame: Frame,
    shop: Shop,
    today: Day,
    rows: Vec<Row>,
    /// The orders that are owed longest.
    owed: Vec<Owed>,
    /// All that is owed.
    sum: Sum,
    /// Nothing was ever taken in.
    is_new: bool,
}

impl TodayPage {
    fn to_hand_back(&self) -> Vec<&Row> {
        self.rows.iter().filter(|row| row.goes_home()).collect()
    }

    fn waiting(&self) -> Vec<&Row> {
        self.rows
            .iter()
            .filter(|row| row.stage == Stage::AwaitingApproval)
            .collect()
    }

    /// Whether it is the bench's turn, and due today or before.
    fn is_due(&self, row: &Row) -> bool {
        row.promised_on.is_some_and(|promised| promised <= self.today)
    }

    fn is_at_work(row: &Row) -> bool {
        !row.goes_home() && row.stage != Stage::AwaitingApproval
    }

    fn promised(&self) -> Vec<&Row> {
        self.rows
            .iter()
            .filter(|row| TodayPage::is_at_work(row) && self.is_due(row))
            .collect()
    }

    /// The rest of what is in the house.
    fn at_the_bench(&self) -> Vec<&Row> {
        self.rows
            .iter()
            .filter(|row| TodayPage::is_at_work(row) && !self.is_due(row))
            .collect()
    }

    /// So many more are owed than are named.
    fn more_owed(&self) -> i64 {
        self.sum.orders - i64::try_from(self.owed.len()).unwrap_or(0)
    }

    fn in_the_house(&self) -> String {
        crate::words::count(
            i64::try_from(self.rows.len()).unwrap_or(i64::MAX),
            "instrument",
            "instruments",
        )
    }
}

/// `GET /`
pub async fn page(State(app): State<App>, Extension(who): Extension<Who>) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let now = app.clock.now();
    let rows = waits::rows(&app.db, &shop, now).await?;
    let frame = Frame::new("Today", &*shop.name, &who, "today");
    let is_new = rows.is_empty() && !Order::is_any(&app.db).await?;
    // Money is the counter's.
    let (owed, sum) = if who.roles.counter() {
        let owed = Owed::longest(&app.db, None, None, OWED).await?;
        let sum = if owed.is_empty() {
            Sum::default()
        } else {
            Sum::of_all(&app.db).await?
        };
        (owed, sum)
    } else {
        (Vec::new(), Sum::default())
    };
    html(TodayPage {
        frame,
        owed,
        sum,
        is_new,
        today: shop.today(now),
        shop,
        rows,
    })
}

/// A customer that was found, with their instruments and latest visits.
struct Found {
    customer: Customer,
    instruments: Vec<Instrument>,
    orders: Vec<Order>,
}

impl Found {
    /// Whether the visit is a bow's.
    fn is_bow(&self, order: &Order) -> bool {
        let mut own = self.instruments.iter();
        own.any(|instrument| instrument.id == order.instrument && instrument.is_bow())
    }
}

#[derive(Template)]
#[template(path = "counter/found.html")]
struct FoundPage {
    frame: Frame,
    asked: String,
    /// When what was typed looks like a tag and is none.
    misread: Option<Misread>,
    found: Vec<Found>,
}

/// `POST /find`: opens the order of a tag at once; otherwise lists who may be meant. Posted, so that no name stands in
/// an address.
pub async fn find(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    form: Form<Vec<(String, String)>>,
) -> Result<Response> {
    let asked = form.typed.at("q").trim().to_owned();
    // A scan of the code on the tag types the order's whole address.
    let last = if asked.contains("/orders/") {
        asked.rsplit('/').next().unwrap_or_default()
    } else {
        &asked
    };
    let read = tag::read(last);
    if let Ok(tag) = &read
        && let Ok(order) = Order::get(&app.db, tag).await
    {
        return Ok(Redirect::to(&format!("/orders/{}", order.tag)).into_response());
    }
    let shop = Shop::get(&app.db).await?;
    let mut found = Vec::new();
    for customer in Customer::search(&app.db, &asked, 20).await? {
        let instruments = Instrument::of_customer(&app.db, customer.id).await?;
        let orders = Order::of_customer(&app.db, customer.id, 4).await?;
        found.push(Found {
            customer,
            instruments,
            orders,
        });
    }
    let looks_like_a_tag = asked.chars().all(|c| !c.is_alphabetic());
    let misread = read.err().filter(|_| looks_like_a_tag && !asked.is_empty());
    let frame = Frame::new("Find", shop.name, &who, "today");
    html(FoundPage {
        frame,
        asked,
        misread,
        found,
    })
}
