//! Bulk is many orders written at once: every row their acts would have written, and what the acts would have counted.

use std::collections::BTreeMap;

use crate::bench::approval::Approval;
use crate::bench::check::Check;
use crate::bench::estimate::{self, Bill};
use crate::bench::finding::Finding;
use crate::bench::play_test::PlayTest;
use crate::bench::step::{self, Part, Step};
use crate::clock::YearMonth;
use crate::counter::customer::Customer;
use crate::counter::instrument::Instrument;
use crate::counter::order::{self, Order};
use crate::counter::pickup::Payment;
use crate::counter::story::Story;
use crate::db::{Tx, insert_rows};
use crate::error::Result;
use crate::money::Money;
use crate::reports::home;
use crate::reports::rules::Rules;
use crate::reports::tally::{Cell, Counts, What};

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
    pub size: &'a str,
    pub year_made: Option<i64>,
    /// The kind of its customer.
    pub kind: &'a str,
    pub findings: &'a [Finding],
    pub steps: &'a [Step],
    pub parts: &'a [Part],
    pub payments: &'a [Payment],
    /// What was charged when it was handed back.
    pub charged: Option<&'a Bill>,
}

/// The counts of the reports, as the acts would have left them; small, however long the history.
pub struct Sums {
    /// By which they are told apart.
    pub rules: Rules,
    orders: BTreeMap<(Cell<'static>, String), i64>,
    jobs: BTreeMap<(YearMonth, String), [i64; 3]>,
    money: BTreeMap<(YearMonth, String), [i64; 2]>,
    comebacks: BTreeMap<(YearMonth, String), i64>,
    /// Time and money, as the acts count them.
    work: Counts,
}

impl Sums {
    /// To be kept by rules that do not change before they are.
    #[must_use]
    pub fn new(rules: Rules) -> Sums {
        Sums {
            rules,
            orders: BTreeMap::new(),
            jobs: BTreeMap::new(),
            money: BTreeMap::new(),
            comebacks: BTreeMap::new(),
            work: Counts::default(),
        }
    }

    /// Adds an order.
    ///
    /// # Errors
    /// When an amount is larger than money here can be.
    pub fn add(&mut self, of: &Counted<'_>) -> Result<()> {
        let cell = Cell::at(of.order.received_on, (of.family, of.size, of.year_made), of.kind);
        let (month, age) = (cell.month, self.rules.coarse(cell.age));
        let cell = Cell { age, ..cell };
        let mut count = |cause: &str| *self.orders.entry((cell, cause.to_owned())).or_default() += 1;
        if of.order.inspected_on.is_some() {
            count("");
        }
        for finding in of.findings.iter().filter(|finding| finding.is_confirmed()) {
            count(&finding.cause);
            let window = self.rules.window();
            if finding.comeback_days.is_some_and(|days| days <= window) {
                *self.comebacks.entry((month, finding.cause.clone())).or_default() += 1;
            }
        }
        for step in of.steps {
            home::step_done(&mut self.work, step, of.parts);
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
        if of.order.is_handed_back() {
            let lines = estimate::lines(of.steps.to_vec(), of.parts)?;
            home::handed_back(&mut self.work, of.order, of.findings, &lines);
            home::owed_over_time(&mut self.work, of.order, &lines, of.payments)?;
        }
        Ok(())
    }

    /// As the reports keep them.
    pub fn counts(&self) -> Counts {
        let mut counts = Counts::default();
        for ((cell, cause), orders) in &self.orders {
            counts.orders(*cell, cause, *orders);
        }
        for ((month, job), [steps, planned, actual]) in &self.jobs {
            counts.job(*month, job, *steps, *planned, *actual);
        }
        for ((month, kind), [amount, times]) in &self.money {
            counts.money(*month, kind, Money(*amount), *times);
        }
        for ((month, cause), orders) in &self.comebacks {
            counts.by_code(What::Comebacks, *month, cause, *orders);
        }
        counts.join(&self.work, 1);
        counts
    }
}

impl Lot {
    /// Writes all of it.
    ///
    /// # Errors
    /// What the database says.
    pub async fn write(&self, tx: &mut Tx) -> Result<()> {
        Customer::insert(tx, &self.customers).await?;
        Instrument::insert(tx, &self.instruments).await?;
        insert_rows(tx, order::INSERT, order::COLUMNS, &self.orders, order::bind).await?;
        Check::insert(tx, &self.checks).await?;
        Finding::insert(tx, &self.findings).await?;
        insert_rows(tx, step::INSERT, step::COLUMNS, &self.steps, step::bind).await?;
        Part::insert(tx, &self.parts).await?;
        Approval::insert(tx, &self.approvals).await?;
        PlayTest::insert(tx, &self.play_tests).await?;
        Payment::insert(tx, &self.payments).await?;
        Story::insert(tx, &self.story).await
    }
}
