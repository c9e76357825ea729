//! A recount goes through the history once more and compares it with a count that is kept; only `purfle check` does that.
//!
//! Each count is recounted beside the definitions it is kept by: those of the reports here, what was taught and scored in
//! [`crate::diagnosis::recount`]. Another count is one more entry in [`all`].

use std::collections::BTreeMap;

use uuid::Uuid;

use crate::bench::estimate;
use crate::bench::finding::Finding;
use crate::bench::step::{Part, Step};
use crate::clock::Day;
use crate::counter::order::Order;
use crate::counter::pickup::Payment;
use crate::db::Tx;
use crate::error::Result;
use crate::money::Money;

use super::history;
use super::home;
use super::repaired;
use super::rules::Rules;
use super::tally::{Counts, What};
use super::tally_row;

/// Counts by their keys in words; keys with nothing but zeroes are as if they were not there.
pub type Counted = BTreeMap<String, [i64; 3]>;

/// So many orders are read at once.
pub const PAGE: i64 = 2000;

/// A count that is kept, beside the same counted anew.
#[derive(Clone, Debug)]
pub struct Recount {
    /// What is counted, as said to the owner.
    pub words: &'static str,
    /// So many figures were compared.
    pub figures: usize,
    pub amiss: Vec<Amiss>,
}

/// A figure that is not what the history says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Amiss {
    pub key: String,
    pub kept: [i64; 3],
    pub counted: [i64; 3],
}

impl Recount {
    #[must_use]
    pub fn new(words: &'static str, mut kept: Counted, mut counted: Counted) -> Recount {
        for counts in [&mut kept, &mut counted] {
            counts.retain(|_, figures| *figures != [0; 3]);
        }
        let mut keys: Vec<&String> = kept.keys().chain(counted.keys()).collect();
        keys.sort_unstable();
        keys.dedup();
        let of = |counts: &Counted, key: &String| counts.get(key).copied().unwrap_or_default();
        let both = keys.iter().map(|key| Amiss {
            key: (*key).clone(),
            kept: of(&kept, key),
            counted: of(&counted, key),
        });
        Recount {
            words,
            figures: keys.len(),
            amiss: both.filter(|both| both.kept != both.counted).collect(),
        }
    }
}

impl Amiss {
    /// "2026-01 violin 20_to_79 nut_loose: 4 are kept, 5 were counted".
    #[must_use]
    pub fn said(&self) -> String {
        let said = |figures: [i64; 3]| {
            let told = figures.iter().rposition(|figure| *figure != 0).unwrap_or(0);
            let words = figures[..=told].iter().map(i64::to_string);
            words.collect::<Vec<_>>().join(" / ")
        };
        let (kept, counted) = (said(self.kept), said(self.counted));
        format!("{}: {kept} kept, {counted} counted", self.key)
    }
}

/// Adds to a count.
pub fn add(counts: &mut Counted, key: String, figures: [i64; 3]) {
    let sums = counts.entry(key).or_default();
    for (sum, figure) in sums.iter_mut().zip(figures) {
        *sum += figure;
    }
}

/// The counts of the reports, counted anew.
///
/// # Errors
/// What the database says.
pub async fn all(tx: &mut Tx) -> Result<Vec<Recount>> {
    let mut counts = Counts::default();
    orders(tx, &mut counts).await?;
    comebacks(tx, &mut counts).await?;
    let owed = work(tx, &mut counts).await?;
    let rules = Rules::read(&mut *tx).await?;
    let (mut all, mut counted) = (BTreeMap::new(), BTreeMap::new());
    for (figures, of) in [
        (tally_row::kept(tx, &rules).await?, &mut all),
        (counts.figures(&rules), &mut counted),
    ] {
        for (what, key, n) in figures {
            add(of.entry(what).or_insert_with(Counted::new), key, [n, 0, 0]);
        }
    }
    let recount = |what: What| {
        let of = |counts: &mut BTreeMap<What, Counted>| counts.remove(&what).unwrap_or_default();
        Recount::new(words(what, &rules), of(&mut all), of(&mut counted))
    };
    // Where no bands are to come, nothing by age stands in the place for them.
    let is_empty =
        |what: &What| *what == What::OrdersOther && rules.place() != *what && rules.next().is_none();
    let told = What::ALL.into_iter().filter(|what| !is_empty(what));
    let mut recounts: Vec<Recount> = told.map(recount).collect();
    recounts.push(repaired::recount(tx).await?);
    recounts.push(still_owed(tx, &owed).await?);
    recounts.push(days_add_up(tx).await?);
    Ok(recounts)
}

