//! A tally is a count kept in the transaction of the act that changes it, so that a report never reads the history.
//!
//! The definitions of the recurrence report are here and nowhere else:
//!
//! - An order is **inspected** once a check or a finding is written on it, or it goes back as "nothing found".
//!   Which kind of visit it is does not matter. A bow has no buzz causes and is never counted.
//! - It counts in the **month**, and so in the **season**, of the day it was **received**, by the shop's own calendar:
//!   that is when the trouble brought it in.
//! - Its **age band** is that of the instrument on that day, from the year it was made; an unknown year is a band of
//!   its own.
//! - Its **size** is full or fractional ([`crate::counter::size`]); one that is not known is a class of its own.
//! - Its **account** is the kind of customer whose order it is, as it is known now.
//! - A cause is **confirmed** on an order when a confirmed finding of it stands there, once however often it is written.
//!   A finding that was withdrawn does not count.
//! - A **comeback** is a confirmed cause on an instrument that was handed back with the same cause repaired, and that was
//!   received again within the comeback window of the shop.
//!
//! Each is counted in the year and in the decade of its month ([`super::block`]), under its family and under all
//! of them, under its age band and, by year, under all of them: whatever a report asks for stands there as one sum.
//! Under its size and its account ([`super::group`]) it is counted in the year of its month, by age band alone.

use std::collections::BTreeMap;

use sqlx::FromRow;

use crate::clock::{Day, YearMonth};
use crate::counter::instrument::Instrument;
use crate::counter::order::Order;
use crate::db::{Query, Tx, upsert_rows};
use crate::error::Result;
use crate::money::Money;

use super::age::AgeBand;
use super::block::{SIZES, first_of};
use super::group;

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
        "Of the instrument on that day. A year that is not known is a band of its own.",
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

/// A return after so many days, in the season in which it was taken in the first time, is nature's.
pub const SEASONAL: std::ops::RangeInclusive<i64> = 300..=430;

/// As shown beside the comebacks.
pub const COMEBACKS: [(&str, &str); 4] = [
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
        "Back 300 to 430 days after the pickup, taken in both times in the same season of the shop: nature's, not the shop's. It counts as back in the curves.",
    ),
];

/// Where an order stands in the recurrence report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cell<'a> {
    pub month: YearMonth,
    pub family: &'a str,
    pub band: AgeBand,
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
            band: AgeBand::at(year_made, received_on.year()),
            groups: group::of_order(family, size, kind),
        }
    }
}

/// What is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum What {
    /// Orders inspected, when the code is empty; orders in which the cause of the code was confirmed.
    Orders,
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
    pub const ALL: [What; 12] = [
        What::Orders,
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

/// One row of the table.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Row {
    what: What,
    code: String,
    family: String,
    age_band: &'static str,
    months: i64,
    first: YearMonth,
}

/// Counts that wait for the end of their act. Rows are touched in the order of their keys, so that two acts at once
/// never wait for each other; and last, so that they are held for a moment only.
#[derive(Debug, Default)]
pub struct Counts {
    rows: BTreeMap<Row, [i64; 12]>,
    reach: Option<(YearMonth, YearMonth)>,
}

impl Counts {
    /// Counts orders in or out of a cell: of a cause, or of all that were inspected when `cause` is empty.
    pub fn orders(&mut self, cell: Cell<'_>, cause: &str, orders: i64) {
        for family in ["", cell.family] {
            self.add(
                What::Orders,
                cell.month,
                (family, cell.band.code(), cause),
                orders,
            );
            // Of all ages together single years are read by the dozen, decades never more than a few: those are added up.
            self.add_in(&SIZES[..1], What::Orders, cell.month, (family, "", cause), orders);
        }
        self.groups(cell, cause, orders);
    }

    /// Under the size and the account alone.
    pub(super) fn groups(&mut self, cell: Cell<'_>, cause: &str, orders: i64) {
        for group in cell.groups {
            let at = (group, cell.band.code(), cause);
            self.add_in(group::blocks(group), What::Orders, cell.month, at, orders);
        }
    }

    /// Counts a comeback in or out, in the month in which the order that came back was received.
    pub fn comeback(&mut self, month: YearMonth, cause: &str, orders: i64) {
        self.add(What::Comebacks, month, ("", "", cause), orders);
    }

