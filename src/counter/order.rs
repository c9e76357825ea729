//! A work order is one visit of one instrument.

use std::collections::BTreeMap;

use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::{Day, Moment};
use crate::db::{Db, Read, Tx};
use crate::error::{Error, Result};
use crate::money::Money;

use super::stage::Stage::{
    self, Approved, AwaitingApproval, Collected, InRepair, Inspecting, PlayTest, Ready, Received, Returned,
};
use super::tag;

#[derive(Clone, Debug, FromRow)]
pub struct Order {
    pub id: Uuid,
    pub tag: String,
    pub customer: Uuid,
    pub instrument: Uuid,
    pub stage: Stage,
    pub words: String,
    pub answers: String,
    pub buzz_string: String,
    pub buzz_note: String,
    pub items_left: String,
    pub condition: String,
    pub declared_value: Option<Money>,
    pub promised_on: Option<Day>,
    pub authorised_limit: Option<Money>,
    pub estimate: Money,
    pub approved_up_to: Option<Money>,
    pub hold_until: Option<Moment>,
    pub hold_why: String,
    pub returned_why: Option<String>,
    pub received_at: Moment,
    pub received_on: Day,
    pub received_by: Option<Uuid>,
    pub inspected_on: Option<Day>,
    pub ready_on: Option<Day>,
    pub collected_at: Option<Moment>,
    pub collected_on: Option<Day>,
    pub collected_by: String,
    pub version: i64,
    /// The day it came to its stage; not known of an order older than this house keeps it.
    pub stage_on: Option<Day>,
    pub days_first: Option<i64>,
    pub days_answer: Option<i64>,
    pub days_bench: Option<i64>,
    pub days_ready: Option<i64>,
    /// Since it was handed back; below zero the shop owes it.
    pub owed: Money,
    /// What was noted when it was to go back unrepaired.
    pub returned_note: String,
}

impl Order {
    /// Puts it into the stage that follows on a day, and adds the days since to where it stood.
    pub fn enter(&mut self, stage: Stage, day: Day) {
        let before = self.stage;
        self.stage = stage;
        if stage == Ready && before != Ready {
            self.ready_on = Some(day);
        }
        if before == Ready && stage == Inspecting {
            self.ready_on = None;
        }
        let Some(since) = self.stage_on.replace(day) else {
            self.stage_on = None;
            return;
        };
        // A clock that was set back takes no days away.
        let days = (day.0 - since.0).max(0);
        *self.days_at(before).get_or_insert_default() += days;
        if stage != Collected {
            self.days_at(stage).get_or_insert_default();
        }
    }

    fn days_at(&mut self, stage: Stage) -> &mut Option<i64> {
        match stage {
            Received => &mut self.days_first,
            AwaitingApproval => &mut self.days_answer,
            Inspecting | Approved | InRepair | PlayTest => &mut self.days_bench,
            Ready | Collected | Returned => &mut self.days_ready,
        }
    }

    /// Whether anything was ever taken in.
    ///
    /// # Errors
    /// What the database says.
    pub async fn is_any(db: &Db) -> Result<bool> {
        let first: Option<(Uuid,)> = db.read("select id from work_order limit 1").optional().await?;
        Ok(first.is_some())
    }

    #[must_use]
    pub fn spoken(&self) -> String {
        tag::spoken(&self.tag)
    }

    /// The answers by descriptor.
    #[must_use]
    pub fn answers(&self) -> BTreeMap<String, String> {
        answers_of(&self.answers)
    }

    pub fn items(&self) -> impl Iterator<Item = &str> {
        self.items_left.lines().filter(|line| !line.is_empty())
    }

    /// How far the shop may go without asking: the limit, or the estimate the customer last said yes to.
    /// Without either it always asks.
    #[must_use]
    pub fn agreed(&self) -> Money {
        let limit = self.authorised_limit.unwrap_or(Money::ZERO);
        self.approved_up_to.map_or(limit, |approved| approved.max(limit))
    }

    #[must_use]
    pub fn is_late(&self, today: Day) -> bool {
        self.collected_at.is_none()
            && !matches!(self.stage, Ready | Returned)
            && self.promised_on.is_some_and(|promised| promised < today)
    }

    #[must_use]
    pub fn is_handed_back(&self) -> bool {
        self.collected_at.is_some()
    }

