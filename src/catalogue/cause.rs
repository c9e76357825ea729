//! A cause is one of the things that can buzz: where it sits, how it sounds, how to check for it, what mends it.

use serde::Deserialize;
use sqlx::FromRow;

use crate::db::{Query, Read};
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
            .bind(code.to_owned())
            .optional()
            .await?
            .ok_or(Error::NotFound)
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
    }
}
