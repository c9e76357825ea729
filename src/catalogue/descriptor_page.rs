//! The owner's page of a question: its wording and its hint in the shop's own words; the answers stay.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::changed::{self, Field, Side};
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::page::{Frame, html};
use crate::staff::Who;

use super::answer;
use super::descriptor::Descriptor;
use super::wording::{self, Wording};

const FIELDS: [Field; 2] = [("question", "Question", false), ("hint", "Hint", false)];

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct QuestionForm {
    question: String,
    hint: String,
    version: i64,
}

#[derive(Template)]
#[template(path = "catalogue/descriptor_page.html")]
struct QuestionPage {
    frame: Frame,
    question: Descriptor,
    problems: Problems,
    typed: Typed,
    changed: Option<Vec<Side>>,
}

fn typed_of(question: &Descriptor) -> Typed {
    Typed::default()
        .with("question", &*question.question)
        .with("hint", &*question.hint)
}

async fn show(
    app: &App,
    who: &Who,
    question: Descriptor,
    (problems, typed, changed): (Problems, Typed, Option<Vec<Side>>),
) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let status = match (&changed, problems.is_empty()) {
        (Some(_), _) => StatusCode::PRECONDITION_FAILED,
        (None, true) => StatusCode::OK,
        (None, false) => StatusCode::UNPROCESSABLE_ENTITY,
    };
    let page = QuestionPage {
        frame: Frame::new("Change a question", shop.name, who, "catalogue"),
        question,
        problems,
        typed,
        changed,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /catalogue/questions/{code}/change`
///
/// # Errors
/// Not found, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(code): Path<String>,
) -> Result<Response> {
    let question = Descriptor::get(&app.db, &code).await?;
    let typed = typed_of(&question);
    show(&app, &who, question, (Problems::default(), typed, None)).await
}

/// `POST /catalogue/questions/{code}/change`
///
/// # Errors
/// Not found, or what the database says.
pub async fn change(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(code): Path<String>,
    form: Form<QuestionForm>,
) -> Result<Response> {
    let mut tx = app.db.begin().await?;
    let new = Wording {
        question: form.of.question,
        hint: form.of.hint,
    };
    match wording::change(&mut tx, &code, form.of.version, &new).await {
        Err(Error::Problems(problems)) => {
            // The form still speaks of the version it was opened on.
            let question = Descriptor {
                version: form.of.version,
                ..Descriptor::get(&mut tx, &code).await?
            };
            drop(tx);
            show(&app, &who, question, (problems, form.typed, None)).await
        }
        Err(Error::Stale(_)) => {
            let now = Descriptor::get(&mut tx, &code).await?;
            drop(tx);
            let changed = changed::between(&FIELDS, &typed_of(&now), &form.typed);
            show(&app, &who, now, (Problems::default(), form.typed, Some(changed))).await
        }
        kept => {
            kept?;
            tx.commit().await?;
            Ok(Redirect::to("/catalogue/questions").into_response())
        }
    }
}
