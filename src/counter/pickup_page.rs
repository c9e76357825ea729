//! The pickup page: what is owed, who collects, and what goes back with it, on one screen with one main act.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;

use crate::act::{Act, Guard};
use crate::admin::shop::Shop;
use crate::app::App;
use crate::bench::step;
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::money::{self, Currency, Money};
use crate::once;
use crate::page::{Frame, html};
use crate::printing::cost::{self, Kind, Row};
use crate::staff::Who;

use super::customer::Customer;
use super::instrument::Instrument;
use super::order::Order;
use super::pickup::{self, Account, METHODS, NewPayment, NewPickup};
use super::stage::Stage;
use super::story::{News, Story};

/// The method that is none: it is paid another time.
pub const LATER: &str = "later";

#[derive(Template)]
#[template(path = "counter/pickup_page.html")]
struct PickupPage {
    frame: Frame,
    shop: Shop,
    currency: Currency,
    order: Order,
    instrument: Instrument,
    customer: Customer,
    account: Account,
    once: String,
    /// The newest line of the story.
    seen: String,
    /// What is new, when somebody else was quicker.
    news: Vec<News>,
    back: Back,
}

/// What comes back to whoever sent a form that was not done.
#[derive(Default)]
struct Back {
    problems: Problems,
    typed: Typed,
    /// What somebody else did meanwhile.
    stale: String,
    /// The form was the one that only takes money.
    paying: bool,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct PickupForm {
    version: String,
    once: String,
    seen: String,
    /// `customer`, or `other` with the name in `collected_by`.
    who: String,
    collected_by: String,
    paid: String,
    method: String,
    /// The places in the list of those things that go back.
    back: Vec<String>,
    /// Those that are not ticked stay here, knowingly.
    anyway: String,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct PaymentForm {
    version: String,
    once: String,
    seen: String,
    amount: String,
    method: String,
}

impl PickupForm {
    fn collected_by(&self, customer: &Customer) -> String {
        if self.collected_by.trim().is_empty() && self.who == "customer" {
            customer.name.clone()
        } else {
            self.collected_by.clone()
        }
    }

    /// The pickup this describes, and the things that are not ticked.
    fn check(&self, problems: &mut Problems, act: &Act, customer: &Customer) -> (NewPickup, Vec<String>) {
        let ticked = |at: usize| self.back.contains(&at.to_string());
        let items = act.order.items().enumerate();
        let missing: Vec<String> = items
            .filter(|(at, _)| !ticked(*at))
            .map(|(_, item)| item.to_owned())
            .collect();
        if !missing.is_empty() && self.anyway != "yes" {
            let are = if missing.len() == 1 { "is" } else { "are" };
            let missing = missing.join(", ");
            problems.add(
                "anyway",
                format!("Not ticked {are}: {missing}. Hand back anyway?"),
            );
        }
        let paid = if self.method == LATER || self.paid.trim().is_empty() {
            Money::ZERO
        } else {
            money::parse(&self.paid, &act.shop.currency()).unwrap_or_else(|problem| {
                problems.add("paid", problem.to_string());
                Money::ZERO
            })
        };
        let method = Some(self.method.clone()).filter(|method| !method.is_empty());
        let new = NewPickup {
            collected_by: self.collected_by(customer),
            paid: paid.0,
            method,
        };
        (new, missing)
    }
}

impl PickupPage {
    async fn of(app: &App, who: &Who, tag: &str, back: Back) -> Result<PickupPage> {
        let order = Order::get(&app.db, tag).await?;
        let shop = Shop::get(&app.db).await?;
        let currency = shop.currency();
        let title = if order.is_handed_back() {
            format!("Money for {}", order.spoken())
        } else {
            format!("Hand back {}", order.spoken())
        };
        let news = if back.stale.is_empty() {
            Vec::new()
        } else {
            Story::since(&app.db, order.id, back.typed.at("seen"), &shop.zone()).await?
        };
        Ok(PickupPage {
            seen: Story::newest(&app.db, order.id).await?,
            news,
            frame: Frame::new(title, &*shop.name, who, "today"),
            instrument: Instrument::get(&app.db, order.instrument).await?,
            customer: Customer::get(&app.db, order.customer).await?,
            account: Account::of(&app.db, order.id).await?,
            once: once::fresh()?,
            shop,
            currency,
            order,
            back,
        })
    }

    /// It can go home now.
    fn may_go(&self) -> bool {
        !self.order.is_handed_back() && matches!(self.order.stage, Stage::Ready | Stage::Returned)
    }

    /// Something can be paid: what is owed, or a deposit before it is ready.
    fn may_pay(&self) -> bool {
        self.account.owed.0 > 0 || !(self.may_go() || self.order.is_handed_back())
    }

    fn rows(&self) -> Vec<Row> {
        let rows = cost::rows(&self.account, &self.shop, 40);
        rows.into_iter().filter(|row| row.kind != Kind::Open).collect()
    }

    /// What was planned and is not done, with why.
    fn not_done(&self) -> Vec<(&str, &'static str)> {
        let steps = self.account.lines.iter().map(|line| &line.step);
        steps
            .filter_map(|step| Some((&*step.title, step::not_done(&self.order, step)?)))
            .collect()
    }

    fn amount(&self, row: &Row) -> String {
        if row.free {
            "no charge".to_owned()
        } else {
            self.shop.money(&row.amount)
        }
    }

    fn is_total(row: &Row) -> bool {
        row.kind == Kind::Total
    }

    /// Of the form of the pickup: what was typed before, or else what is usual.
    fn typed(&self, field: &str, usual: &str) -> String {
        if self.back.typed.is_empty() || self.back.paying {
            usual.to_owned()
        } else {
            self.back.typed.at(field).to_owned()
        }
    }

    fn paid(&self) -> String {
        let owed = self.account.owed.max(Money::ZERO);
        self.typed("paid", &owed.typed(&self.currency))
    }

    /// Of what went home all that is owed stands there; how large a deposit is, they say.
    fn amount_typed(&self) -> String {
        if self.back.paying {
            self.back.typed.at("amount").to_owned()
        } else if self.order.is_handed_back() {
            self.account.owed.max(Money::ZERO).typed(&self.currency)
        } else {
            String::new()
        }
    }

    /// The problem of a field of the pickup's form, or of the payment's.
    fn amiss(&self, paying: bool, field: &str) -> &str {
        if self.back.paying == paying {
            self.back.problems.at(field)
        } else {
            ""
        }
    }

    #[expect(
        clippy::trivially_copy_pass_by_ref,
        reason = "a template hands over what it counts by reference"
    )]
    fn ticked(&self, at: &usize) -> bool {
        !self.back.paying && self.back.typed.has("back", &at.to_string())
    }

