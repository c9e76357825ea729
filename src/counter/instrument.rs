//! An instrument: what is taken in, with its family, size, maker as labelled, and how surely its year is known.

use serde::{Deserialize, Serialize};
use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::Moment;
use crate::db::{Read, Tx, insert_rows};
use crate::error::{Error, Result};
use crate::form::Problems;

use super::find;

/// The families with the sizes they come in; a viola is known by its body length.
pub const FAMILIES: [(&str, &str, &[&str]); 5] = [
    (
        "violin",
        "Violin",
        &["4/4", "7/8", "3/4", "1/2", "1/4", "1/8", "1/10", "1/16"],
    ),
    (
        "viola",
        "Viola",
        &["16½ in", "16 in", "15½ in", "15 in", "14 in", "13 in", "12 in"],
    ),
    (
        "cello",
        "Cello",
        &["4/4", "7/8", "3/4", "1/2", "1/4", "1/8", "1/10"],
    ),
    ("bass", "Bass", &["4/4", "3/4", "1/2", "1/4"]),
    ("bow", "Bow", &["4/4", "3/4", "1/2", "1/4", "1/8"]),
];

#[derive(Clone, Debug, FromRow)]
pub struct Instrument {
    pub id: Uuid,
    pub customer: Uuid,
    pub family: String,
    pub size: String,
    pub maker: String,
    pub year_made: Option<i64>,
    pub year_certainty: String,
    pub serial: String,
    pub marks: String,
    pub version: i64,
    pub created_at: Moment,
}

/// An instrument as somebody describes it, on a page or in a call.
#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct NewInstrument {
    /// `violin`, `viola`, `cello`, `bass` or `bow`.
    pub family: String,
    pub size: String,
    /// Maker or label as read.
    pub maker: String,
    pub year_made: Option<i64>,
    /// `exact`, `circa` or `unknown`; empty follows from whether there is a year.
    pub year_certainty: String,
    pub serial: String,
    pub marks: String,
}

impl NewInstrument {
    /// What it is, once checked; fields are named below `at`. A year later than the day it is taken in is refused.
    pub fn check(
        &self,
        problems: &mut Problems,
        at: &str,
        customer: Uuid,
        this_year: i64,
        now: Moment,
    ) -> Instrument {
        let field = |name: &str| format!("{at}{name}");
        if !FAMILIES.iter().any(|family| family.0 == self.family) {
            problems.add(field("family"), "Choose violin, viola, cello, bass or bow.");
        }
        let certainty = match (self.year_certainty.as_str(), self.year_made) {
            ("", Some(_)) => "exact",
            ("", None) => "unknown",
            (said, _) => said,
        };
        match (certainty, self.year_made) {
            ("exact" | "circa", Some(year)) if (1500..=this_year).contains(&year) => {}
            ("exact" | "circa", Some(year)) if year > this_year => {
                problems.add(
                    field("year_made"),
                    format!("The year made cannot be after {this_year}. Look at the label again."),
                );
            }
            ("exact" | "circa", Some(_)) => {
                problems.add(field("year_made"), "Write a year from 1500 on, in four digits.");
            }
            ("exact" | "circa", None) => {
                problems.add(field("year_made"), "Write the year, or say that it is not known.");
            }
            ("unknown", None) => {}
            ("unknown", Some(_)) => {
                problems.add(
                    field("year_certainty"),
                    "There is a year: say whether it is exact or circa.",
                );
            }
            _ => problems.add(field("year_certainty"), "Say exact, circa or unknown."),
        }
        Instrument {
            id: Uuid::now_v7(),
            customer,
            family: self.family.clone(),
            size: problems.line(&field("size"), &self.size, 20),
            maker: problems.line(&field("maker"), &self.maker, 200),
            year_made: self.year_made,
            year_certainty: certainty.to_owned(),
            serial: problems.line(&field("serial"), &self.serial, 64),
            marks: problems.text(&field("marks"), &self.marks, 2000),
            version: 1,
            created_at: now,
        }
    }
}

fn family_words(family: &str) -> &'static str {
    let known = FAMILIES.iter().find(|known| known.0 == family);
    known.map_or("Instrument", |known| known.1)
}

/// "Violin 3/4"
#[must_use]
pub fn in_short(family: &str, size: &str) -> String {
    format!("{} {size}", family_words(family)).trim_end().to_owned()
}

impl Instrument {
    #[must_use]
    pub fn is_bow(&self) -> bool {
        self.family == "bow"
    }