    /// Counts steps that were done, in the month they were done in.
    pub fn job(&mut self, month: YearMonth, job: &str, steps: i64, planned: i64, actual: i64) {
        self.add(What::Steps, month, ("", "", job), steps);
        self.add(What::Planned, month, ("", "", job), planned);
        self.add(What::Actual, month, ("", "", job), actual);
    }

    /// Counts something by a code of its own, of all families and ages together.
    pub fn by_code(&mut self, what: What, month: YearMonth, code: &str, n: i64) {
        if n != 0 {
            self.add(what, month, ("", "", code), n);
        }
    }

    /// Takes in what was counted elsewhere.
    pub fn join(&mut self, other: &Counts) {
        for (row, months) in &other.rows {
            let sums = self.rows.entry(row.clone()).or_default();
            for (sum, n) in sums.iter_mut().zip(months) {
                *sum += n;
            }
        }
        if let Some((first, last)) = other.reach {
            let (from, to) = self.reach.unwrap_or((first, last));
            self.reach = Some((from.min(first), to.max(last)));
        }
    }

    /// Only what is of these kinds.
    pub fn retain(&mut self, kinds: &[What]) {
        self.rows.retain(|row, _| kinds.contains(&row.what));
    }

    /// Counts money: what was charged at pickups, what was taken by payments, and how often.
    pub fn money(&mut self, month: YearMonth, kind: &str, amount: Money, times: i64) {
        self.add(What::Amount, month, ("", "", kind), amount.0);
        self.add(What::Times, month, ("", "", kind), times);
    }

    fn add(&mut self, what: What, month: YearMonth, at: (&str, &'static str, &str), n: i64) {
        self.add_in(&SIZES, what, month, at, n);
    }

    fn add_in(
        &mut self,
        sizes: &[i64],
        what: What,
        month: YearMonth,
        at: (&str, &'static str, &str),
        n: i64,
    ) {
        let (family, age_band, code) = at;
        for &months in sizes {
            let row = Row {
                what,
                code: code.to_owned(),
                family: family.to_owned(),
                age_band,
                months,
                first: first_of(month, months),
            };
            let of_year = usize::from(month.month_number()) - 1;
            self.rows.entry(row).or_default()[of_year] += n;
        }
        let (first, last) = self.reach.unwrap_or((month, month));
        self.reach = Some((first.min(month), last.max(month)));
    }

    /// Adds them to what is kept.
    ///
    /// # Errors
    /// What the database says.
    pub async fn keep(&mut self, tx: &mut Tx) -> Result<()> {
        // First, since what follows is held until the end.
        if let Some((first, last)) = self.reach.take() {
            reach(tx, first, last).await?;
        }
        let rows: Vec<(Row, [i64; 12])> = std::mem::take(&mut self.rows)
            .into_iter()
            .filter(|row| row.1 != [0; 12])
            .collect();
        let month = rows.first().and_then(|row| row.1.iter().position(|n| *n != 0));
        let one = |month: &usize| {
            let others = |row: &[i64; 12]| row.iter().enumerate().any(|(at, n)| at != *month && *n != 0);
            !rows.iter().any(|row| others(&row.1))
        };
        // All of an act falls into one month as a rule: then its column alone is sent.
        if let Some(month) = month.filter(one) {
            let (into, add) = OF_MONTH[month];
            upsert_rows(tx, into, 7, add, &rows, |query, (row, months)| {
                row.bind(query).bind(months[month])
            })
            .await?;
        } else {
            upsert_rows(tx, INTO, 18, ADD, &rows, |query, (row, months)| {
                months.iter().fold(row.bind(query), |query, n| query.bind(*n))
            })
            .await?;
        }
        Ok(())
    }
}

/// A row of the table as it is read back.
#[derive(FromRow)]
struct Kept {
    what: String,
    family: String,
    months: i64,
    month: YearMonth,
    age_band: String,
    code: String,
    jan: i64,
    feb: i64,
    mar: i64,
    apr: i64,
    may: i64,
    jun: i64,
    jul: i64,
    aug: i64,
    sep: i64,
    oct: i64,
    nov: i64,
    dec: i64,
}

/// What is counted, where it stands, in words, and the count.
pub type Figure = (What, String, i64);

/// Where a count stands, in words: "orders of a year from 2026-01, violin, 20_to_79, nut_loose, in month 3".
fn place(months: i64, first: YearMonth, at: [&str; 3], month: usize) -> String {
    let span = if months == 12 { "a year" } else { "a decade" };
    let [family, band, code] = at.map(|of| if of.is_empty() { "all" } else { of });
    format!(
        "{span} from {}, {family}, {band}, {code}, month {}",
        first.iso(),
        month + 1
    )
}

impl Counts {
    /// All counts but zeroes, for a recount.
    pub fn figures(&self) -> impl Iterator<Item = Figure> {
        self.rows.iter().flat_map(|(row, counted)| {
            let figure = |(month, n): (usize, &i64)| {
                let at = [row.family.as_str(), row.age_band, row.code.as_str()];
                (row.what, place(row.months, row.first, at, month), *n)
            };
            counted
                .iter()
                .enumerate()
                .filter(|count| *count.1 != 0)
                .map(figure)
        })
    }
}

/// All that is kept but zeroes, for a recount.
///
/// # Errors
/// What the database says.
pub async fn kept(tx: &mut Tx) -> Result<Vec<Figure>> {
    let mut figures = Vec::new();
    for what in What::ALL {
        let rows: Vec<Kept> = tx
            .query("select * from tally_block where what = $1")
            .bind(what.code())
            .all()
            .await?;
        for row in rows {
            let counted = [
                row.jan, row.feb, row.mar, row.apr, row.may, row.jun, row.jul, row.aug, row.sep, row.oct,
                row.nov, row.dec,
            ];
            let at = [row.family.as_str(), row.age_band.as_str(), row.code.as_str()];
            let some = counted.into_iter().enumerate().filter(|count| count.1 != 0);
            figures.extend(some.map(|(month, n)| {
                let place = place(row.months, row.month, at, month);
                (What::of_code(&row.what).unwrap_or(what), place, n)
            }));
        }
    }
    Ok(figures)
}

impl Row {
    fn bind<'c>(&self, query: Query<'c>) -> Query<'c> {
        query
            .bind(self.what.code())
            .bind(self.family.clone())
            .bind(self.months)
            .bind(self.first)
            .bind(self.age_band)
            .bind(self.code.clone())
    }
}

