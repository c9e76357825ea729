//! Answers are added or set right on an order at any time while the instrument is here; what was known before anybody
//! looked is kept beside them, since the ranking is scored by that.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::act::Act;
use crate::catalogue::answer::Words;
use crate::catalogue::descriptor::{Descriptor, check_answers};
use crate::db::Tx;
use crate::error::{Error, Result};
use crate::form::Problems;

/// Answers by descriptor.
#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewAnswers {
    /// What is not named stays as it was; an empty answer takes it back.
    pub answers: BTreeMap<String, String>,
}

/// Puts answers to those that the order has.
///
/// # Errors
/// Problems, a conflict, or what the database says.
pub async fn answer(act: &mut Act, new: &NewAnswers) -> Result<()> {
    let descriptors = Descriptor::all(&mut act.tx).await?;
    let mut problems = Problems::default();
    if new.answers.is_empty() {
        problems.add("answers", "Answer at least one question.");
    }
    check_answers(&mut problems, "answers.", &new.answers, &descriptors);
    problems.settle()?;
    if act.order.is_handed_back() {
        return Err(Error::conflict(
            "It has been handed back: what was said of it stays as it is.",
        ));
    }
    if act.instrument.is_bow() {
        return Err(Error::conflict("A bow is not asked about a noise."));
    }
    let words = Words::all(&mut act.tx).await?;
    let mut answers = act.order.answers();
    for (code, said) in &new.answers {
        let before = if said.is_empty() {
            answers.remove(code)
        } else {
            answers.insert(code.clone(), said.clone())
        };
        if before.as_ref() != Some(said) {
            tell(act, &words, (code, said), before.as_deref());
        }
    }
    let kept: Vec<String> = answers
        .iter()
        .map(|(code, said)| format!("{code}={said}"))
        .collect();
    keep(act, kept.join(";")).await
}

fn tell(act: &mut Act, words: &Words, (code, said): (&str, &str), before: Option<&str>) {
    let asked = words.asked(code);
    match (said, before) {
        ("", None) => {}
        ("", Some(before)) => act.say(format!(
            "Answer taken back, {asked}: {}",
            words.said(code, before)
        )),
        (said, None) => act.say(format!("Answered, {asked}: {}", words.said(code, said))),
        (said, Some(before)) => act.say(format!(
            "Answered anew, {asked}: {}, not {}",
            words.said(code, said),
            words.said(code, before)
        )),
    }
}

async fn keep(act: &mut Act, answers: String) -> Result<()> {
    if act.order.inspected_on.is_some() && answers != act.order.answers {
        keep_first(&mut act.tx, act.order.id, act.order.answers.clone()).await?;
    }
    // The version is raised, and a change meanwhile refused, where the act is written.
    act.tx
        .query("update work_order set answers = $2 where id = $1")
        .bind(act.order.id)
        .bind(answers.clone())
        .execute()
        .await?;
    act.order.answers = answers;
    Ok(())
}

/// Keeps the answers that an order had before anybody looked at it; what is kept already stays.
///
/// # Errors
/// What the database says.
pub async fn keep_first(tx: &mut Tx, order: Uuid, answers: String) -> Result<()> {
    tx.query("insert into first_answers (work_order, answers) values ($1, $2) on conflict do nothing")
        .bind(order)
        .bind(answers)
        .execute()
        .await?;
    Ok(())
}
