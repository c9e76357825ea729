//! A repair step is a job, or free text, planned and done on one order, with minutes and parts.

use serde::{Deserialize, Serialize};
use sqlx::FromRow;
use uuid::Uuid;

use crate::act::Act;
use crate::catalogue::job::Job;
use crate::clock::{Day, Moment};
use crate::counter::order::Order;
use crate::counter::stage::{Move, Stage};
use crate::db::{Read, Tx, insert_rows};
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::money::{LIMIT, Money, Rate};
use crate::reports::home;

use super::estimate::{self, Line};

#[derive(Clone, Debug, FromRow)]
pub struct Step {
    pub id: Uuid,
    pub work_order: Uuid,
    pub finding: Option<Uuid>,
    pub job: Option<String>,
    pub title: String,
    pub planned_minutes: i64,
    pub actual_minutes: Option<i64>,
    pub rate: Money,
    pub tax: Rate,
    pub free: bool,
    pub position: i64,
    pub created_at: Moment,
    pub done_at: Option<Moment>,
    pub done_on: Option<Day>,
    pub done_by: Option<Uuid>,
    /// When the customer did not want it; it stays, is not done, and is in no sum.
    pub declined_at: Option<Moment>,
}

#[derive(Clone, Debug, FromRow)]
pub struct Part {
    pub id: Uuid,
    pub step: Uuid,
    pub name: String,
    pub quantity: i64,
    pub unit_price: Money,
    pub tax: Rate,
}

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewStep {
    /// A job of the catalogue; or else a title.
    #[serde(default)]
    pub job: Option<String>,
    #[serde(default)]
    pub title: Option<String>,
    /// The finding it mends.
    #[serde(default)]
    pub finding: Option<Uuid>,
    /// Left out, it is the job's usual time on this family.
    #[serde(default)]
    pub planned_minutes: Option<i64>,
    #[serde(default)]
    pub parts: Vec<NewPart>,
    /// Put right without charge.
    #[serde(default)]
    pub free: bool,
}

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPart {
    pub name: String,
    pub quantity: i64,
    /// In the currency's minor units.
    pub unit_price: i64,
}

/// Plans a step; the estimate follows, and with it whether the customer is asked.
///
/// # Errors
/// Problems, a conflict, or what the database says.
pub async fn plan(act: &mut Act, new: &NewStep) -> Result<Step> {
    let rate = act.shop.labour_rate;
    plan_at(act, new, rate).await
}

/// Plans a step at a rate of its own.
///
/// # Errors
/// As [`plan`].
pub async fn plan_at(act: &mut Act, new: &NewStep, rate: Money) -> Result<Step> {
    let mut problems = Problems::default();
    let (job, title) = named(act, &mut problems, new).await?;
    let usual = job.as_ref().map(|job| job.minutes_for(&act.instrument.family));
    let planned_minutes = match new.planned_minutes.or(usual) {
        Some(minutes) if (0..=10_000).contains(&minutes) => minutes,
        _ => {
            problems.add(
                "planned_minutes",
                "Write the minutes it will take, from 0 to 10000.",
            );
            0
        }
    };
    if let Some(finding) = new.finding {
        let known: Option<(Uuid,)> = act
            .tx
            .query("select id from finding where id = $1 and work_order = $2 and not withdrawn")
            .bind(finding)
            .bind(act.order.id)
            .optional()
            .await?;
        if known.is_none() {
            problems.add("finding", "This finding is not on this order.");
        }
    }
    let id = act.id();
    let parts = check_parts(&mut problems, &new.parts, id, act.shop.tax_parts);
    problems.settle()?;
    let (count,): (i64,) = act
        .tx
        .query("select count(*) from repair_step where work_order = $1")
        .bind(act.order.id)
        .one()
        .await?;
    if count >= 60 {
        return Err(Error::conflict(
            "Sixty steps are on this order already. Hand it back and take it in anew for more.",
        ));
    }
    let step = Step {
        id,
        work_order: act.order.id,
        finding: new.finding,
        job: job.map(|job| job.code),
        title,
        planned_minutes,
        actual_minutes: None,
        rate,
        tax: act.shop.tax_labour,
        free: new.free,
        position: count + 1,
        created_at: act.now,
        done_at: None,
        done_on: None,
        done_by: None,
        declined_at: None,
    };
    insert_rows(&mut act.tx, INSERT, COLUMNS, std::slice::from_ref(&step), bind).await?;
    Part::insert(&mut act.tx, &parts).await?;
    act.say(format!(
        "Planned: {}, {}",
        step.title,
        crate::words::minutes(step.planned_minutes)
    ));
    estimate_again(act).await?;
    Ok(step)
}

