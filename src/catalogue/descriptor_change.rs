//! Changing the questions: the owner's pages for a new one of the shop's own, and for the shop's words of any.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::response::{IntoResponse, Redirect, Response};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::changed::{Shown, Side};
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::once;
use crate::page::{Frame, html};
use crate::staff::Who;

use super::entry::New;
use super::new_question::{self, ASKED_OF};
use super::percent;
use super::question::Question;
use super::question_form::{FIELDS, QuestionForm, Row, rows, typed_of};

#[derive(Template)]
#[template(path = "catalogue/descriptor_change.html")]
struct QuestionPage {
    frame: Frame,
    /// The code of the question that is changed; empty for a new one.
    code: String,
    version: i64,
    once: String,
    problems: Problems,
    typed: Typed,
    changed: Option<Vec<Side>>,
    rows: Vec<Row>,
}

impl QuestionPage {
    fn asked_of(&self) -> &'static [(&'static str, &'static str)] {
        &ASKED_OF
    }

    /// The words for one cell of the answers.
    #[expect(
        clippy::trivially_copy_pass_by_ref,
        reason = "a template hands over references"
    )]
    fn amiss(&self, name: &str, row: &usize) -> &str {
        self.problems.at(&format!("{name}-{row}"))
    }
}

async fn show(app: &App, who: &Who, (code, version): (&str, i64), shown: Shown) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let status = shown.status();
    let title = if code.is_empty() {
        "A new question"
    } else {
        "Change a question"
    };
    let page = QuestionPage {
        frame: Frame::new(title, shop.name, who, "catalogue"),
        code: code.to_owned(),
        version,
        once: once::fresh()?,
        problems: shown.problems,
        rows: rows(&shown.typed),
        typed: shown.typed,
        changed: shown.changed,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /catalogue/questions/new`
///
/// # Errors
/// What the database says.
pub async fn new_page(State(app): State<App>, Extension(who): Extension<Who>) -> Result<Response> {
    let typed = Typed::default()
        .with("asked_of", "counter")
        .with("minutes", "0.5")
        .with("kind", "yes_no");
    show(&app, &who, ("", 1), Shown::fresh(typed)).await
}

/// `POST /catalogue/questions/new`
///
/// # Errors
/// Again with the first answer, or what the database says.
pub async fn add(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    form: Form<QuestionForm>,
) -> Result<Response> {
    let mut new = New::begin(&app, &who, &form.of.once, &["new question", &form.of.question]).await?;
    match new_question::add(&mut new.tx, &form.of.read()).await {
        Err(Error::Problems(problems)) => {
            drop(new);
            let shown = Shown::amiss(form.typed, form.of.on_form(&problems));
            show(&app, &who, ("", 1), shown).await
        }
        added => {
            let code = added?.descriptor.code;
            new.then(&format!("/catalogue/questions/{code}")).await
        }
    }
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
    let question = Question::get(&app.db, &code).await?;
    let shown = Shown::fresh(typed_of(&question));
    show(&app, &who, (&code, question.descriptor.version), shown).await
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
    let version = form.of.version;
    let (version, shown) = match new_question::change(&mut tx, &code, version, &form.of.read()).await {
        Err(Error::Problems(problems)) => {
            let problems = form.of.on_form(&problems);
            (version, Shown::amiss(form.typed, problems))
        }
        Err(Error::Stale(_)) => {
            let now = Question::get(&mut tx, &code).await?;
            let typed = with_all(form.typed, &now);
            (
                now.descriptor.version,
                Shown::late(&FIELDS, &typed_of(&now), typed),
            )
        }
        kept => {
            kept?;
            tx.commit().await?;
            return Ok(Redirect::to(&format!("/catalogue/questions/{code}")).into_response());
        }
    };
    drop(tx);
    show(&app, &who, (&code, version), shown).await
}

/// What was typed, with the answers that were added meanwhile: an answer cannot be taken out.
fn with_all(typed: Typed, now: &Question) -> Typed {
    let missing = now.choices.iter().filter(|own| !typed.has("answer", &own.code));
    let missing: Vec<_> = missing.cloned().collect();
    missing.into_iter().fold(typed, |typed, own| {
        typed
            .with("answer", own.code)
            .with("words", own.words)
            .with("percent", percent::typed(own.share))
    })
}
