//! A finding is a cause that was confirmed on an order, or is suspected, with its place.

use std::slice::from_ref;

use serde::{Deserialize, Serialize};
use sqlx::FromRow;
use uuid::Uuid;

use crate::act::Act;
use crate::catalogue::cause::Cause;
use crate::clock::{Day, Moment};
use crate::counter::stage::Move;
use crate::db::{Read, Tx, insert_rows};
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::reports::home;
use crate::reports::repaired;
use crate::staff::Roles;

use super::check::{inspected, usable_cause};
use super::step;

#[derive(Clone, Debug, FromRow)]
pub struct Finding {
    pub id: Uuid,
    pub work_order: Uuid,
    pub instrument: Uuid,
    pub cause: String,
    pub certainty: String,
    pub place: String,
    pub note: String,
    pub comeback_of: Option<Uuid>,
    pub comeback_days: Option<i64>,
    pub withdrawn: bool,
    pub at: Moment,
    pub found_on: Day,
    pub staff: Option<Uuid>,
}

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewFinding {
    pub cause: String,
    /// `confirmed` or `suspected`.
    pub certainty: String,
    #[serde(default)]
    pub place: String,
    #[serde(default)]
    pub note: String,
}

/// Who may say what it was: the bench of every cause, the counter of one that is looked for at the counter.
fn may_say(roles: Roles, cause: &Cause) -> bool {
    roles.bench() || (roles.counter() && cause.is_at_counter())
}

/// Whether whoever acts may confirm this cause.
///
/// # Errors
/// What the database says.
pub async fn may_confirm(act: &mut Act, cause: &str) -> Result<bool> {
    let cause = Cause::get(&mut act.tx, cause).await?;
    Ok(may_say(act.who.roles, &cause))
}

/// Writes a finding on the order, and whether the same cause came back.
///
/// # Errors
/// Problems, a conflict, or what the database says.
pub async fn log(act: &mut Act, new: &NewFinding) -> Result<Finding> {
    keep(act, new, false).await
}

/// Writes that a cause is suspected, for somebody who saw it and may not say that it is the one.
///
/// # Errors
/// As [`log`].
pub async fn suspect(act: &mut Act, cause: &str) -> Result<Finding> {
    let suspected = NewFinding {
        cause: cause.to_owned(),
        certainty: "suspected".into(),
        ..NewFinding::default()
    };
    keep(act, &suspected, true).await
}

async fn keep(act: &mut Act, new: &NewFinding, only_suspects: bool) -> Result<Finding> {
    let mut problems = Problems::default();
    let cause = usable_cause(act, &mut problems, "cause", &new.cause).await?;
    let confirmed = match new.certainty.as_str() {
        "confirmed" => true,
        "suspected" => false,
        _ => {
            problems.add("certainty", "Say whether it is confirmed or suspected.");
            false
        }
    };
    let place = problems.line("place", &new.place, 200);
    let note = problems.text("note", &new.note, 2000);
    problems.settle()?;
    if !only_suspects && !cause.as_ref().is_some_and(|cause| may_say(act.who.roles, cause)) {
        return Err(Error::NotAllowed);
    }
    act.go(Move::Look)?;
    inspected(act).await?;
    let standing = standing(act, &new.cause).await?;
    let earlier = if confirmed {
        let others = (act.order.received_on, act.order.id);
        repaired::last(&mut act.tx, act.order.instrument, &new.cause, others).await?
    } else {
        None
    };
    let finding = Finding {
        id: act.id(),
        work_order: act.order.id,
        instrument: act.order.instrument,
        cause: new.cause.clone(),
        certainty: new.certainty.clone(),
        place,
        note,
        comeback_of: earlier.as_ref().map(|earlier| earlier.work_order),
        comeback_days: earlier
            .as_ref()
            .map(|earlier| act.order.received_on.0 - earlier.collected_on.0),
        withdrawn: false,
        at: act.now,
        found_on: act.today,
        staff: act.who.staff,
    };
    Finding::insert(&mut act.tx, from_ref(&finding)).await?;
    // Found once more after it still buzzed, it is what was heard after all, though it counts but once.
    act.teaches |= confirmed;
    if confirmed && standing == 0 {
        finding.tally(act, 1).await?;
        if earlier.is_some() {
            act.repairs.and_of(&new.cause);
        }
    }
    let name = cause.map_or(String::new(), |cause| cause.name);
    act.say(if confirmed {
        format!("Found: {name}")
    } else {
        format!("Suspected: {name}")
    });
    if let (Some(days), Some(_)) = (finding.comeback_days, finding.comeback_of) {
        act.say(format!(
            "This was repaired here and collected {days} days before it came in again"
        ));
    }
    Ok(finding)
}

