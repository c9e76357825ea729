//! The page of a cause: how it sounds, how to check for it, what mends it, what can hurt somebody, and what speaks for it.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::response::Response;
use sqlx::FromRow;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::db::Read;
use crate::error::Result;
use crate::page::{Frame, Markup, html};
use crate::printing::drawing;
use crate::staff::Who;
use crate::words;

use super::answer;
use super::cause::Cause;
use super::caution::{self, Caution};
use super::job::Job;
use super::source;

/// So many answers are shown; the others add little.
const SHOWN: usize = 6;

/// An answer that is given more often with this cause than with any other.
#[derive(FromRow)]
struct Speaks {
    descriptor: String,
    question: String,
    answer: String,
    p: f64,
    background: f64,
}

impl Speaks {
    fn answer_words(&self) -> String {
        answer::said(&self.descriptor, &self.answer)
    }

    #[expect(clippy::cast_possible_truncation, reason = "a share is from 0 to 1")]
    fn percent(&self) -> i64 {
        (self.p * 100.0).round() as i64
    }
}

#[derive(Template)]
#[template(path = "catalogue/cause_page.html")]
struct CausePage {
    frame: Frame,
    cause: Cause,
    jobs: Vec<Job>,
    /// Each way is one job or several together.
    others: Vec<Vec<Job>>,
    cautions: Vec<&'static Caution>,
    speaks: Vec<Speaks>,
    drawing: Option<Markup>,
}

impl CausePage {
    fn source(&self) -> String {
        source::words(&self.cause.source)
    }
}

/// `GET /catalogue/causes/{code}`
///
/// # Errors
/// Not found, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(code): Path<String>,
) -> Result<Response> {
    let cause = Cause::get(&app.db, &code).await?;
    let shop = Shop::get(&app.db).await?;
    let all = Job::all(&app.db).await?;
    let job = |code: &str| all.iter().find(|job| job.code == code).cloned();
    html(CausePage {
        frame: Frame::new(&*cause.name, shop.name, &who, "catalogue"),
        jobs: cause.jobs().filter_map(job).collect(),
        others: cause
            .other_ways()
            .map(|way| way.split('+').filter_map(job).collect())
            .collect(),
        cautions: caution::of_cause(&cause),
        speaks: speaks_for(&app.db, &cause.code).await?,
        drawing: drawn(&cause),
        cause,
    })
}

/// Where it sits on the first of its families, if the front shows it.
fn drawn(cause: &Cause) -> Option<Markup> {
    let family = cause.families.split(';').next()?;
    drawing::shows(family, &cause.region)
        .then(|| drawing::on_screen(family, &[&cause.region]))
        .flatten()
}

/// The answers that tell most for a cause: by how much more often they are given with it than with any other.
async fn speaks_for(mut on: impl Read, cause: &str) -> Result<Vec<Speaks>> {
    let mut rows: Vec<Speaks> = on
        .read(
            "select l.descriptor, d.question, l.answer, l.p, b.p as background from likelihood l
             join descriptor d on d.code = l.descriptor
             join background b on b.descriptor = l.descriptor and b.answer = l.answer
             where l.cause = $1 and l.p > b.p order by l.descriptor, l.answer",
        )
        .bind(cause.to_owned())
        .all()
        .await?;
    rows.sort_by(|one, other| (other.p / other.background).total_cmp(&(one.p / one.background)));
    rows.truncate(SHOWN);
    Ok(rows)
}
