//! An entry is one line of the old book, checked: one visit of one instrument, from the day it came to the day it went.

use std::collections::HashMap;

use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::catalogue::cause::Cause;
use crate::catalogue::descriptor::Descriptor;
use crate::clock::{Day, Moment};
use crate::counter::find::{digits, fold};
use crate::counter::instrument::{FAMILIES, Instrument, NewInstrument};
use crate::form::Problems;
use crate::money::{self, Currency, Money};

use super::codes::{answers_of, causes, cut};

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

impl Against {
    /// The codes of all causes.
    pub fn codes(&self) -> impl Iterator<Item = &str> {
        let mut codes: Vec<&str> = self.causes.keys().map(String::as_str).collect();
        codes.sort_unstable();
        codes.into_iter()
    }

    /// The cause of a name, which many write instead of its code.
    pub fn named(&self, name: &str) -> Option<&Cause> {
        let name = fold(name);
        self.causes.values().find(|cause| fold(&cause.name) == name)
    }
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
        let (received, collected) = days(p, (received_on, collected_on), against.today);
        let customer = p.needed("customer", customer, 200, "Write the customer's name.");
        let phone = p.line("phone", phone, 40);
        let label = p.needed(
            "instrument",
            label,
            200,
            "Write what tells it from others, such as its label.",
        );
        let family = family.trim().to_lowercase();
        let certainty = certainty.trim().to_lowercase();
        let year = received.unwrap_or(against.today).year();
        let instrument = instrument(p, (&family, size), (year_made, &certainty), year);
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

/// The days of a visit, in their order and none to come.
fn days(p: &mut Problems, (from, to): (&str, &str), today: Day) -> (Option<Day>, Option<Day>) {
    let received = day(
        p,
        "received_on",
        from,
        "Write the day it came in, like 2019-03-28.",
    );
    let collected = day(
        p,
        "collected_on",
        to,
        "Write the day it went home, like 2019-03-28. What is still here is taken in at the counter.",
    );
    for (field, day) in [("received_on", received), ("collected_on", collected)] {
        if day.is_some_and(|day| day > today) {
            p.add(field, "This day is still to come.");
        }
    }
    if received.zip(collected).is_some_and(|(from, to)| to < from) {
        p.add("collected_on", "It cannot go home before it came in.");
    }
    (received, collected)
}

/// What is said of the instrument, by the rules of intake in the year it came in.
fn instrument(
    p: &mut Problems,
    (family, size): (&str, &str),
    (made, certainty): (&str, &str),
    year: i64,
) -> Instrument {
    let year_made = whole_year(p, made);
    // A year that cannot be read is told once.
    let certainty = if p.at("year_made").is_empty() {
        certainty
    } else {
        ""
    };
    let new = NewInstrument {
        family: family.to_owned(),
        size: size.to_owned(),
        year_made,
        year_certainty: certainty.to_owned(),
        ..NewInstrument::default()
    };
    new.check(p, "", Uuid::nil(), year, Moment(0))
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