/// Takes a finding back: it stays in the story, and is counted no more.
///
/// # Errors
/// Not found, a conflict, or what the database says.
pub async fn withdraw(act: &mut Act, id: Uuid) -> Result<()> {
    let finding: Option<Finding> = act
        .tx
        .query("select * from finding where id = $1 and work_order = $2")
        .bind(id)
        .bind(act.order.id)
        .optional()
        .await?;
    let finding = finding.ok_or(Error::NotFound)?;
    if finding.withdrawn {
        return Err(Error::conflict("This finding was taken back already."));
    }
    let cause = Cause::get(&mut act.tx, &finding.cause).await?;
    if !may_say(act.who.roles, &cause) {
        return Err(Error::NotAllowed);
    }
    act.tx
        .query("update finding set withdrawn = true where id = $1")
        .bind(id)
        .execute()
        .await?;
    if finding.certainty == "confirmed" {
        act.repairs.and_of(&finding.cause);
        act.teaches = true;
        if standing(act, &finding.cause).await? == 0 {
            finding.tally(act, -1).await?;
        }
        uncost(act, &finding).await?;
    }
    act.say(format!("Taken back: {}", cause.name));
    Ok(())
}

/// What a finding cost is its cause's no more, should the instrument be home already.
async fn uncost(act: &mut Act, finding: &Finding) -> Result<()> {
    let Some(day) = act.order.collected_on else {
        return Ok(());
    };
    let lines = step::of_order(&mut act.tx, act.order.id).await?;
    home::cost(&mut act.counts, day.month(), finding, &lines, -1);
    if standing(act, &finding.cause).await? == 0 {
        home::cost_order(&mut act.counts, day.month(), &finding.cause, -1);
    }
    Ok(())
}

/// How many confirmed findings of this cause stand on the order.
///
/// # Errors
/// What the database says.
pub async fn standing(act: &mut Act, cause: &str) -> Result<i64> {
    let (count,): (i64,) = act
        .tx
        .query(
            "select count(*) from finding where work_order = $1 and cause = $2 and certainty = 'confirmed'
             and not withdrawn",
        )
        .bind(act.order.id)
        .bind(cause.to_owned())
        .one()
        .await?;
    Ok(count)
}

impl Finding {
    /// # Errors
    /// What the database says.
    pub async fn insert(tx: &mut Tx, findings: &[Finding]) -> Result<()> {
        let into =
            "insert into finding (id, work_order, instrument, cause, certainty, place, note, comeback_of,
            comeback_days, withdrawn, at, found_on, staff) values";
        insert_rows(tx, into, 13, findings, |query, finding| {
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
        Ok(())
    }

    /// Counts the order in or out for this cause, and as back if it is.
    async fn tally(&self, act: &mut Act, orders: i64) -> Result<()> {
        act.count(&self.cause, orders).await?;
        if let Some(days) = self.comeback_days {
            let month = act.order.received_on.month();
            act.counts.comeback(month, &self.cause, days, orders);
        }
        Ok(())
    }

    #[must_use]
    pub fn is_confirmed(&self) -> bool {
        self.certainty == "confirmed" && !self.withdrawn
    }

    /// # Errors
    /// What the database says.
    pub async fn of(mut on: impl Read, order: Uuid) -> Result<Vec<Finding>> {
        Ok(on
            .read("select * from finding where work_order = $1 order by at, id")
            .bind(order)
            .all()
            .await?)
    }
}
