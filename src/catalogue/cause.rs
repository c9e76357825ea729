//! A cause is one of the things that can buzz: where it sits, how it sounds, how to check for it, what mends it.

use serde::Deserialize;
use sqlx::FromRow;

use crate::db::{Query, Read, Tx};
use crate::diagnosis::models;
use crate::error::{Error, Result};

/// The regions of an instrument, in the order of the catalogue, as people say them.
pub const REGIONS: [(&str, &str); 15] = [
    ("scroll_pegbox", "Scroll and pegbox"),
    ("nut", "Nut"),
    ("neck_board", "Neck and board"),
    ("strings", "Strings"),
    ("bridge", "Bridge"),
    ("tailpiece", "Tailpiece"),
    ("afterlength", "Afterlength"),
    ("chin_shoulder", "Chin and shoulder rest"),
    ("top_plate", "Top"),
    ("back_ribs", "Back and ribs"),
    ("edge_seams", "Edge and seams"),
    ("inside", "Inside"),
    ("end_fittings", "End fittings"),
    ("bow", "Bow"),
    ("player_or_room", "Player or room"),
];

#[derive(Clone, Debug, FromRow, Deserialize)]
pub struct Cause {
    pub code: String,
    pub name: String,
    pub region: String,
    /// Joined by `;`.
    pub families: String,
    pub how_it_sounds: String,
    /// Among all confirmed causes of all families, before anything is known.
    pub prior_share: f64,
    /// How to check for it.
    pub look: String,
    pub check_minutes: i64,
    /// `counter` or `bench`.
    pub check_place: String,
    #[serde(deserialize_with = "yes")]
    pub needs_luthier: bool,
    pub remedy: String,
    pub remedy_jobs: String,
    pub alternate_jobs: String,
    pub parts: String,
    pub caution: String,
    pub season_tie: String,
    pub age_tie: String,
    #[serde(deserialize_with = "yes")]
    pub structural: bool,
    pub source: String,
    #[serde(default)]
    pub edition: i64,
    #[serde(default)]
    pub changed: bool,
    #[serde(default)]
    pub retired: bool,
    #[serde(default)]
    pub version: i64,
    /// Of a hundred looks at one that is there, so many miss it; none: as usual for where it is looked for.
    #[serde(default)]
    pub check_misses: Option<i64>,
}

fn yes<'de, D: serde::Deserializer<'de>>(from: D) -> Result<bool, D::Error> {
    Ok(String::deserialize(from)? == "yes")
}

impl Cause {
    #[must_use]
    pub fn in_family(&self, family: &str) -> bool {
        self.families.split(';').any(|own| own == family)
    }

    #[must_use]
    pub fn region_words(&self) -> &'static str {
        REGIONS
            .iter()
            .find(|region| region.0 == self.region)
            .map_or("Elsewhere", |region| region.1)
    }

    /// The jobs that mend it, needed together.
    pub fn jobs(&self) -> impl Iterator<Item = &str> {
        self.remedy_jobs.split('+').filter(|job| !job.is_empty())
    }

    /// All of the catalogue, retired ones too, for names of the past.
    ///
    /// # Errors
    /// What the database says.
    pub async fn all(mut on: impl Read) -> Result<Vec<Cause>> {
        Ok(on.read("select * from cause order by code").all().await?)
    }

    /// # Errors
    /// Not found, or what the database says.
    pub async fn get(mut on: impl Read, code: &str) -> Result<Cause> {
        on.read("select * from cause where code = $1")
            .bind(super::entry::asked(code))
            .optional()
            .await?
            .ok_or(Error::NotFound)
    }

    /// The other ways to mend it, each one job or several together.
    pub fn other_ways(&self) -> impl Iterator<Item = &str> {
        self.alternate_jobs.split(';').filter(|way| !way.is_empty())
    }

    /// The families it belongs to, as they are listed.
    #[must_use]
    pub fn families_words(&self) -> String {
        self.families.replace(';', ", ")
    }

    /// It can be looked for while the customer waits.
    #[must_use]
    pub fn is_at_counter(&self) -> bool {
        self.check_place == "counter"
    }

    /// Mending it is a luthier's work.
    #[must_use]
    pub fn is_for_luthier(&self) -> bool {
        self.structural || self.needs_luthier
    }

    #[must_use]
    pub fn place_words(&self) -> &'static str {
        if self.check_place == "counter" {
            "at the counter"
        } else {
            "at the bench"
        }
    }

    /// What the time of year has to do with it.
    #[must_use]
    pub fn season_words(&self) -> &'static str {
        match self.season_tie.as_str() {
            "dry" => "More in dry months.",
            "humid" => "More in humid months.",
            "change" => "More when dry turns to humid, or humid to dry.",
            _ => "At any time of year.",
        }
    }

    /// What the age of the instrument has to do with it.
    #[must_use]
    pub fn age_words(&self) -> &'static str {
        match self.age_tie.as_str() {
            "new" => "More on instruments of the last few years.",
            "student" => "More on student instruments.",
            "old" => "More on old instruments.",
            _ => "At any age.",
        }
    }

    /// Adds the shop's own; false if the code is taken.
    ///
    /// # Errors
    /// What the database says.
    pub async fn insert(&self, tx: &mut Tx) -> Result<bool> {
        let query = tx.query(
            "insert into cause (code, name, region, families, how_it_sounds, prior_share, look, check_minutes,
             check_place, needs_luthier, remedy, remedy_jobs, alternate_jobs, parts, caution, season_tie, age_tie,
             structural, source, edition, changed, retired, version, check_misses)
             values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22, $23, $24)
             on conflict do nothing",
        );
        let done = self.bind(query, self.edition).execute().await? == 1;
        models::changed(tx).await?;
        Ok(done)
    }

    /// Keeps what the owner changed; false if somebody else changed it since this version.
    ///
    /// # Errors
    /// What the database says.
    pub async fn update(&self, tx: &mut Tx) -> Result<bool> {
        // Numbered as `bind` binds; what an owner cannot change is not written.
        let query = tx.query(
            "update cause set name = $2, region = $3, families = $4, how_it_sounds = $5, prior_share = $6, look = $7,
             check_minutes = $8, check_place = $9, needs_luthier = $10, remedy = $11, remedy_jobs = $12,
             alternate_jobs = $13, parts = $14, caution = $15, season_tie = $16, age_tie = $17, structural = $18,
             source = $19, edition = $20, changed = $21, retired = $22, version = $23 + 1,
             check_misses = $24
             where code = $1 and version = $23",
        );
        let done = self.bind(query, self.edition).execute().await? == 1;
        models::changed(tx).await?;
        Ok(done)
    }

    /// In the order of the columns: `insert into cause (..)`.
    pub fn bind<'c>(&self, query: Query<'c>, edition: i64) -> Query<'c> {
        query
            .bind(self.code.clone())
            .bind(self.name.clone())
            .bind(self.region.clone())
            .bind(self.families.clone())
            .bind(self.how_it_sounds.clone())
            .bind(self.prior_share)
            .bind(self.look.clone())
            .bind(self.check_minutes)
            .bind(self.check_place.clone())
            .bind(self.needs_luthier)
            .bind(self.remedy.clone())
            .bind(self.remedy_jobs.clone())
            .bind(self.alternate_jobs.clone())
            .bind(self.parts.clone())
            .bind(self.caution.clone())
            .bind(self.season_tie.clone())
            .bind(self.age_tie.clone())
            .bind(self.structural)
            .bind(self.source.clone())
            .bind(edition)
            .bind(self.changed)
            .bind(self.retired)
            .bind(self.version)
            .bind(self.check_misses)
    }
}
