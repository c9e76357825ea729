//! A question as the owner describes it with its answers, on a page or in a call: checked, added or kept in its place.

use serde::{Deserialize, Serialize};

use crate::db::Tx;
use crate::error::{Error, Result};
use crate::form::Problems;

use super::descriptor::{Descriptor, SAYS_NOTHING};
use super::entry::{self, code_of, same_name, within};
use super::percent;
use super::question::{Choice, Question};

/// More answers than this are two questions.
pub const MOST: usize = 6;
/// Who can answer it.
pub const ASKED_OF: [(&str, &str); 3] = [
    ("customer", "The customer knows"),
    ("counter", "Tried at the counter"),
    ("bench", "Tried at the bench"),
];
/// The minutes of a question of which nobody said how long it takes.
const USUAL_MINUTES: f64 = 0.5;

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct NewQuestion {
    pub question: String,
    pub hint: String,
    /// What it is about in a word or two, as an order shows it; left out, an order shows the question.
    pub about: String,
    /// `customer`, `counter` or `bench`.
    pub asked_of: String,
    /// Half a minute if left out.
    pub minutes: Option<f64>,
    /// Those that say something; that nobody is sure is always there by itself. One that stands is named by its code,
    /// and stays when it is left out here, since orders may have it.
    pub choices: Vec<NewAnswer>,
}

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct NewAnswer {
    /// Of one that stands; a new one gets its code by itself.
    pub code: String,
    pub words: String,
    /// How often it is said in a hundred, whatever the cause; those left out share what is left.
    pub percent: Option<f64>,
}

/// Adds one of the shop's own.
///
/// # Errors
/// Problems, or what the database says.
pub async fn add(tx: &mut Tx, new: &NewQuestion) -> Result<Question> {
    let all = Descriptor::all(&mut *tx).await?;
    let mut problems = Problems::default();
    let question = new.check(&mut problems, None, &all);
    if problems.is_empty() && !question.add(tx).await? {
        problems.add("question", entry::TAKEN);
    }
    problems.settle()?;
    Ok(question)
}

/// Keeps it in the place of the one with this code, unless somebody else changed that since `version`.
///
/// # Errors
/// Not found, stale, problems, or what the database says.
pub async fn change(tx: &mut Tx, code: &str, version: i64, new: &NewQuestion) -> Result<Question> {
    let kept = Question::get(&mut *tx, code).await?;
    let stale = || Error::Stale(entry::stale(&kept.descriptor.question));
    // Before anything else: what was typed may not speak of answers that were added meanwhile.
    if kept.descriptor.version != version {
        return Err(stale());
    }
    let all = Descriptor::all(&mut *tx).await?;
    let mut problems = Problems::default();
    let mut question = new.check(&mut problems, Some(&kept), &all);
    problems.settle()?;
    if !question.keep(tx, &kept).await? {
        return Err(stale());
    }
    question.descriptor.version += 1;
    Ok(question)
}

impl NewQuestion {
    /// As it stands.
    #[must_use]
    pub fn of(kept: &Question) -> NewQuestion {
        let answer = |own: &Choice| NewAnswer {
            code: own.code.clone(),
            words: own.words.clone(),
            percent: Some(percent::of(own.share)),
        };
        NewQuestion {
            question: kept.descriptor.question.clone(),
            hint: kept.descriptor.hint.clone(),
            about: kept.about.clone(),
            asked_of: kept.descriptor.asked_of.clone(),
            minutes: Some(kept.descriptor.minutes),
            choices: kept.choices.iter().map(answer).collect(),
        }
    }

    /// The question this describes, in place of `kept` or as a new one.
    fn check(&self, p: &mut Problems, kept: Option<&Question>, all: &[Descriptor]) -> Question {
        let words = "Write the question as you would ask it.";
        let question = p.needed("question", &self.question, 200, words);
        let before = kept.map(|kept| &kept.descriptor);
        let taken = all.iter().any(|other| {
            !other.retired
                && same_name(&other.question, &question)
                && before.is_none_or(|before| before.code != other.code)
        });
        if taken {
            p.add("question", "This is asked already. Tell them apart.");
        }
        if !ASKED_OF.iter().any(|own| own.0 == self.asked_of) {
            p.add("asked_of", "Say who can answer it.");
        }
        let minutes = self.minutes.unwrap_or(USUAL_MINUTES);
        let choices = self.choices(p, kept.map_or(&[], |kept| &kept.choices));
        let codes = choices.iter().map(|own| own.code.as_str());
        let blank = before.and_then(Descriptor::blank);
        let blank = blank.unwrap_or_else(|| self.blank(&choices));
        let descriptor = Descriptor {
            code: before.map_or_else(
                || code_of(&question, |code| all.iter().any(|own| own.code == code)),
                |before| before.code.clone(),
            ),
            choices: codes.chain([blank]).collect::<Vec<_>>().join(";"),
            asked_of: self.asked_of.clone(),
            minutes: within(p, "minutes", minutes, &(0.1..=60.0)),
            hint: p.line("hint", &self.hint, 400),
            edition: before.map_or(0, |before| before.edition),
            changed: true,
            retired: before.is_some_and(|before| before.retired),
            version: before.map_or(1, |before| before.version),
            question,
        };
        Question {
            descriptor,
            about: self.about(p, kept),
            choices,
        }
    }

