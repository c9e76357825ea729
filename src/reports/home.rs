//! Home is where an order that was handed back is: how long it stood where, what is owed on it, what its causes cost.
//!
//! The definitions of the report on time and money are here and in [`super::work`], and nowhere else:
//!
//! - **Minutes** are those of a step that was done, in the month it was done in, beside those planned for it.
//! - **Days** are nights of the shop's zone between the day an order came somewhere and the day it went on, in the month it
//!   was handed back in, repaired or not. An order counts at a stage only if it ever stood there and both days are known.
//! - **Owed** is what was charged at the pickup less all that was paid for the order; where more was paid, the shop owes it.
//! - The **cost of a cause** is of the steps done that were planned for a confirmed finding of it that stands when the order
//!   is handed back: their actual minutes, their parts, what was charged for both before tax. Where it came back within the
//!   shop's comeback window, as that is now, the minutes and parts of the steps that were put right without charge stand
//!   once more by themselves; what is free for another reason does not.
//! - A **part** is one used on a step that was done, in the month the step was done in, under its name as written but for
//!   capitals and blanks.

use std::collections::BTreeSet;

use crate::bench::estimate::{self, Line};
use crate::bench::finding::Finding;
use crate::bench::step::{Part, Step};
use crate::clock::{Day, YearMonth};
use crate::counter::order::Order;
use crate::counter::pickup::Payment;
use crate::db::Tx;
use crate::error::Result;
use crate::money::Money;
use crate::old_book;

use super::tally::{Counts, What};

/// Where an order stands until it goes home: as it is kept, as it is said.
pub const STAGES: [(&str, &str); 5] = [
    ("first", "Until the first look"),
    ("answer", "Waiting for the customer"),
    ("bench", "On the bench"),
    ("ready", "Ready, until fetched"),
    ("whole", "From intake to pickup"),
];

/// Who owes.
pub const CUSTOMERS: &str = "customers";
pub const SHOP: &str = "shop";

/// Counts a step that was done, with its parts.
pub fn step_done(counts: &mut Counts, step: &Step, parts: &[Part]) {
    let (Some(day), Some(actual)) = (step.done_on, step.actual_minutes) else {
        return;
    };
    let code = minutes_code(
        step.job.as_deref().unwrap_or_default(),
        step.planned_minutes,
        actual,
    );
    counts.by_code(What::Minutes, day.month(), &code, 1);
    for part in parts
        .iter()
        .filter(|part| part.step == step.id && is_stock(&part.name))
    {
        counts.by_code(What::Parts, day.month(), &part_name(&part.name), part.quantity);
    }
}

/// "new_bridge 120 135"; without a job " 30 40".
#[must_use]
pub fn minutes_code(job: &str, planned: i64, actual: i64) -> String {
    format!("{job} {planned} {actual}")
}

/// What an old book has as charged is no part that one could buy.
#[must_use]
pub fn is_stock(name: &str) -> bool {
    name != old_book::CHARGED
}

/// As it stands in small letters with single blanks: however it was typed, it is one part.
#[must_use]
pub fn part_name(name: &str) -> String {
    let words: Vec<String> = name.split_whitespace().map(str::to_lowercase).collect();
    words.join(" ")
}

/// Counts an order that is handed back: its days, and what its confirmed causes cost.
pub fn handed_back(counts: &mut Counts, order: &Order, findings: &[Finding], lines: &[Line]) {
    let Some(day) = order.collected_on else {
        return;
    };
    let whole = Some((day.0 - order.received_on.0).max(0));
    let days = [
        order.days_first,
        order.days_answer,
        order.days_bench,
        order.days_ready,
        whole,
    ];
    for ((stage, _), days) in STAGES.iter().zip(days) {
        if let Some(days) = days {
            counts.by_code(What::Days, day.month(), &format!("{stage} {days}"), 1);
        }
    }
    let standing: Vec<&Finding> = findings.iter().filter(|finding| finding.is_confirmed()).collect();
    for finding in &standing {
        cost(counts, day.month(), finding, lines, 1);
    }
    let causes: BTreeSet<&str> = standing.iter().map(|finding| finding.cause.as_str()).collect();
    for cause in causes {
        cost_order(counts, day.month(), cause, 1);
    }
}

/// What was put right without charge costs the shop.
const FREE: [&str; 2] = ["free_minutes", "free_parts"];

/// Counts an order on which a cause stands in or out.
pub fn cost_order(counts: &mut Counts, month: YearMonth, cause: &str, orders: i64) {
    counts.by_code(What::Cost, month, &format!("{cause} orders"), orders);
}

