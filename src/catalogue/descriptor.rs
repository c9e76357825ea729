//! A descriptor is a plain question about the noise, with the answers it may get and what they say of each cause.

use std::collections::BTreeMap;

use serde::Deserialize;
use sqlx::FromRow;

use crate::db::{Query, Read, Tx, insert_rows};
use crate::diagnosis::models;
use crate::error::{Error, Result};
use crate::form::Problems;

/// Answers that say nothing, and are kept as said all the same.
pub const SAYS_NOTHING: [&str; 2] = ["not_sure", "not_tried"];

#[derive(Clone, Debug, FromRow, Deserialize)]
pub struct Descriptor {
    pub code: String,
    pub question: String,
    /// Joined by `;`.
    pub choices: String,
    pub asked_of: String,
    pub minutes: f64,
    pub hint: String,
    #[serde(default)]
    pub edition: i64,
    #[serde(default)]
    pub changed: bool,
    #[serde(default)]
    pub retired: bool,
    #[serde(default)]
    pub version: i64,
}

/// P(answer) when the cause is any other.
#[derive(Clone, Debug, FromRow, Deserialize)]
pub struct Background {
    pub descriptor: String,
    pub answer: String,
    pub p: f64,
}

/// P(answer | cause) where it differs from the background.
#[derive(Clone, Debug, FromRow, Deserialize)]
pub struct Likelihood {
    pub cause: String,
    pub descriptor: String,
    pub answer: String,
    pub p: f64,
}

impl Background {
    /// # Errors
    /// What the database says.
    pub async fn all(mut on: impl Read) -> Result<Vec<Background>> {
        Ok(on.read("select * from background").all().await?)
    }

    /// # Errors
    /// What the database says.
    pub async fn of(mut on: impl Read, descriptor: &str) -> Result<Vec<Background>> {
        Ok(on
            .read("select * from background where descriptor = $1")
            .bind(descriptor.to_owned())
            .all()
            .await?)
    }

    /// The shop's own figures of a question instead of those that stand there.
    ///
    /// # Errors
    /// What the database says.
    pub async fn replace(tx: &mut Tx, descriptor: &str, rows: &[Background]) -> Result<()> {
        tx.query("delete from background where descriptor = $1")
            .bind(descriptor.to_owned())
            .execute()
            .await?;
        let into = "insert into background (descriptor, answer, p, own) values";
        insert_rows(tx, into, 4, rows, |query, row| {
            let query = query.bind(row.descriptor.clone()).bind(row.answer.clone());
            query.bind(row.p).bind(true)
        })
        .await?;
        models::changed(tx).await
    }
}

impl Descriptor {
    pub fn choices(&self) -> impl Iterator<Item = &str> {
        self.choices.split(';')
    }

    /// The answers that say something.
    pub fn telling(&self) -> impl Iterator<Item = &str> {
        self.choices().filter(|answer| !SAYS_NOTHING.contains(answer))
    }

    /// The answer that says nothing, if it has one.
    #[must_use]
    pub fn blank(&self) -> Option<&str> {
        self.choices().find(|answer| SAYS_NOTHING.contains(answer))
    }

    /// An answer as it is said: `not_sure` is "Not sure".
    #[must_use]
    pub fn answer_words(answer: &str) -> String {
        let words = answer.replace('_', " ");
        let mut letters = words.chars();
        letters.next().map_or(String::new(), |first| {
            first.to_uppercase().collect::<String>() + letters.as_str()
        })
    }

    /// Whether the question makes sense for a family: chin and shoulder rests belong to violin and viola, an end pin
    /// mostly to cello and bass (common practice, no source).
    #[must_use]
    pub fn fits(&self, family: &str) -> bool {
        match self.code.as_str() {
            "chin_rest_held" | "shoulder_rest_off" => matches!(family, "violin" | "viola"),
            _ => family != "bow",
        }
    }

    /// # Errors
    /// What the database says.
    pub async fn all(mut on: impl Read) -> Result<Vec<Descriptor>> {
        Ok(on.read("select * from descriptor order by code").all().await?)
    }

    #[must_use]
    pub fn asked_words(&self) -> &'static str {
        match self.asked_of.as_str() {
            "customer" => "the customer knows",
            "bench" => "tried at the bench",
            _ => "tried at the counter",
        }
    }

    /// # Errors
    /// Not found, or what the database says.
    pub async fn get(mut on: impl Read, code: &str) -> Result<Descriptor> {
        on.read("select * from descriptor where code = $1")
            .bind(super::entry::asked(code))
            .optional()
            .await?
            .ok_or(Error::NotFound)
    }

    /// Adds the shop's own; false if the code is taken.
    ///
    /// # Errors
    /// What the database says.
    pub async fn insert(&self, tx: &mut Tx) -> Result<bool> {
        let query = tx.query(
            "insert into descriptor (code, question, choices, asked_of, minutes, hint, edition, changed, retired, version)
             values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) on conflict do nothing",
        );
        let done = self.bind(query, self.edition).execute().await? == 1;
        models::changed(tx).await?;
        Ok(done)
    }

    /// Keeps what the owner changed; false if somebody else changed it since this version.
    ///
    /// # Errors
    /// What the database says.
    pub async fn update(&self, tx: &mut Tx) -> Result<bool> {
        let query = tx.query(
            "update descriptor set question = $3, hint = $4, choices = $5, asked_of = $6, minutes = $7, changed = true,
             version = version + 1 where code = $1 and version = $2",
        );
        let query = query.bind(self.code.clone()).bind(self.version);
        let query = query.bind(self.question.clone()).bind(self.hint.clone());
        let query = query.bind(self.choices.clone()).bind(self.asked_of.clone());
        let done = query.bind(self.minutes).execute().await? == 1;
        models::changed(tx).await?;
        Ok(done)
    }

    /// In the order of the columns: `insert into descriptor (..)`.
    pub fn bind<'c>(&self, query: Query<'c>, edition: i64) -> Query<'c> {
        query
            .bind(self.code.clone())
            .bind(self.question.clone())
            .bind(self.choices.clone())
            .bind(self.asked_of.clone())
            .bind(self.minutes)
            .bind(self.hint.clone())
            .bind(edition)
            .bind(self.changed)
            .bind(self.retired)
            .bind(self.version)
    }
}

/// Answers as they are kept on an order, `descriptor=answer` joined by `;`, once each is known to the catalogue.
pub fn check_answers(
    problems: &mut Problems,
    at: &str,
    answers: &BTreeMap<String, String>,
    descriptors: &[Descriptor],
) -> String {
    let mut kept = Vec::new();
    for (code, answer) in answers.iter().filter(|pair| !pair.1.is_empty()) {
        match descriptors.iter().find(|descriptor| descriptor.code == *code) {
            None => problems.add(format!("{at}{code}"), "This question is not in the catalogue."),
            Some(descriptor) if !descriptor.choices().any(|choice| choice == answer) => {
                let choices: Vec<&str> = descriptor.choices().collect();
                problems.add(
                    format!("{at}{code}"),
                    format!("Answer with one of: {}.", choices.join(", ")),
                );
            }
            Some(_) => kept.push(format!("{code}={answer}")),
        }
    }
    kept.join(";")
}
