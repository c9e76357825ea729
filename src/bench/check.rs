//! A check is a look whether one cause is the one: found, not found, or unclear.

use std::slice::from_ref;

use serde::{Deserialize, Serialize};
use sqlx::FromRow;
use uuid::Uuid;

use crate::act::Act;
use crate::catalogue::cause::Cause;
use crate::clock::Moment;
use crate::counter::stage::Move;
use crate::db::{Read, Tx, insert_rows};
use crate::error::Result;
use crate::form::Problems;

use super::approval;
use super::finding::{self, Finding, NewFinding};
use super::step::Step;

#[derive(Clone, Debug, FromRow)]
pub struct Check {
    pub id: Uuid,
    pub work_order: Uuid,
    pub cause: String,
    pub result: String,
    pub minutes: Option<i64>,
    pub note: String,
    pub at: Moment,
    pub staff: Option<Uuid>,
}

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewCheck {
    pub cause: String,
    /// `found`, `not_found` or `unclear`.
    pub result: String,
    #[serde(default)]
    pub minutes: Option<i64>,
    #[serde(default)]
    pub note: String,
}

pub const RESULTS: [(&str, &str); 3] = [
    ("found", "Found it"),
    ("not_found", "Not this"),
    ("unclear", "Unclear"),
];

/// A cause that this instrument can have, for something new to be said of it.
///
/// # Errors
/// A problem at `field` if it is not in the catalogue, was retired, or does not belong to the family.
pub async fn usable_cause(
    act: &mut Act,
    problems: &mut Problems,
    field: &str,
    code: &str,
) -> Result<Option<Cause>> {
    let family = act.instrument.family.clone();
    cause_of(&mut act.tx, &family, problems, field, code).await
}

async fn cause_of(
    tx: &mut Tx,
    family: &str,
    problems: &mut Problems,
    field: &str,
    code: &str,
) -> Result<Option<Cause>> {
    let cause = tx
        .query("select * from cause where code = $1")
        .bind(code.to_owned())
        .optional::<Cause>()
        .await?;
    match cause {
        Some(cause) if cause.retired => {
            problems.add(
                field,
                format!("“{}” was retired from the catalogue. Choose another.", cause.name),
            );
            Ok(None)
        }
        Some(cause) if !cause.in_family(family) => {
            problems.add(
                field,
                format!("“{}” does not happen on a {family}. Choose another.", cause.name),
            );
            Ok(None)
        }
        Some(cause) => Ok(Some(cause)),
        None => {
            problems.add(field, "Choose a cause of the catalogue.");
            Ok(None)
        }
    }
}

impl NewCheck {
    /// The cause that was looked for, on an instrument of this family; what wants mending is named below `at`, such as
    /// `checks.0.`.
    ///
    /// # Errors
    /// What the database says.
    pub async fn examine(
        &self,
        tx: &mut Tx,
        family: &str,
        problems: &mut Problems,
        at: &str,
    ) -> Result<Option<Cause>> {
        let cause = cause_of(tx, family, problems, &format!("{at}cause"), &self.cause).await?;
        if !RESULTS.iter().any(|result| result.0 == self.result) {
            problems.add(format!("{at}result"), "Say found, not found or unclear.");
        }
        if self.minutes.is_some_and(|minutes| !(0..=1440).contains(&minutes)) {
            problems.add(format!("{at}minutes"), "Write minutes from 0 to 1440.");
        }
        problems.text(&format!("{at}note"), &self.note, 2000);
        Ok(cause)
    }
}

/// Writes a check on the order, on whatever way it comes, and the finding that follows from it, in one act: what was found
/// is **confirmed** by whoever may confirm this cause, and **suspected** by anybody else. What stands already is not
/// written again.
///
/// # Errors
/// As [`log`] and [`finding::log`].
pub async fn look(act: &mut Act, new: &NewCheck) -> Result<Check> {
    let check = log(act, new).await?;
    if new.result != "found" || finding::standing(act, &new.cause).await? > 0 {
        return Ok(check);
    }
    if finding::may_confirm(act, &new.cause).await? {
        let found = NewFinding {
            cause: new.cause.clone(),
            certainty: "confirmed".into(),
            ..NewFinding::default()
        };
        finding::log(act, &found).await?;
    } else {
        let findings = Finding::of(&mut act.tx, act.order.id).await?;
        let stands = |finding: &Finding| finding.cause == new.cause && !finding.withdrawn;
        if !findings.iter().any(stands) {
            finding::suspect(act, &new.cause).await?;
        }
    }
    Ok(check)
}

