//! Bulk is many orders written at once: every row their acts would have written, and what the acts would have counted.

use std::collections::BTreeMap;

use uuid::Uuid;

use crate::bench::approval::Approval;
use crate::bench::check::Check;
use crate::bench::estimate::Bill;
use crate::bench::finding::Finding;
use crate::bench::play_test::PlayTest;
use crate::bench::step::{self, Part, Step};
use crate::clock::YearMonth;
use crate::counter::customer::Customer;
use crate::counter::find;
use crate::counter::instrument::Instrument;
use crate::counter::order::{self, Order};
use crate::counter::pickup::Payment;
use crate::counter::story::Story;
use crate::db::{Tx, insert_rows};
use crate::error::Result;
use crate::money::Money;
use crate::reports::age::AgeBand;
use crate::reports::tally::{Cell, Counts};

/// Orders with all that stands on them, and who and what came with them for the first time.
#[derive(Default)]
pub struct Lot {
    pub customers: Vec<Customer>,
    pub instruments: Vec<Instrument>,
    pub orders: Vec<Order>,
    pub checks: Vec<Check>,
    pub findings: Vec<Finding>,
    pub steps: Vec<Step>,
    pub parts: Vec<Part>,
    pub approvals: Vec<Approval>,
    pub play_tests: Vec<PlayTest>,
    pub payments: Vec<Payment>,
    pub story: Vec<Story>,
}

/// As much of an order as the reports count.
pub struct Counted<'a> {
    pub order: &'a Order,
    pub family: &'static str,
    pub year_made: Option<i64>,
    pub findings: &'a [Finding],
    pub steps: &'a [Step],
    pub payments: &'a [Payment],
    /// What was charged when it was handed back.
    pub charged: Option<&'a Bill>,
}

/// The counts of the reports, as the acts would have left them; small, however long the history.
#[derive(Default)]
pub struct Sums {
    orders: BTreeMap<(YearMonth, String, &'static str, AgeBand), i64>,
    jobs: BTreeMap<(YearMonth, String), [i64; 3]>,
    money: BTreeMap<(YearMonth, String), [i64; 2]>,
    comebacks: BTreeMap<(YearMonth, String), i64>,
}

impl Sums {
    /// Adds an order; `comeback_days` is the shop's window.
    pub fn add(&mut self, of: &Counted<'_>, comeback_days: i64) {
        let family = of.family;
        let month = of.order.received_on.month();
        let band = AgeBand::at(of.year_made, of.order.received_on.year());
        let mut count = |cause: &str| {
            *self
                .orders
                .entry((month, cause.to_owned(), family, band))
                .or_default() += 1;
        };
        if of.order.inspected_on.is_some() {
            count("");
        }
        for finding in of.findings.iter().filter(|finding| finding.is_confirmed()) {
            count(&finding.cause);
            if finding.comeback_days.is_some_and(|days| days <= comeback_days) {
                *self.comebacks.entry((month, finding.cause.clone())).or_default() += 1;
            }
        }
        for step in of.steps {
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
        for payment in of.payments {
            money(
                payment.paid_on.month(),
                format!("taken_{}", payment.method),
                payment.amount.0,
            );
        }
        if let (Some(charged), Some(day)) = (of.charged, of.order.collected_on) {
            money(day.month(), "charged_labour".into(), charged.labour.0);
            money(day.month(), "charged_parts".into(), charged.parts.0);
            money(day.month(), "charged_tax".into(), charged.tax.0);
        }
    }

    /// As the reports keep them.
    pub fn counts(&self) -> Counts {
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

impl Lot {
    /// Writes all of it.
    ///
    /// # Errors
    /// What the database says.
    pub async fn write(&self, tx: &mut Tx) -> Result<()> {
        customers(tx, self).await?;
        insert_rows(tx, order::INSERT, order::COLUMNS, &self.orders, order::bind).await?;
        let into = "insert into cause_check (id, work_order, cause, result, minutes, note, at, staff) values";
        insert_rows(tx, into, 8, &self.checks, |query, check| {
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
        let into =
            "insert into finding (id, work_order, instrument, cause, certainty, place, note, comeback_of,
                comeback_days, withdrawn, at, found_on, staff) values";
        insert_rows(tx, into, 13, &self.findings, |query, finding| {
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
        insert_rows(tx, step::INSERT, step::COLUMNS, &self.steps, step::bind).await?;
        Part::insert(tx, &self.parts).await?;
        let into = "insert into approval (id, work_order, decision, said_by, channel, estimate, authorised_limit, at, staff) values";
        insert_rows(tx, into, 9, &self.approvals, |query, approval| {
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
        insert_rows(tx, into, 6, &self.play_tests, |query, test| {
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
        insert_rows(tx, into, 7, &self.payments, |query, payment| {
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
        Story::insert(tx, &self.story).await?;
        Ok(())
    }
}

/// Those who came for the first time, with what they brought and what both are found by.
async fn customers(tx: &mut Tx, lot: &Lot) -> Result<()> {
    let into = "insert into customer (id, kind, name, phone, email, note, version, created_at) values";
    insert_rows(tx, into, 8, &lot.customers, |query, customer| {
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
    insert_rows(tx, into, 11, &lot.instruments, |query, instrument| {
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
    for customer in &lot.customers {
        let found_by = find::customer_keys(&customer.name, &customer.phone, &customer.email);
        keys.extend(found_by.into_iter().map(|key| (key, customer.id, None)));
    }
    for instrument in &lot.instruments {
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