    /// Where it stands, as it is said in the shop of a bow or of an instrument.
    #[must_use]
    pub fn stage_words(&self, bow: bool) -> &'static str {
        match (self.stage, self.collected_at) {
            (Returned, Some(_)) => "Went back unrepaired",
            (stage, _) => stage.words_of(bow),
        }
    }

    /// The order of an id or a tag; a tag that does not add up is told so instead of opening a stranger's order.
    ///
    /// # Errors
    /// Not found, or what the database says.
    pub async fn get(mut on: impl Read, id_or_tag: &str) -> Result<Order> {
        let query = if let Ok(id) = id_or_tag.parse::<Uuid>() {
            on.read("select * from work_order where id = $1").bind(id)
        } else {
            let tag = tag::read(id_or_tag).map_err(not_a_tag)?;
            on.read("select * from work_order where tag = $1").bind(tag)
        };
        query.optional().await?.ok_or(Error::NotFound)
    }

    /// The visits of an instrument, newest first; at most `limit`.
    ///
    /// # Errors
    /// What the database says.
    pub async fn of_instrument(mut on: impl Read, instrument: Uuid, limit: i64) -> Result<Vec<Order>> {
        Ok(on
            .read(
                "select * from work_order where instrument = $1 order by received_at desc, id desc limit $2",
            )
            .bind(instrument)
            .bind(limit)
            .all()
            .await?)
    }

    /// The visits of a customer's instruments, newest first; at most `limit`.
    ///
    /// # Errors
    /// What the database says.
    pub async fn of_customer(mut on: impl Read, customer: Uuid, limit: i64) -> Result<Vec<Order>> {
        Ok(on
            .read("select * from work_order where customer = $1 order by received_at desc, id desc limit $2")
            .bind(customer)
            .bind(limit)
            .all()
            .await?)
    }

    /// All that are still in the shop, the oldest promise first.
    ///
    /// # Errors
    /// What the database says.
    pub async fn in_the_shop(db: &Db) -> Result<Vec<Order>> {
        Ok(db
            .read(
                "select * from work_order where collected_at is null
                 order by promised_on asc nulls last, received_at, id limit 500",
            )
            .all()
            .await?)
    }

    /// Puts a new order in, taking the next tag; nothing else of the transaction should follow but its story.
    ///
    /// # Errors
    /// What the database says.
    pub async fn insert(&mut self, tx: &mut Tx) -> Result<()> {
        let (number,): (i64,) = tx
            .query("update tag_counter set next = next + 1 where id = 1 returning next - 1")
            .one()
            .await?;
        self.tag = tag::from_number(number);
        crate::db::insert_rows(tx, INSERT, COLUMNS, std::slice::from_ref(self), bind).await?;
        Ok(())
    }

    /// Writes back what may change, as the next version.
    ///
    /// # Errors
    /// Stale when somebody else changed the order meanwhile, or what the database says.
    pub async fn update(&mut self, tx: &mut Tx) -> Result<()> {
        let rows = tx
            .query(
                "update work_order set stage = $3, promised_on = $4, authorised_limit = $5, estimate = $6,
                 approved_up_to = $7, hold_until = $8, hold_why = $9, returned_why = $10, inspected_on = $11,
                 ready_on = $12, collected_at = $13, collected_on = $14, collected_by = $15, condition = $16,
                 stage_on = $17, days_first = $18, days_answer = $19, days_bench = $20, days_ready = $21, owed = $22,
                 returned_note = $23, version = version + 1 where id = $1 and version = $2",
            )
            .bind(self.id)
            .bind(self.version)
            .bind(self.stage)
            .bind(self.promised_on)
            .bind(self.authorised_limit)
            .bind(self.estimate)
            .bind(self.approved_up_to)
            .bind(self.hold_until)
            .bind(self.hold_why.clone())
            .bind(self.returned_why.clone())
            .bind(self.inspected_on)
            .bind(self.ready_on)
            .bind(self.collected_at)
            .bind(self.collected_on)
            .bind(self.collected_by.clone())
            .bind(self.condition.clone())
            .bind(self.stage_on)
            .bind(self.days_first)
            .bind(self.days_answer)
            .bind(self.days_bench)
            .bind(self.days_ready)
            .bind(self.owed)
            .bind(self.returned_note.clone())
            .execute()
            .await?;
        if rows == 0 {
            return Err(Error::Stale(STALE.into()));
        }
        self.version += 1;
        Ok(())
    }
}

/// Answers by descriptor, from as they are kept.
#[must_use]
pub fn answers_of(kept: &str) -> BTreeMap<String, String> {
    let pairs = kept.split(';').filter_map(|pair| pair.split_once('='));
    pairs
        .map(|(code, answer)| (code.to_owned(), answer.to_owned()))
        .collect()
}

/// A number that was misread gets the hint; an address that never was a tag is simply not there.
fn not_a_tag(misread: tag::Misread) -> Error {
    match misread {
        tag::Misread::Empty | tag::Misread::NotDigits => Error::NotFound,
        other => Error::NotHere(other.to_string()),
    }
}

pub const STALE: &str = "Somebody else changed this order since you opened it. Nothing of yours was kept yet: \
    look at what is new, then do it again.";

/// For inserting orders, one or many.
pub const INSERT: &str = "insert into work_order (id, tag, customer, instrument, stage, words, answers, buzz_string,
    buzz_note, items_left, condition, declared_value, promised_on, authorised_limit, estimate, approved_up_to,
    hold_until, hold_why, returned_why, received_at, received_on, received_by, inspected_on, ready_on, collected_at,
    collected_on, collected_by, version, stage_on, days_first, days_answer, days_bench, days_ready, owed,
    returned_note) values";
pub const COLUMNS: usize = 35;

pub fn bind<'c>(query: crate::db::Query<'c>, order: &Order) -> crate::db::Query<'c> {
    query
        .bind(order.id)
        .bind(order.tag.clone())
        .bind(order.customer)
        .bind(order.instrument)
        .bind(order.stage)
        .bind(order.words.clone())
        .bind(order.answers.clone())
        .bind(order.buzz_string.clone())
        .bind(order.buzz_note.clone())
        .bind(order.items_left.clone())
        .bind(order.condition.clone())
        .bind(order.declared_value)
        .bind(order.promised_on)
        .bind(order.authorised_limit)
        .bind(order.estimate)
        .bind(order.approved_up_to)
        .bind(order.hold_until)
        .bind(order.hold_why.clone())
        .bind(order.returned_why.clone())
        .bind(order.received_at)
        .bind(order.received_on)
        .bind(order.received_by)
        .bind(order.inspected_on)
        .bind(order.ready_on)
        .bind(order.collected_at)
        .bind(order.collected_on)
        .bind(order.collected_by.clone())
        .bind(order.version)
        .bind(order.stage_on)
        .bind(order.days_first)
        .bind(order.days_answer)
        .bind(order.days_bench)
        .bind(order.days_ready)
        .bind(order.owed)
        .bind(order.returned_note.clone())
}
