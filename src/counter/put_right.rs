//! Put right here: what was found at the counter is mended there, played, and goes home again, all in one act.

use serde::{Deserialize, Serialize};

use crate::act::Act;
use crate::bench::approval::{self, NewApproval};
use crate::bench::finding::Finding;
use crate::bench::play_test::{self, NewPlayTest};
use crate::bench::step::{self, NewStep, Step};
use crate::catalogue::cause::Cause;
use crate::db::Read;
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::money::{LIMIT, Money};
use crate::staff::Roles;

use super::customer::Customer;
use super::order::Order;
use super::pickup::{self, Account, METHODS, NewPickup};
use super::stage::Stage;

/// What takes longer is planned as work.
const LONGEST: i64 = 60;

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPutRight {
    /// What was done, in words.
    pub done: String,
    /// From 1 to 60; what takes longer is planned as work.
    pub minutes: i64,
    /// Before tax, in minor units; left out: what the shop takes for a fix at the counter.
    #[serde(default)]
    pub cost: Option<i64>,
    /// `quiet`, `still_buzzes` or `changed`; unless it is quiet it stays in the shop, to be looked at on.
    pub result: String,
    /// Who takes it home, and said yes to what it costs; needed if it is quiet.
    #[serde(default)]
    pub collected_by: String,
    /// What is paid now, in minor units. Left out: all of it, if a method is said.
    #[serde(default)]
    pub paid: Option<i64>,
    /// `cash`, `card`, `transfer` or `account`.
    #[serde(default)]
    pub method: Option<String>,
}

/// What was found at the counter on an order, and can be put right there.
///
/// # Errors
/// A conflict that says why nothing can, or what the database says.
pub async fn found_here(mut on: impl Read, order: &Order, roles: Roles) -> Result<(Finding, Cause)> {
    let refuse = |why: &str| Err(Error::Conflict(format!("It cannot be put right here now. {why}")));
    match order.stage {
        Stage::Received | Stage::Inspecting => {}
        _ if order.is_handed_back() => return refuse("It went home already."),
        Stage::Ready => return refuse("It is ready: hand it back."),
        Stage::Returned => return refuse("It goes back unrepaired. Take it up again first."),
        _ => return refuse("Work is planned on it already."),
    }
    let findings = Finding::of(&mut on, order.id).await?;
    let steps = Step::of(&mut on, order.id).await?;
    if steps.iter().any(Step::waits) {
        return refuse("There are steps that are not done. Do them or drop them first.");
    }
    let unmended = |finding: &&Finding| {
        finding.is_confirmed() && !steps.iter().any(|step| step.finding == Some(finding.id))
    };
    let mut here = None;
    for finding in findings.iter().filter(unmended) {
        let cause = Cause::get(&mut on, &finding.cause).await?;
        if !cause.is_at_counter() {
            return refuse(&format!("{} was found too: that is for the bench.", cause.name));
        }
        if cause.is_for_luthier() && !roles.bench() {
            return refuse(&format!("{}: the luthier sees it first.", cause.name));
        }
        here = Some((finding.clone(), cause));
    }
    here.map_or_else(
        || refuse("Nothing was found that is looked for at the counter."),
        Ok,
    )
}

/// Does it: a step that is planned, agreed to in person and done, a play test, and if it is quiet the pickup.
///
/// # Errors
/// Problems, a conflict, not allowed, or what the database says.
pub async fn put_right(act: &mut Act, new: &NewPutRight) -> Result<()> {
    if !act.who.roles.counter() {
        return Err(Error::NotAllowed);
    }
    let (finding, _) = found_here(&mut act.tx, &act.order, act.who.roles).await?;
    let quiet = new.result == "quiet";
    let cost = Money(new.cost.unwrap_or(act.shop.counter_fee.0));
    let said_by = check(act, new, cost, quiet).await?;
    let new_step = NewStep {
        title: Some(new.done.clone()),
        finding: Some(finding.id),
        planned_minutes: Some(new.minutes),
        free: cost == Money::ZERO,
        ..NewStep::default()
    };
    let step = step::plan_at(act, &new_step, rate(cost, new.minutes)).await?;
    if act.order.stage == Stage::AwaitingApproval {
        let yes = NewApproval {
            decision: "approved".into(),
            by: said_by,
            channel: "in_person".into(),
            limit: None,
        };
        approval::answer(act, &yes).await?;
    }
    step::done(act, step.id, new.minutes).await?;
    let played = NewPlayTest {
        result: new.result.clone(),
        note: String::new(),
    };
    play_test::log(act, &played).await?;
    if quiet {
        go_home(act, new).await?;
    }
    Ok(())
}

/// What wants mending, all at once; answers who said yes.
async fn check(act: &mut Act, new: &NewPutRight, cost: Money, quiet: bool) -> Result<String> {
    let mut problems = Problems::default();
    problems.needed("done", &new.done, 200, "Write what was done.");
    if !(1..=LONGEST).contains(&new.minutes) {
        problems.add(
            "minutes",
            "Write minutes from 1 to 60. What takes longer is planned as work.",
        );
    }
    if !(0..=LIMIT).contains(&cost.0) {
        problems.add("cost", "This is more than fits, or less than nothing.");
    }
    if !play_test::RESULTS.iter().any(|result| result.0 == new.result) {
        problems.add(
            "result",
            "Play it, and say quiet, still buzzes, or another noise now.",
        );
    }
    let who = if quiet {
        problems.needed("collected_by", &new.collected_by, 200, "Write who takes it home.")
    } else {
        problems.line("collected_by", &new.collected_by, 200)
    };
    let known = |method: &str| METHODS.iter().any(|known| known.0 == method);
    let unknown = new.method.as_deref().is_some_and(|method| !known(method));
    let unsaid = quiet && cost > Money::ZERO && new.paid.is_none() && new.method.is_none();
    if unknown || unsaid {
        problems.add("method", "Say how it is paid, or that it is paid another time.");
    }
    problems.settle()?;
    if who.is_empty() {
        return Ok(Customer::get(&mut act.tx, act.order.customer).await?.name);
    }
    Ok(who)
}

/// The rate at which so many minutes cost this: over at most an hour it comes to the very amount again.
fn rate(cost: Money, minutes: i64) -> Money {
    Money((cost.0 * 60 + minutes / 2) / minutes.max(1))
}

async fn go_home(act: &mut Act, new: &NewPutRight) -> Result<()> {
    let owed = Account::of(&mut act.tx, act.order.id).await?.owed;
    let paid = match (new.paid, &new.method) {
        (Some(paid), _) => paid,
        (None, Some(_)) => owed.0.max(0),
        (None, None) => 0,
    };
    let pickup = NewPickup {
        collected_by: new.collected_by.clone(),
        paid,
        method: new.method.clone(),
    };
    pickup::hand_back(act, &pickup).await?;
    let items: Vec<&str> = act.order.items().collect();
    if !items.is_empty() {
        let items = items.join(", ");
        act.say(format!("Went back with it: {items}"));
    }
    Ok(())
}
