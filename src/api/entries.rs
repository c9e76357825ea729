//! Changing the catalogue for programs: entries are read, added, changed, retired and brought back by an owner's token.

use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::Response;

use crate::app::App;
use crate::catalogue::cause::Cause;
use crate::catalogue::descriptor::Descriptor;
use crate::catalogue::entry::{self, Kind};
use crate::catalogue::job::{Job, JobStep};
use crate::catalogue::new_cause::{self, NewCause};
use crate::catalogue::new_job::{self, NewJob};
use crate::catalogue::new_question::{self, NewQuestion};
use crate::catalogue::question::Question;
use crate::db::Read;
use crate::error::Result;
use crate::form::Problems;
use crate::staff::Who;

use super::catalogue::job_told;
use super::doing::Doing;
use super::json::{Json, Patch};
use super::orders::tell;
use super::shape::{self, Retire};

/// A job as it stands, told as on a violin.
async fn job_as_kept(mut on: impl Read, code: &str) -> Result<shape::Job> {
    let job = Job::get(&mut on, code).await?;
    let steps = JobStep::of(&mut on, &job.code).await?;
    Ok(told((job, steps)))
}

fn told((job, steps): (Job, Vec<JobStep>)) -> shape::Job {
    job_told(job, steps.into_iter().map(Into::into).collect(), "violin")
}

/// Tells a cause.
#[utoipa::path(get, path = "/api/v1/catalogue/causes/{cause}", tag = "catalogue", responses((status = 200, body = shape::Cause)))]
pub async fn cause(State(app): State<App>, Path(cause): Path<String>) -> Result<Response> {
    let cause = Cause::get(&app.db, &cause).await?;
    tell(cause.version, &shape::Cause::from(cause))
}

/// Adds a cause of the shop's own.
#[utoipa::path(post, path = "/api/v1/catalogue/causes", tag = "catalogue", request_body = NewCause, responses((status = 201, body = shape::Cause)))]
pub async fn add_cause(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    call: Json<NewCause>,
) -> Result<Response> {
    let mut doing = Doing::make(&app, &who, call.key()?).await?;
    let cause = new_cause::add(&mut doing.tx, Problems::default(), &call.of).await?;
    let version = cause.version;
    doing
        .answer(StatusCode::CREATED, version, &shape::Cause::from(cause))
        .await
}

/// Changes a cause: what is left out stays, and null clears.
#[utoipa::path(patch, path = "/api/v1/catalogue/causes/{cause}", tag = "catalogue", request_body = NewCause, responses((status = 200, body = shape::Cause)))]
pub async fn change_cause(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(cause): Path<String>,
    patch: Patch,
) -> Result<Response> {
    let mut doing = Doing::change(&app, &who, patch.version()?).await?;
    let kept = Cause::get(&mut doing.tx, &cause).await?;
    doing.fits(kept.version)?;
    let new = patch.onto(&NewCause::of(&kept))?;
    let which = (kept.code.as_str(), kept.version);
    let changed = new_cause::change(&mut doing.tx, Problems::default(), which, &new).await?;
    let version = changed.version;
    doing
        .answer(StatusCode::OK, version, &shape::Cause::from(changed))
        .await
}

/// Retires a cause, or brings it back.
#[utoipa::path(post, path = "/api/v1/catalogue/causes/{cause}/retired", tag = "catalogue", request_body = Retire, responses((status = 200, body = shape::Cause)))]
pub async fn retire_cause(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(cause): Path<String>,
    call: Json<Retire>,
) -> Result<Response> {
    let mut doing = Doing::begin(&app, &who, call.guard()?).await?;
    let kept = Cause::get(&mut doing.tx, &cause).await?;
    doing.fits(kept.version)?;
    let which = (Kind::Cause, kept.code.as_str());
    entry::retire(&mut doing.tx, which, kept.version, call.of.retired).await?;
    let cause = Cause::get(&mut doing.tx, &cause).await?;
    let version = cause.version;
    doing
        .answer(StatusCode::OK, version, &shape::Cause::from(cause))
        .await
}

/// Tells a job with its steps.
#[utoipa::path(get, path = "/api/v1/catalogue/jobs/{job}", tag = "catalogue", responses((status = 200, body = shape::Job)))]
pub async fn job(State(app): State<App>, Path(job): Path<String>) -> Result<Response> {
    let job = job_as_kept(&app.db, &job).await?;
    tell(job.version, &job)
}

/// Adds a job of the shop's own, with its steps.
#[utoipa::path(post, path = "/api/v1/catalogue/jobs", tag = "catalogue", request_body = NewJob, responses((status = 201, body = shape::Job)))]
pub async fn add_job(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    call: Json<NewJob>,
) -> Result<Response> {
    let mut doing = Doing::make(&app, &who, call.key()?).await?;
    let job = told(new_job::add(&mut doing.tx, Problems::default(), &call.of).await?);
    doing.answer(StatusCode::CREATED, job.version, &job).await
}

