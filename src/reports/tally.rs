//! A tally is a count kept in the transaction of the act that changes it, so that a report never reads the history.
//!
//! The definitions of the recurrence report are here and nowhere else:
//!
//! - An order is **inspected** once a check or a finding is written on it, or it goes back as "nothing found".
//!   Which kind of visit it is does not matter. A bow has no buzz causes and is never counted.
//! - It counts in the **month**, and so in the **season**, of the day it was **received**, by the shop's own calendar:
//!   that is when the trouble brought it in.
//! - Its **age** is that of the instrument on that day, in years from the year it was made; a circa year counts as it is
//!   written. It is told by the shop's [`super::bands`], and a year that is not known, or lies ahead, is a band of its own.
//! - Its **size** is full or fractional ([`crate::counter::size`]); one that is not known is a class of its own.
//! - Its **account** is the kind of customer whose order it is, as it is known now.
//! - A cause is **confirmed** on an order when a confirmed finding of it stands there, once however often it is written.
//!   A finding that was withdrawn does not count.
//! - A **comeback** is a confirmed cause on an instrument that was handed back with the same cause repaired, and that was
//!   received again within the comeback window of the shop.
//!
//! Each is counted in the year and in the decade of its month ([`super::block`]), under its family and under all
//! of them, under its age band and, by year, under all of them: whatever a report asks for stands there as one sum.
//! Under its size and its account ([`super::group`]) it is counted in the year of its month, by age band alone. An act
//! counts by the bands in force, and while others are counted in the background by those too ([`super::rules`]).

use std::collections::BTreeMap;

use crate::clock::{Day, YearMonth};
use crate::counter::instrument::Instrument;
use crate::counter::order::Order;
use crate::db::Tx;
use crate::error::Result;
use crate::money::Money;

use super::bands::{Bands, age};
use super::block::SIZES;
use super::group;
use super::rules::Rules;
use super::tally_row::{At, Back, Figure, Rows};

/// Where all of it is kept.
pub const TABLE: &str = "tally_block";

/// As shown on the report's page, so that everybody reads the figures alike.
pub const DEFINITIONS: [(&str, &str); 7] = [
    (
        "Inspected",
        "Orders on which a check or a finding is written, or that went back as nothing found. Bows are not counted.",
    ),
    (
        "Month and season",
        "Of the day the instrument was received, by the shop's calendar.",
    ),
    (
        "Age",
        "Of the instrument on that day, in whole years. A circa year counts as it is written; a year that is not known is a band of its own.",
    ),
    (
        "Size",
        "Full is what grown players play: violins and cellos from 7/8 on, basses from 3/4 on, violas from 15 in (38 cm) on; smaller is fractional. Common practice, no source. A size that is not written, or cannot be read, is counted as not known.",
    ),
    (
        "Account",
        "The kind of customer whose order it is, as it is known now.",
    ),
    (
        "Confirmed",
        "Orders with a confirmed finding of the cause; a withdrawn finding does not count.",
    ),
    (
        "Comeback",
        "The same cause again on the same instrument, received within the comeback window after a pickup on which it had been repaired.",
    ),
];

/// A return after so many days, in the season in which it was taken in the first time, is nature's; what comes back within the
/// window of the shop is the shop's to answer all the same.
pub const SEASONAL: std::ops::RangeInclusive<i64> = 300..=430;

/// The days after which a return may be nature's, in a shop that answers for so many; none where it answers for all of them.
#[must_use]
pub fn seasonal(window: i64) -> std::ops::RangeInclusive<i64> {
    window.saturating_add(1).max(*SEASONAL.start())..=*SEASONAL.end()
}

/// As shown beside the comebacks.
pub const COMEBACKS: [(&str, &str); 5] = [
    (
        "Repaired",
        "A cause confirmed on an order that was collected, with a step done for it. It is watched from the day of the pickup.",
    ),
    (
        "Came back",
        "The same cause confirmed on the next visit of the same instrument that has it, on the day that visit was received, however late.",
    ),
    (
        "Watched",
        "Until it came back, until the instrument was gone, or else until the day of the report. The share that came back by a day is reckoned among those still watched (Kaplan and Meier 1958); its range holds the true share 95 times in 100.",
    ),
    (
        "Seasonal return",
        "Back 300 to 430 days after the pickup, and later than the comeback window, taken in both times in the same season of the shop: nature's, not the shop's. It counts as back in the curves.",
    ),
    (
        "Age, size, account",
        "The age is that of the instrument at intake, by the shop's bands. The size and the kind of customer are as they are known now.",
    ),
];

/// Where an order stands in the recurrence report.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cell<'a> {
    pub month: YearMonth,
    pub family: &'a str,
    /// In years; nothing if it is not known.
    pub age: Option<i64>,
    /// The group of its size and that of its account.
    pub groups: [&'static str; 2],
}