/// What is counted, as said to the owner.
fn words(what: What, rules: &Rules) -> &'static str {
    match what {
        What::Orders | What::OrdersOther if what == rules.place() => {
            "orders inspected and confirmed, by month, family, size, account, age and cause"
        }
        What::Orders | What::OrdersOther if rules.next().is_some() => {
            "the same by the bands of age to come, as far as they are counted"
        }
        What::Orders | What::OrdersOther => "the same of all ages together",
        What::Comebacks => "comebacks, by month and cause",
        What::Steps => "steps done, by month and job",
        What::Planned => "minutes planned for them",
        What::Actual => "minutes they took",
        What::Amount => "money charged and taken, by month and kind",
        What::Times => "pickups that charged it, payments that took it",
        What::Minutes => "steps done, by what was planned and what they took",
        What::Days => "orders handed back, by the days they stood where",
        What::Owed => "what was owed, by month",
        What::Cost => "what causes cost, by month and cause",
        What::Parts => "parts used, by month and name",
    }
}

/// Inspected, and confirmed by cause: as [`super::tally::Cell`] says.
async fn orders(tx: &mut Tx, counts: &mut Counts) -> Result<()> {
    for (from, to) in history::years(tx).await? {
        for stood in history::of_days(tx, from, to).await? {
            counts.orders(stood.cell(), &stood.cause, stood.orders);
        }
    }
    Ok(())
}

/// Confirmed causes that came back within the window that they are counted by.
async fn comebacks(tx: &mut Tx, counts: &mut Counts) -> Result<()> {
    let back: Vec<(Day, String, i64)> = tx
        .query(
            "select received_on, cause, count(*) from (select distinct o.id, o.received_on, f.cause from finding f
             join work_order o on o.id = f.work_order where f.certainty = 'confirmed' and not f.withdrawn
             and f.comeback_days <= (select comeback_window from counted where id = 1)) c group by 1, 2",
        )
        .all()
        .await?;
    for (day, cause, orders) in back {
        counts.by_code(What::Comebacks, day.month(), &cause, orders);
    }
    Ok(())
}

/// Time and money alone, counted anew; and what is owed on each order on which anything is.
///
/// # Errors
/// What the database says.
pub async fn work(tx: &mut Tx, counts: &mut Counts) -> Result<Vec<(Uuid, Money)>> {
    minutes(tx, counts).await?;
    parts(tx, counts).await?;
    money(tx, counts).await
}

async fn minutes(tx: &mut Tx, counts: &mut Counts) -> Result<()> {
    let done: Vec<(Day, String, i64, i64, i64)> = tx
        .query(
            "select done_on, coalesce(job, '') as job, planned_minutes, actual_minutes, count(*) from repair_step
             where done_on is not null and actual_minutes is not null group by 1, 2, 3, 4",
        )
        .all()
        .await?;
    for (day, job, planned, actual, steps) in done {
        let code = home::minutes_code(&job, planned, actual);
        counts.by_code(What::Minutes, day.month(), &code, steps);
        counts.job(day.month(), &job, steps, planned * steps, actual * steps);
    }
    Ok(())
}

async fn parts(tx: &mut Tx, counts: &mut Counts) -> Result<()> {
    let used: Vec<(Day, String, i64)> = tx
        .query(
            "select s.done_on, p.name, cast(sum(p.quantity) as bigint) from part p join repair_step s on s.id = p.step
             where s.done_on is not null and s.actual_minutes is not null group by 1, 2",
        )
        .all()
        .await?;
    for (day, name, quantity) in used {
        if home::is_stock(&name) {
            counts.by_code(What::Parts, day.month(), &home::part_name(&name), quantity);
        }
    }
    Ok(())
}

/// What is kept as owed on each order beside the same worked out anew.
async fn still_owed(tx: &mut Tx, owed: &[(Uuid, Money)]) -> Result<Recount> {
    let kept: Vec<(Uuid, Money)> = tx
        .query("select id, owed from work_order where owed <> 0")
        .all()
        .await?;
    let counted = |owed: &[(Uuid, Money)]| -> Counted {
        owed.iter()
            .map(|(order, owed)| (order.to_string(), [owed.0, 0, 0]))
            .collect()
    };
    Ok(Recount::new(
        "what is owed on each order",
        counted(&kept),
        counted(owed),
    ))
}

/// The days an order stood where beside those from intake to pickup, where all are known.
async fn days_add_up(tx: &mut Tx) -> Result<Recount> {
    let days: Vec<(Uuid, i64, i64)> = tx
        .query(
            "select id, coalesce(days_first, 0) + coalesce(days_answer, 0) + coalesce(days_bench, 0) + coalesce(days_ready, 0),
             collected_on - received_on from work_order where collected_on is not null and stage_on is not null",
        )
        .all()
        .await?;
    let counted = |of: fn(&(Uuid, i64, i64)) -> i64| -> Counted {
        days.iter()
            .map(|row| (row.0.to_string(), [of(row), 0, 0]))
            .collect()
    };
    Ok(Recount::new(
        "days in the shop, by order",
        counted(|row| row.1),
        counted(|row| row.2),
    ))
}

