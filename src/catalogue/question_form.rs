//! The form of a question: what the owner typed of it, and of its answers row by row.

use serde::Deserialize;

use crate::changed::Field;
use crate::form::{Problems, Typed};

use super::entry::decimal;
use super::new_question::{MOST, NewAnswer, NewQuestion};
use super::percent;
use super::question::Question;

pub const FIELDS: [Field; 7] = [
    ("question", "Question", false),
    ("hint", "Hint", false),
    ("about", "In short", false),
    ("asked_of", "Who answers", true),
    ("minutes", "Minutes", false),
    ("words", "Answers", false),
    ("percent", "How often, %", false),
];

/// Answers are typed in rows: the code of one that is there, its words, and how often it comes.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct QuestionForm {
    pub question: String,
    hint: String,
    about: String,
    asked_of: String,
    minutes: String,
    /// `yes_no` or `words`; of a new question only.
    kind: String,
    yes_percent: String,
    answer: Vec<String>,
    words: Vec<String>,
    percent: Vec<String>,
    pub version: i64,
    pub once: String,
}

/// One row of the form as it was typed.
#[derive(Clone, Debug, Default)]
pub struct Row {
    pub answer: String,
    pub words: String,
    pub percent: String,
}

/// The rows of a form as they were typed, and empty ones up to the most a question may have.
#[must_use]
pub fn rows(typed: &Typed) -> Vec<Row> {
    let column = |name: &'static str| -> Vec<String> {
        let own = typed.under(name).filter(|(rest, _)| rest.is_empty());
        own.map(|(_, value)| value.to_owned()).collect()
    };
    let (answers, words, percents) = (column("answer"), column("words"), column("percent"));
    let at = |column: &[String], row: usize| column.get(row).cloned().unwrap_or_default();
    (0..words.len().max(MOST))
        .map(|row| Row {
            answer: at(&answers, row),
            words: at(&words, row),
            percent: at(&percents, row),
        })
        .collect()
}

impl QuestionForm {
    /// The question this describes.
    #[must_use]
    pub fn read(&self) -> NewQuestion {
        NewQuestion {
            question: self.question.clone(),
            hint: self.hint.clone(),
            about: self.about.clone(),
            asked_of: self.asked_of.clone(),
            minutes: (!self.minutes.trim().is_empty()).then(|| decimal(&self.minutes)),
            choices: if self.is_yes_no() {
                self.yes_no().into()
            } else {
                self.filled().into_iter().map(|row| row.1).collect()
            },
        }
    }

    fn is_yes_no(&self) -> bool {
        self.kind == "yes_no"
    }

    /// Yes and no, with how often it is yes.
    fn yes_no(&self) -> [NewAnswer; 2] {
        let answer = |words: &str, percent| NewAnswer {
            words: words.into(),
            percent,
            ..NewAnswer::default()
        };
        [
            answer("Yes", percent::number(&self.yes_percent)),
            answer("No", None),
        ]
    }

    /// The rows that say something, each with its number.
    fn filled(&self) -> Vec<(usize, NewAnswer)> {
        let at = |column: &'_ [String], row: usize| column.get(row).cloned().unwrap_or_default();
        let rows = (0..self.words.len()).map(|row| {
            let answer = NewAnswer {
                code: at(&self.answer, row),
                words: at(&self.words, row),
                percent: percent::number(&at(&self.percent, row)),
            };
            (row + 1, answer)
        });
        let says = |answer: &NewAnswer| {
            !answer.code.is_empty() || !answer.words.trim().is_empty() || answer.percent.is_some()
        };
        rows.filter(|row| says(&row.1)).collect()
    }

    /// The same problems at the fields of the form: those of an answer in the row in which it was typed.
    #[must_use]
    pub fn on_form(&self, problems: &Problems) -> Problems {
        let rows = self.filled();
        let mut told = Problems::default();
        for problem in problems {
            let parts: Vec<&str> = problem.field.split('.').collect();
            let field = match parts[..] {
                ["choices", ..] if self.is_yes_no() => "yes_percent".to_owned(),
                ["choices"] => "words-1".to_owned(),
                ["choices", at, name] => {
                    let row = at.parse().ok().and_then(|at: usize| rows.get(at));
                    let name = if name == "code" { "words" } else { name };
                    format!("{name}-{}", row.map_or(1, |row| row.0))
                }
                _ => problem.field.clone(),
            };
            told.add(field, problem.words.clone());
        }
        told
    }
}

/// The form as it stands for a question.
#[must_use]
pub fn typed_of(question: &Question) -> Typed {
    let own = &question.descriptor;
    let mut typed = Typed::default()
        .with("question", &*own.question)
        .with("hint", &*own.hint)
        .with("about", &*question.about)
        .with("asked_of", &*own.asked_of)
        .with("minutes", own.minutes.to_string());
    for choice in &question.choices {
        typed = typed
            .with("answer", &*choice.code)
            .with("words", &*choice.words)
            .with("percent", percent::typed(choice.share));
    }
    typed
}
