//! A thing is an instrument as the old book and the shop together describe it.

use uuid::Uuid;

use crate::counter::instrument::{FAMILIES, Instrument};
use crate::form::Problems;

use super::entry::Entry;

pub struct Thing {
    pub id: Uuid,
    pub owner: usize,
    pub family: &'static str,
    pub size: String,
    pub year_made: Option<i64>,
    pub certainty: String,
    pub is_written: bool,
    /// The lines that said the family, the size and the year; 0 is the shop itself.
    said_in: [u64; 3],
}

impl Thing {
    /// `exact`, `circa` or `unknown`, as an instrument keeps it.
    pub fn year_certainty(&self) -> &str {
        match (self.year_made, self.certainty.as_str()) {
            (None, _) => "unknown",
            (Some(_), "") => "exact",
            (Some(_), said) => said,
        }
    }

    /// As the first line that names it has it.
    pub fn new(owner: usize, line: u64, entry: &Entry) -> Thing {
        Thing {
            id: Uuid::nil(),
            owner,
            family: entry.family,
            size: String::new(),
            year_made: None,
            certainty: String::new(),
            is_written: false,
            said_in: [line; 3],
        }
    }

    /// Takes from a line what no line before said.
    pub fn learn(&mut self, line: u64, entry: &Entry) {
        if self.size.is_empty() && !entry.size.is_empty() {
            self.size.clone_from(&entry.size);
            self.said_in[1] = line;
        }
        if self.year_made.is_none() && entry.year_made.is_some() {
            self.year_made = entry.year_made;
            self.said_in[2] = line;
        }
        if self.year_made.is_some() && self.certainty.is_empty() {
            self.certainty.clone_from(&entry.certainty);
        }
    }

    /// The shop has it: what it says counts.
    pub fn is_the(&mut self, instrument: Instrument) {
        let family = FAMILIES.iter().find(|family| family.0 == instrument.family);
        self.id = instrument.id;
        self.family = family.map_or(self.family, |family| family.0);
        self.size = instrument.size;
        self.year_made = instrument.year_made;
        self.certainty = instrument.year_certainty;
        (self.said_in, self.is_written) = ([0; 3], true);
    }

    /// Says where a line speaks otherwise of the instrument than another line, or than the shop.
    pub fn agrees(&self, entry: &Entry, problems: &mut Problems) {
        let said = |line: u64, what: &str| match line {
            0 => format!("The shop has it as {what}. Set one of them right."),
            line => format!("Line {line} says {what}. Set one of them right."),
        };
        if entry.family != self.family {
            problems.add("family", said(self.said_in[0], self.family));
        }
        if !entry.size.is_empty() && entry.size != self.size {
            let size = if self.size.is_empty() {
                "without a size"
            } else {
                &self.size
            };
            problems.add("size", said(self.said_in[1], size));
        }
        let year = self
            .year_made
            .map_or("without a year".to_owned(), |year| year.to_string());
        if entry.year_made.is_some() && entry.year_made != self.year_made {
            problems.add("year_made", said(self.said_in[2], &year));
        } else if self.year_made.is_some_and(|made| made > entry.received_on.year()) {
            let words = said(self.said_in[2], &year);
            problems.add("year_made", format!("It came in before it was made. {words}"));
        } else if entry.year_made.is_some()
            && !entry.certainty.is_empty()
            && entry.certainty != self.year_certainty()
        {
            problems.add("year_certainty", said(self.said_in[2], self.year_certainty()));
        }
    }
}