/// Changes a job: what is left out stays, null clears, and steps that are sent stand instead of all that were there.
#[utoipa::path(patch, path = "/api/v1/catalogue/jobs/{job}", tag = "catalogue", request_body = NewJob, responses((status = 200, body = shape::Job)))]
pub async fn change_job(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(job): Path<String>,
    patch: Patch,
) -> Result<Response> {
    let mut doing = Doing::change(&app, &who, patch.version()?).await?;
    let kept = Job::get(&mut doing.tx, &job).await?;
    doing.fits(kept.version)?;
    let steps = JobStep::of(&mut doing.tx, &kept.code).await?;
    let new = patch.onto(&NewJob::of(&kept, &steps))?;
    let which = (kept.code.as_str(), kept.version);
    let changed = told(new_job::change(&mut doing.tx, Problems::default(), which, &new).await?);
    doing.answer(StatusCode::OK, changed.version, &changed).await
}

/// Retires a job, or brings it back.
#[utoipa::path(post, path = "/api/v1/catalogue/jobs/{job}/retired", tag = "catalogue", request_body = Retire, responses((status = 200, body = shape::Job)))]
pub async fn retire_job(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(job): Path<String>,
    call: Json<Retire>,
) -> Result<Response> {
    let mut doing = Doing::begin(&app, &who, call.guard()?).await?;
    let kept = Job::get(&mut doing.tx, &job).await?;
    doing.fits(kept.version)?;
    let which = (Kind::Job, kept.code.as_str());
    entry::retire(&mut doing.tx, which, kept.version, call.of.retired).await?;
    let job = job_as_kept(&mut doing.tx, &kept.code).await?;
    doing.answer(StatusCode::OK, job.version, &job).await
}

/// Tells a question.
#[utoipa::path(get, path = "/api/v1/catalogue/descriptors/{descriptor}", tag = "catalogue", responses((status = 200, body = shape::Descriptor)))]
pub async fn descriptor(State(app): State<App>, Path(descriptor): Path<String>) -> Result<Response> {
    let question = Question::get(&app.db, &descriptor).await?;
    tell(question.descriptor.version, &shape::Descriptor::from(question))
}

/// Adds a question of the shop's own, with its answers.
#[utoipa::path(post, path = "/api/v1/catalogue/descriptors", tag = "catalogue", request_body = NewQuestion, responses((status = 201, body = shape::Descriptor)))]
pub async fn add_descriptor(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    call: Json<NewQuestion>,
) -> Result<Response> {
    let mut doing = Doing::make(&app, &who, call.key()?).await?;
    let question = new_question::add(&mut doing.tx, &call.of).await?;
    let version = question.descriptor.version;
    doing
        .answer(StatusCode::CREATED, version, &shape::Descriptor::from(question))
        .await
}

/// Changes a question: what is left out stays, and null clears. Answers that are sent are those that change or are new.
#[utoipa::path(patch, path = "/api/v1/catalogue/descriptors/{descriptor}", tag = "catalogue", request_body = NewQuestion, responses((status = 200, body = shape::Descriptor)))]
pub async fn change_descriptor(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(descriptor): Path<String>,
    patch: Patch,
) -> Result<Response> {
    let mut doing = Doing::change(&app, &who, patch.version()?).await?;
    let kept = Question::get(&mut doing.tx, &descriptor).await?;
    let version = kept.descriptor.version;
    doing.fits(version)?;
    let new = patch.onto(&NewQuestion::of(&kept))?;
    let changed = new_question::change(&mut doing.tx, &descriptor, version, &new).await?;
    let version = changed.descriptor.version;
    doing
        .answer(StatusCode::OK, version, &shape::Descriptor::from(changed))
        .await
}

/// Retires a question, or brings it back.
#[utoipa::path(post, path = "/api/v1/catalogue/descriptors/{descriptor}/retired", tag = "catalogue", request_body = Retire, responses((status = 200, body = shape::Descriptor)))]
pub async fn retire_descriptor(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(descriptor): Path<String>,
    call: Json<Retire>,
) -> Result<Response> {
    let mut doing = Doing::begin(&app, &who, call.guard()?).await?;
    let kept = Descriptor::get(&mut doing.tx, &descriptor).await?;
    doing.fits(kept.version)?;
    let which = (Kind::Descriptor, kept.code.as_str());
    entry::retire(&mut doing.tx, which, kept.version, call.of.retired).await?;
    let question = Question::get(&mut doing.tx, &descriptor).await?;
    let version = question.descriptor.version;
    doing
        .answer(StatusCode::OK, version, &shape::Descriptor::from(question))
        .await
}
