//! Writing many orders at once: every row the acts would have written, a batch a transaction, and the counts at the end.

use std::collections::BTreeMap;

use uuid::Uuid;

use crate::bench::step::{self, Part};
use crate::clock::YearMonth;
use crate::counter::find;
use crate::counter::order;
use crate::counter::story::Story;
use crate::counter::tag::FIRST_NUMBER;
use crate::db::{Db, Tx, insert_rows};
use crate::error::Result;
use crate::money::Money;
use crate::reports::age::AgeBand;
use crate::reports::tally::{Cell, Counts};

use super::history::Batch;
use super::taught::{Learned, Rows};
use super::{World, air, shop};

/// The counts of the reports, as the acts would have left them; small, however long the history.
#[derive(Default)]
pub struct Sums {
    orders: BTreeMap<(YearMonth, String, &'static str, AgeBand), i64>,
    jobs: BTreeMap<(YearMonth, String), [i64; 3]>,
    money: BTreeMap<(YearMonth, String), [i64; 2]>,
    comebacks: BTreeMap<(YearMonth, String), i64>,
}

impl Sums {
    pub fn add(&mut self, world: &World, batch: &Batch) {
        for (book, brought) in batch.books.iter().zip(&batch.of) {
            let family = brought.family;
            let month = book.order.received_on.month();
            let band = AgeBand::at(brought.year_made, book.order.received_on.year());
            let mut count = |cause: &str| {
                *self
                    .orders
                    .entry((month, cause.to_owned(), family, band))
                    .or_default() += 1;
            };
            if book.order.inspected_on.is_some() {
                count("");
            }
            for finding in book.findings.iter().filter(|finding| finding.is_confirmed()) {
                count(&finding.cause);
                if finding
                    .comeback_days
                    .is_some_and(|days| days <= world.shop.comeback_days)
                {
                    *self.comebacks.entry((month, finding.cause.clone())).or_default() += 1;
                }
            }
            for step in &book.steps {
                if let (Some(day), Some(minutes)) = (step.done_on, step.actual_minutes) {
                    let job = step.job.clone().unwrap_or_default();
                    let sums = self.jobs.entry((day.month(), job)).or_default();
                    *sums = [sums[0] + 1, sums[1] + step.planned_minutes, sums[2] + minutes];
                }
            }
            let mut money = |month: YearMonth, kind: String, amount: i64| {
                let sums = self.money.entry((month, kind)).or_default();
                *sums = [sums[0] + amount, sums[1] + 1];
            };
            for payment in &book.payments {
                money(
                    payment.paid_on.month(),
                    format!("taken_{}", payment.method),
                    payment.amount.0,
                );
            }
            if let (Some(charged), Some(day)) = (&book.charged, book.order.collected_on) {
                money(day.month(), "charged_labour".into(), charged.labour.0);
                money(day.month(), "charged_parts".into(), charged.parts.0);
                money(day.month(), "charged_tax".into(), charged.tax.0);
            }
        }
    }
}

impl Sums {
    /// As the reports keep them.
    fn counts(&self) -> Counts {
        let mut counts = Counts::default();
        for ((month, cause, family, band), orders) in &self.orders {
            let cell = Cell {
                month: *month,
                family,
                band: *band,
            };
            counts.orders(cell, cause, *orders);
        }
        for ((month, job), [steps, planned, actual]) in &self.jobs {
            counts.job(*month, job, *steps, *planned, *actual);
        }
        for ((month, kind), [amount, times]) in &self.money {
            counts.money(*month, kind, Money(*amount), *times);
        }
        for ((month, cause), orders) in &self.comebacks {
            counts.comeback(*month, cause, *orders);
        }
        counts
    }
}

/// Says what the database is to be, and who works there.
///
/// # Errors
/// What the database says.
pub async fn begin(db: &Db, world: &World, hashes: &[String]) -> Result<()> {
    let mut tx = db.begin().await?;
    tx.query("insert into demo (id, seed, orders, as_of, whole) values (1, $1, $2, $3, $4)")
        .bind(i64::try_from(world.wish.seed).unwrap_or(i64::MAX))
        .bind(i64::try_from(world.wish.orders).unwrap_or(i64::MAX))
        .bind(world.wish.as_of)
        .bind(false)
        .execute()
        .await?;
    for (hand, hash) in world.hands.iter().zip(hashes) {
        let at = world.zone.moment(hand.since, 8, 30);
        shop::staff(hand, hash, at).insert(&mut tx).await?;
    }
    air::write(&mut tx, world).await?;
    tx.commit().await?;
    Ok(())
}

/// Writes a batch with what became known meanwhile, wholly or not at all.
///
/// # Errors
/// What the database says.
pub async fn batch(db: &Db, batch: Batch, taught: &Rows) -> Result<()> {
    let mut tx = db.begin().await?;
    customers(&mut tx, &batch).await?;
    let (mut checks, mut findings, mut steps, mut parts) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let (mut approvals, mut play_tests, mut payments, mut story) =
        (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let mut orders = Vec::with_capacity(batch.books.len());
    for book in batch.books {
        orders.push(book.order);
        checks.extend(book.checks);
        findings.extend(book.findings);
        steps.extend(book.steps);
        parts.extend(book.parts);
        approvals.extend(book.approvals);
        play_tests.extend(book.play_tests);
        payments.extend(book.payments);
        story.extend(book.story);
    }
    insert_rows(&mut tx, order::INSERT, order::COLUMNS, &orders, order::bind).await?;
    let into = "insert into cause_check (id, work_order, cause, result, minutes, note, at, staff) values";
    insert_rows(&mut tx, into, 8, &checks, |query, check| {
        query
            .bind(check.id)
            .bind(check.work_order)
            .bind(check.cause.clone())
            .bind(check.result.clone())
            .bind(check.minutes)
            .bind(check.note.clone())
            .bind(check.at)
            .bind(check.staff)
    })
    .await?;
    let into = "insert into finding (id, work_order, instrument, cause, certainty, place, note, comeback_of,
                comeback_days, withdrawn, at, found_on, staff) values";
    insert_rows(&mut tx, into, 13, &findings, |query, finding| {
        query
            .bind(finding.id)
            .bind(finding.work_order)
            .bind(finding.instrument)
            .bind(finding.cause.clone())
            .bind(finding.certainty.clone())
            .bind(finding.place.clone())
            .bind(finding.note.clone())
            .bind(finding.comeback_of)
            .bind(finding.comeback_days)
            .bind(finding.withdrawn)
            .bind(finding.at)
            .bind(finding.found_on)
            .bind(finding.staff)
    })
    .await?;
    insert_rows(&mut tx, step::INSERT, step::COLUMNS, &steps, step::bind).await?;
    Part::insert(&mut tx, &parts).await?;
    let into = "insert into approval (id, work_order, decision, said_by, channel, estimate, authorised_limit, at, staff) values";
    insert_rows(&mut tx, into, 9, &approvals, |query, approval| {
        query
            .bind(approval.id)
            .bind(approval.work_order)
            .bind(approval.decision.clone())
            .bind(approval.said_by.clone())
            .bind(approval.channel.clone())
            .bind(approval.estimate)
            .bind(approval.authorised_limit)
            .bind(approval.at)
            .bind(approval.staff)
    })
    .await?;
    let into = "insert into play_test (id, work_order, result, note, at, staff) values";
    insert_rows(&mut tx, into, 6, &play_tests, |query, test| {
        query
            .bind(test.id)
            .bind(test.work_order)
            .bind(test.result.clone())
            .bind(test.note.clone())
            .bind(test.at)
            .bind(test.staff)
    })
    .await?;
    let into = "insert into payment (id, work_order, amount, method, at, paid_on, staff) values";
    insert_rows(&mut tx, into, 7, &payments, |query, payment| {
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
    Story::insert(&mut tx, &story).await?;
    taught.write(&mut tx).await?;
    tx.commit().await?;
    Ok(())
}

/// Those who came for the first time, with what they brought and what both are found by.
async fn customers(tx: &mut Tx, batch: &Batch) -> Result<()> {
    let into = "insert into customer (id, kind, name, phone, email, note, version, created_at) values";
    insert_rows(tx, into, 8, &batch.customers, |query, customer| {
        query
            .bind(customer.id)
            .bind(customer.kind.clone())
            .bind(customer.name.clone())
            .bind(customer.phone.clone())
            .bind(customer.email.clone())
            .bind(customer.note.clone())
            .bind(customer.version)
            .bind(customer.created_at)
    })
    .await?;
    let into =
        "insert into instrument (id, customer, family, size, maker, year_made, year_certainty, serial, marks,
                version, created_at) values";
    insert_rows(tx, into, 11, &batch.instruments, |query, instrument| {
        query
            .bind(instrument.id)
            .bind(instrument.customer)
            .bind(instrument.family.clone())
            .bind(instrument.size.clone())
            .bind(instrument.maker.clone())
            .bind(instrument.year_made)
            .bind(instrument.year_certainty.clone())
            .bind(instrument.serial.clone())
            .bind(instrument.marks.clone())
            .bind(instrument.version)
            .bind(instrument.created_at)
    })
    .await?;
    let mut keys: Vec<(String, Uuid, Option<Uuid>)> = Vec::new();
    for customer in &batch.customers {
        let found_by = find::customer_keys(&customer.name, &customer.phone, &customer.email);
        keys.extend(found_by.into_iter().map(|key| (key, customer.id, None)));
    }
    for instrument in &batch.instruments {
        let found_by = instrument.keys().into_iter();
        keys.extend(found_by.map(|key| (key, instrument.customer, Some(instrument.id))));
    }
    let into = "insert into find (key, customer, instrument) values";
    insert_rows(tx, into, 3, &keys, |query, row| {
        query.bind(row.0.clone()).bind(row.1).bind(row.2)
    })
    .await?;
    Ok(())
}

/// The counts, the next number, and last of all the shop itself.
///
/// # Errors
/// What the database says.
pub async fn finish(db: &Db, world: &World, sums: &Sums, (rows, learned): (Rows, Learned)) -> Result<()> {
    let mut tx = db.begin().await?;
    rows.write(&mut tx).await?;
    learned.write(&mut tx).await?;
    sums.counts().keep(&mut tx).await?;
    tx.query("update tag_counter set next = $1 where id = 1")
        .bind(FIRST_NUMBER + i64::try_from(world.wish.orders).unwrap_or(0))
        .execute()
        .await?;
    world.shop.insert(&mut tx).await?;
    tx.query("update demo set whole = true where id = 1")
        .execute()
        .await?;
    tx.commit().await?;
    Ok(())
}

/// Takes away what a broken-off filling left; only ever called on a database that says it was being filled.
///
/// # Errors
/// What the database says.
pub async fn sweep(db: &Db) -> Result<()> {
    let mut tx = db.begin().await?;
    for sql in [
        "delete from lesson",
        "delete from scored",
        "delete from story",
        "delete from payment",
        "delete from play_test",
        "delete from approval",
        "delete from part",
        "delete from repair_step",
        "delete from finding",
        "delete from cause_check",
        "delete from work_order",
        "delete from find",
        "delete from instrument",
        "delete from customer",
        "delete from reading",
        "delete from air_day",
        "delete from staff",
        "delete from demo",
    ] {
        tx.query(sql).execute().await?;
    }
    tx.commit().await?;
    Ok(())
}