    fn picked(&self, paying: bool, method: &str) -> bool {
        self.back.paying == paying && self.back.typed.at("method") == method
    }

    /// The deposit is more than what was done costs.
    fn over(&self) -> Option<String> {
        let over = self.may_go() && self.account.owed.0 < 0;
        over.then(|| self.shop.money(&Money(-self.account.owed.0)))
    }
}

async fn show(app: &App, who: &Who, tag: &str, back: Back) -> Result<Response> {
    let status = if !back.problems.is_empty() {
        StatusCode::UNPROCESSABLE_ENTITY
    } else if !back.stale.is_empty() {
        StatusCode::PRECONDITION_FAILED
    } else {
        StatusCode::OK
    };
    let page = PickupPage::of(app, who, tag, back).await?;
    Ok((status, html(page)?).into_response())
}

/// What was typed comes back with what is amiss, or with what somebody else did meanwhile.
async fn answer(app: &App, who: &Who, tag: &str, (done, back): (Result<Response>, Back)) -> Result<Response> {
    match done {
        Err(Error::Problems(problems)) => show(app, who, tag, Back { problems, ..back }).await,
        Err(Error::Stale(stale)) => show(app, who, tag, Back { stale, ..back }).await,
        other => other,
    }
}

/// `GET /orders/{tag}/pickup`
///
/// # Errors
/// Not found, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(tag): Path<String>,
) -> Result<Response> {
    show(&app, &who, &tag, Back::default()).await
}

