//! The page of a question: who can answer it, with which answers, and how often each comes whatever the cause.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::response::{IntoResponse, Response};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::db::Read;
use crate::error::Result;
use crate::page::{Frame, html};
use crate::staff::Who;

use super::answer::Words;
use super::cause::Cause;
use super::question::Question;
use super::{entry, percent};

#[derive(Template)]
#[template(path = "catalogue/descriptor_page.html")]
struct QuestionPage {
    frame: Frame,
    late: Option<String>,
    question: Question,
    words: Words,
    /// The causes of which the answers say something.
    causes: Vec<Cause>,
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
    let page = QuestionPage {
        frame: Frame::new(&*question.descriptor.question, shop.name, who, "catalogue"),
        late,
        words: Words::all(&app.db).await?,
        causes: told_of(&app.db, &question.descriptor.code).await?,
        own: has_own_figures(&app.db, &question.descriptor.code).await?,
        question,
    };
    Ok((status, html(page)?).into_response())
}

async fn told_of(mut on: impl Read, code: &str) -> Result<Vec<Cause>> {
    Ok(on
        .read(
            "select * from cause where not retired and code in (select cause from likelihood where descriptor = $1)
             order by name",
        )
        .bind(code.to_owned())
        .all()
        .await?)
}

async fn has_own_figures(mut on: impl Read, code: &str) -> Result<bool> {
    let (rows,): (i64,) = on
        .read("select count(*) from background where descriptor = $1 and own")
        .bind(code.to_owned())
        .one()
        .await?;
    Ok(rows > 0)
}
