//! A question whole: a descriptor with the words of its answers, and how often each comes whatever the cause.

use std::collections::BTreeMap;

use crate::db::{Read, Tx};
use crate::error::Result;

use super::answer::{Answer, Words};
use super::descriptor::{Background, Descriptor};

/// An answer that says something.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    pub code: String,
    pub words: String,
    pub share: f64,
}

#[derive(Clone, Debug)]
pub struct Question {
    pub descriptor: Descriptor,
    /// What it is about in a word or two, as an order shows it.
    pub about: String,
    pub choices: Vec<Choice>,
}

impl Question {
    /// # Errors
    /// Not found, or what the database says.
    pub async fn get(mut on: impl Read, code: &str) -> Result<Question> {
        let descriptor = Descriptor::get(&mut on, code).await?;
        let words = Words::all(&mut on).await?;
        let background = Background::of(&mut on, &descriptor.code).await?;
        Ok(Question::whole(descriptor, &words, &background))
    }

    /// # Errors
    /// What the database says.
    pub async fn all(mut on: impl Read) -> Result<Vec<Question>> {
        let words = Words::all(&mut on).await?;
        let background = Background::all(&mut on).await?;
        let all = Descriptor::all(&mut on).await?.into_iter();
        Ok(all
            .map(|descriptor| Question::whole(descriptor, &words, &background))
            .collect())
    }

    fn whole(descriptor: Descriptor, words: &Words, background: &[Background]) -> Question {
        let share = |answer: &str| {
            let row = background
                .iter()
                .find(|row| row.descriptor == descriptor.code && row.answer == answer);
            row.map_or(0.0, |row| row.p)
        };
        let choice = |answer: &str| Choice {
            code: answer.to_owned(),
            words: words.said(&descriptor.code, answer),
            share: share(answer),
        };
        Question {
            about: words.asked(&descriptor.code),
            choices: descriptor.telling().map(choice).collect(),
            descriptor,
        }
    }

    /// Adds the shop's own; false if the code is taken.
    ///
    /// # Errors
    /// What the database says.
    pub async fn add(&self, tx: &mut Tx) -> Result<bool> {
        if !self.descriptor.insert(tx).await? {
            return Ok(false);
        }
        self.keep_words(tx, None).await?;
        self.keep_shares(tx).await?;
        Ok(true)
    }

    /// Keeps what the owner changed; false if somebody else changed it since this version. What was left as it was
    /// goes on following the program's editions.
    ///
    /// # Errors
    /// What the database says.
    pub async fn keep(&self, tx: &mut Tx, before: &Question) -> Result<bool> {
        if !self.descriptor.update(tx).await? {
            return Ok(false);
        }
        self.keep_words(tx, Some(before)).await?;
        if self.shares() != before.shares() {
            self.keep_shares(tx).await?;
        }
        Ok(true)
    }

    fn shares(&self) -> BTreeMap<&str, f64> {
        let choices = self.choices.iter();
        choices.map(|own| (own.code.as_str(), own.share)).collect()
    }

    async fn keep_words(&self, tx: &mut Tx, before: Option<&Question>) -> Result<()> {
        let code = &self.descriptor.code;
        if !self.about.is_empty() && before.is_none_or(|before| before.about != self.about) {
            Answer::keep(tx, code, "", &self.about).await?;
        }
        for own in &self.choices {
            let as_before = |other: &Choice| other.code == own.code && other.words == own.words;
            if !before.is_some_and(|before| before.choices.iter().any(as_before)) {
                Answer::keep(tx, code, &own.code, &own.words).await?;
            }
        }
        Ok(())
    }

    async fn keep_shares(&self, tx: &mut Tx) -> Result<()> {
        let row = |own: &Choice| Background {
            descriptor: self.descriptor.code.clone(),
            answer: own.code.clone(),
            p: own.share,
        };
        let rows: Vec<Background> = self.choices.iter().map(row).collect();
        Background::replace(tx, &self.descriptor.code, &rows).await
    }
}
