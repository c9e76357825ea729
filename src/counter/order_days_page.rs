//! The page on which the days of an order are put right.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;

use crate::act::{Act, Guard};
use crate::admin::shop::Shop;
use crate::app::App;
use crate::changed::{Field, Shown};
use crate::clock::Day;
use crate::error::{Error, Result};
use crate::form::{Form, Typed};
use crate::once;
use crate::page::{Frame, html};
use crate::staff::Who;

use super::customer::Customer;
use super::instrument::Instrument;
use super::order::Order;
use super::order_days::{self, OrderDays};

/// So many of its other visits stand beside the form.
const OTHERS: i64 = 8;

const FIELDS: [Field; 2] = [
    ("received_on", "It came in on", false),
    ("collected_on", "It went home on", false),
];

#[derive(Template)]
#[template(path = "counter/order_days_page.html")]
struct OrderDaysPage {
    frame: Frame,
    order: Order,
    instrument: Instrument,
    customer: Customer,
    /// The newest first.
    others: Vec<Order>,
    once: String,
    shown: Shown,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct OrderDaysForm {
    #[serde(rename = "version")]
    _version: String,
    #[serde(rename = "once")]
    _once: String,
    received_on: String,
    collected_on: Option<String>,
}

fn typed_of(order: &Order) -> Typed {
    let typed = Typed::default().with("received_on", order.received_on.iso());
    match order.collected_on {
        Some(day) => typed.with("collected_on", day.iso()),
        None => typed,
    }
}

async fn show(
    app: &App,
    who: &Who,
    tag: &str,
    shown: impl FnOnce(&Order) -> Shown + Send,
) -> Result<Response> {
    let order = Order::get(&app.db, tag).await?;
    let shop = Shop::get(&app.db).await?;
    let shown = shown(&order);
    let mut others = Order::of_instrument(&app.db, order.instrument, OTHERS + 1).await?;
    others.retain(|other| other.id != order.id);
    let status = shown.status();
    let page = OrderDaysPage {
        frame: Frame::new(format!("Days of {}", order.spoken()), shop.name, who, "today"),
        instrument: Instrument::get(&app.db, order.instrument).await?,
        customer: Customer::get(&app.db, order.customer).await?,
        once: once::fresh()?,
        others,
        order,
        shown,
    };
    Ok((status, html(page)?).into_response())
}

/// Both versions beside each other, their days in words.
fn late(order: &Order, typed: Typed) -> Shown {
    let mut shown = Shown::late(&FIELDS, &typed_of(order), typed);
    for side in shown.changed.iter_mut().flatten() {
        for day in [&mut side.now, &mut side.typed] {
            *day = Day::parse(day).map_or_else(|| day.clone(), Day::with_year);
        }
    }
    shown
}

/// `GET /orders/{tag}/days`
///
/// # Errors
/// Not found, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(tag): Path<String>,
) -> Result<Response> {
    show(&app, &who, &tag, |order| Shown::fresh(typed_of(order))).await
}

/// `POST /orders/{tag}/days`
///
/// # Errors
/// Not found, or what the database says.
pub async fn put_right(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(tag): Path<String>,
    form: Form<OrderDaysForm>,
) -> Result<Response> {
    let typed = form.typed.clone();
    match try_put_right(&app, &who, &tag, form).await {
        Err(Error::Problems(problems)) => show(&app, &who, &tag, |_| Shown::amiss(typed, problems)).await,
        Err(Error::Stale(_)) => show(&app, &who, &tag, |order| late(order, typed)).await,
        other => other,
    }
}

async fn try_put_right(app: &App, who: &Who, tag: &str, form: Form<OrderDaysForm>) -> Result<Response> {
    let guard = Guard::of_form(&form.typed, &format!("days {tag}"));
    let mut act = Act::begin(app, who, tag, guard).await?;
    let days = OrderDays {
        received_on: form.of.received_on,
        collected_on: form.of.collected_on,
    };
    order_days::put_right(&mut act, &days.read()?).await?;
    let location = format!("/orders/{}", act.order.tag);
    act.then(&location).await
}
