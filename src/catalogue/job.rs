//! A job is a usual piece of work with its usual minutes and ordered steps.

use serde::Deserialize;
use sqlx::FromRow;

use crate::db::{Query, Read, Tx, insert_rows};
use crate::error::{Error, Result};

#[derive(Clone, Debug, FromRow, Deserialize)]
pub struct Job {
    pub code: String,
    pub name: String,
    /// `counter`, `bench_technician` or `senior_luthier`.
    pub who: String,
    pub minutes_low: i64,
    pub minutes_typical: i64,
    pub minutes_high: i64,
    pub wait_hours: f64,
    pub factor_cello: f64,
    pub factor_bass: f64,
    pub materials: String,
    pub source: String,
    /// For which families it is, joined by `;`.
    pub families: String,
    /// The cautions that hold for it as the shop says, joined by `;`; none: as the program knows it.
    #[serde(default)]
    pub hazards: Option<String>,
    #[serde(default)]
    pub edition: i64,
    #[serde(default)]
    pub changed: bool,
    #[serde(default)]
    pub retired: bool,
    #[serde(default)]
    pub version: i64,
}

#[derive(Clone, Debug, FromRow, Deserialize)]
pub struct JobStep {
    pub job: String,
    pub position: i64,
    pub step: String,
    pub minutes_typical: i64,
    pub wait_hours: f64,
    pub materials: String,
    pub caution: String,
}

/// What the shop makes itself is not held to a family.
pub const FOR_ANY: &str = "violin;viola;cello;bass;bow";

impl Job {
    #[must_use]
    pub fn who_words(&self) -> &'static str {
        match self.who.as_str() {
            "counter" => "at the counter",
            "senior_luthier" => "a luthier who may open bodies",
            _ => "at the bench",
        }
    }

    /// Whether it is work for this family: no bow has a sound post.
    #[must_use]
    pub fn is_for(&self, family: &str) -> bool {
        self.families.split(';').any(|own| own == family)
    }

    /// The usual minutes on an instrument of this family: a cello and a bass take a factor more.
    #[must_use]
    #[expect(clippy::cast_possible_truncation, reason = "minutes of a job fit many times")]
    pub fn minutes_for(&self, family: &str) -> i64 {
        let factor = match family {
            "cello" => self.factor_cello,
            "bass" => self.factor_bass,
            _ => 1.0,
        };
        #[expect(clippy::cast_precision_loss, reason = "minutes of a job fit many times")]
        let minutes = self.minutes_typical as f64 * factor;
        minutes.round() as i64
    }

    /// All of the catalogue by name, retired ones too, for names of the past.
    ///
    /// # Errors
    /// What the database says.
    pub async fn all(mut on: impl Read) -> Result<Vec<Job>> {
        Ok(on.read("select * from job order by code").all().await?)
    }

    /// # Errors
    /// Not found, or what the database says.
    pub async fn get(mut on: impl Read, code: &str) -> Result<Job> {
        on.read("select * from job where code = $1")
            .bind(super::entry::asked(code))
            .optional()
            .await?
            .ok_or(Error::NotFound)
    }

    /// Adds the shop's own; false if the code is taken.
    ///
    /// # Errors
    /// What the database says.
    pub async fn insert(&self, tx: &mut Tx) -> Result<bool> {
        let query = tx.query(
            "insert into job (code, name, who, minutes_low, minutes_typical, minutes_high, wait_hours, factor_cello,
             factor_bass, materials, source, edition, changed, retired, version, hazards, families)
             values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17) on conflict do nothing",
        );
        Ok(self.bind(query, self.edition).execute().await? == 1)
    }

    /// Keeps what the owner changed; false if somebody else changed it since this version.
    ///
    /// # Errors
    /// What the database says.
    pub async fn update(&self, tx: &mut Tx) -> Result<bool> {
        let query = tx.query(
            "update job set name = $2, who = $3, minutes_low = $4, minutes_typical = $5, minutes_high = $6,
             wait_hours = $7, factor_cello = $8, factor_bass = $9, materials = $10, source = $11, edition = $12,
             changed = $13, retired = $14, version = $15 + 1, hazards = $16, families = $17
             where code = $1 and version = $15",
        );
        Ok(self.bind(query, self.edition).execute().await? == 1)
    }

    /// In the order of the columns: `insert into job (..)`.
    pub fn bind<'c>(&self, query: Query<'c>, edition: i64) -> Query<'c> {
        query
            .bind(self.code.clone())
            .bind(self.name.clone())
            .bind(self.who.clone())
            .bind(self.minutes_low)
            .bind(self.minutes_typical)
            .bind(self.minutes_high)
            .bind(self.wait_hours)
            .bind(self.factor_cello)
            .bind(self.factor_bass)
            .bind(self.materials.clone())
            .bind(self.source.clone())
            .bind(edition)
            .bind(self.changed)
            .bind(self.retired)
            .bind(self.version)
            .bind(self.hazards.clone())
            .bind(self.families.clone())
    }
}

impl JobStep {
    /// The steps of all jobs.
    ///
    /// # Errors
    /// What the database says.
    pub async fn all(mut on: impl Read) -> Result<Vec<JobStep>> {
        Ok(on
            .read("select * from job_step order by job, position")
            .all()
            .await?)
    }

    /// # Errors
    /// What the database says.
    pub async fn of(mut on: impl Read, job: &str) -> Result<Vec<JobStep>> {
        Ok(on
            .read("select * from job_step where job = $1 order by position")
            .bind(job.to_owned())
            .all()
            .await?)
    }

    /// These steps instead of those that stand there.
    ///
    /// # Errors
    /// What the database says.
    pub async fn replace(tx: &mut Tx, job: &str, steps: &[JobStep]) -> Result<()> {
        tx.query("delete from job_step where job = $1")
            .bind(job.to_owned())
            .execute()
            .await?;
        JobStep::insert(tx, steps).await
    }

    async fn insert(tx: &mut Tx, steps: &[JobStep]) -> Result<()> {
        let into = "insert into job_step (job, position, step, minutes_typical, wait_hours, materials, caution) values";
        insert_rows(tx, into, 7, steps, |query, step| {
            query
                .bind(step.job.clone())
                .bind(step.position)
                .bind(step.step.clone())
                .bind(step.minutes_typical)
                .bind(step.wait_hours)
                .bind(step.materials.clone())
                .bind(step.caution.clone())
        })
        .await?;
        Ok(())
    }
}
