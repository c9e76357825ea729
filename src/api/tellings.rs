//! What the answers tell of a cause, for programs: read by all, said by an owner's token.

use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::Response;

use crate::app::App;
use crate::catalogue::cause::Cause;
use crate::catalogue::percent;
use crate::catalogue::question::{Choice, Question};
use crate::catalogue::telling::{self, NewTelling, Telling};
use crate::error::Result;
use crate::staff::Who;

use super::doing::Doing;
use super::json::Json;
use super::orders::tell;
use super::shape::{self, List};

impl shape::Telling {
    fn of(question: &Question, told: &Telling) -> shape::Telling {
        let answer = |own: &Choice| shape::TellingAnswer {
            code: own.code.clone(),
            percent: told.share(&own.code).map(percent::of),
            in_general: percent::of(own.share),
        };
        shape::Telling {
            descriptor: question.descriptor.code.clone(),
            answers: question.choices.iter().map(answer).collect(),
            version: told.version,
        }
    }
}

/// Lists what the answers tell of a cause, question by question, where that is not as in general.
#[utoipa::path(get, path = "/api/v1/catalogue/causes/{cause}/answers", tag = "catalogue", responses((status = 200, body = List<shape::Telling>)))]
pub async fn tellings(
    State(app): State<App>,
    Path(cause): Path<String>,
) -> Result<axum::Json<List<shape::Telling>>> {
    let cause = Cause::get(&app.db, &cause).await?;
    let questions = Question::all(&app.db).await?;
    let all = Telling::of_cause(&app.db, &cause.code).await?;
    let items = all.iter().filter_map(|told| {
        let question = questions
            .iter()
            .find(|own| own.descriptor.code == told.descriptor)?;
        Some(shape::Telling::of(question, told))
    });
    Ok(axum::Json(List {
        items: items.collect(),
        next: None,
    }))
}

/// Tells what the answers to one question tell of a cause.
#[utoipa::path(get, path = "/api/v1/catalogue/causes/{cause}/answers/{descriptor}", tag = "catalogue", responses((status = 200, body = shape::Telling)))]
pub async fn telling(
    State(app): State<App>,
    Path((cause, descriptor)): Path<(String, String)>,
) -> Result<Response> {
    let cause = Cause::get(&app.db, &cause).await?;
    let question = Question::get(&app.db, &descriptor).await?;
    let told = Telling::get(&app.db, &cause.code, &question.descriptor.code).await?;
    tell(told.version, &shape::Telling::of(&question, &told))
}

/// Says what the answers to one question tell of a cause, instead of all that was said before.
#[utoipa::path(put, path = "/api/v1/catalogue/causes/{cause}/answers/{descriptor}", tag = "catalogue", request_body = NewTelling, responses((status = 200, body = shape::Telling)))]
pub async fn say(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path((cause, descriptor)): Path<(String, String)>,
    call: Json<NewTelling>,
) -> Result<Response> {
    let mut doing = Doing::change(&app, &who, call.version()?).await?;
    let cause = Cause::get(&mut doing.tx, &cause).await?;
    let question = Question::get(&mut doing.tx, &descriptor).await?;
    let which = (cause.code.as_str(), question.descriptor.code.as_str());
    let kept = Telling::get(&mut doing.tx, which.0, which.1).await?;
    doing.fits(kept.version)?;
    let told = telling::tell(&mut doing.tx, which, kept.version, &call.of).await?;
    let answer = shape::Telling::of(&question, &told);
    doing.answer(StatusCode::OK, told.version, &answer).await
}