impl<'a> Cell<'a> {
    /// Of an order by its instrument and the kind of its customer.
    #[must_use]
    pub fn of(order: &Order, instrument: &'a Instrument, kind: &str) -> Cell<'a> {
        let piece = (
            instrument.family.as_str(),
            instrument.size.as_str(),
            instrument.year_made,
        );
        Cell::at(order.received_on, piece, kind)
    }

    /// Of what was received on a day: family, size and year made, and the kind of the customer.
    #[must_use]
    pub fn at(
        received_on: Day,
        (family, size, year_made): (&'a str, &str, Option<i64>),
        kind: &str,
    ) -> Cell<'a> {
        Cell {
            month: received_on.month(),
            family,
            age: age(year_made, received_on.year()),
            groups: group::of_order(family, size, kind),
        }
    }
}

/// What is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum What {
    /// Orders inspected, when the code is empty; orders in which the cause of the code was confirmed.
    Orders,
    /// The second place for orders by age: while new bands are counted, one holds the old and one the new.
    OrdersOther,
    /// Orders that came back, by cause.
    Comebacks,
    /// Steps done, by job; an empty code is free words.
    Steps,
    /// The minutes planned for them.
    Planned,
    /// The minutes they took.
    Actual,
    /// Money, by its kind: `charged_labour`, `taken_cash` ..
    Amount,
    /// Pickups that charged it, payments that took it.
    Times,
    /// Steps done that took so long and were planned so long, by "job planned actual".
    Minutes,
    /// Orders handed back that stood so long somewhere, by "stage days".
    Days,
    /// What is owed on orders handed back, as it came and went, by whom: `customers` or `shop`.
    Owed,
    /// What a cause cost, by "cause kind".
    Cost,
    /// Parts used on steps that were done, by name.
    Parts,
}

impl What {
    pub const ALL: [What; 13] = [
        What::Orders,
        What::OrdersOther,
        What::Comebacks,
        What::Steps,
        What::Planned,
        What::Actual,
        What::Amount,
        What::Times,
        What::Minutes,
        What::Days,
        What::Owed,
        What::Cost,
        What::Parts,
    ];
    /// Those that a shop may be older than.
    pub const OF_WORK: [What; 5] = [What::Minutes, What::Days, What::Owed, What::Cost, What::Parts];

    /// As it stands in the table.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            What::Orders => "orders",
            What::OrdersOther => "orders_other",
            What::Comebacks => "comebacks",
            What::Steps => "steps",
            What::Planned => "planned",
            What::Actual => "actual",
            What::Amount => "amount",
            What::Times => "times",
            What::Minutes => "minutes",
            What::Days => "days",
            What::Owed => "owed",
            What::Cost => "cost",
            What::Parts => "parts",
        }
    }

    #[must_use]
    pub fn of_code(code: &str) -> Option<What> {
        What::ALL.into_iter().find(|what| what.code() == code)
    }
}

/// Counts that wait for the end of their act. Rows are touched in the order of their keys, so that two acts at once
/// never wait for each other; and last, so that they are held for a moment only.
#[derive(Debug, Default)]
pub struct Counts {
    /// What is counted by age: in years, since the bands are those of the moment in which it is kept.
    orders: BTreeMap<At, i64>,
    /// What is counted within the window of comebacks alone: with its days, for the same reason.
    back: BTreeMap<Back, i64>,
    /// All else.
    rows: Rows,
    reach: Option<(YearMonth, YearMonth)>,
}

impl Counts {
    /// Counts orders in or out of a cell: of a cause, or of all that were inspected when `cause` is empty.
    pub fn orders(&mut self, cell: Cell<'_>, cause: &str, orders: i64) {
        for family in ["", cell.family] {
            // Of all ages together single years are read by the dozen, decades never more than a few: those are added up.
            let at = (family, "", cause);
            self.rows.add(&SIZES[..1], What::Orders, cell.month, at, orders);
        }
        self.ages(["", cell.family], cell, cause, orders);
        self.groups(cell, cause, orders);
    }

    /// Under the size and the account alone.
    pub(super) fn groups(&mut self, cell: Cell<'_>, cause: &str, orders: i64) {
        self.ages(cell.groups, cell, cause, orders);
    }

    fn ages(&mut self, under: [&str; 2], cell: Cell<'_>, cause: &str, orders: i64) {
        for under in under {
            let at = (cell.month, under.to_owned(), cell.age, cause.to_owned());
            *self.orders.entry(at).or_default() += orders;
        }
        self.reaches(cell.month, cell.month);
    }

    /// Counts what is back after so many days in or out, in the month in which the order that came back was received: as a
    /// comeback, if that is within the window.
    pub fn comeback(&mut self, month: YearMonth, cause: &str, days: i64, orders: i64) {
        self.within_window(What::Comebacks, month, cause, days, orders);
    }

