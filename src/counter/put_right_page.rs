//! The page of what is put right at the counter: what was done, that it is quiet, who takes it home.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;

use crate::act::{Act, Guard};
use crate::admin::shop::Shop;
use crate::app::App;
use crate::bench::play_test::RESULTS;
use crate::catalogue::cause::Cause;
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed, whole};
use crate::money::{self, Currency};
use crate::once;
use crate::page::{Frame, Markup, html};
use crate::printing::drawing;
use crate::staff::Who;

use super::customer::Customer;
use super::instrument::Instrument;
use super::order::Order;
use super::pickup::METHODS;
use super::pickup_page::LATER;
use super::put_right::{self, NewPutRight};
use super::story::{News, Story};

#[derive(Template)]
#[template(path = "counter/put_right_page.html")]
struct PutRightPage {
    frame: Frame,
    currency: Currency,
    order: Order,
    instrument: Instrument,
    customer: Customer,
    cause: Cause,
    once: String,
    /// The newest line of the story.
    seen: String,
    /// What is new, when somebody else was quicker.
    news: Vec<News>,
    typed: Typed,
    problems: Problems,
    /// What somebody else did meanwhile.
    stale: String,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct PutRightForm {
    version: String,
    once: String,
    seen: String,
    done: String,
    minutes: String,
    cost: String,
    result: String,
    /// `customer`, or `other` with the name in `collected_by`.
    who: String,
    collected_by: String,
    method: String,
}

impl PutRightForm {
    fn read(&self, problems: &mut Problems, customer: &Customer, currency: &Currency) -> NewPutRight {
        let cost = match self.cost.trim() {
            "" => 0,
            typed => money::parse(typed, currency).map_or_else(
                |problem| {
                    problems.add("cost", problem.to_string());
                    0
                },
                |cost| cost.0,
            ),
        };
        let someone = self.collected_by.trim().is_empty() && self.who == "customer";
        NewPutRight {
            done: self.done.clone(),
            minutes: whole(&self.minutes).unwrap_or(0),
            cost: Some(cost),
            result: self.result.clone(),
            collected_by: if someone {
                customer.name.clone()
            } else {
                self.collected_by.clone()
            },
            paid: (self.method == LATER).then_some(0),
            method: Some(self.method.clone()).filter(|method| !method.is_empty() && method != LATER),
        }
    }
}

impl PutRightPage {
    /// Where it was found.
    fn drawing(&self) -> Option<Markup> {
        let found = [(self.cause.region.as_str(), self.cause.code.as_str())];
        let name = format!("Found: {}", self.cause.region_words());
        drawing::instrument(&self.instrument.family, &name, &[], &found)
    }

    /// Goes home with it, said as in the shop: "Case and Bow".
    fn items(&self) -> String {
        let items: Vec<&str> = self.order.items().collect();
        items.join(", ")
    }

    fn picked(&self, field: &str, code: &str) -> bool {
        self.typed.at(field) == code
    }
}

/// The form as it stands when nothing was typed yet.
fn usual(cause: &Cause, shop: &Shop) -> Typed {
    Typed::default()
        .with("done", cause.remedy.trim_end_matches('.'))
        .with("minutes", cause.check_minutes.clamp(1, 60).to_string())
        .with("cost", shop.counter_fee.typed(&shop.currency()))
        .with("who", "customer")
}

async fn show(
    app: &App,
    who: &Who,
    tag: &str,
    (typed, problems, stale): (Option<Typed>, Problems, String),
) -> Result<Response> {
    let order = Order::get(&app.db, tag).await?;
    let (_, cause) = put_right::found_here(&app.db, &order, who.roles).await?;
    let shop = Shop::get(&app.db).await?;
    let status = if !problems.is_empty() {
        StatusCode::UNPROCESSABLE_ENTITY
    } else if !stale.is_empty() {
        StatusCode::PRECONDITION_FAILED
    } else {
        StatusCode::OK
    };
    let news = match &typed {
        Some(typed) if !stale.is_empty() => {
            Story::since(&app.db, order.id, typed.at("seen"), &shop.zone()).await?
        }
        _ => Vec::new(),
    };
    let page = PutRightPage {
        seen: Story::newest(&app.db, order.id).await?,
        news,
        frame: Frame::new(format!("Put right {}", order.spoken()), &*shop.name, who, "today"),
        currency: shop.currency(),
        instrument: Instrument::get(&app.db, order.instrument).await?,
        customer: Customer::get(&app.db, order.customer).await?,
        typed: typed.unwrap_or_else(|| usual(&cause, &shop)),
        once: once::fresh()?,
        order,
        cause,
        problems,
        stale,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /orders/{tag}/put_right`
///
/// # Errors
/// Not found, a conflict when nothing can be put right here, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(tag): Path<String>,
) -> Result<Response> {
    show(&app, &who, &tag, (None, Problems::default(), String::new())).await
}

/// `POST /orders/{tag}/put_right`
///
/// # Errors
/// A conflict when nothing can be put right here, or what the database says.
pub async fn put_right(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(tag): Path<String>,
    form: Form<PutRightForm>,
) -> Result<Response> {
    let typed = Some(form.typed.clone());
    match try_put_right(&app, &who, &tag, form).await {
        Err(Error::Problems(problems)) => show(&app, &who, &tag, (typed, problems, String::new())).await,
        Err(Error::Stale(stale)) => show(&app, &who, &tag, (typed, Problems::default(), stale)).await,
        other => other,
    }
}

async fn try_put_right(app: &App, who: &Who, tag: &str, form: Form<PutRightForm>) -> Result<Response> {
    let guard = Guard::of_form(&form.typed, &format!("put right {tag}"));
    let mut act = Act::begin(app, who, tag, guard).await?;
    let customer = Customer::get(&mut act.tx, act.order.customer).await?;
    let mut problems = Problems::default();
    let new = form.of.read(&mut problems, &customer, &act.shop.currency());
    let done = put_right::put_right(&mut act, &new).await;
    if let Err(Error::Problems(more)) = &done {
        for more in more {
            problems.add(&*more.field, &*more.words);
        }
    } else {
        done?;
    }
    problems.settle()?;
    let tag = &act.order.tag;
    let location = if act.order.is_handed_back() {
        format!("/orders/{tag}/handed")
    } else {
        format!("/orders/{tag}")
    };
    act.then(&location).await
}