async fn named(act: &mut Act, problems: &mut Problems, new: &NewStep) -> Result<(Option<Job>, String)> {
    let title = problems.line("title", new.title.as_deref().unwrap_or_default(), 200);
    let Some(code) = new.job.as_deref().filter(|code| !code.is_empty()) else {
        if title.is_empty() {
            problems.add("title", "Choose a job, or write in words what will be done.");
        }
        return Ok((None, title));
    };
    let job: Option<Job> = act
        .tx
        .query("select * from job where code = $1")
        .bind(code.to_owned())
        .optional()
        .await?;
    match job {
        Some(job) if !job.retired && !job.is_for(&act.instrument.family) => {
            let family = &act.instrument.family;
            problems.add(
                "job",
                format!("“{}” is no work for a {family}. Choose another job.", job.name),
            );
            Ok((None, title))
        }
        Some(job) if !job.retired => {
            let title = if title.is_empty() { job.name.clone() } else { title };
            Ok((Some(job), title))
        }
        _ => {
            problems.add("job", "Choose a job of the catalogue.");
            Ok((None, title))
        }
    }
}

fn check_parts(problems: &mut Problems, parts: &[NewPart], step: Uuid, tax: Rate) -> Vec<Part> {
    if parts.len() > 30 {
        problems.add("parts", "Write at most thirty parts on a step.");
    }
    let mut checked = Vec::new();
    for (at, part) in parts.iter().take(30).enumerate() {
        let field = |name: &str| format!("parts.{at}.{name}");
        let name = problems.needed(&field("name"), &part.name, 200, "Write what the part is.");
        if !(1..=9999).contains(&part.quantity) {
            problems.add(field("quantity"), "Write how many, from 1 to 9999.");
        }
        if !(0..=LIMIT).contains(&part.unit_price) {
            problems.add(
                field("unit_price"),
                "This price is more than fits, or less than nothing.",
            );
        }
        let (quantity, unit_price) = (part.quantity, Money(part.unit_price));
        checked.push(Part {
            id: Uuid::now_v7(),
            step,
            name,
            quantity,
            unit_price,
            tax,
        });
    }
    checked
}

/// Takes a planned step away again, as long as it is not done.
///
/// # Errors
/// Not found, a conflict, or what the database says.
pub async fn drop_step(act: &mut Act, id: Uuid) -> Result<()> {
    let step = Step::on(act, id).await?;
    if step.done_at.is_some() {
        return Err(Error::conflict("This step is done; it stays."));
    }
    act.tx
        .query("delete from part where step = $1")
        .bind(id)
        .execute()
        .await?;
    act.tx
        .query("delete from repair_step where id = $1")
        .bind(id)
        .execute()
        .await?;
    act.say(format!("Dropped: {}", step.title));
    let steps = Step::of(&mut act.tx, act.order.id).await?;
    match act.order.stage {
        // What the customer did not want is left as it is: the instrument is to be played all the same.
        Stage::PlayTest => reckon(act).await,
        Stage::AwaitingApproval | Stage::Approved if steps.is_empty() => {
            reckon(act).await?;
            act.go(Move::PlanNothing)
        }
        Stage::Inspecting if steps.is_empty() => reckon(act).await,
        _ => {
            estimate_again(act).await?;
            if matches!(act.order.stage, Stage::Approved | Stage::InRepair) && all_done(&steps) {
                act.go(Move::AllDone)?;
            }
            Ok(())
        }
    }
}