/// The causes that were **seen**: the last check of them says found, and whoever looked took nothing back.
#[must_use]
pub fn seen<'a>(checks: &'a [Check], findings: &[Finding]) -> Vec<&'a str> {
    let mut seen: Vec<&str> = Vec::new();
    for check in checks {
        seen.retain(|cause| *cause != check.cause || check.result == "unclear");
        if check.result == "found" {
            seen.push(&check.cause);
        }
    }
    seen.retain(|cause| {
        let mut of = findings
            .iter()
            .filter(|finding| finding.cause == *cause)
            .peekable();
        of.peek().is_none() || of.any(|finding| !finding.withdrawn)
    });
    seen
}

/// The names of what was found and is still unanswered: confirmed or seen, with no step for it that was done or is left as
/// the customer wished, no answer of the customer's since that was a no, and not taken back. A step that was done for no
/// finding in particular counts for all. What is of the player or the room is not the instrument's to be mended.
///
/// # Errors
/// What the database says.
pub async fn unanswered(act: &mut Act) -> Result<Vec<String>> {
    let order = act.order.id;
    let checks = Check::of(&mut act.tx, order).await?;
    let findings = Finding::of(&mut act.tx, order).await?;
    let steps = Step::of(&mut act.tx, order).await?;
    let no = approval::last_no(&mut act.tx, order).await?;
    let confirmed = findings.iter().filter(|finding| finding.is_confirmed());
    let mut found: Vec<&str> = confirmed.map(|finding| finding.cause.as_str()).collect();
    found.extend(seen(&checks, &findings));
    let mut names = Vec::new();
    for (at, code) in found.iter().enumerate() {
        let of = || {
            let of = findings.iter().filter(|finding| finding.cause == **code);
            of.filter(|finding| !finding.withdrawn)
        };
        let stepped = steps.iter().any(|step| match step.finding {
            Some(finding) => of().any(|of| of.id == finding),
            None => step.done_at.is_some(),
        });
        let declined = no.is_some_and(|no| of().all(|finding| finding.at <= no));
        if found[..at].contains(code) || stepped || declined {
            continue;
        }
        let cause = Cause::get(&mut act.tx, code).await?;
        if cause.region != "player_or_room" {
            names.push(cause.name);
        }
    }
    Ok(names)
}

/// Writes the check alone; the first makes the order an inspected one.
///
/// # Errors
/// Problems, a conflict, or what the database says.
pub async fn log(act: &mut Act, new: &NewCheck) -> Result<Check> {
    let mut problems = Problems::default();
    let family = act.instrument.family.clone();
    let cause = new.examine(&mut act.tx, &family, &mut problems, "").await?;
    let result = RESULTS.iter().find(|result| result.0 == new.result);
    let note = Problems::default().text("note", &new.note, 2000);
    problems.settle()?;
    act.go(Move::Look)?;
    inspected(act).await?;
    let check = Check {
        id: act.id(),
        work_order: act.order.id,
        cause: new.cause.clone(),
        result: new.result.clone(),
        minutes: new.minutes,
        note,
        at: act.now,
        staff: act.who.staff,
    };
    Check::insert(&mut act.tx, from_ref(&check)).await?;
    if let (Some(result), Some(cause)) = (result, cause) {
        act.say(format!("{}: {}", result.1, cause.name));
    }
    Ok(check)
}

/// Writes "not this" of several causes in one act: one look has settled them all.
///
/// # Errors
/// As [`log`].
pub async fn none_of(act: &mut Act, causes: &[&str]) -> Result<()> {
    for cause in causes {
        let new = NewCheck {
            cause: (*cause).to_owned(),
            result: "not_found".into(),
            ..NewCheck::default()
        };
        log(act, &new).await?;
    }
    Ok(())
}

/// Counts the order as inspected, the first time somebody looked.
///
/// # Errors
/// What the database says.
pub async fn inspected(act: &mut Act) -> Result<()> {
    if act.order.inspected_on.is_none() && !act.instrument.is_bow() {
        act.order.inspected_on = Some(act.today);
        act.count("", 1).await?;
    }
    Ok(())
}

impl Check {
    /// # Errors
    /// What the database says.
    pub async fn insert(tx: &mut Tx, checks: &[Check]) -> Result<()> {
        let into = "insert into cause_check (id, work_order, cause, result, minutes, note, at, staff) values";
        insert_rows(tx, into, 8, checks, |query, check| {
            query
                .bind(check.id)
                .bind(check.work_order)
                .bind(check.cause.clone())
                .bind(check.result.clone())
                .bind(check.minutes)
                .bind(check.note.clone())
                .bind(check.at)
                .bind(check.staff)
        })
        .await?;
        Ok(())
    }

    #[must_use]
    pub fn result_words(&self) -> &'static str {
        RESULTS
            .iter()
            .find(|result| result.0 == self.result)
            .map_or("", |result| result.1)
    }

    /// # Errors
    /// What the database says.
    pub async fn of(mut on: impl Read, order: Uuid) -> Result<Vec<Check>> {
        Ok(on
            .read("select * from cause_check where work_order = $1 order by at, id")
            .bind(order)
            .all()
            .await?)
    }
}
