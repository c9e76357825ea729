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
use super::orders::MOST;
use super::shape::{self, CatalogueAsked, List};

fn split(joined: &str, by: char) -> Vec<String> {
    let parts = joined.split(by).filter(|part| !part.is_empty());
    parts.map(str::to_owned).collect()
}

impl CatalogueAsked {
    /// The part of the catalogue that is asked for: of a family, after an entry, so many; all of it if nothing is said.
    fn part<T>(
        &self,
        all: Vec<T>,
        code: impl Fn(&T) -> &str,
        fits: impl Fn(&T, &str) -> bool,
    ) -> Result<(Vec<T>, Option<String>)> {
        let mut problems = Problems::default();
        let family = self.family.as_deref();
        if family.is_some_and(|family| !FAMILIES.iter().any(|known| known.0 == family)) {
            problems.add("?family", "Say violin, viola, cello, bass or bow.");
        }
        let limit = problems.number("?limit", self.limit.as_deref().unwrap_or_default(), 1..=MOST);
        let begin = match self.after.as_deref() {
            None => Some(0),
            Some(after) => all.iter().position(|entry| code(entry) == after).map(|at| at + 1),
        };
        if begin.is_none() {
            problems.add(
                "?after",
                "Nothing here is after this. Take the next of the answer before.",
            );
        }
        problems.settle()?;
        let wanted = all.into_iter().skip(begin.unwrap_or(0));
        let mut part: Vec<T> = wanted
            .filter(|entry| family.is_none_or(|family| fits(entry, family)))
            .collect();
        let limit = limit
            .and_then(|limit| usize::try_from(limit).ok())
            .unwrap_or(usize::MAX);
        let more = part.len() > limit;
        part.truncate(limit);
        let next = part.last().filter(|_| more).map(|last| code(last).to_owned());
        Ok((part, next))
    }
}

/// Lists the causes, or those of a family.
#[utoipa::path(get, path = "/api/v1/catalogue/causes", tag = "catalogue", params(CatalogueAsked), responses((status = 200, body = List<shape::Cause>)))]
pub async fn causes(
    State(app): State<App>,
    Query(asked): Query<CatalogueAsked>,
) -> Result<Json<List<shape::Cause>>> {
    let all = Cause::all(&app.db).await?;
    let (causes, next) = asked.part(all, |cause| &cause.code, Cause::in_family)?;
    let items = causes.into_iter().map(Into::into).collect();
    Ok(Json(List { items, next }))
}

/// Lists the questions, or those that make sense for a family.
#[utoipa::path(get, path = "/api/v1/catalogue/descriptors", tag = "catalogue", params(CatalogueAsked), responses((status = 200, body = List<shape::Descriptor>)))]
pub async fn descriptors(
    State(app): State<App>,
    Query(asked): Query<CatalogueAsked>,
) -> Result<Json<List<shape::Descriptor>>> {
    let all = Question::all(&app.db).await?;
    let fits = |own: &Question, family: &str| own.descriptor.fits(family);
    let (questions, next) = asked.part(all, |own| &own.descriptor.code, fits)?;
    let items = questions.into_iter().map(Into::into).collect();
    Ok(Json(List { items, next }))
}

/// Lists the jobs, or those for a family, with their steps and their minutes on a family.
#[utoipa::path(get, path = "/api/v1/catalogue/jobs", tag = "catalogue", params(CatalogueAsked), responses((status = 200, body = List<shape::Job>)))]
pub async fn jobs(
    State(app): State<App>,
    Query(asked): Query<CatalogueAsked>,
) -> Result<Json<List<shape::Job>>> {
    let all = Job::all(&app.db).await?;
    let (jobs, next) = asked.part(all, |job| &job.code, Job::is_for)?;
    let family = asked.family.as_deref().unwrap_or("violin");
    let mut steps: HashMap<String, Vec<shape::JobStep>> = HashMap::new();
    for step in JobStep::all(&app.db).await? {
        let job = step.job.clone();
        steps.entry(job).or_default().push(step.into());
    }
    let told = |job: Job| {
        let steps = steps.remove(&job.code).unwrap_or_default();
        job_told(job, steps, family)
    };
    let items = jobs.into_iter().map(told).collect();
    Ok(Json(List { items, next }))
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