/// What was taken by each payment, and charged at each pickup for the steps that were done; with what stands at the pickup.
async fn money(tx: &mut Tx, counts: &mut Counts) -> Result<Vec<(Uuid, Money)>> {
    let mut owed = Vec::new();
    let paid: Vec<(Day, String, i64, i64)> = tx
        .query("select paid_on, method, count(*), cast(sum(amount) as bigint) from payment group by 1, 2")
        .all()
        .await?;
    for (day, method, payments, amount) in paid {
        counts.money(day.month(), &format!("taken_{method}"), Money(amount), payments);
    }
    let mut after = Uuid::nil();
    loop {
        let page: Vec<Order> = tx
            .query(
                "select * from work_order where id > $1 and collected_on is not null
                 order by id limit $2",
            )
            .bind(after)
            .bind(PAGE)
            .all()
            .await?;
        let Some(last) = page.last().map(|order| order.id) else {
            return Ok(owed);
        };
        charged(tx, (after, last), &page, counts, &mut owed).await?;
        after = last;
    }
}

async fn charged(
    tx: &mut Tx,
    (after, last): (Uuid, Uuid),
    page: &[Order],
    counts: &mut Counts,
    owed: &mut Vec<(Uuid, Money)>,
) -> Result<()> {
    let mut findings = BTreeMap::<Uuid, Vec<Finding>>::new();
    let of_page = tx.query("select * from finding where work_order > $1 and work_order <= $2");
    for finding in of_page.bind(after).bind(last).all::<Finding>().await? {
        findings.entry(finding.work_order).or_default().push(finding);
    }
    let mut payments = BTreeMap::<Uuid, Vec<Payment>>::new();
    let of_page =
        tx.query("select * from payment where work_order > $1 and work_order <= $2 order by at, id");
    for payment in of_page.bind(after).bind(last).all::<Payment>().await? {
        payments.entry(payment.work_order).or_default().push(payment);
    }
    let steps: Vec<Step> = tx
        .query("select * from repair_step where work_order > $1 and work_order <= $2 and done_at is not null")
        .bind(after)
        .bind(last)
        .all()
        .await?;
    let parts: Vec<Part> = tx
        .query(
            "select p.* from part p join repair_step s on s.id = p.step
             where s.work_order > $1 and s.work_order <= $2 and s.done_at is not null",
        )
        .bind(after)
        .bind(last)
        .all()
        .await?;
    let mut of_step: BTreeMap<Uuid, Vec<Part>> = BTreeMap::new();
    for part in parts {
        of_step.entry(part.step).or_default().push(part);
    }
    let mut of_order: BTreeMap<Uuid, (Vec<Step>, Vec<Part>)> = BTreeMap::new();
    for step in steps {
        let order = of_order.entry(step.work_order).or_default();
        order.1.extend(of_step.remove(&step.id).unwrap_or_default());
        order.0.push(step);
    }
    for order in page {
        let (steps, parts) = of_order.remove(&order.id).unwrap_or_default();
        let done = Done {
            steps,
            parts,
            findings: findings.remove(&order.id).unwrap_or_default(),
            payments: payments.remove(&order.id).unwrap_or_default(),
        };
        let left = went_home(counts, order, done)?;
        owed.extend((left != Money::ZERO).then_some((order.id, left)));
    }
    Ok(())
}

/// What was done on an order.
#[derive(Default)]
pub struct Done {
    /// Those that were done alone.
    pub steps: Vec<Step>,
    pub parts: Vec<Part>,
    pub findings: Vec<Finding>,
    pub payments: Vec<Payment>,
}

/// Counts an order that was handed back: its days, its causes, what was charged, and what was owed; answers what still is.
///
/// # Errors
/// When an amount is larger than money here can be.
pub fn went_home(counts: &mut Counts, order: &Order, done: Done) -> Result<Money> {
    let Some(day) = order.collected_on else {
        return Ok(Money::ZERO);
    };
    let lines = estimate::lines(done.steps, &done.parts)?;
    let bill = estimate::bill(&lines)?;
    home::handed_back(counts, order, &done.findings, &lines);
    let left = home::owed_over_time(counts, order, &lines, &done.payments)?;
    for (kind, amount) in [("labour", bill.labour), ("parts", bill.parts), ("tax", bill.tax)] {
        counts.money(day.month(), &format!("charged_{kind}"), amount, 1);
    }
    Ok(left)
}