    /// Counts something by a code of its own if what is back after so many days is within the window.
    pub fn within_window(&mut self, what: What, month: YearMonth, code: &str, days: i64, n: i64) {
        if n != 0 {
            *self.back.entry((what, month, code.to_owned(), days)).or_default() += n;
            self.reaches(month, month);
        }
    }

    /// Counts steps that were done, in the month they were done in.
    pub fn job(&mut self, month: YearMonth, job: &str, steps: i64, planned: i64, actual: i64) {
        self.add(What::Steps, month, job, steps);
        self.add(What::Planned, month, job, planned);
        self.add(What::Actual, month, job, actual);
    }

    /// Counts something by a code of its own, of all families and ages together.
    pub fn by_code(&mut self, what: What, month: YearMonth, code: &str, n: i64) {
        if n != 0 {
            self.add(what, month, code, n);
        }
    }

    /// Takes in what was counted elsewhere so many times; once less takes it out.
    pub fn join(&mut self, other: &Counts, times: i64) {
        for (at, n) in &other.orders {
            *self.orders.entry(at.clone()).or_default() += n * times;
        }
        for (at, n) in &other.back {
            *self.back.entry(at.clone()).or_default() += n * times;
        }
        self.rows.join(&other.rows, times);
        if let Some((first, last)) = other.reach {
            self.reaches(first, last);
        }
    }

    /// Only what is of these kinds, none of which is counted by age.
    pub fn retain(&mut self, kinds: &[What]) {
        self.orders.clear();
        self.back.retain(|at, _| kinds.contains(&at.0));
        self.rows.retain(kinds);
    }

    /// Counts money: what was charged at pickups, what was taken by payments, and how often.
    pub fn money(&mut self, month: YearMonth, kind: &str, amount: Money, times: i64) {
        self.add(What::Amount, month, kind, amount.0);
        self.add(What::Times, month, kind, times);
    }

    fn add(&mut self, what: What, month: YearMonth, code: &str, n: i64) {
        self.rows.add(&SIZES, what, month, ("", "", code), n);
        self.reaches(month, month);
    }

    fn reaches(&mut self, from: YearMonth, to: YearMonth) {
        let (first, last) = self.reach.unwrap_or((from, to));
        self.reach = Some((first.min(from), last.max(to)));
    }

    /// Adds them to what is kept.
    ///
    /// # Errors
    /// What the database says.
    pub async fn keep(&mut self, tx: &mut Tx) -> Result<()> {
        let rules = Rules::read(&mut *tx).await?;
        self.keep_by(tx, &rules).await
    }

    /// As [`Counts::keep`], where it is known already which rules there were when the act began.
    ///
    /// # Errors
    /// What the database says.
    pub async fn keep_by(&mut self, tx: &mut Tx, known: &Rules) -> Result<()> {
        let Counts {
            orders,
            back,
            mut rows,
            reach,
        } = std::mem::take(self);
        let Some(reach) = reach else { return Ok(()) };
        rows.add_ages(&orders, known.place(), &known.bands(), 1);
        rows.add_back(&back, known.window(), 1);
        if !rows.write(tx).await? {
            tx.write_beside(TABLE).await?; // what changes nothing by the rules in force may by those to come
        }
        // Read once something was written: from then on until the end no month is counted anew, and no rule changes.
        let rules = Rules::read(&mut *tx).await?;
        let mut rows = Rows::default();
        if !rules.count_as(known) {
            rows.add_ages(&orders, known.place(), &known.bands(), -1);
            rows.add_ages(&orders, rules.place(), &rules.bands(), 1);
            rows.add_back(&back, known.window(), -1);
            rows.add_back(&back, rules.window(), 1);
        }
        if let Some(next) = rules.next() {
            let orders = orders.iter().filter(|(at, _)| next.holds(at.0));
            rows.add_ages(orders, rules.other_place(), &next.bands, 1);
        }
        rows.write(tx).await?;
        rules.widen(tx, reach).await
    }

    /// Adds what is counted by age to one of its places alone, by bands that are not in force yet.
    ///
    /// # Errors
    /// What the database says.
    pub async fn keep_as(&mut self, tx: &mut Tx, bands: &Bands, place: What) -> Result<()> {
        let mut rows = Rows::default();
        rows.add_ages(&std::mem::take(self).orders, place, bands, 1);
        rows.write(tx).await?;
        Ok(())
    }

    /// All counts but zeroes by the rules, for a recount: also by the bands to come, of the months that they are counted of.
    #[must_use]
    pub fn figures(self, rules: &Rules) -> Vec<Figure> {
        let Counts {
            orders,
            back,
            mut rows,
            ..
        } = self;
        rows.add_ages(&orders, rules.place(), &rules.bands(), 1);
        rows.add_back(&back, rules.window(), 1);
        if let Some(next) = rules.next() {
            let orders = orders.iter().filter(|(at, _)| next.holds(at.0));
            rows.add_ages(orders, rules.other_place(), &next.bands, 1);
        }
        rows.figures()
    }
}