    #[must_use]
    pub fn family_words(&self) -> &'static str {
        family_words(&self.family)
    }

    /// "Violin 3/4, Harrow & Pell, circa 1920"
    #[must_use]
    pub fn words(&self) -> String {
        let mut words = self.family_words().to_owned();
        for (before, part) in [(" ", &self.size), (", ", &self.maker)] {
            if !part.is_empty() {
                words.push_str(before);
                words.push_str(part);
            }
        }
        if self.year_made.is_some() {
            words.push_str(", ");
            words.push_str(&self.year_words());
        }
        words
    }

    /// "Violin 3/4"
    #[must_use]
    pub fn short_words(&self) -> String {
        in_short(&self.family, &self.size)
    }

    /// "1920", "circa 1920" or "year not known"
    #[must_use]
    pub fn year_words(&self) -> String {
        match self.year_made {
            Some(year) if self.year_certainty == "circa" => format!("circa {year}"),
            Some(year) => year.to_string(),
            None => "year not known".to_owned(),
        }
    }

    /// # Errors
    /// Not found, or what the database says.
    pub async fn get(mut on: impl Read, id: Uuid) -> Result<Instrument> {
        on.read("select * from instrument where id = $1")
            .bind(id)
            .optional()
            .await?
            .ok_or(Error::NotFound)
    }

    /// What a customer has brought so far; a fleet's newest come first and there is an end to the list.
    ///
    /// # Errors
    /// What the database says.
    pub async fn of_customer(mut on: impl Read, customer: Uuid) -> Result<Vec<Instrument>> {
        Ok(on
            .read("select * from instrument where customer = $1 order by id desc limit 60")
            .bind(customer)
            .all()
            .await?)
    }

    /// Writes those that are new, and what they are found by.
    ///
    /// # Errors
    /// What the database says.
    pub async fn insert(tx: &mut Tx, instruments: &[Instrument]) -> Result<()> {
        let into =
            "insert into instrument (id, customer, family, size, maker, year_made, year_certainty, serial, marks,
            version, created_at) values";
        insert_rows(tx, into, 11, instruments, |query, instrument| {
            query
                .bind(instrument.id)
                .bind(instrument.customer)
                .bind(instrument.family.clone())
                .bind(instrument.size.clone())
                .bind(instrument.maker.clone())
                .bind(instrument.year_made)
                .bind(instrument.year_certainty.clone())
                .bind(instrument.serial.clone())
                .bind(instrument.marks.clone())
                .bind(instrument.version)
                .bind(instrument.created_at)
        })
        .await?;
        let keys: Vec<find::Key> = instruments.iter().flat_map(Instrument::keys).collect();
        find::insert(tx, &keys).await
    }

    /// Whether it says of it what the other does.
    #[must_use]
    pub fn says_the_same(&self, other: &Instrument) -> bool {
        let said = |one: &Instrument| {
            let one = one.clone();
            let year = (one.year_made, one.year_certainty);
            (one.family, one.size, one.maker, year, one.serial, one.marks)
        };
        said(self) == said(other)
    }

    /// Keeps what was changed, unless somebody else changed it since `version`; what it is and whose stays.
    ///
    /// # Errors
    /// Stale, or what the database says.
    pub async fn update(&self, tx: &mut Tx, version: i64) -> Result<()> {
        let rows = tx
            .query(
                "update instrument set size = $3, maker = $4, year_made = $5, year_certainty = $6, serial = $7,
                 marks = $8, version = version + 1 where id = $1 and version = $2",
            )
            .bind(self.id)
            .bind(version)
            .bind(self.size.clone())
            .bind(self.maker.clone())
            .bind(self.year_made)
            .bind(self.year_certainty.clone())
            .bind(self.serial.clone())
            .bind(self.marks.clone())
            .execute()
            .await?;
        if rows == 0 {
            return Err(Error::Stale(
                "Somebody else changed this instrument just now. Read it again, then change it.".into(),
            ));
        }
        find::replace(tx, self.customer, Some(self.id), &self.keys()).await
    }

    /// What it is found by: its family, the words of its maker, and its serial.
    #[must_use]
    fn keys(&self) -> Vec<find::Key> {
        let mut keys = find::words(&self.maker);
        keys.push(self.family.clone());
        keys.extend(find::words(&self.serial));
        keys.sort();
        keys.dedup();
        let of = |key| (key, self.customer, Some(self.id));
        keys.into_iter().map(of).collect()
    }
}
