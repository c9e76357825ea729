//! The page of a question: who can answer it, with which answers, and how often each comes whatever the cause.

use std::collections::HashSet;

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::response::{IntoResponse, Response};
use sqlx::FromRow;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::db::Read;
use crate::error::Result;
use crate::page::{Frame, html};
use crate::staff::Who;

use super::answer::Words;
use super::question::Question;
use super::{entry, percent};

/// So many causes are shown; the answers say less of the others.
const SHOWN: usize = 8;

/// A cause, and the answer that speaks for it.
#[derive(FromRow)]
struct Told {
    code: String,
    name: String,
    answer: String,
    /// So many times as often as in general.
    times: f64,
}

#[derive(Template)]
#[template(path = "catalogue/descriptor_page.html")]
struct QuestionPage {
    frame: Frame,
    late: Option<String>,
    question: Question,
    words: Words,
    /// The causes for which it speaks most, and how many others there are.
    causes: Vec<Told>,
    more: usize,
    own: bool,
}

impl QuestionPage {
    /// The answer that says nothing, in words.
    fn blank(&self) -> Option<String> {
        let own = &self.question.descriptor;
        own.blank().map(|answer| self.words.said(&own.code, answer))
    }
}

/// `GET /catalogue/questions/{code}`
///
/// # Errors
/// Not found, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(code): Path<String>,
) -> Result<Response> {
    show(&app, &who, &code, None).await
}

/// The page as it stands, with what came too late if something did.
///
/// # Errors
/// As [`page`].
pub async fn show(app: &App, who: &Who, code: &str, late: Option<String>) -> Result<Response> {
    let question = Question::get(&app.db, code).await?;
    let shop = Shop::get(&app.db).await?;
    let status = entry::status(late.as_ref());
    let mut causes = told_of(&app.db, &question.descriptor.code).await?;
    let more = causes.len().saturating_sub(SHOWN);
    causes.truncate(SHOWN);
    let page = QuestionPage {
        frame: Frame::new(&*question.descriptor.question, shop.name, who, "catalogue"),
        late,
        words: Words::all(&app.db).await?,
        causes,
        more,
        own: has_own_figures(&app.db, &question.descriptor.code).await?,
        question,
    };
    Ok((status, html(page)?).into_response())
}

/// Each cause once, with the answer that speaks most for it, those it speaks for most first.
async fn told_of(mut on: impl Read, code: &str) -> Result<Vec<Told>> {
    let mut all: Vec<Told> = on
        .read(
            "select c.code, c.name, l.answer, l.p / b.p as times from likelihood l join cause c on c.code = l.cause
             join background b on b.descriptor = l.descriptor and b.answer = l.answer
             where l.descriptor = $1 and l.p > b.p and not c.retired order by c.code, l.answer",
        )
        .bind(code.to_owned())
        .all()
        .await?;
    all.sort_by(|one, other| other.times.total_cmp(&one.times));
    let mut seen = HashSet::new();
    all.retain(|told| seen.insert(told.code.clone()));
    Ok(all)
}

async fn has_own_figures(mut on: impl Read, code: &str) -> Result<bool> {
    let (rows,): (i64,) = on
        .read("select count(*) from background where descriptor = $1 and own")
        .bind(code.to_owned())
        .one()
        .await?;
    Ok(rows > 0)
}
