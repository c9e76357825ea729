//! The owner's pages of what the answers tell of a cause: all questions of it, and the form for one.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::response::{IntoResponse, Redirect, Response};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::changed::{Shown, Side};
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::page::{Frame, html};
use crate::staff::Who;

use super::answer::Words;
use super::cause::Cause;
use super::descriptor::Descriptor;
use super::percent;
use super::question::Question;
use super::telling::{self, NewTelling, Telling};

#[derive(Template)]
#[template(path = "catalogue/tellings.html")]
struct TellingsPage {
    frame: Frame,
    cause: Cause,
    questions: Vec<Descriptor>,
    words: Words,
    tellings: Vec<Telling>,
}

impl TellingsPage {
    fn of(&self, question: &Descriptor) -> Option<&Telling> {
        self.tellings.iter().find(|own| own.descriptor == question.code)
    }
}

#[derive(Template)]
#[template(path = "catalogue/telling_page.html")]
struct TellingPage {
    frame: Frame,
    cause: Cause,
    question: Question,
    version: i64,
    problems: Problems,
    typed: Typed,
    changed: Option<Vec<Side>>,
}

/// `GET /catalogue/causes/{code}/answers`
///
/// # Errors
/// Not found, or what the database says.
pub async fn list(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(code): Path<String>,
) -> Result<Response> {
    let cause = Cause::get(&app.db, &code).await?;
    let shop = Shop::get(&app.db).await?;
    let mut questions = Descriptor::all(&app.db).await?;
    questions.retain(|own| !own.retired && cause.families.split(';').any(|family| own.fits(family)));
    html(TellingsPage {
        frame: Frame::new("What the answers tell", shop.name, &who, "catalogue"),
        words: Words::all(&app.db).await?,
        tellings: Telling::of_cause(&app.db, &code).await?,
        questions,
        cause,
    })
}

fn field(answer: &str) -> String {
    format!("percent.{answer}")
}

fn typed_of(question: &Question, telling: &Telling) -> Typed {
    let choices = question.choices.iter();
    choices.fold(Typed::default(), |typed, own| {
        let share = telling.share(&own.code);
        typed.with(&field(&own.code), share.map_or(String::new(), percent::typed))
    })
}

async fn show(
    app: &App,
    who: &Who,
    (cause, question, version): (Cause, Question, i64),
    shown: Shown,
) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let status = shown.status();
    let page = TellingPage {
        frame: Frame::new("What the answers tell", shop.name, who, "catalogue"),
        cause,
        question,
        version,
        problems: shown.problems,
        typed: shown.typed,
        changed: shown.changed,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /catalogue/causes/{code}/answers/{question}`
///
/// # Errors
/// Not found, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path((code, question)): Path<(String, String)>,
) -> Result<Response> {
    let cause = Cause::get(&app.db, &code).await?;
    let question = Question::get(&app.db, &question).await?;
    let telling = Telling::get(&app.db, &code, &question.descriptor.code).await?;
    let shown = Shown::fresh(typed_of(&question, &telling));
    show(&app, &who, (cause, question, telling.version), shown).await
}

/// What was typed of each answer.
fn read(typed: &Typed, question: &Question) -> NewTelling {
    let choices = question.choices.iter();
    let typed = choices.filter_map(|own| {
        let percent = percent::number(typed.at(&field(&own.code)))?;
        Some((own.code.clone(), percent))
    });
    NewTelling {
        answers: typed.collect(),
    }
}

/// The same problems at the fields of the form.
fn on_form(problems: &Problems) -> Problems {
    let mut told = Problems::default();
    for problem in problems {
        let answer = problem.field.trim_start_matches("answers.");
        told.add(field(answer), problem.words.clone());
    }
    told
}

/// `POST /catalogue/causes/{code}/answers/{question}`
///
/// # Errors
/// Not found, or what the database says.
pub async fn tell(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path((code, question)): Path<(String, String)>,
    form: Form<Vec<(String, String)>>,
) -> Result<Response> {
    let mut tx = app.db.begin().await?;
    let cause = Cause::get(&mut tx, &code).await?;
    let question = Question::get(&mut tx, &question).await?;
    let which = (&*cause.code, &*question.descriptor.code);
    let version = form.typed.at("version").parse().unwrap_or(0);
    let new = read(&form.typed, &question);
    let (version, shown) = match telling::tell(&mut tx, which, version, &new).await {
        Err(Error::Problems(problems)) => (version, Shown::amiss(form.typed, on_form(&problems))),
        Err(Error::Stale(_)) => {
            let now = Telling::get(&mut tx, which.0, which.1).await?;
            let shown = Shown {
                changed: Some(sides(&question, &typed_of(&question, &now), &form.typed)),
                ..Shown::fresh(form.typed)
            };
            (now.version, shown)
        }
        kept => {
            kept?;
            tx.commit().await?;
            return Ok(Redirect::to(&format!("/catalogue/causes/{code}/answers")).into_response());
        }
    };
    drop(tx);
    show(&app, &who, (cause, question, version), shown).await
}

/// Both versions, answer by answer.
fn sides(question: &Question, now: &Typed, typed: &Typed) -> Vec<Side> {
    let choices = question.choices.iter();
    let all = choices.map(|own| Side {
        label: own.words.clone().into(),
        now: now.at(&field(&own.code)).to_owned(),
        typed: typed.at(&field(&own.code)).trim().to_owned(),
    });
    all.filter(Side::differs).collect()
}
