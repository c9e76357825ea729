//! The catalogue that comes with the program, written into the database without touching what the shop changed.

use serde::de::DeserializeOwned;

use crate::db::{Db, Tx, insert_rows};
use crate::diagnosis::models;
use crate::error::{Error, Result};

use super::answer::Answer;
use super::cause::Cause;
use super::descriptor::{Background, Descriptor, Likelihood};
use super::job::{Job, JobStep};

/// Raised whenever a file below `data/` changes.
pub const EDITION: i64 = 3;

const CAUSES: &str = include_str!("data/causes.csv");
const DESCRIPTORS: &str = include_str!("data/descriptors.csv");
const ANSWERS: &str = include_str!("data/answers.csv");
const BACKGROUND: &str = include_str!("data/background.csv");
const LIKELIHOODS: &str = include_str!("data/likelihoods.csv");
const JOBS: &str = include_str!("data/jobs.csv");
const JOB_STEPS: &str = include_str!("data/job_steps.csv");

/// The rows of a file of the program.
pub(super) fn rows<T: DeserializeOwned>(text: &str) -> Result<Vec<T>> {
    csv::Reader::from_reader(text.as_bytes())
        .deserialize()
        .collect::<Result<_, _>>()
        .map_err(Error::fault)
}

/// # Errors
/// When a file of the program is broken, which a test excludes.
pub fn causes() -> Result<Vec<Cause>> {
    rows(CAUSES)
}
/// # Errors
/// As [`causes`].
pub fn descriptors() -> Result<Vec<Descriptor>> {
    rows(DESCRIPTORS)
}
/// # Errors
/// As [`causes`].
pub fn answers() -> Result<Vec<Answer>> {
    rows(ANSWERS)
}
/// # Errors
/// As [`causes`].
pub fn background() -> Result<Vec<Background>> {
    rows(BACKGROUND)
}
/// # Errors
/// As [`causes`].
pub fn likelihoods() -> Result<Vec<Likelihood>> {
    rows(LIKELIHOODS)
}
/// # Errors
/// As [`causes`].
pub fn jobs() -> Result<Vec<Job>> {
    rows(JOBS)
}
/// # Errors
/// As [`causes`].
pub fn job_steps() -> Result<Vec<JobStep>> {
    rows(JOB_STEPS)
}

/// Brings the catalogue up to the program's edition. Entries that the shop changed or made stay as they are.
///
/// # Errors
/// What the database says.
pub async fn seed(db: &Db) -> Result<()> {
    bring_to(db, EDITION).await
}

/// As [`seed`], to any edition: what is there is bettered unless it is that new already.
///
/// # Errors
/// What the database says.
pub async fn bring_to(db: &Db, to: i64) -> Result<()> {
    let (edition,): (i64,) = db
        .read("select coalesce(max(edition), 0) from cause")
        .one()
        .await?;
    if edition >= to {
        return Ok(());
    }
    let mut tx = db.begin().await?;
    seed_causes(&mut tx, to).await?;
    seed_descriptors(&mut tx, to).await?;
    seed_answers(&mut tx).await?;
    seed_figures(&mut tx).await?;
    seed_jobs(&mut tx, to).await?;
    models::changed(&mut tx).await?;
    tx.commit().await?;
    Ok(())
}

/// Rows go in one by one: only a few hundred, once an edition, and an upsert must know which were changed here.
async fn seed_causes(tx: &mut Tx, edition: i64) -> Result<()> {
    for cause in causes()? {
        let query = tx.query(
            "insert into cause (code, name, region, families, how_it_sounds, prior_share, look, check_minutes,
             check_place, needs_luthier, remedy, remedy_jobs, alternate_jobs, parts, caution, season_tie, age_tie,
             structural, source, edition, changed, retired, version, check_misses)
             values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22, $23, $24)
             on conflict (code) do update set name = excluded.name, region = excluded.region,
             families = excluded.families, how_it_sounds = excluded.how_it_sounds, prior_share = excluded.prior_share,
             look = excluded.look, check_minutes = excluded.check_minutes, check_place = excluded.check_place,
             needs_luthier = excluded.needs_luthier, remedy = excluded.remedy, remedy_jobs = excluded.remedy_jobs,
             alternate_jobs = excluded.alternate_jobs, parts = excluded.parts, caution = excluded.caution,
             season_tie = excluded.season_tie, age_tie = excluded.age_tie, structural = excluded.structural,
             source = excluded.source, edition = excluded.edition, version = cause.version + 1
             where not cause.changed",
        );
        cause.bind(query, edition).execute().await?;
    }
    Ok(())
}

async fn seed_descriptors(tx: &mut Tx, edition: i64) -> Result<()> {
    for descriptor in descriptors()? {
        let query = tx.query(
            "insert into descriptor (code, question, choices, asked_of, minutes, hint, edition, changed, retired, version)
             values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
             on conflict (code) do update set question = excluded.question, choices = excluded.choices,
             asked_of = excluded.asked_of, minutes = excluded.minutes, hint = excluded.hint,
             edition = excluded.edition, version = descriptor.version + 1 where not descriptor.changed",
        );
        descriptor.bind(query, edition).execute().await?;
    }
    Ok(())
}

