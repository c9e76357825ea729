//! The words of the catalogue in a line of the old book: answers and causes by their codes, or what each most likely means.

use std::collections::BTreeMap;

use crate::catalogue::descriptor::check_answers;
use crate::form::Problems;

use super::entry::Against;
use super::nearest::nearest;

pub fn cut(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(40).collect()
}

fn parts(text: &str) -> impl Iterator<Item = &str> {
    text.split(';').map(str::trim).filter(|part| !part.is_empty())
}

/// Answers as an order keeps them.
pub fn answers_of(p: &mut Problems, text: &str, family: &str, against: &Against) -> String {
    let mut answers = BTreeMap::new();
    for part in parts(text) {
        let Some((code, answer)) = part
            .split_once('=')
            .map(|(code, answer)| (code.trim(), answer.trim()))
        else {
            p.add(
                "answers",
                format!("“{}” is no answer. Write question=answer.", cut(part)),
            );
            continue;
        };
        let codes = || against.descriptors.iter().map(|known| known.code.as_str());
        if let Some(question) = against.descriptors.iter().find(|known| known.code == code) {
            if question.choices().any(|choice| choice == answer) {
                if answers.insert(code.to_owned(), answer.to_owned()).is_some() {
                    p.add("answers", format!("{code} is answered twice."));
                }
            } else {
                p.add("answers", unknown("answer", answer, question.choices(), code));
            }
        } else {
            p.add("answers", unknown("question", code, codes(), "the catalogue"));
        }
    }
    if family == "bow" && !answers.is_empty() {
        p.add("answers", "A bow is not asked about a noise.");
    }
    check_answers(p, "answers", &answers, &against.descriptors)
}

/// “…” is no answer of pitch; the nearest is one_note.
fn unknown<'a>(what: &str, said: &str, known: impl Iterator<Item = &'a str>, of: &str) -> String {
    let near = nearest(said, known).map_or(String::new(), |near| format!(" The nearest is {near}."));
    format!("“{}” is no {what} of {of}.{near}", cut(said))
}

/// Causes by their codes, each once, in the order of the alphabet.
pub fn causes(p: &mut Problems, field: &str, text: &str, family: &str, against: &Against) -> Vec<String> {
    let mut causes = Vec::new();
    for code in parts(text) {
        match against.causes.get(code) {
            None => {
                // Many write the name instead.
                let named = against.named(code);
                let words = named.map_or_else(
                    || unknown("cause", code, against.codes(), "the catalogue"),
                    |cause| format!("“{}” is written {} here.", cut(code), cause.code),
                );
                p.add(field, words);
            }
            Some(cause) if cause.retired => {
                p.add(
                    field,
                    format!("“{}” was retired from the catalogue. Choose another.", cause.name),
                );
            }
            Some(cause) if !family.is_empty() && !cause.in_family(family) => {
                p.add(
                    field,
                    format!("“{}” does not happen on a {family}. Choose another.", cause.name),
                );
            }
            Some(_) => causes.push(code.to_owned()),
        }
    }
    causes.sort_unstable();
    causes.dedup();
    causes
}
