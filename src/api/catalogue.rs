//! The catalogue for programs: what can buzz, what to ask, and what mends it.

use std::collections::HashMap;

use axum::Json;
use axum::extract::State;

use crate::app::App;
use crate::catalogue::cause::Cause;
use crate::catalogue::caution;
use crate::catalogue::job::{Job, JobStep};
use crate::catalogue::new_cause::band;
use crate::catalogue::percent;
use crate::catalogue::question::{Choice, Question};
use crate::counter::instrument::FAMILIES;
use crate::error::Result;
use crate::form::Problems;

use super::json::Query;
use super::shape::{self, CatalogueAsked, List};

/// The whole of a list that has an end.
fn all<T>(items: Vec<T>) -> Json<List<T>> {
    Json(List { items, next: None })
}

fn split(joined: &str, by: char) -> Vec<String> {
    let parts = joined.split(by).filter(|part| !part.is_empty());
    parts.map(str::to_owned).collect()
}

impl CatalogueAsked {
    fn family(&self) -> Result<Option<&str>> {
        let mut problems = Problems::default();
        let family = self.family.as_deref();
        if family.is_some_and(|family| !FAMILIES.iter().any(|known| known.0 == family)) {
            problems.add("?family", "Say violin, viola, cello, bass or bow.");
        }
        problems.settle()?;
        Ok(family)
    }
}

/// Lists the causes, or those of a family.
#[utoipa::path(get, path = "/api/v1/catalogue/causes", tag = "catalogue", params(CatalogueAsked), responses((status = 200, body = List<shape::Cause>)))]
pub async fn causes(
    State(app): State<App>,
    Query(asked): Query<CatalogueAsked>,
) -> Result<Json<List<shape::Cause>>> {
    let family = asked.family()?;
    let mut causes = Cause::all(&app.db).await?;
    causes.retain(|cause| family.is_none_or(|family| cause.in_family(family)));
    Ok(all(causes.into_iter().map(Into::into).collect()))
}

/// Lists the questions, or those that make sense for a family.
#[utoipa::path(get, path = "/api/v1/catalogue/descriptors", tag = "catalogue", params(CatalogueAsked), responses((status = 200, body = List<shape::Descriptor>)))]
pub async fn descriptors(
    State(app): State<App>,
    Query(asked): Query<CatalogueAsked>,
) -> Result<Json<List<shape::Descriptor>>> {
    let family = asked.family()?;
    let mut questions = Question::all(&app.db).await?;
    questions.retain(|own| family.is_none_or(|family| own.descriptor.fits(family)));
    Ok(all(questions.into_iter().map(Into::into).collect()))
}

/// Lists the jobs, or those for a family, with their steps and their minutes on a family.
#[utoipa::path(get, path = "/api/v1/catalogue/jobs", tag = "catalogue", params(CatalogueAsked), responses((status = 200, body = List<shape::Job>)))]
pub async fn jobs(
    State(app): State<App>,
    Query(asked): Query<CatalogueAsked>,
) -> Result<Json<List<shape::Job>>> {
    let asked_for = asked.family()?;
    let family = asked_for.unwrap_or("violin");
    let mut steps: HashMap<String, Vec<shape::JobStep>> = HashMap::new();
    for step in JobStep::all(&app.db).await? {
        let job = step.job.clone();
        steps.entry(job).or_default().push(step.into());
    }
    let told = |job: Job| {
        let steps = steps.remove(&job.code).unwrap_or_default();
        job_told(job, steps, family)
    };
    let mut jobs = Job::all(&app.db).await?;
    jobs.retain(|job| asked_for.is_none_or(|family| job.is_for(family)));
    Ok(all(jobs.into_iter().map(told).collect()))
}

/// A job with its steps, and its minutes on a family.
#[must_use]
pub fn job_told(job: Job, steps: Vec<shape::JobStep>, family: &str) -> shape::Job {
    shape::Job {
        minutes: job.minutes_for(family),
        hazards: caution::codes_of(&job).into_iter().map(str::to_owned).collect(),
        families: job.families.split(';').map(str::to_owned).collect(),
        steps,
        code: job.code,
        name: job.name,
        who: job.who,
        minutes_low: job.minutes_low,
        minutes_high: job.minutes_high,
        wait_hours: job.wait_hours,
        factor_cello: job.factor_cello,
        factor_bass: job.factor_bass,
        materials: job.materials,
        retired: job.retired,
        version: job.version,
    }
}

impl From<Cause> for shape::Cause {
    fn from(cause: Cause) -> Self {
        shape::Cause {
            families: split(&cause.families, ';'),
            remedy_jobs: split(&cause.remedy_jobs, '+'),
            other_ways: cause.other_ways().map(|way| split(way, '+')).collect(),
            common: band(cause.prior_share).to_owned(),
            parts: cause.parts,
            code: cause.code,
            name: cause.name,
            region: cause.region,
            how_it_sounds: cause.how_it_sounds,
            prior_share: cause.prior_share,
            look: cause.look,
            check_minutes: cause.check_minutes,
            check_place: cause.check_place,
            check_misses: cause.check_misses,
            needs_luthier: cause.needs_luthier,
            remedy: cause.remedy,
            caution: cause.caution,
            season_tie: cause.season_tie,
            age_tie: cause.age_tie,
            structural: cause.structural,
            retired: cause.retired,
            version: cause.version,
        }
    }
}

impl From<Question> for shape::Descriptor {
    fn from(question: Question) -> Self {
        let own = question.descriptor;
        let answer = |own: Choice| shape::Answer {
            percent: percent::of(own.share),
            code: own.code,
            words: own.words,
        };
        shape::Descriptor {
            says_nothing: own.blank().map(str::to_owned),
            answers: own.choices().map(str::to_owned).collect(),
            choices: question.choices.into_iter().map(answer).collect(),
            about: question.about,
            code: own.code,
            question: own.question,
            hint: own.hint,
            asked_of: own.asked_of,
            minutes: own.minutes,
            retired: own.retired,
            version: own.version,
        }
    }
}

impl From<JobStep> for shape::JobStep {
    fn from(step: JobStep) -> Self {
        shape::JobStep {
            step: step.step,
            minutes: step.minutes_typical,
            wait_hours: step.wait_hours,
            caution: step.caution,
            materials: step.materials,
        }
    }
}