/// Counts what a finding cost in, or out again: in a month; of an order with the lines that were done.
pub fn cost(counts: &mut Counts, month: YearMonth, finding: &Finding, lines: &[Line], way: i64) {
    let (mut sums, mut free) = ([0; 3], [0; 2]);
    let done = lines.iter().filter(|line| line.step.done_at.is_some());
    for line in done.filter(|line| line.step.finding == Some(finding.id)) {
        let minutes = line.step.actual_minutes.unwrap_or_default();
        let parts = parts_sum(&line.parts);
        sums[0] += minutes;
        sums[1] += parts;
        if line.step.free {
            free[0] += minutes;
            free[1] += parts;
        } else {
            sums[2] += line.sum.0;
        }
    }
    let code = |kind: &str| format!("{} {kind}", finding.cause);
    for (kind, sum) in ["minutes", "parts", "charged"].into_iter().zip(sums) {
        counts.by_code(What::Cost, month, &code(kind), way * sum);
    }
    let Some(days) = finding.comeback_days else { return };
    for (kind, sum) in FREE.into_iter().zip(free) {
        counts.within_window(What::Cost, month, &code(kind), days, way * sum);
    }
}

/// Of confirmed findings that stand on orders handed back, the steps put right without charge: their minutes, or their parts.
macro_rules! free {
    ($sum:literal, $join:literal, $which:literal) => {
        concat!(
            "select o.collected_on, f.cause, cast(sum(",
            $sum,
            ") as bigint) from finding f cross join work_order o cross join repair_step s",
            $join,
            " where o.id = f.work_order and s.work_order = f.work_order and s.finding = f.id and s.free
             and s.done_at is not null and o.collected_on is not null and f.certainty = 'confirmed' and not f.withdrawn and ",
            $which,
            " group by 1, 2 order by 1, 2"
        )
    };
}

/// Which of them, with two numbers; minutes and parts of each.
pub type Free = [&'static str; 2];

macro_rules! both {
    ($join:literal, $parts:literal, $which:literal) => {
        [
            free!("coalesce(s.actual_minutes, 0)", $join, $which),
            free!("p.unit_price * p.quantity", $parts, $which),
        ]
    };
}

/// Back after more days than one number, and not more than another.
pub const BACK_WITHIN: Free = both!(
    "",
    " join part p on p.step = s.id",
    "f.comeback_days > $1 and f.comeback_days <= $2"
);
/// Known to be back since a moment ago, and not counted as such: after more days than one number, and not more than another.
pub const BACK_ONLY_NOW: Free = both!(
    " join work_order e on e.id = f.comeback_of",
    " join part p on p.step = s.id join work_order e on e.id = f.comeback_of",
    "f.comeback_days is null and o.received_on - e.collected_on > $1 and o.received_on - e.collected_on <= $2"
);

/// Counts what was put right without charge in or out, where it becomes a comeback or is none any more.
///
/// # Errors
/// What the database says.
pub async fn free_anew(
    tx: &mut Tx,
    counts: &mut Counts,
    of: Free,
    (over, to): (i64, i64),
    way: i64,
) -> Result<()> {
    for (sql, kind) in of.into_iter().zip(FREE) {
        let sums: Vec<(Day, String, i64)> = tx.query(sql).bind(over).bind(to).all().await?;
        for (day, cause, sum) in sums {
            counts.by_code(What::Cost, day.month(), &format!("{cause} {kind}"), way * sum);
        }
    }
    Ok(())
}

/// Also of what is free, and so stands on no bill that would have refused it.
fn parts_sum(parts: &[Part]) -> i64 {
    parts.iter().map(|part| part.unit_price.0 * part.quantity).sum()
}

/// Counts what is owed from a month on: the difference between what was owed before and what is now.
pub fn owed(counts: &mut Counts, month: YearMonth, before: Money, now: Money) {
    for (who, sign) in [(CUSTOMERS, 1), (SHOP, -1)] {
        let part = |money: Money| (money.0 * sign).max(0);
        counts.by_code(What::Owed, month, who, part(now) - part(before));
    }
}

/// Counts what is owed on an order that was handed back, from the pickup on and as it was paid later; answers what is owed now.
///
/// # Errors
/// When an amount is larger than money here can be.
pub fn owed_over_time(
    counts: &mut Counts,
    order: &Order,
    lines: &[Line],
    payments: &[Payment],
) -> Result<Money> {
    let (Some(at), Some(day)) = (order.collected_at, order.collected_on) else {
        return Ok(Money::ZERO);
    };
    let charged = estimate::bill(lines.iter().filter(|line| line.step.done_at.is_some()))?.total;
    let (by_then, later): (Vec<&Payment>, Vec<&Payment>) =
        payments.iter().partition(|payment| payment.at <= at);
    let mut left = Money(charged.0 - by_then.iter().map(|payment| payment.amount.0).sum::<i64>());
    owed(counts, day.month(), Money::ZERO, left);
    for payment in later {
        let before = left;
        left = Money(before.0 - payment.amount.0);
        owed(counts, payment.paid_on.month(), before, left);
    }
    Ok(left)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_is_the_same_however_it_is_typed() {
        for name in ["E string, steel", " e  String,\u{a0}steel ", "E STRING,\tSTEEL"] {
            assert_eq!(part_name(name), "e string, steel");
        }
        assert_ne!(part_name("E string"), part_name("Estring"));
    }
}
