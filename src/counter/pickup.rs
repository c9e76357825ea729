//! Pickup: the instrument goes home, with what is owed, what was paid, and who took it.

use std::slice::from_ref;

use serde::{Deserialize, Serialize};
use sqlx::FromRow;
use uuid::Uuid;

use crate::act::Act;
use crate::bench::estimate::{self, Bill, Line};
use crate::bench::finding::Finding;
use crate::bench::step;
use crate::clock::{Day, Moment};
use crate::counter::stage::{Move, Stage};
use crate::db::{Read, Tx, insert_rows};
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::money::{LIMIT, Money};
use crate::reports::home;
use crate::reports::repaired::Repairs;

#[derive(Clone, Debug, FromRow)]
pub struct Payment {
    pub id: Uuid,
    pub work_order: Uuid,
    pub amount: Money,
    pub method: String,
    pub at: Moment,
    pub paid_on: Day,
    pub staff: Option<Uuid>,
}

impl Payment {
    /// # Errors
    /// What the database says.
    pub async fn insert(tx: &mut Tx, payments: &[Payment]) -> Result<()> {
        let into = "insert into payment (id, work_order, amount, method, at, paid_on, staff) values";
        insert_rows(tx, into, 7, payments, |query, payment| {
            query
                .bind(payment.id)
                .bind(payment.work_order)
                .bind(payment.amount)
                .bind(payment.method.clone())
                .bind(payment.at)
                .bind(payment.paid_on)
                .bind(payment.staff)
        })
        .await?;
        Ok(())
    }
}

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPickup {
    /// Who takes it home.
    pub collected_by: String,
    /// What they pay now, in minor units; what is left stays owed.
    #[serde(default)]
    pub paid: i64,
    /// `cash`, `card`, `transfer` or `account`.
    #[serde(default)]
    pub method: Option<String>,
}

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPayment {
    /// In minor units.
    pub amount: i64,
    /// `cash`, `card`, `transfer` or `account`.
    pub method: String,
}

pub const METHODS: [(&str, &str); 4] = [
    ("cash", "Cash"),
    ("card", "Card"),
    ("transfer", "Transfer"),
    ("account", "On account"),
];

/// What an order comes to: the steps that were done, and what was paid.
#[derive(Clone, Debug)]
pub struct Account {
    /// All steps with their prices.
    pub lines: Vec<Line>,
    /// Of all steps as planned, but for those the customer did not want.
    pub estimate: Bill,
    /// Of the steps that were done: what is charged.
    pub charged: Bill,
    pub payments: Vec<Payment>,
    pub paid: Money,
    /// Still to pay.
    pub owed: Money,
}

impl Account {
    /// # Errors
    /// What the database says.
    pub async fn of(mut on: impl Read, order: Uuid) -> Result<Account> {
        let steps = on
            .read("select * from repair_step where work_order = $1 order by position, id")
            .bind(order)
            .all()
            .await?;
        let parts = on
            .read("select p.* from part p join repair_step s on s.id = p.step where s.work_order = $1 order by p.id")
            .bind(order)
            .all::<step::Part>()
            .await?;
        let payments: Vec<Payment> = on
            .read("select * from payment where work_order = $1 order by at, id")
            .bind(order)
            .all()
            .await?;
        Account::new(steps, &parts, payments)
    }

    /// # Errors
    /// When an amount is larger than money here can be.
    pub fn new(steps: Vec<step::Step>, parts: &[step::Part], payments: Vec<Payment>) -> Result<Account> {
        let lines = estimate::lines(steps, parts)?;
        let charged = estimate::bill(lines.iter().filter(|line| line.step.done_at.is_some()))?;
        let paid = Money(payments.iter().map(|payment| payment.amount.0).sum());
        let owed = Money(charged.total.0 - paid.0);
        Ok(Account {
            estimate: estimate::wanted(&lines)?,
            charged,
            payments,
            paid,
            owed,
            lines,
        })
    }
}

