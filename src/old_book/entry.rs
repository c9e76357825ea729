//! An entry is one line of the old book, checked: one visit of one instrument, from the day it came to the day it went.

use std::collections::{BTreeMap, HashMap};

use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::catalogue::cause::Cause;
use crate::catalogue::descriptor::{Descriptor, check_answers};
use crate::clock::{Day, Moment};
use crate::counter::find::{digits, fold};
use crate::counter::instrument::{FAMILIES, NewInstrument};
use crate::form::Problems;
use crate::money::{self, Currency, Money};

use super::nearest::nearest;

/// As at the bench.
const MOST_MINUTES: i64 = 10_000;

#[derive(Clone, Debug)]
pub struct Entry {
    pub received_on: Day,
    pub collected_on: Day,
    pub customer: String,
    pub phone: String,
    /// What tells the instrument from the customer's others, such as its label.
    pub label: String,
    pub family: &'static str,
    pub size: String,
    pub year_made: Option<i64>,
    /// As written; empty where nothing was.
    pub certainty: String,
    pub words: String,
    /// As on an order.
    pub answers: String,
    pub confirmed: Vec<String>,
    pub repaired: Vec<String>,
    pub minutes: Option<i64>,
    pub charged: Option<Money>,
}

/// What entries are checked against.
pub struct Against {
    pub today: Day,
    pub currency: Currency,
    pub causes: HashMap<String, Cause>,
    pub descriptors: Vec<Descriptor>,
}

