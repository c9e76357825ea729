//! A play test: the instrument is played again at the very pitch that buzzed, before anybody calls it ready.

use std::slice::from_ref;

use serde::{Deserialize, Serialize};
use sqlx::FromRow;
use uuid::Uuid;

use crate::act::Act;
use crate::clock::Moment;
use crate::counter::stage::{Move, Stage};
use crate::db::{Read, Tx, insert_rows};
use crate::error::{Error, Result};
use crate::form::Problems;

use super::check;
use super::step::Step;

#[derive(Clone, Debug, FromRow)]
pub struct PlayTest {
    pub id: Uuid,
    pub work_order: Uuid,
    pub result: String,
    pub note: String,
    pub at: Moment,
    pub staff: Option<Uuid>,
}

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPlayTest {
    /// `quiet`, `still_buzzes` or `changed`.
    pub result: String,
    #[serde(default)]
    pub note: String,
}

pub const RESULTS: [(&str, &str); 3] = [
    ("quiet", "Quiet"),
    ("still_buzzes", "Still buzzes"),
    ("changed", "Another noise now"),
];

/// Of a bow, which is tried and does not sound by itself.
pub const RESULTS_OF_A_BOW: [(&str, &str); 3] = [
    ("quiet", "Right"),
    ("still_buzzes", "Not right yet"),
    ("changed", "Something else is not right"),
];

/// What a result is called, of a bow or of an instrument.
#[must_use]
pub fn words_of(result: &str, bow: bool) -> &'static str {
    let results = if bow { &RESULTS_OF_A_BOW } else { &RESULTS };
    let own = results.iter().find(|own| own.0 == result);
    own.map_or("", |own| own.1)
}

/// Notes how it sounded: quiet makes it ready, a noise sends it back to be looked at with everything kept.
///
/// # Errors
/// Problems, a conflict, or what the database says.
pub async fn log(act: &mut Act, new: &NewPlayTest) -> Result<PlayTest> {
    let mut problems = Problems::default();
    let bow = act.instrument.is_bow();
    let words = words_of(&new.result, bow);
    if words.is_empty() {
        let asked = if bow {
            "Say whether it is right, or not right yet."
        } else {
            "Say quiet, still buzzes, or another noise now."
        };
        problems.add("result", asked);
    }
    let note = problems.text("note", &new.note, 2000);
    problems.settle()?;
    let quiet = new.result == "quiet";
    if quiet && act.order.stage == Stage::Inspecting && has_open_steps(act).await? {
        return Err(Error::conflict(
            "There are steps that are not done. Do them or drop them first.",
        ));
    }
    act.go(if quiet { Move::Quiet } else { Move::StillBuzzes })?;
    if quiet {
        let found = check::unanswered(act).await?;
        if !found.is_empty() {
            return Err(Error::Conflict(format!(
                "Found, and nothing was done about it: {}. Plan a step for it and do it, note that the customer does not \
                 want it, or take the finding back.",
                found.join(", ")
            )));
        }
    }
    let test = PlayTest {
        id: act.id(),
        work_order: act.order.id,
        result: new.result.clone(),
        note,
        at: act.now,
        staff: act.who.staff,
    };
    PlayTest::insert(&mut act.tx, from_ref(&test)).await?;
    // What was found was not what was heard.
    act.teaches |= test.result == "still_buzzes";
    act.say(format!("{}: {words}", if bow { "Tried" } else { "Played" }));
    Ok(test)
}

/// Whether a step waits to be done that the customer has not said no to.
async fn has_open_steps(act: &mut Act) -> Result<bool> {
    let steps = Step::of(&mut act.tx, act.order.id).await?;
    Ok(steps.iter().any(Step::waits))
}

impl PlayTest {
    /// # Errors
    /// What the database says.
    pub async fn insert(tx: &mut Tx, tests: &[PlayTest]) -> Result<()> {
        let into = "insert into play_test (id, work_order, result, note, at, staff) values";
        insert_rows(tx, into, 6, tests, |query, test| {
            query
                .bind(test.id)
                .bind(test.work_order)
                .bind(test.result.clone())
                .bind(test.note.clone())
                .bind(test.at)
                .bind(test.staff)
        })
        .await?;
        Ok(())
    }

    #[must_use]
    pub fn result_words(&self, bow: bool) -> &'static str {
        words_of(&self.result, bow)
    }

    /// # Errors
    /// What the database says.
    pub async fn of(mut on: impl Read, order: Uuid) -> Result<Vec<PlayTest>> {
        Ok(on
            .read("select * from play_test where work_order = $1 order by at, id")
            .bind(order)
            .all()
            .await?)
    }
}