    /// Left empty or as it was, it stays: it may be the question itself.
    fn about(&self, p: &mut Problems, kept: Option<&Question>) -> String {
        let about = self.about.trim();
        match kept {
            Some(kept) if about.is_empty() || about == kept.about => kept.about.clone(),
            _ => p.line("about", about, 60),
        }
    }

    /// The answer that says nothing: what is tried, and is so or is not, may not have been tried.
    fn blank(&self, choices: &[Choice]) -> &'static str {
        let yes_no = choices.iter().all(|own| ["yes", "no"].contains(&&*own.code));
        if yes_no && self.asked_of != "customer" {
            "not_tried"
        } else {
            "not_sure"
        }
    }

    /// The answers, and those that stand though they are not named.
    fn choices(&self, p: &mut Problems, standing: &[Choice]) -> Vec<Choice> {
        let mut choices: Vec<Choice> = Vec::new();
        let mut given: Vec<(String, Option<f64>)> = Vec::new();
        for (at, answer) in self.choices.iter().enumerate().take(4 * MOST) {
            let choice = answer.check(p, at, standing, &choices);
            choices.push(choice);
            given.push((format!("choices.{at}.percent"), answer.percent));
        }
        for was in standing {
            if choices.iter().all(|own| own.code != was.code) {
                if choices.iter().any(|own| same_name(&own.words, &was.words)) {
                    p.add("choices", ALIKE);
                }
                choices.push(was.clone());
                given.push(("choices".into(), Some(percent::of(was.share))));
            }
        }
        if choices.len() < 2 {
            p.add("choices", "A question needs at least two answers.");
        }
        if choices.len() > MOST.max(standing.len()) {
            let words = format!("Keep this to {MOST} answers, or make two questions of it.");
            p.add("choices", words);
        }
        // A figure that reads as it stands is the one that stands, to the last digit.
        let reads_the_same = |own: &Choice, percent: Option<f64>| {
            let was = standing.iter().find(|was| was.code == own.code);
            was.is_some_and(|was| percent.map(|own| own.to_string()) == Some(percent::typed(was.share)))
        };
        let mut both = choices.iter().zip(&given);
        if !both.all(|(own, (_, percent))| reads_the_same(own, *percent)) {
            let shares = percent::filled(&percent::read(p, &given));
            for (own, share) in choices.iter_mut().zip(shares) {
                own.share = share;
            }
        }
        choices
    }
}

const ALIKE: &str = "Two answers read the same. Tell them apart.";

impl NewAnswer {
    fn check(&self, p: &mut Problems, at: usize, standing: &[Choice], before: &[Choice]) -> Choice {
        let field = |name: &str| format!("choices.{at}.{name}");
        let words = p.needed(&field("words"), &self.words, 60, "Say the answer in a few words.");
        if before.iter().any(|other| same_name(&other.words, &words)) {
            p.add(field("words"), ALIKE);
        }
        let was = standing.iter().find(|own| own.code == self.code);
        let again = before.iter().any(|own| own.code == self.code);
        if again || (was.is_none() && !self.code.is_empty()) {
            p.add(
                field("code"),
                "Name an answer that stands, and once. A new one has no code yet.",
            );
        }
        if was.is_none() && SAYS_NOTHING.contains(&code_of(&words, |_| false).as_str()) {
            p.add(field("words"), "This answer is always there by itself.");
        }
        let known = |code: &str| {
            standing.iter().chain(before).any(|own| own.code == code) || SAYS_NOTHING.contains(&code)
        };
        Choice {
            code: was.map_or_else(|| code_of(&words, known), |was| was.code.clone()),
            share: was.map_or(0.0, |was| was.share),
            words,
        }
    }
}
