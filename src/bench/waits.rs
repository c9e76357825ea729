//! What waits at the bench, to be read from two metres: what comes off the clamp today, then the oldest promise first.

use std::collections::{HashMap, HashSet};

use askama::Template;
use axum::extract::{Extension, State};
use axum::response::Response;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::{Day, Moment};
use crate::counter::customer::Customer;
use crate::counter::instrument::Instrument;
use crate::counter::order::Order;
use crate::counter::stage::Stage;
use crate::db::Db;
use crate::error::Result;
use crate::money::Money;
use crate::page::{Frame, html};
use crate::staff::Who;

use super::next::Next;
use super::step::Step;

/// Open orders with a confirmed cause that no step mends yet.
const UNMENDED: &str = "select f.work_order from finding f join work_order o on o.id = f.work_order
    where o.collected_at is null and f.certainty = 'confirmed' and not f.withdrawn and not exists (
        select 1 from repair_step s where s.work_order = o.id
        and (s.finding = f.id or (s.finding is null and s.created_at >= f.at)))";

/// One line of the list.
pub struct Row {
    pub tag: String,
    pub promised_on: Option<Day>,
    pub ready_on: Option<Day>,
    pub estimate: Money,
    pub spoken: String,
    pub what: String,
    pub stage: Stage,
    pub stage_words: &'static str,
    pub next: String,
    pub held: bool,
    pub till: String,
    pub till_note: String,
    pub late: bool,
}

#[derive(Template)]
#[template(path = "bench/waits.html")]
struct WaitsPage {
    frame: Frame,
    rows: Vec<Row>,
}

impl WaitsPage {
    fn count(&self) -> String {
        let rows = i64::try_from(self.rows.len()).unwrap_or(i64::MAX);
        crate::words::count(rows, "instrument", "instruments")
    }
}

/// `GET /bench`
///
/// # Errors
/// What the database says.
pub async fn page(State(app): State<App>, Extension(who): Extension<Who>) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let mut rows = rows(&app.db, &shop, app.clock.now()).await?;
    rows.retain(|row| !row.goes_home());
    html(WaitsPage {
        frame: Frame::new("Bench", shop.name, &who, "bench"),
        rows,
    })
}

/// All that is in the house. Five reads however many: the open orders, then what belongs to them.
///
/// # Errors
/// What the database says.
pub async fn rows(db: &Db, shop: &Shop, now: Moment) -> Result<Vec<Row>> {
    let mut orders = Order::in_the_shop(db).await?;
    let instruments: Vec<Instrument> = db
        .read("select * from instrument where id in (select instrument from work_order where collected_at is null)")
        .all()
        .await?;
    let customers: Vec<Customer> = db
        .read(
            "select * from customer where id in (select customer from work_order where collected_at is null)",
        )
        .all()
        .await?;
    let steps: Vec<Step> = db
        .read(
            "select s.* from repair_step s join work_order o on o.id = s.work_order
             where o.collected_at is null and s.done_at is null and s.declined_at is null order by s.position desc, s.id desc",
        )
        .all()
        .await?;
    let instruments: HashMap<Uuid, Instrument> = instruments.into_iter().map(|it| (it.id, it)).collect();
    let customers: HashMap<Uuid, Customer> = customers.into_iter().map(|it| (it.id, it)).collect();
    // The first step of each order comes last, and stays.
    let steps: HashMap<Uuid, Step> = steps.into_iter().map(|it| (it.work_order, it)).collect();
    let unmended: Vec<(Uuid,)> = db.read(UNMENDED).all().await?;
    let unmended: HashSet<Uuid> = unmended.into_iter().map(|row| row.0).collect();
    let today = shop.today(now);
    let by_hold = |order: &Order| match order.hold_until {
        Some(until) if shop.today(until) <= today => (0, until.0),
        None => (1, 0),
        Some(until) => (2, until.0),
    };
    // A stable sort: among those that wait for nobody the oldest promise stays first.
    orders.sort_by_key(by_hold);
    let row = |order: &Order| {
        let instrument = instruments.get(&order.instrument)?;
        let customer = customers.get(&order.customer)?;
        let next = Next::of(
            order,
            instrument,
            steps.get(&order.id),
            unmended.contains(&order.id),
        );
        Some(Row::of(order, instrument, customer, &next, (shop, now)))
    };
    Ok(orders.iter().filter_map(row).collect())
}

impl Row {
    /// Whether it only waits for somebody to take it home.
    #[must_use]
    pub fn goes_home(&self) -> bool {
        matches!(self.stage, Stage::Ready | Stage::Returned)
    }

    fn of(
        order: &Order,
        instrument: &Instrument,
        customer: &Customer,
        next: &Next,
        (shop, now): (&Shop, Moment),
    ) -> Row {
        let today = shop.today(now);
        let late = order.is_late(today);
        let promised = promised(order.promised_on, today, late);
        let (next, till, till_note) = match order.hold_until {
            Some(until) => (
                if order.hold_why.is_empty() {
                    "take the hold off".to_owned()
                } else {
                    order.hold_why.clone()
                },
                till(shop, until, today),
                left(until, now) + if late { ", late" } else { "" },
            ),
            None => (next.words(order, instrument.is_bow()), promised.0, promised.1),
        };
        Row {
            tag: order.tag.clone(),
            promised_on: order.promised_on,
            ready_on: order.ready_on,
            estimate: order.estimate,
            spoken: order.spoken(),
            what: format!("{} · {}", instrument.short_words(), customer.first_name()),
            stage: order.stage,
            stage_words: order.stage_words(instrument.is_bow()),
            next,
            held: order.hold_until.is_some(),
            till,
            till_note,
            late,
        }
    }
}

fn promised(day: Option<Day>, today: Day, late: bool) -> (String, String) {
    match day {
        Some(day) if day == today => ("today".into(), "promised".into()),
        Some(day) if late => (day.to_string(), "promised, late".into()),
        Some(day) => (day.to_string(), "promised".into()),
        None => (String::new(), "no day promised".into()),
    }
}

/// "16:30" today, "Mon 1 Dec" on another day.
fn till(shop: &Shop, until: Moment, today: Day) -> String {
    let (day, hour, minute) = shop.zone().local(until);
    if day == today {
        format!("{hour}:{minute:02}")
    } else {
        day.to_string()
    }
}

/// "in 20 min", "in 6 days", or that it is over.
fn left(until: Moment, now: Moment) -> String {
    match (until.0 - now.0).div_euclid(60_000) {
        ..0 => "the time is over".into(),
        minutes @ 0..1440 => format!("in {}", crate::words::minutes(minutes)),
        minutes => format!("in {}", crate::words::count(minutes / 1440, "day", "days")),
    }
}