/// The questions that are the program's, with the answers they have here. A question of the shop's own whose code the
/// program came to use later stays the shop's own.
async fn of_program(tx: &mut Tx) -> Result<Vec<Descriptor>> {
    Ok(tx
        .query("select * from descriptor where edition > 0")
        .all()
        .await?)
}

async fn seed_answers(tx: &mut Tx) -> Result<()> {
    let here = of_program(tx).await?;
    for row in answers()? {
        if !here.iter().any(|own| own.code == row.descriptor) {
            continue;
        }
        tx.query(
            "insert into answer_words (descriptor, answer, words, changed) values ($1, $2, $3, $4)
             on conflict (descriptor, answer) do update set words = excluded.words where not answer_words.changed",
        )
        .bind(row.descriptor)
        .bind(row.answer)
        .bind(row.words)
        .bind(false)
        .execute()
        .await?;
    }
    Ok(())
}

/// The figures behind the answers, where the shop did not give its own: by question for what is expected of any cause,
/// by cause and question for what is expected of this one.
async fn seed_figures(tx: &mut Tx) -> Result<()> {
    let here = of_program(tx).await?;
    let own: Vec<(String,)> = tx
        .query("select distinct descriptor from background where own")
        .all()
        .await?;
    let program = descriptors()?;
    // A question that came to have other answers here keeps what is expected of them.
    let as_program = |code: &str| {
        let choices = |of: &[Descriptor]| {
            of.iter()
                .find(|own| own.code == code)
                .map(|own| own.choices.clone())
        };
        choices(&here).is_some() && choices(&here) == choices(&program) && own.iter().all(|own| own.0 != code)
    };
    let mut usual = background()?;
    usual.retain(|row| as_program(&row.descriptor));
    for question in program.iter().filter(|own| as_program(&own.code)) {
        tx.query("delete from background where descriptor = $1")
            .bind(question.code.clone())
            .execute()
            .await?;
    }
    insert_rows(
        tx,
        "insert into background (descriptor, answer, p) values",
        3,
        &usual,
        |query, row| {
            query
                .bind(row.descriptor.clone())
                .bind(row.answer.clone())
                .bind(row.p)
        },
    )
    .await?;
    let causes: Vec<(String,)> = tx.query("select code from cause where edition > 0").all().await?;
    let told: Vec<(String, String)> = tx
        .query("select cause, descriptor from likelihood_own")
        .all()
        .await?;
    tx.query(
        "delete from likelihood where cause in (select code from cause where edition > 0)
         and descriptor in (select code from descriptor where edition > 0)
         and not exists (select 1 from likelihood_own o where o.cause = likelihood.cause and o.descriptor = likelihood.descriptor)",
    )
    .execute()
    .await?;
    let mut rows = likelihoods()?;
    rows.retain(|row| {
        let question = here.iter().find(|own| own.code == row.descriptor);
        causes.iter().any(|cause| cause.0 == row.cause)
            && question.is_some_and(|own| own.choices().any(|choice| choice == row.answer))
            && !told
                .iter()
                .any(|own| own.0 == row.cause && own.1 == row.descriptor)
    });
    insert_rows(
        tx,
        "insert into likelihood (cause, descriptor, answer, p) values",
        4,
        &rows,
        |query, row| {
            query
                .bind(row.cause.clone())
                .bind(row.descriptor.clone())
                .bind(row.answer.clone())
                .bind(row.p)
        },
    )
    .await?;
    Ok(())
}

async fn seed_jobs(tx: &mut Tx, edition: i64) -> Result<()> {
    let steps = job_steps()?;
    for job in jobs()? {
        let query = tx.query(
            "insert into job (code, name, who, minutes_low, minutes_typical, minutes_high, wait_hours, factor_cello,
             factor_bass, materials, source, edition, changed, retired, version, hazards, families)
             values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17)
             on conflict (code) do update set name = excluded.name, who = excluded.who,
             minutes_low = excluded.minutes_low, minutes_typical = excluded.minutes_typical,
             minutes_high = excluded.minutes_high, wait_hours = excluded.wait_hours,
             factor_cello = excluded.factor_cello, factor_bass = excluded.factor_bass,
             materials = excluded.materials, families = excluded.families, source = excluded.source, edition = excluded.edition,
             version = job.version + 1 where not job.changed",
        );
        let written = job.bind(query, edition).execute().await?;
        if written == 0 {
            continue; // the shop's own wording, with its own steps
        }
        let own: Vec<JobStep> = steps
            .iter()
            .filter(|step| step.job == job.code)
            .cloned()
            .collect();
        JobStep::replace(tx, &job.code, &own).await?;
    }
    Ok(())
}
