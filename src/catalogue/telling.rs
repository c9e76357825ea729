//! What the answers tell of a cause: how often each is given when this is the cause, where that is not as it is in general.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use sqlx::FromRow;

use crate::db::{Read, Tx, insert_rows};
use crate::diagnosis::models;
use crate::error::{Error, Result};
use crate::form::Problems;

use super::descriptor::Likelihood;
use super::question::{Choice, Question};
use super::{cause::Cause, entry, percent};

/// What the shop says of one cause and one question.
#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewTelling {
    /// In a hundred, by answer; an answer that is left out is given as often as in general.
    pub answers: BTreeMap<String, f64>,
}

/// What is told of one cause by the answers to one question.
#[derive(Clone, Debug, Default)]
pub struct Telling {
    pub cause: String,
    pub descriptor: String,
    /// By answer; an answer that is not here is given as often as in general.
    pub shares: Vec<(String, f64)>,
    /// Raised with every change the shop makes; 0 as long as it made none.
    pub version: i64,
}

#[derive(FromRow)]
struct Own {
    descriptor: String,
    version: i64,
}

/// Keeps what the shop says, unless somebody else said something since `version`. What is said as it stands stays as it
/// stands, and so goes on following the editions.
///
/// # Errors
/// Not found, problems, stale, or what the database says.
pub async fn tell(
    tx: &mut Tx,
    (cause, question): (&str, &str),
    version: i64,
    new: &NewTelling,
) -> Result<Telling> {
    let cause = Cause::get(&mut *tx, cause).await?;
    let question = Question::get(&mut *tx, question).await?;
    let now = Telling::get(&mut *tx, &cause.code, &question.descriptor.code).await?;
    let shares = new.check(&question)?;
    let percent = |own: &Choice| new.answers.get(&own.code).map(f64::to_string);
    let stands = |own: &Choice| now.share(&own.code).map(percent::typed);
    if question.choices.iter().all(|own| percent(own) == stands(own)) {
        return Ok(now);
    }
    let mut telling = Telling {
        shares,
        version,
        ..now
    };
    if !telling.keep(tx).await? {
        return Err(Error::Stale(entry::stale(&question.descriptor.question)));
    }
    telling.version += 1;
    Ok(telling)
}

impl NewTelling {
    /// The shares by answer.
    fn check(&self, question: &Question) -> Result<Vec<(String, f64)>> {
        let mut problems = Problems::default();
        let known = |code: &String| question.choices.iter().any(|own| own.code == *code);
        for code in self.answers.keys().filter(|code| !known(code)) {
            problems.add(format!("answers.{code}"), "The question has no such answer.");
        }
        let choices = question.choices.iter();
        let given: Vec<(String, Option<f64>)> = choices
            .map(|own| {
                (
                    format!("answers.{}", own.code),
                    self.answers.get(&own.code).copied(),
                )
            })
            .collect();
        let shares = percent::read(&mut problems, &given);
        problems.settle()?;
        let answers = question.choices.iter().map(|own| own.code.clone());
        let told = answers
            .zip(shares)
            .filter_map(|(answer, share)| Some((answer, share?)));
        Ok(told.collect())
    }
}

impl Telling {
    /// All that is told of a cause.
    ///
    /// # Errors
    /// What the database says.
    pub async fn of_cause(mut on: impl Read, cause: &str) -> Result<Vec<Telling>> {
        let rows: Vec<Likelihood> = on
            .read("select * from likelihood where cause = $1 order by descriptor, p desc, answer")
            .bind(cause.to_owned())
            .all()
            .await?;
        let own: Vec<Own> = on
            .read("select descriptor, version from likelihood_own where cause = $1 order by descriptor")
            .bind(cause.to_owned())
            .all()
            .await?;
        let mut all: Vec<Telling> = Vec::new();
        for row in rows {
            let at = Telling::among(&mut all, cause, &row.descriptor);
            all[at].shares.push((row.answer, row.p));
        }
        for row in own {
            let at = Telling::among(&mut all, cause, &row.descriptor);
            all[at].version = row.version;
        }
        Ok(all)
    }

    fn nothing(cause: &str, descriptor: &str) -> Telling {
        Telling {
            cause: cause.to_owned(),
            descriptor: descriptor.to_owned(),
            ..Telling::default()
        }
    }

    /// Where a question stands among them, put there if it is not.
    fn among(all: &mut Vec<Telling>, cause: &str, descriptor: &str) -> usize {
        let place = all.iter().position(|own| own.descriptor == descriptor);
        place.unwrap_or_else(|| {
            all.push(Telling::nothing(cause, descriptor));
            all.len() - 1
        })
    }

    /// What is told of a cause by one question; nothing yet is an empty one.
    ///
    /// # Errors
    /// What the database says.
    pub async fn get(on: impl Read, cause: &str, descriptor: &str) -> Result<Telling> {
        let all = Telling::of_cause(on, cause).await?;
        let own = all.into_iter().find(|own| own.descriptor == descriptor);
        Ok(own.unwrap_or_else(|| Telling::nothing(cause, descriptor)))
    }

    #[must_use]
    pub fn share(&self, answer: &str) -> Option<f64> {
        let own = self.shares.iter().find(|own| own.0 == answer);
        own.map(|own| own.1)
    }

    /// Keeps this as the shop's own, which editions leave alone; false if somebody else changed it since this version.
    ///
    /// # Errors
    /// What the database says.
    pub async fn keep(&self, tx: &mut Tx) -> Result<bool> {
        let query = if self.version == 0 {
            tx.query(
                "insert into likelihood_own (cause, descriptor, version) values ($1, $2, $3 + 1) on conflict do nothing",
            )
        } else {
            tx.query(
                "update likelihood_own set version = $3 + 1 where cause = $1 and descriptor = $2 and version = $3",
            )
        };
        let query = query.bind(self.cause.clone()).bind(self.descriptor.clone());
        if query.bind(self.version).execute().await? == 0 {
            return Ok(false);
        }
        tx.query("delete from likelihood where cause = $1 and descriptor = $2")
            .bind(self.cause.clone())
            .bind(self.descriptor.clone())
            .execute()
            .await?;
        let into = "insert into likelihood (cause, descriptor, answer, p) values";
        insert_rows(tx, into, 4, &self.shares, |query, (answer, share)| {
            let query = query.bind(self.cause.clone()).bind(self.descriptor.clone());
            query.bind(answer.clone()).bind(*share)
        })
        .await?;
        models::changed(tx).await?;
        Ok(true)
    }
}