/// Notes that a step is done and how long it took; after the last one the instrument is to be played.
///
/// # Errors
/// Problems, not found, a conflict, or what the database says.
pub async fn done(act: &mut Act, id: Uuid, actual_minutes: i64) -> Result<()> {
    let mut problems = Problems::default();
    if !(0..=10_000).contains(&actual_minutes) {
        problems.add("actual_minutes", "Write the minutes it took, from 0 to 10000.");
    }
    problems.settle()?;
    let step = Step::on(act, id).await?;
    if step.done_at.is_some() {
        return Err(Error::conflict("This step is done already."));
    }
    if step.declined_at.is_some() {
        return Err(Error::conflict(
            "The customer did not want this step. Plan it anew if they want it after all.",
        ));
    }
    let others = Step::of(&mut act.tx, act.order.id).await?;
    if act.order.stage == Stage::Inspecting && act.order.estimate > act.order.agreed() {
        return Err(Error::conflict(
            "The customer has not said yes to the estimate yet.",
        ));
    }
    let last = others.iter().all(|other| other.id == id || !other.waits());
    act.go(if last { Move::AllDone } else { Move::Work })?;
    act.tx
        .query("update repair_step set actual_minutes = $2, done_at = $3, done_on = $4, done_by = $5 where id = $1")
        .bind(id)
        .bind(actual_minutes)
        .bind(act.now)
        .bind(act.today)
        .bind(act.who.staff)
        .execute()
        .await?;
    let job = step.job.as_deref().unwrap_or_default();
    act.counts
        .job(act.today.month(), job, 1, step.planned_minutes, actual_minutes);
    let parts = act
        .tx
        .query("select * from part where step = $1")
        .bind(id)
        .all()
        .await?;
    let done = Step {
        actual_minutes: Some(actual_minutes),
        done_on: Some(act.today),
        ..step.clone()
    };
    home::step_done(&mut act.counts, &done, &parts);
    act.say(format!(
        "Done: {}, {}",
        step.title,
        crate::words::minutes(actual_minutes)
    ));
    Ok(())
}

/// Works the estimate out anew.
async fn reckon(act: &mut Act) -> Result<()> {
    let lines = of_order(&mut act.tx, act.order.id).await?;
    act.order.estimate = estimate::wanted(&lines)?.total;
    Ok(())
}

/// Notes of all that waits to be done that the customer does not want it; the estimate follows.
///
/// # Errors
/// What the database says.
pub async fn decline_rest(act: &mut Act) -> Result<()> {
    act.tx
        .query(
            "update repair_step set declined_at = $2
             where work_order = $1 and done_at is null and declined_at is null",
        )
        .bind(act.order.id)
        .bind(act.now)
        .execute()
        .await?;
    reckon(act).await
}

/// Takes that back: what was not wanted is to be asked about anew.
///
/// # Errors
/// What the database says.
pub async fn ask_anew(act: &mut Act) -> Result<()> {
    act.tx
        .query("update repair_step set declined_at = null where work_order = $1 and declined_at is not null")
        .bind(act.order.id)
        .execute()
        .await?;
    Ok(())
}

/// Works the estimate out anew; beyond what was agreed the order waits for the customer's answer.
///
/// # Errors
/// A conflict, or what the database says.
pub async fn estimate_again(act: &mut Act) -> Result<()> {
    reckon(act).await?;
    let within = act.order.estimate <= act.order.agreed();
    act.go(if within {
        Move::PlanWithin
    } else {
        Move::PlanBeyond
    })?;
    if act.order.stage == Stage::AwaitingApproval {
        let estimate = act.shop.money(&act.order.estimate);
        act.say(format!(
            "The estimate is {estimate}, more than was agreed: ask the customer"
        ));
    }
    Ok(())
}

