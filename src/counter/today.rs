//! Today: what must happen now at the counter, and the field that finds everything.

use askama::Template;
use axum::extract::{Extension, State};
use axum::response::{IntoResponse, Redirect, Response};
use sqlx::FromRow;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::{Day, Moment, Zone};
use crate::db::Db;
use crate::error::Result;
use crate::form::Form;
use crate::money::Money;
use crate::page::{Frame, html};
use crate::staff::Who;

use super::customer::Customer;
use super::instrument::Instrument;
use super::order::{Order, Stage};
use super::tag::{self, Misread};

/// An order that is still in the shop, as a line of a list.
#[derive(Clone, Debug, FromRow)]
pub struct Open {
    pub id: Uuid,
    pub tag: String,
    pub stage: Stage,
    pub words: String,
    pub promised_on: Option<Day>,
    pub estimate: Money,
    pub hold_until: Option<Moment>,
    pub hold_why: String,
    pub returned_why: Option<String>,
    pub received_on: Day,
    pub ready_on: Option<Day>,
    pub family: String,
    pub size: String,
    pub kind: String,
    pub name: String,
    /// The first step that is not done.
    pub next_step: Option<String>,
}

impl Open {
    /// All that are still in the shop, the oldest promise first.
    ///
    /// # Errors
    /// What the database says.
    pub async fn all(db: &Db) -> Result<Vec<Open>> {
        Ok(db
            .read(
                "select o.id, o.tag, o.stage, o.words, o.promised_on, o.estimate, o.hold_until, o.hold_why,
                 o.returned_why, o.received_on, o.ready_on, i.family, i.size, c.kind, c.name,
                 (select s.title from repair_step s where s.work_order = o.id and s.done_at is null
                  order by s.position limit 1) as next_step
                 from work_order o join instrument i on i.id = o.instrument join customer c on c.id = o.customer
                 where o.collected_at is null order by o.promised_on asc nulls last, o.received_at, o.id limit 500",
            )
            .all()
            .await?)
    }

    #[must_use]
    pub fn spoken(&self) -> String {
        tag::spoken(&self.tag)
    }

    #[must_use]
    pub fn stage_sign(&self) -> String {
        format!("stage-{}", self.stage.code())
    }

    /// "Violin 3/4 · Marta"
    #[must_use]
    pub fn what(&self) -> String {
        let family = super::instrument::FAMILIES
            .iter()
            .find(|family| family.0 == self.family)
            .map_or("", |family| family.1);
        let first = if self.kind == "person" {
            self.name.split_whitespace().next().unwrap_or("")
        } else {
            &self.name
        };
        format!("{} · {first}", format!("{family} {}", self.size).trim_end())
    }

    #[must_use]
    pub fn is_late(&self, today: &Day) -> bool {
        !matches!(self.stage, Stage::Ready | Stage::Returned)
            && self.promised_on.is_some_and(|promised| promised < *today)
    }

    #[must_use]
    pub fn is_held(&self, now: &Moment) -> bool {
        self.hold_until.is_some_and(|until| until > *now)
    }

    /// Until when it is held, in words.
    #[must_use]
    pub fn held_until(&self, zone: &Zone) -> String {
        self.hold_until.map(|until| zone.words(until)).unwrap_or_default()
    }

    /// What is to be done next, in words.
    #[must_use]
    pub fn next(&self, now: &Moment) -> String {
        if self.is_held(now) {
            return if self.hold_why.is_empty() {
                "waits".to_owned()
            } else {
                self.hold_why.clone()
            };
        }
        match self.stage {
            Stage::Received => "not looked at yet".to_owned(),
            Stage::Inspecting => "find the cause".to_owned(),
            Stage::AwaitingApproval => "ask the customer".to_owned(),
            Stage::Approved | Stage::InRepair => {
                self.next_step.clone().unwrap_or_else(|| "play it".to_owned())
            }
            Stage::PlayTest => "play it at the note that buzzed".to_owned(),
            Stage::Ready | Stage::Collected => "hand it back".to_owned(),
            Stage::Returned => "hand it back unrepaired".to_owned(),
        }
    }
}

#[derive(Template)]
#[template(path = "counter/today.html")]
struct TodayPage {
    frame: Frame,
    shop: Shop,
    zone: Zone,
    now: Moment,
    today: Day,
    open: Vec<Open>,
}

impl TodayPage {
    fn to_hand_back(&self) -> Vec<&Open> {
        self.open
            .iter()
            .filter(|open| matches!(open.stage, Stage::Ready | Stage::Returned))
            .collect()
    }
    fn waiting(&self) -> Vec<&Open> {
        self.open
            .iter()
            .filter(|open| open.stage == Stage::AwaitingApproval)
            .collect()
    }
    fn promised(&self) -> Vec<&Open> {
        let due = |open: &&Open| {
            !matches!(
                open.stage,
                Stage::Ready | Stage::Returned | Stage::AwaitingApproval
            ) && open.promised_on.is_some_and(|promised| promised <= self.today)
        };
        self.open.iter().filter(due).collect()
    }
    fn in_the_house(&self) -> String {
        crate::words::count(
            i64::try_from(self.open.len()).unwrap_or(0),
            "instrument",
            "instruments",
        )
    }

    /// The rest of what is in the shop.
    fn at_the_bench(&self) -> Vec<&Open> {
        let at_bench = |open: &&Open| {
            !matches!(
                open.stage,
                Stage::Ready | Stage::Returned | Stage::AwaitingApproval
            ) && open.promised_on.is_none_or(|promised| promised > self.today)
        };
        self.open.iter().filter(at_bench).collect()
    }
}

/// `GET /`
pub async fn page(State(app): State<App>, Extension(who): Extension<Who>) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let (zone, now) = (shop.zone(), app.clock.now());
    let frame = Frame::new("Today", &*shop.name, &who, "today");
    html(TodayPage {
        frame,
        today: zone.day(now),
        open: Open::all(&app.db).await?,
        shop,
        zone,
        now,
    })
}

/// A customer that was found, with their instruments and latest visits.
struct Found {
    customer: Customer,
    instruments: Vec<Instrument>,
    orders: Vec<Order>,
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
    if let Ok(tag) = &read {
        if let Ok(order) = Order::get(&app.db, tag).await {
            return Ok(Redirect::to(&format!("/orders/{}", order.tag)).into_response());
        }
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