/// `POST /orders/{tag}/pickup`
///
/// # Errors
/// A conflict when it is not ready, or what the database says.
pub async fn hand_back(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(tag): Path<String>,
    form: Form<PickupForm>,
) -> Result<Response> {
    let done = try_hand_back(&app, &who, &tag, &form).await;
    let back = Back {
        typed: form.typed,
        ..Back::default()
    };
    answer(&app, &who, &tag, (done, back)).await
}

async fn try_hand_back(app: &App, who: &Who, tag: &str, form: &Form<PickupForm>) -> Result<Response> {
    let guard = Guard::of_form(&form.typed, &format!("pickup {tag}"));
    let mut act = Act::begin(app, who, tag, guard).await?;
    let customer = Customer::get(&mut act.tx, act.order.customer).await?;
    let mut problems = Problems::default();
    let (new, missing) = form.of.check(&mut problems, &act, &customer);
    let done = pickup::hand_back(&mut act, &new).await;
    if let Err(Error::Problems(more)) = &done {
        more.iter()
            .for_each(|more| problems.add(&*more.field, &*more.words));
    } else if done.is_err() {
        return done.map(IntoResponse::into_response);
    }
    problems.settle()?;
    let back: Vec<&str> = act
        .order
        .items()
        .filter(|item| !missing.iter().any(|left| left == item))
        .collect();
    let mut lines = Vec::new();
    if !back.is_empty() {
        lines.push(format!("Went back with it: {}", back.join(", ")));
    }
    if !missing.is_empty() {
        lines.push(format!("Not ticked when it went: {}", missing.join(", ")));
    }
    for line in lines {
        act.say(line);
    }
    let location = format!("/orders/{}/handed", act.order.tag);
    act.then(&location).await
}

/// `POST /orders/{tag}/payments`: a deposit, or what was left.
///
/// # Errors
/// What the database says.
pub async fn pay(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(tag): Path<String>,
    form: Form<PaymentForm>,
) -> Result<Response> {
    let done = try_pay(&app, &who, &tag, &form).await;
    let back = Back {
        typed: form.typed,
        paying: true,
        ..Back::default()
    };
    answer(&app, &who, &tag, (done, back)).await
}

async fn try_pay(app: &App, who: &Who, tag: &str, form: &Form<PaymentForm>) -> Result<Response> {
    let guard = Guard::of_form(&form.typed, &format!("payment {tag}"));
    let mut act = Act::begin(app, who, tag, guard).await?;
    let mut problems = Problems::default();
    let amount = money::parse(&form.of.amount, &act.shop.currency());
    match amount {
        Err(problem) => {
            problems.add("amount", problem.to_string());
            if !METHODS.iter().any(|known| known.0 == form.of.method) {
                problems.add("method", "Say how: cash, card, transfer or on account.");
            }
            return Err(problems.into());
        }
        Ok(amount) => {
            let new = NewPayment {
                amount: amount.0,
                method: form.of.method.clone(),
            };
            pickup::pay(&mut act, &new).await?;
        }
    }
    let location = format!("/orders/{}/pickup", act.order.tag);
    act.then(&location).await
}

#[derive(Template)]
#[template(path = "counter/handed.html")]
struct HandedPage {
    frame: Frame,
    shop: Shop,
    order: Order,
    instrument: Instrument,
    account: Account,
}

/// `GET /orders/{tag}/handed`: it is done; the summary can be printed.
///
/// # Errors
/// Not found, also while it is still here.
pub async fn handed(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(tag): Path<String>,
) -> Result<Response> {
    let order = Order::get(&app.db, &tag).await?;
    if !order.is_handed_back() {
        return Err(Error::NotFound);
    }
    let shop = Shop::get(&app.db).await?;
    html(HandedPage {
        frame: Frame::new(
            format!("{} is handed back", order.spoken()),
            &*shop.name,
            &who,
            "today",
        ),
        instrument: Instrument::get(&app.db, order.instrument).await?,
        account: Account::of(&app.db, order.id).await?,
        shop,
        order,
    })
}