/// The lines of an order: its steps with their parts, priced.
///
/// # Errors
/// What the database says.
pub async fn of_order(tx: &mut Tx, order: Uuid) -> Result<Vec<Line>> {
    let steps = Step::of(&mut *tx, order).await?;
    let parts = Part::of_order(tx, order).await?;
    estimate::lines(steps, &parts)
}

/// Why a step is not done and will not be on this visit, as it is said in the shop; none of one that is done, or waits.
#[must_use]
pub fn not_done(order: &Order, step: &Step) -> Option<&'static str> {
    if step.done_at.is_some() {
        return None;
    }
    match order.returned_why.as_deref() {
        _ if step.declined_at.is_some() => Some("not done: the customer did not want it"),
        Some("declined") => Some("not done: the customer did not want it"),
        Some("beyond_repair") => Some("not done: not worth the repair"),
        Some(_) => Some("not done: nothing was found"),
        None if order.is_handed_back() => Some("not done"),
        None => None,
    }
}

/// Whether none waits to be done; what the customer did not want waits for nobody.
#[must_use]
pub fn all_done(steps: &[Step]) -> bool {
    !steps.iter().any(Step::waits)
}

impl Step {
    /// Whether it is to be done and is not.
    #[must_use]
    pub fn waits(&self) -> bool {
        self.done_at.is_none() && self.declined_at.is_none()
    }

    async fn on(act: &mut Act, id: Uuid) -> Result<Step> {
        let step = act
            .tx
            .query("select * from repair_step where id = $1 and work_order = $2")
            .bind(id)
            .bind(act.order.id);
        step.optional().await?.ok_or(Error::NotFound)
    }

    /// # Errors
    /// What the database says.
    pub async fn of(mut on: impl Read, order: Uuid) -> Result<Vec<Step>> {
        Ok(on
            .read("select * from repair_step where work_order = $1 order by position, id")
            .bind(order)
            .all()
            .await?)
    }
}

impl Part {
    /// The parts of all steps of an order.
    ///
    /// # Errors
    /// What the database says.
    pub async fn of_order(mut on: impl Read, order: Uuid) -> Result<Vec<Part>> {
        Ok(on
            .read("select p.* from part p join repair_step s on s.id = p.step where s.work_order = $1 order by p.id")
            .bind(order)
            .all()
            .await?)
    }

    /// # Errors
    /// What the database says.
    pub async fn insert(tx: &mut Tx, parts: &[Part]) -> Result<()> {
        insert_rows(
            tx,
            "insert into part (id, step, name, quantity, unit_price, tax) values",
            6,
            parts,
            |query, part| {
                query
                    .bind(part.id)
                    .bind(part.step)
                    .bind(part.name.clone())
                    .bind(part.quantity)
                    .bind(part.unit_price)
                    .bind(part.tax)
            },
        )
        .await?;
        Ok(())
    }
}

/// For inserting steps, one or many.
pub const INSERT: &str =
    "insert into repair_step (id, work_order, finding, job, title, planned_minutes, actual_minutes,
    rate, tax, free, position, created_at, done_at, done_on, done_by, declined_at) values";
pub const COLUMNS: usize = 16;

pub fn bind<'c>(query: crate::db::Query<'c>, step: &Step) -> crate::db::Query<'c> {
    query
        .bind(step.id)
        .bind(step.work_order)
        .bind(step.finding)
        .bind(step.job.clone())
        .bind(step.title.clone())
        .bind(step.planned_minutes)
        .bind(step.actual_minutes)
        .bind(step.rate)
        .bind(step.tax)
        .bind(step.free)
        .bind(step.position)
        .bind(step.created_at)
        .bind(step.done_at)
        .bind(step.done_on)
        .bind(step.done_by)
        .bind(step.declined_at)
}
