//! Intake: an instrument is taken in, with who brought it, what is heard, and what stays here.

use std::collections::BTreeMap;
use std::slice::from_ref;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::act::Act;
use crate::admin::shop::Shop;
use crate::app::App;
use crate::bench::check::{self, NewCheck};
use crate::catalogue::descriptor::{Descriptor, check_answers};
use crate::clock::{Day, Moment};
use crate::db::Tx;
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::money::{LIMIT, Money};
use crate::once::{self, Key};
use crate::staff::Who;

use super::alike::{self, Alike};
use super::answers;
use super::customer::{Customer, NewCustomer};
use super::gone;
use super::instrument::{Instrument, NewInstrument};
use super::order::Order;
use super::stage::Stage;
use super::story::Story;

/// Somebody known by their id, or somebody new.
#[derive(Clone, Debug)]
pub enum Which<T> {
    Known(Uuid),
    New(T),
}

/// All that is said at intake, on a page or in a call.
#[derive(Clone, Debug)]
pub struct Intake {
    pub customer: Which<NewCustomer>,
    /// What is done when somebody new is like somebody who is here.
    pub alike: Alike,
    pub instrument: Which<NewInstrument>,
    pub complaint: Complaint,
    pub items_left: Vec<String>,
    pub condition: String,
    pub declared_value: Option<i64>,
    pub promised_on: Option<Day>,
    pub authorised_limit: Option<i64>,
    /// What was looked at while the customer stood there, in that order.
    pub checks: Vec<NewCheck>,
    /// The answers that stood when the first of these was made; nothing if all of them did.
    pub first_answers: Option<BTreeMap<String, String>>,
}

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Complaint {
    /// As the customer said it.
    pub words: String,
    /// Answer by descriptor.
    pub answers: BTreeMap<String, String>,
    pub buzz_at: Option<BuzzAt>,
}

/// The string and the note at which it speaks.
#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct BuzzAt {
    pub string: String,
    pub note: String,
}

/// An order that was just taken in; the transaction is open so that the answer can be read from it.
pub struct TakenIn {
    pub tx: Tx,
    pub order: Order,
    pub customer: Customer,
    pub instrument: Instrument,
    pub shop: Shop,
    /// Its story so far, the newest line first.
    pub story: Vec<Story>,
    key: Option<Key>,
    who: Who,
}

impl TakenIn {
    /// Keeps it, with the answer under its key.
    ///
    /// # Errors
    /// What the database says; then nothing is kept.
    pub async fn commit(mut self, status: u16, answer: &str) -> Result<Order> {
        if let Some(key) = &self.key {
            once::keep(
                &mut self.tx,
                self.who.actor,
                key,
                status,
                answer,
                self.order.received_at,
            )
            .await?;
        }
        self.tx.commit().await?;
        Ok(self.order)
    }
}

