//! An answer as people say it: its words are the catalogue's and may change, its code stays on the orders.

use std::collections::HashMap;

use serde::Deserialize;
use sqlx::FromRow;

use crate::db::{Read, Tx};
use crate::error::Result;

use super::descriptor::Descriptor;

/// The words of one answer to one question; with no answer, what the question is about in a word or two.
#[derive(Clone, Debug, FromRow, Deserialize)]
pub struct Answer {
    pub descriptor: String,
    pub answer: String,
    pub words: String,
    #[serde(default)]
    pub changed: bool,
}

/// The words of all answers, for one page.
#[derive(Clone, Debug, Default)]
pub struct Words(HashMap<String, HashMap<String, String>>);

impl Words {
    /// # Errors
    /// What the database says.
    pub async fn all(mut on: impl Read) -> Result<Words> {
        // A question of the shop's own that was not put in short is about what it asks.
        let rows: Vec<Answer> = on
            .read(
                "select descriptor, answer, words, changed from answer_words
                 union all select code, '', question, changed from descriptor where edition = 0
                 and not exists (select 1 from answer_words where descriptor = code and answer = '')",
            )
            .all()
            .await?;
        let mut words = Words::default();
        for row in rows {
            let own = words.0.entry(row.descriptor).or_default();
            own.insert(row.answer, row.words);
        }
        Ok(words)
    }

    fn kept(&self, descriptor: &str, answer: &str) -> Option<&String> {
        self.0.get(descriptor)?.get(answer)
    }

    /// "Fingered only" for `open_or_stopped` = `stopped_only`; an answer nobody worded is its code in words.
    #[must_use]
    pub fn said(&self, descriptor: &str, answer: &str) -> String {
        let kept = self.kept(descriptor, answer).cloned();
        kept.unwrap_or_else(|| Descriptor::answer_words(answer))
    }

    /// What a question is about: "open or fingered"; a question that is not in the catalogue is its code in words.
    #[must_use]
    pub fn asked(&self, descriptor: &str) -> String {
        let kept = self.kept(descriptor, "").cloned();
        kept.unwrap_or_else(|| descriptor.replace('_', " "))
    }
}

impl Answer {
    /// Keeps the shop's words, or adds an answer of the shop's own.
    ///
    /// # Errors
    /// What the database says.
    pub async fn keep(tx: &mut Tx, descriptor: &str, answer: &str, words: &str) -> Result<()> {
        tx.query(
            "insert into answer_words (descriptor, answer, words, changed) values ($1, $2, $3, $4)
             on conflict (descriptor, answer) do update set words = excluded.words, changed = excluded.changed",
        )
        .bind(descriptor.to_owned())
        .bind(answer.to_owned())
        .bind(words.to_owned())
        .bind(true)
        .execute()
        .await?;
        Ok(())
    }
}
