//! The cost line by line: each step and part, the tax of each rate, what was paid and what is open, adding up as shown.

use crate::admin::shop::Shop;
use crate::bench::estimate::Line;
use crate::counter::pickup::{Account, METHODS};
use crate::money::Money;
use crate::words::{count, minutes};

use super::paper::in_short;

/// So many payments are shown one by one.
const PAYMENTS: usize = 3;
/// A row's words stay on one line.
const LETTERS: usize = 64;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    Work,
    Tax,
    Total,
    Paid,
    Open,
}

/// One row of the sum.
#[derive(Clone, Debug)]
pub struct Row {
    pub what: String,
    pub amount: Money,
    pub kind: Kind,
    /// Put right without charge, which is said instead of an amount.
    pub free: bool,
}

impl Row {
    fn new(what: impl Into<String>, amount: Money, kind: Kind) -> Row {
        Row {
            what: what.into(),
            amount,
            kind,
            free: false,
        }
    }
}

/// All of it, work and parts on at most `most` rows. First parts go into the row of their step; rows that are
/// left over then are one row with their sum, so that what is shown always adds up.
#[must_use]
pub fn rows(account: &Account, shop: &Shop, most: usize) -> Vec<Row> {
    let done: Vec<&Line> = account
        .lines
        .iter()
        .filter(|line| line.step.done_at.is_some())
        .collect();
    let mut rows: Vec<Row> = done.iter().flat_map(|line| apart(line)).collect();
    if rows.len() > most {
        rows = done.iter().map(|line| together(line)).collect();
    }
    if rows.len() > most {
        let rest = rows.split_off(most.saturating_sub(1));
        let sum = Money(rest.iter().map(|row| row.amount.0).sum());
        let many = i64::try_from(rest.len()).unwrap_or(i64::MAX);
        rows.push(Row::new(
            format!("and {}", count(many, "more step", "more steps")),
            sum,
            Kind::Work,
        ));
    }
    let tax = if shop.tax_name.is_empty() {
        "Tax"
    } else {
        &shop.tax_name
    };
    rows.extend(account.charged.taxes.iter().map(|taxed| {
        let on = shop.money(&taxed.base);
        Row::new(
            format!("{tax} {} on {on}", taxed.rate.show()),
            taxed.tax,
            Kind::Tax,
        )
    }));
    rows.push(Row::new("Together", account.charged.total, Kind::Total));
    rows.extend(paid(account));
    rows.push(match account.owed.0 {
        0 => Row::new("Nothing left to pay", Money::ZERO, Kind::Open),
        ..0 => Row::new("To be given back", account.owed, Kind::Open),
        1.. => Row::new("Still to pay", account.owed, Kind::Open),
    });
    rows
}

/// The last payments each on its row, those before them on one.
fn paid(account: &Account) -> Vec<Row> {
    let (before, last) = account
        .payments
        .split_at(account.payments.len().saturating_sub(PAYMENTS));
    let mut rows = Vec::new();
    if !before.is_empty() {
        let sum: i64 = before.iter().map(|payment| payment.amount.0).sum();
        let many = i64::try_from(before.len()).unwrap_or(i64::MAX);
        rows.push(Row::new(
            format!("Paid before, {}", count(many, "time", "times")),
            Money(-sum),
            Kind::Paid,
        ));
    }
    rows.extend(last.iter().map(|payment| {
        let how = METHODS.iter().find(|method| method.0 == payment.method);
        let how = how.map_or(String::new(), |how| how.1.to_lowercase());
        Row::new(
            format!("Paid {}, {how}", payment.paid_on.with_year()),
            Money(-payment.amount.0),
            Kind::Paid,
        )
    }));
    rows
}

/// A step, and each of its parts on a row of its own.
fn apart(line: &Line) -> Vec<Row> {
    if line.step.free {
        return vec![together(line)];
    }
    let mut rows = Vec::new();
    if line.labour.0 > 0 || line.parts.is_empty() {
        let time = minutes(line.step.planned_minutes);
        rows.push(Row::new(
            format!("{}, {time}", in_short(&line.step.title, LETTERS)),
            line.labour,
            Kind::Work,
        ));
    }
    rows.extend(line.parts.iter().map(|part| {
        let what = if part.quantity == 1 {
            in_short(&part.name, LETTERS)
        } else {
            format!("{} × {}", part.quantity, in_short(&part.name, LETTERS))
        };
        Row::new(what, Money(part.unit_price.0 * part.quantity), Kind::Work)
    }));
    rows
}

/// A step with its parts on one row.
fn together(line: &Line) -> Row {
    let with = if line.parts.is_empty() { "" } else { " with parts" };
    let mut row = Row::new(
        format!("{}{with}", in_short(&line.step.title, LETTERS)),
        line.sum,
        Kind::Work,
    );
    row.free = line.step.free;
    row
}