/// Takes money before pickup (a deposit) or after it (what was left).
///
/// # Errors
/// Problems, or what the database says.
pub async fn pay(act: &mut Act, new: &NewPayment) -> Result<Payment> {
    let account = Account::of(&mut act.tx, act.order.id).await?;
    // Before it is ready a deposit may go up to what it will cost; afterwards up to what is owed.
    let open = if matches!(act.order.stage, Stage::Ready | Stage::Collected | Stage::Returned) {
        account.owed
    } else {
        Money(account.estimate.total.max(act.order.agreed()).0 - account.paid.0)
    };
    let payment = take(act, new.amount, &new.method, open, "amount").await?;
    if act.order.is_handed_back() {
        let before = act.order.owed;
        act.order.owed = Money(before.0 - payment.amount.0);
        home::owed(&mut act.counts, act.today.month(), before, act.order.owed);
    }
    Ok(payment)
}

async fn take(act: &mut Act, amount: i64, method: &str, open: Money, field: &str) -> Result<Payment> {
    let mut problems = Problems::default();
    let known = METHODS.iter().find(|known| known.0 == method);
    if known.is_none() {
        problems.add("method", "Say how: cash, card, transfer or on account.");
    }
    if !(1..=LIMIT).contains(&amount) {
        problems.add(field, "Write what is paid, more than nothing.");
    } else if amount > open.0 {
        let open = act.shop.money(&Money(open.0.max(0)));
        problems.add(field, format!("That is more than is open: {open}."));
    }
    problems.settle()?;
    let payment = Payment {
        id: act.id(),
        work_order: act.order.id,
        amount: Money(amount),
        method: method.to_owned(),
        at: act.now,
        paid_on: act.today,
        staff: act.who.staff,
    };
    Payment::insert(&mut act.tx, from_ref(&payment)).await?;
    act.counts
        .money(act.today.month(), &format!("taken_{method}"), payment.amount, 1);
    let paid = act.shop.money(&payment.amount);
    act.say(format!(
        "Paid {paid}, {}",
        known.map_or("", |known| known.1).to_lowercase()
    ));
    Ok(payment)
}

/// Hands the instrument back, repaired or not.
///
/// # Errors
/// Problems, a conflict, or what the database says.
pub async fn hand_back(act: &mut Act, new: &NewPickup) -> Result<()> {
    if act.order.collected_at.is_some() {
        return Err(Error::conflict("It has been handed back already."));
    }
    let mut problems = Problems::default();
    let collected_by = problems.needed("collected_by", &new.collected_by, 200, "Write who takes it home.");
    if !(0..=LIMIT).contains(&new.paid) {
        problems.add("paid", "Write what is paid now; 0 if nothing is.");
    }
    problems.settle()?;
    act.go(Move::HandBack)?;
    let account = Account::of(&mut act.tx, act.order.id).await?;
    if new.paid > 0 {
        take(
            act,
            new.paid,
            new.method.as_deref().unwrap_or_default(),
            account.owed,
            "paid",
        )
        .await?;
    }
    let month = act.today.month();
    let charged = &account.charged;
    for (kind, amount) in [
        ("charged_labour", charged.labour),
        ("charged_parts", charged.parts),
        ("charged_tax", charged.tax),
    ] {
        act.counts.money(month, kind, amount, 1);
    }
    if act.order.stage == Stage::Collected {
        act.repairs = Repairs::All;
    }
    act.order.collected_at = Some(act.now);
    act.order.collected_on = Some(act.today);
    act.order.hold_until = None;
    act.order.hold_why.clear();
    let left = account.owed.0 - new.paid;
    act.order.owed = Money(left);
    home::owed(&mut act.counts, month, Money::ZERO, act.order.owed);
    let findings = Finding::of(&mut act.tx, act.order.id).await?;
    home::handed_back(&mut act.counts, &act.order, &findings, &account.lines);
    act.say(format!("Handed back to {collected_by}"));
    if left > 0 {
        let left = act.shop.money(&Money(left));
        act.say(format!("{left} is still owed"));
    } else if left < 0 {
        let over = act.shop.money(&Money(-left));
        act.say(format!("{over} was paid too much: give it back"));
    }
    act.order.collected_by = collected_by;
    Ok(())
}