/// The name or label as it is compared: however it is spelled in capitals, marks and blanks.
pub fn plain(text: &str) -> String {
    fold(text).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A number that stands for a text, short enough to keep one for each line.
pub fn short(text: &str) -> u128 {
    let hash = Sha256::digest(text.as_bytes());
    let mut half = [0; 16];
    half.copy_from_slice(&hash[..16]);
    u128::from_be_bytes(half)
}

impl Entry {
    /// Checks the cells of a line, in the order of the header's columns. Each problem names its column.
    pub fn read(cells: [&str; 15], against: &Against, problems: &mut Problems) -> Option<Entry> {
        let [
            received_on,
            collected_on,
            customer,
            phone,
            label,
            family,
            size,
            year_made,
            certainty,
            words,
            answers,
            confirmed,
            repaired,
            minutes,
            charged,
        ] = cells;
        let p = problems;
        let received = day(
            p,
            "received_on",
            received_on,
            "Write the day it came in, like 2019-03-28.",
        );
        let collected = day(
            p,
            "collected_on",
            collected_on,
            "Write the day it went home, like 2019-03-28. What is still here is taken in at the counter.",
        );
        for (field, day) in [("received_on", received), ("collected_on", collected)] {
            if day.is_some_and(|day| day > against.today) {
                p.add(field, "This day is still to come.");
            }
        }
        if received.zip(collected).is_some_and(|(from, to)| to < from) {
            p.add("collected_on", "It cannot go home before it came in.");
        }
        let customer = p.needed("customer", customer, 200, "Write the customer's name.");
        let phone = p.line("phone", phone, 40);
        let label = p.needed(
            "instrument",
            label,
            200,
            "Write what tells it from others, such as its label.",
        );
        let family = family.trim().to_lowercase();
        let year = received.unwrap_or(against.today).year();
        let certainty = certainty.trim().to_lowercase();
        let year_made = whole_year(p, year_made);
        let instrument = NewInstrument {
            family: family.clone(),
            size: size.to_owned(),
            year_made,
            // A year that cannot be read is told once.
            year_certainty: if p.at("year_made").is_empty() {
                certainty.clone()
            } else {
                String::new()
            },
            ..NewInstrument::default()
        };
        let instrument = instrument.check(p, "", Uuid::nil(), year, Moment(0));
        let family = FAMILIES
            .iter()
            .find(|known| known.0 == family)
            .map_or("", |known| known.0);
        let words = p.text("complaint", words, 4000);
        let answers = answers_of(p, answers, family, against);
        let confirmed = causes(p, "confirmed", confirmed, family, against);
        let repaired = causes(p, "repaired", repaired, family, against);
        if let Some(only) = repaired.iter().find(|cause| !confirmed.contains(cause)) {
            p.add(
                "repaired",
                format!("{only} is not among the confirmed. Write it there too."),
            );
        }
        let minutes = p.number("minutes", minutes, 0..=MOST_MINUTES);
        let charged = match charged.trim() {
            "" => None,
            text => money::parse(text, &against.currency)
                .map_err(|why| p.add("charged", why.to_string()))
                .ok(),
        };
        if !p.is_empty() {
            return None;
        }
        Some(Entry {
            received_on: received?,
            collected_on: collected?,
            customer,
            phone,
            label,
            family,
            size: instrument.size,
            year_made: instrument.year_made,
            certainty,
            words,
            answers,
            confirmed,
            repaired,
            minutes,
            charged: charged.filter(|charged| !charged.is_zero()),
        })
    }

    /// Whose it is, as names are compared.
    pub fn customer_key(&self) -> u128 {
        short(&plain(&self.customer))
    }

    /// Which of theirs it is.
    pub fn label_key(&self) -> u128 {
        short(&plain(&self.label))
    }

    /// The digits of the phone number, 0 where none is given.
    pub fn phone_key(&self) -> u128 {
        phone_key(&self.phone)
    }

    /// All that the line says, however it is written; the same for the same visit told the same way.
    pub fn mark(&self) -> Uuid {
        let number = |number: Option<i64>| number.map_or(String::new(), |number| number.to_string());
        let said = [
            self.received_on.iso(),
            self.collected_on.iso(),
            plain(&self.customer),
            digits(&self.phone),
            plain(&self.label),
            self.family.to_owned(),
            self.size.clone(),
            number(self.year_made),
            self.certainty.clone(),
            self.words.clone(),
            self.answers.clone(),
            self.confirmed.join(";"),
            self.repaired.join(";"),
            number(self.minutes),
            number(self.charged.map(|charged| charged.0)),
        ];
        Uuid::from_u128(short(&said.join("\u{1f}")))
    }
}

pub fn phone_key(phone: &str) -> u128 {
    match digits(phone) {
        none if none.is_empty() => 0,
        digits => short(&digits),
    }
}

fn day(p: &mut Problems, field: &str, text: &str, missing: &str) -> Option<Day> {
    let text = text.trim();
    let read = Day::parse(text);
    if text.is_empty() {
        p.add(field, missing);
    } else if read.is_none() {
        let words = match dotted(text) {
            Some(day) => format!("Write the day as {}.", day.iso()),
            None => format!(
                "“{}” is no day of the calendar. Write it like 2019-03-28.",
                cut(text)
            ),
        };
        p.add(field, words);
    }
    read
}

/// 28.3.2019, the one other way to write a day that cannot be read two ways.
fn dotted(text: &str) -> Option<Day> {
    let mut parts = text.split('.').map(str::trim);
    let (day, month, year) = (parts.next()?, parts.next()?, parts.next()?);
    Day::parse(&format!("{year}-{month:0>2}-{day:0>2}")).filter(|_| parts.next().is_none())
}

fn whole_year(p: &mut Problems, text: &str) -> Option<i64> {
    let text = text.trim();
    let year = crate::form::whole(text);
    if year.is_some_and(|year| !(0..=9999).contains(&year)) {
        p.add(
            "year_made",
            "Write the year in four digits, like 1920, and in year_certainty whether it is exact or circa.",
        );
        return None;
    }
    year
}

fn cut(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(40).collect()
}

fn parts(text: &str) -> impl Iterator<Item = &str> {
    text.split(';').map(str::trim).filter(|part| !part.is_empty())
}

/// Answers as an order keeps them.
fn answers_of(p: &mut Problems, text: &str, family: &str, against: &Against) -> String {
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
fn causes(p: &mut Problems, field: &str, text: &str, family: &str, against: &Against) -> Vec<String> {
    let mut causes = Vec::new();
    for code in parts(text) {
        match against.causes.get(code) {
            None => {
                // Many write the name instead.
                let named = against
                    .causes
                    .values()
                    .find(|cause| fold(&cause.name) == fold(code));
                let words = match named {
                    Some(cause) => format!("“{}” is written {} here.", cut(code), cause.code),
                    None => {
                        let mut codes: Vec<&str> = against.causes.keys().map(String::as_str).collect();
                        codes.sort_unstable();
                        unknown("cause", code, codes.into_iter(), "the catalogue")
                    }
                };
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