/// Takes an instrument in: customer, instrument, order and its first line, all of it or nothing, once for each key.
/// What was amiss with its words already is told together with what else wants mending.
///
/// # Errors
/// Again with the first answer, problems, or what the database says.
pub async fn take_in(
    app: &App,
    who: &Who,
    intake: &Intake,
    mut problems: Problems,
    key: Option<Key>,
) -> Result<TakenIn> {
    let now = app.clock.now();
    let mut tx = app.db.begin().await?;
    if let Some(key) = &key {
        once::begin(&mut tx, who.actor, key, now).await?;
    }
    let shop = Shop::get(&mut tx).await?;
    let today = shop.today(now);
    let p = &mut problems;
    let (customer, whose) = match &intake.customer {
        Which::Known(id) => (
            find_known(p, "customer.id", Customer::get(&mut tx, *id).await)?,
            Whose::Known,
        ),
        Which::New(new) => who_is_new(&mut tx, p, (new, intake.alike), now).await?,
    };
    let owner = customer.as_ref().map_or(Uuid::nil(), |customer| customer.id);
    let (instrument, new_instrument) = match &intake.instrument {
        Which::Known(id) => {
            let known = find_known(p, "instrument.id", Instrument::get(&mut tx, *id).await)?;
            if known.as_ref().is_some_and(|known| known.customer != owner) {
                p.add("instrument.id", "This instrument is another customer's.");
            }
            (known, false)
        }
        Which::New(new) => (Some(new.check(p, "instrument.", owner, today.year(), now)), true),
    };
    let family = instrument
        .as_ref()
        .map_or("", |instrument| &instrument.family)
        .to_owned();
    examine(&mut tx, p, &family, &intake.checks).await?;
    let descriptors = Descriptor::all(&mut tx).await?;
    let mut order = describe(p, intake, today, &descriptors);
    let first = first_answers(p, intake, &descriptors);
    problems.settle()?;
    if let Whose::Asked(customers) = whose {
        return Err(Error::Alike(customers));
    }
    let (Some(customer), Some(instrument)) = (customer, instrument) else {
        return Err(Error::fault(
            "an intake without problems has a customer and an instrument",
        ));
    };
    if matches!(whose, Whose::New | Whose::Beside) {
        Customer::insert(&mut tx, from_ref(&customer)).await?;
    }
    if new_instrument {
        Instrument::insert(&mut tx, from_ref(&instrument)).await?;
    }
    (order.customer, order.instrument) = (customer.id, instrument.id);
    (order.received_at, order.received_on, order.received_by) = (now, today, who.staff);
    order.insert(&mut tx).await?;
    if let Some(first) = first.filter(|first| *first != order.answers) {
        answers::keep_first(&mut tx, order.id, first).await?;
    }
    let was_gone = !new_instrument && gone::is_here_again(&mut tx, instrument.id).await?;
    let first = if was_gone {
        "Taken in: it was noted as gone, and is here again"
    } else {
        "Taken in"
    };
    let line = |words: String| Story {
        id: Uuid::now_v7(),
        work_order: order.id,
        at: now,
        by_name: who.name.clone(),
        words,
    };
    let mut story = vec![line(first.to_owned())];
    story.extend(whose.told().map(line));
    Story::insert(&mut tx, &story).await?;
    story.reverse();
    let mut act = Act::on(app, who, (tx, order), instrument, shop);
    (act.now, act.today) = (now, today);
    for new in &intake.checks {
        check::look(&mut act, new).await?;
    }
    if !intake.checks.is_empty() {
        act.write().await?;
    }
    Ok(TakenIn {
        tx: act.tx,
        order: act.order,
        customer,
        instrument: act.instrument,
        shop: act.shop,
        story,
        key,
        who: who.clone(),
    })
}

