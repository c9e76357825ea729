//! An approval is what the customer said to an estimate: who, how, when, and how far the shop may go from now on.

use std::slice::from_ref;

use serde::{Deserialize, Serialize};
use sqlx::FromRow;
use uuid::Uuid;

use crate::act::Act;
use crate::clock::Moment;
use crate::counter::stage::Move;
use crate::db::{Read, Tx, insert_rows};
use crate::error::Result;
use crate::form::Problems;
use crate::money::{LIMIT, Money};

use super::step::{self, Step};

#[derive(Clone, Debug, FromRow)]
pub struct Approval {
    pub id: Uuid,
    pub work_order: Uuid,
    pub decision: String,
    pub said_by: String,
    pub channel: String,
    pub estimate: Money,
    pub authorised_limit: Option<Money>,
    pub at: Moment,
    pub staff: Option<Uuid>,
}

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewApproval {
    /// `approved` or `declined`.
    pub decision: String,
    /// Who said so.
    pub by: String,
    /// `in_person`, `phone`, `email` or `online`.
    pub channel: String,
    /// The new authorised limit, in minor units, if they set one.
    #[serde(default)]
    pub limit: Option<i64>,
}

pub const CHANNELS: [(&str, &str); 4] = [
    ("in_person", "in person"),
    ("phone", "by phone"),
    ("email", "by e-mail"),
    ("online", "online"),
];

/// Records the customer's answer and moves the order accordingly.
///
/// # Errors
/// Problems, a conflict, or what the database says.
pub async fn answer(act: &mut Act, new: &NewApproval) -> Result<Approval> {
    let mut problems = Problems::default();
    let approved = match new.decision.as_str() {
        "approved" => true,
        "declined" => false,
        _ => {
            problems.add("decision", "Say whether they approved or declined.");
            false
        }
    };
    let channel = CHANNELS.iter().find(|channel| channel.0 == new.channel);
    if channel.is_none() {
        problems.add("channel", "Say how: in person, by phone, by e-mail or online.");
    }
    let said_by = problems.needed("by", &new.by, 200, "Write who said so.");
    if new.limit.is_some_and(|limit| !(0..=LIMIT).contains(&limit)) {
        problems.add("limit", "This limit is more than fits, or less than nothing.");
    }
    if new
        .limit
        .is_some_and(|limit| approved && limit < act.order.estimate.0)
    {
        let estimate = act.shop.money(&act.order.estimate);
        problems.add(
            "limit",
            format!("They said yes to {estimate}: the limit cannot be less."),
        );
    }
    problems.settle()?;
    // What they were told; what they did not want is in no sum from then on.
    let told = act.order.estimate;
    if approved {
        act.go(Move::Approve)?;
        act.order.approved_up_to = Some(act.order.estimate);
        act.order.authorised_limit = new.limit.map(Money).or(act.order.authorised_limit);
    } else {
        decline(act).await?;
    }
    let approval = Approval {
        id: act.id(),
        work_order: act.order.id,
        decision: new.decision.clone(),
        said_by,
        channel: new.channel.clone(),
        estimate: told,
        authorised_limit: new.limit.map(Money),
        at: act.now,
        staff: act.who.staff,
    };
    Approval::insert(&mut act.tx, from_ref(&approval)).await?;
    let estimate = act.shop.money(&approval.estimate);
    let how = channel.map_or("", |channel| channel.1);
    let what = if approved { "said yes to" } else { "said no to" };
    act.say(format!("{} {what} {estimate}, {how}", approval.said_by));
    Ok(approval)
}

/// A no before any work sends it back; after some, what is done is played and the rest is left.
///
/// # Errors
/// A conflict, or what the database says.
pub async fn decline(act: &mut Act) -> Result<()> {
    let steps = Step::of(&mut act.tx, act.order.id).await?;
    if steps.iter().any(|step| step.done_at.is_some()) {
        act.go(Move::DeclineRest)?;
    } else {
        act.go(Move::Decline)?;
        act.order.returned_why = Some("declined".into());
    }
    step::decline_rest(act).await
}

/// When the customer said no, if that was their last word.
///
/// # Errors
/// What the database says.
pub async fn last_no(tx: &mut Tx, order: Uuid) -> Result<Option<Moment>> {
    let answers = Approval::of(tx, order).await?;
    let last = answers.last().filter(|last| last.decision == "declined");
    Ok(last.map(|last| last.at))
}

impl Approval {
    /// # Errors
    /// What the database says.
    pub async fn insert(tx: &mut Tx, approvals: &[Approval]) -> Result<()> {
        let into = "insert into approval (id, work_order, decision, said_by, channel, estimate, authorised_limit, at, staff) values";
        insert_rows(tx, into, 9, approvals, |query, approval| {
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
        Ok(())
    }

    #[must_use]
    pub fn channel_words(&self) -> &'static str {
        CHANNELS
            .iter()
            .find(|channel| channel.0 == self.channel)
            .map_or("", |channel| channel.1)
    }

    /// # Errors
    /// What the database says.
    pub async fn of(mut on: impl Read, order: Uuid) -> Result<Vec<Approval>> {
        Ok(on
            .read("select * from approval where work_order = $1 order by at, id")
            .bind(order)
            .all()
            .await?)
    }
}
