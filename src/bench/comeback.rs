//! A comeback is a cause that was repaired here before: on which visit, and how many days before it came in again.
//!
//! A finding says so when it is made ([`super::finding`]); when the days of a visit are put right it is told anew.

use std::collections::BTreeMap;

use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::{Day, Moment};
use crate::db::Tx;
use crate::error::Result;

use super::finding::Finding;

#[derive(FromRow)]
struct Visit {
    id: Uuid,
    received_at: Moment,
    received_on: Day,
    collected_on: Option<Day>,
}

#[derive(FromRow)]
struct Mended {
    work_order: Uuid,
    cause: String,
    collected_on: Day,
}

/// A cause that came back on an order, after other days than was written.
#[derive(Clone, Debug)]
pub struct Anew {
    pub order: Uuid,
    /// By name.
    pub cause: String,
    pub days: i64,
}

/// Tells the comebacks anew that have to do with a visit of an instrument: its own, and those of what was repaired on it.
/// What was repaired is as the days have it now. A link stays where nothing nearer is known; its days are counted anew.
///
/// # Errors
/// What the database says.
pub async fn again(tx: &mut Tx, of: Uuid, instrument: Uuid) -> Result<Vec<Anew>> {
    let visits: Vec<Visit> = tx
        .query("select id, received_at, received_on, collected_on from work_order where instrument = $1")
        .bind(instrument)
        .all()
        .await?;
    let visits: BTreeMap<Uuid, Visit> = visits.into_iter().map(|visit| (visit.id, visit)).collect();
    let mended: Vec<Mended> = tx
        .query("select work_order, cause, collected_on from repaired where instrument = $1")
        .bind(instrument)
        .all()
        .await?;
    let findings: Vec<Finding> = tx
        .query("select * from finding where instrument = $1 and certainty = 'confirmed' order by at, id")
        .bind(instrument)
        .all()
        .await?;
    let mut all: Vec<Anew> = Vec::new();
    for finding in findings {
        let Some(visit) = visits.get(&finding.work_order) else {
            continue;
        };
        let nearest = nearest(&mended, &visits, (&finding, visit));
        if visit.id != of && finding.comeback_of != Some(of) && nearest != Some(of) {
            continue;
        }
        let link = nearest.or(finding.comeback_of);
        let collected = link.and_then(|link| visits.get(&link)?.collected_on);
        let days = collected.map(|collected| visit.received_on.0 - collected.0);
        if (link, days) == (finding.comeback_of, finding.comeback_days) {
            continue;
        }
        tx.query("update finding set comeback_of = $2, comeback_days = $3 where id = $1")
            .bind(finding.id)
            .bind(link)
            .bind(days)
            .execute()
            .await?;
        let told = |anew: &Anew| anew.order == visit.id && anew.cause == finding.cause;
        if let Some(days) = days.filter(|_| finding.is_confirmed() && !all.iter().any(told)) {
            all.push(Anew {
                order: visit.id,
                cause: finding.cause,
                days,
            });
        }
    }
    for anew in &mut all {
        let name: Option<(String,)> = tx
            .query("select name from cause where code = $1")
            .bind(anew.cause.clone())
            .optional()
            .await?;
        anew.cause = name.map_or(anew.cause.clone(), |name| name.0);
    }
    Ok(all)
}

/// The last visit before this one on which the cause of a finding that stands was repaired.
fn nearest(
    mended: &[Mended],
    visits: &BTreeMap<Uuid, Visit>,
    (finding, visit): (&Finding, &Visit),
) -> Option<Uuid> {
    let before = |mended: &&Mended| {
        visits
            .get(&mended.work_order)
            .is_some_and(|other| (other.received_at, other.id) < (visit.received_at, visit.id))
    };
    let mended = mended
        .iter()
        .filter(|mended| mended.cause == finding.cause && mended.collected_on <= visit.received_on)
        .filter(before);
    let last = mended.max_by_key(|mended| (mended.collected_on, mended.work_order));
    last.filter(|_| finding.is_confirmed())
        .map(|mended| mended.work_order)
}
