//! The form of a question: what the owner typed of it and its answers, and the question it describes.

use serde::Deserialize;

use crate::changed::Field;
use crate::form::{Problems, Typed};

use super::descriptor::{Descriptor, SAYS_NOTHING};
use super::entry::{code_of, decimal, same_name};
use super::percent;
use super::question::{Choice, Question};

/// More answers than this are two questions.
const MOST: usize = 6;

pub const FIELDS: [Field; 7] = [
    ("question", "Question", false),
    ("hint", "Hint", false),
    ("about", "In short", false),
    ("asked_of", "Who answers", true),
    ("minutes", "Minutes", false),
    ("words", "Answers", false),
    ("percent", "How often, %", false),
];
/// Who can answer it.
pub const ASKED_OF: [(&str, &str); 3] = [
    ("customer", "The customer knows"),
    ("counter", "Tried at the counter"),
    ("bench", "Tried at the bench"),
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
    /// The question this describes, in place of `kept` or as a new one, and what wants mending.
    #[must_use]
    pub fn check(&self, kept: Option<&Question>, all: &[Descriptor]) -> (Question, Problems) {
        let mut problems = Problems::default();
        let p = &mut problems;
        let question = p.needed(
            "question",
            &self.question,
            200,
            "Write the question as you would ask it.",
        );
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
        let minutes = match self.minutes.trim() {
            "" => 0.5,
            text => decimal(p, "minutes", text, &(0.1..=60.0)),
        };
        let choices = if kept.is_none() && self.kind == "yes_no" {
            self.yes_no(p)
        } else {
            self.in_words(p, kept)
        };
        let blank = match before.and_then(Descriptor::blank) {
            Some(blank) => blank,
            None if self.kind == "yes_no" && self.asked_of != "customer" => "not_tried",
            None => "not_sure",
        };
        let codes = choices.iter().map(|own| own.code.as_str()).chain([blank]);
        let descriptor = Descriptor {
            code: before.map_or_else(
                || code_of(&question, |code| all.iter().any(|own| own.code == code)),
                |before| before.code.clone(),
            ),
            choices: codes.collect::<Vec<_>>().join(";"),
            asked_of: self.asked_of.clone(),
            minutes,
            hint: p.line("hint", &self.hint, 400),
            edition: before.map_or(0, |before| before.edition),
            changed: true,
            retired: before.is_some_and(|before| before.retired),
            version: before.map_or(1, |_| self.version),
            question,
        };
        let about = p.line("about", &self.about, 60);
        let about = match kept {
            Some(kept) if about.is_empty() => kept.about.clone(),
            _ => about,
        };
        let question = Question {
            descriptor,
            about,
            choices,
        };
        (question, problems)
    }

    /// Yes and no, with how often it is yes.
    fn yes_no(&self, p: &mut Problems) -> Vec<Choice> {
        let fields = [
            ("yes_percent".to_owned(), self.yes_percent.as_str()),
            (String::new(), ""),
        ];
        let shares = percent::filled(&percent::read(p, &fields));
        let choice = |(code, words, share): (&str, &str, f64)| Choice {
            code: code.into(),
            words: words.into(),
            share,
        };
        [("yes", "Yes", shares[0]), ("no", "No", shares[1])]
            .map(choice)
            .into()
    }

    /// The answers in the shop's words: those that are there keep their code, and stay even if they
    /// are not in the form, since orders may have them.
    fn in_words(&self, p: &mut Problems, kept: Option<&Question>) -> Vec<Choice> {
        let at = |column: &'_ [String], row: usize| column.get(row).cloned().unwrap_or_default();
        let standing: &[Choice] = kept.map_or(&[], |kept| &kept.choices);
        let mut choices: Vec<Choice> = Vec::new();
        let mut typed: Vec<(String, String)> = Vec::new();
        for row in 0..self.words.len().min(4 * MOST) {
            let (code, text, often) = (
                at(&self.answer, row),
                at(&self.words, row),
                at(&self.percent, row),
            );
            let new = choices.iter().all(|own: &Choice| own.code != code);
            let was = standing.iter().find(|own| own.code == code && new);
            if was.is_none() && text.trim().is_empty() && often.trim().is_empty() {
                continue;
            }
            let field = format!("words-{}", row + 1);
            let words = p.needed(&field, &text, 60, "Say the answer in a few words.");
            if choices.iter().any(|other| same_name(&other.words, &words)) {
                p.add(&field, "Two answers read the same. Tell them apart.");
            }
            let known = |code: &str| {
                standing.iter().chain(&choices).any(|own| own.code == code) || SAYS_NOTHING.contains(&code)
            };
            if was.is_none() && SAYS_NOTHING.contains(&code_of(&words, |_| false).as_str()) {
                p.add(&field, "This answer is always there by itself.");
            }
            choices.push(Choice {
                code: was.map_or_else(|| code_of(&words, known), |was| was.code.clone()),
                share: was.map_or(0.0, |was| was.share),
                words,
            });
            typed.push((format!("percent-{}", row + 1), often));
        }
        for was in standing {
            if choices.iter().all(|own| own.code != was.code) {
                typed.push(("percent-1".into(), percent::typed(was.share)));
                choices.push(was.clone());
            }
        }
        if choices.len() < 2 {
            p.add("words-1", "A question needs at least two answers.");
        }
        if choices.len() > MOST.max(standing.len()) {
            p.add(
                "words-1",
                format!("Keep this to {MOST} answers, or make two questions of it."),
            );
        }
        let as_before = choices.len() == standing.len()
            && standing
                .iter()
                .zip(&typed)
                .all(|(was, (_, often))| often.trim() == percent::typed(was.share));
        if !as_before {
            let fields: Vec<(String, &str)> = typed
                .iter()
                .map(|(field, often)| (field.clone(), often.as_str()))
                .collect();
            let shares = percent::filled(&percent::read(p, &fields));
            for (own, share) in choices.iter_mut().zip(shares) {
                own.share = share;
            }
        }
        choices
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
