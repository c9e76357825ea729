//! All that the visits of one instrument count, so that a correction of their days can count it out and in again.

use std::collections::BTreeMap;

use uuid::Uuid;

use crate::bench::finding::Finding;
use crate::bench::step::{Part, Step};
use crate::clock::Day;
use crate::counter::order::Order;
use crate::counter::pickup::Payment;
use crate::db::Tx;
use crate::error::Result;

use super::history;
use super::home;
use super::recount::{self, Done};
use super::tally::Counts;

/// What they count as the history stands now.
///
/// # Errors
/// What the database says.
pub async fn counted(tx: &mut Tx, instrument: Uuid) -> Result<Counts> {
    let mut counts = Counts::default();
    for stood in history::of_instrument(tx, instrument).await? {
        counts.orders(stood.cell(), &stood.cause, stood.orders);
    }
    let back: Vec<(Day, String, i64)> = tx
        .query(
            "select o.received_on, f.cause, min(f.comeback_days) from finding f join work_order o on o.id = f.work_order
             where f.instrument = $1 and f.certainty = 'confirmed' and not f.withdrawn and f.comeback_days is not null
             group by o.id, o.received_on, f.cause",
        )
        .bind(instrument)
        .all()
        .await?;
    for (day, cause, days) in back {
        counts.comeback(day.month(), &cause, days, 1);
    }
    work(tx, instrument, &mut counts).await?;
    Ok(counts)
}

/// Time and money.
async fn work(tx: &mut Tx, instrument: Uuid, counts: &mut Counts) -> Result<()> {
    let orders: Vec<Order> = tx
        .query("select * from work_order where instrument = $1 order by received_at, id")
        .bind(instrument)
        .all()
        .await?;
    let mut findings: BTreeMap<Uuid, Vec<Finding>> = BTreeMap::new();
    let all = tx.query("select * from finding where instrument = $1");
    for finding in all.bind(instrument).all::<Finding>().await? {
        findings.entry(finding.work_order).or_default().push(finding);
    }
    let mut payments: BTreeMap<Uuid, Vec<Payment>> = BTreeMap::new();
    let all = tx.query(
        "select p.* from payment p join work_order o on o.id = p.work_order where o.instrument = $1 order by p.at, p.id",
    );
    for payment in all.bind(instrument).all::<Payment>().await? {
        let kind = format!("taken_{}", payment.method);
        counts.money(payment.paid_on.month(), &kind, payment.amount, 1);
        payments.entry(payment.work_order).or_default().push(payment);
    }
    let steps: Vec<Step> = tx
        .query(
            "select s.* from repair_step s join work_order o on o.id = s.work_order
             where o.instrument = $1 and s.done_at is not null",
        )
        .bind(instrument)
        .all()
        .await?;
    let parts: Vec<Part> = tx
        .query(
            "select p.* from part p join repair_step s on s.id = p.step join work_order o on o.id = s.work_order
             where o.instrument = $1 and s.done_at is not null",
        )
        .bind(instrument)
        .all()
        .await?;
    for step in &steps {
        if let (Some(day), Some(actual)) = (step.done_on, step.actual_minutes) {
            let job = step.job.as_deref().unwrap_or_default();
            counts.job(day.month(), job, 1, step.planned_minutes, actual);
            home::step_done(counts, step, &parts);
        }
    }
    for order in &orders {
        let own: Vec<Step> = steps
            .iter()
            .filter(|step| step.work_order == order.id)
            .cloned()
            .collect();
        let is_own = |part: &&Part| own.iter().any(|step| step.id == part.step);
        let done = Done {
            parts: parts.iter().filter(is_own).cloned().collect(),
            steps: own,
            findings: findings.remove(&order.id).unwrap_or_default(),
            payments: payments.remove(&order.id).unwrap_or_default(),
        };
        recount::went_home(counts, order, done)?;
    }
    Ok(())
}