/// How the customer of an intake came to be it.
enum Whose {
    Known,
    New,
    /// New, though somebody of the same name with the same phone or e-mail is here.
    Beside,
    /// Described as somebody new, and known here by this.
    Taken(&'static str),
    /// It may be one of these, and somebody is to say.
    Asked(Vec<Uuid>),
}

impl Whose {
    /// What the story tells of it, if it is not plain.
    fn told(&self) -> Option<String> {
        match self {
            Whose::Taken(by) => Some(format!("The customer is known here by name and {by}")),
            Whose::Beside => {
                Some("Another customer of this name with the same phone or e-mail is here too".to_owned())
            }
            Whose::Known | Whose::New | Whose::Asked(_) => None,
        }
    }
}

/// Somebody who is described: new, or known here after all.
async fn who_is_new(
    tx: &mut Tx,
    problems: &mut Problems,
    (said, alike): (&NewCustomer, Alike),
    now: Moment,
) -> Result<(Option<Customer>, Whose)> {
    let new = said.check(problems, "customer.", now);
    match alike::known(tx, alike, &new, said).await {
        Ok(alike::Who::New) => Ok((Some(new), Whose::New)),
        Ok(alike::Who::Beside) => Ok((Some(new), Whose::Beside)),
        Ok(alike::Who::Here(known)) => {
            let by = alike::by(&known, &new);
            Ok((Some(*known), Whose::Taken(by)))
        }
        Err(Error::Alike(customers)) => Ok((Some(new), Whose::Asked(customers))),
        Err(other) => Err(other),
    }
}

/// The answers that stood before anybody looked, as an order keeps them.
fn first_answers(p: &mut Problems, intake: &Intake, descriptors: &[Descriptor]) -> Option<String> {
    let first = intake.first_answers.as_ref()?;
    if intake.checks.is_empty() && !first.is_empty() {
        p.add("first_answers", "Nothing was looked at: leave this out.");
    }
    Some(check_answers(p, "first_answers.", first, descriptors)).filter(|_| !intake.checks.is_empty())
}

/// So many checks may come with one intake.
const MOST_CHECKS: usize = 40;

/// Names what wants mending of the checks as `checks.0.cause`.
async fn examine(tx: &mut Tx, problems: &mut Problems, family: &str, checks: &[NewCheck]) -> Result<()> {
    if checks.len() > MOST_CHECKS {
        problems.add("checks", "Write at most forty checks.");
    }
    for (at, new) in checks.iter().take(MOST_CHECKS).enumerate() {
        new.examine(tx, family, problems, &format!("checks.{at}."))
            .await?;
    }
    Ok(())
}

/// Somebody unknown is a problem of the field, not a missing page.
fn find_known<T>(problems: &mut Problems, field: &str, found: Result<T>) -> Result<Option<T>> {
    match found {
        Ok(known) => Ok(Some(known)),
        Err(Error::NotFound) => {
            problems.add(field, "This is not known here. Choose again.");
            Ok(None)
        }
        Err(other) => Err(other),
    }
}

fn describe(p: &mut Problems, intake: &Intake, today: Day, descriptors: &[Descriptor]) -> Order {
    let complaint = &intake.complaint;
    let buzz = complaint.buzz_at.clone().unwrap_or_default();
    if intake.items_left.len() > 40 {
        p.add("items_left", "Write at most forty things.");
    }
    let items: Vec<String> = intake
        .items_left
        .iter()
        .take(40)
        .map(|thing| p.line("items_left", thing, 100))
        .filter(|thing| !thing.is_empty())
        .collect();
    let mut amount = |field: &str, amount: Option<i64>| {
        if amount.is_some_and(|amount| !(0..=LIMIT).contains(&amount)) {
            p.add(field, "This is more than fits, or less than nothing.");
        }
        amount.map(Money)
    };
    let declared_value = amount("declared_value", intake.declared_value);
    let authorised_limit = amount("authorised_limit", intake.authorised_limit);
    match intake.promised_on {
        Some(promised) if promised < today => {
            p.add("promised_on", "This day is past. Promise a day from today on.");
        }
        Some(promised) if promised > today.plus(5 * 366) => {
            p.add("promised_on", "This is more than five years away.");
        }
        _ => {}
    }
    Order {
        id: Uuid::now_v7(),
        tag: String::new(),
        customer: Uuid::nil(),
        instrument: Uuid::nil(),
        stage: Stage::Received,
        words: p.text("complaint.words", &complaint.words, 4000),
        answers: check_answers(p, "complaint.answers.", &complaint.answers, descriptors),
        buzz_string: p.line("complaint.buzz_at.string", &buzz.string, 20),
        buzz_note: p.line("complaint.buzz_at.note", &buzz.note, 20),
        items_left: items.join("\n"),
        condition: p.text("condition", &intake.condition, 4000),
        declared_value,
        promised_on: intake.promised_on,
        authorised_limit,
        estimate: Money::ZERO,
        approved_up_to: None,
        hold_until: None,
        hold_why: String::new(),
        returned_why: None,
        received_at: Moment(0),
        received_on: today,
        received_by: None,
        inspected_on: None,
        ready_on: None,
        collected_at: None,
        collected_on: None,
        collected_by: String::new(),
        version: 1,
        stage_on: Some(today),
        days_first: Some(0),
        days_answer: None,
        days_bench: None,
        days_ready: None,
        owed: Money::ZERO,
        returned_note: String::new(),
    }
}