macro_rules! of_month {
    ($($month:literal)*) => {
        [$((
            concat!("insert into tally_block (what, family, months, month, age_band, code, ", $month, ") values"),
            concat!(
                " on conflict (what, family, months, month, age_band, code) do update set ",
                $month, " = tally_block.", $month, " + excluded.", $month
            ),
        )),*]
    };
}

/// Of each month: where it goes, and that it is added to what is there.
const OF_MONTH: [(&str, &str); 12] =
    of_month!("jan" "feb" "mar" "apr" "may" "jun" "jul" "aug" "sep" "oct" "nov" "dec");
const INTO: &str = "insert into tally_block (what, family, months, month, age_band, code,
    jan, feb, mar, apr, may, jun, jul, aug, sep, oct, nov, dec) values";
const ADD: &str = " on conflict (what, family, months, month, age_band, code) do update set
    jan = tally_block.jan + excluded.jan, feb = tally_block.feb + excluded.feb, mar = tally_block.mar + excluded.mar,
    apr = tally_block.apr + excluded.apr, may = tally_block.may + excluded.may, jun = tally_block.jun + excluded.jun,
    jul = tally_block.jul + excluded.jul, aug = tally_block.aug + excluded.aug, sep = tally_block.sep + excluded.sep,
    oct = tally_block.oct + excluded.oct, nov = tally_block.nov + excluded.nov, dec = tally_block.dec + excluded.dec";

/// Widens the months between which all lies that was counted; mostly they are wide enough, and no row is touched.
async fn reach(tx: &mut Tx, first: YearMonth, last: YearMonth) -> Result<()> {
    tx.query(
        "update counted set
         first_month = case when first_month < $1 then first_month else $1 end,
         last_month = case when last_month > $2 then last_month else $2 end
         where id = 1 and (first_month is null or first_month > $1 or last_month < $2)",
    )
    .bind(first)
    .bind(last)
    .execute()
    .await?;
    Ok(())
}
