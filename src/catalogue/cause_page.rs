//! The page of a cause: how it sounds, how to check for it, what mends it, what can hurt somebody, and what speaks for it.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::response::{IntoResponse, Response};
use sqlx::FromRow;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::db::Read;
use crate::error::Result;
use crate::page::{Frame, Markup, html};
use crate::printing::drawing::{self, Spot};
use crate::staff::Who;
use crate::words;

use super::answer::Words;
use super::cause::{Cause, REGIONS};
use super::caution::{self, Caution};
use super::entry;
use super::job::Job;
use super::source;
use super::tie;

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
    /// The shop said so, not the program.
    own: bool,
}

impl Speaks {
    #[expect(clippy::cast_possible_truncation, reason = "a share is from 0 to 1")]
    fn percent(&self) -> i64 {
        (self.p * 100.0).round() as i64
    }
}

#[derive(Template)]
#[template(path = "catalogue/cause_page.html")]
struct CausePage {
    frame: Frame,
    late: Option<String>,
    cause: Cause,
    jobs: Vec<Job>,
    /// Each way is one job or several together.
    others: Vec<Vec<Job>>,
    cautions: Vec<&'static Caution>,
    speaks: Vec<Speaks>,
    words: Words,
    drawing: Option<Markup>,
}

impl CausePage {
    /// What to take care of while looking; what is structural is said above already.
    fn care(&self) -> String {
        let care = caution::of_look(&self.cause);
        care.trim_start_matches(caution::STRUCTURAL)
            .trim_start()
            .to_owned()
    }

    /// "15 times in 100, by a guess"
    fn misses(&self) -> String {
        match self.cause.check_misses {
            Some(misses) => format!("{misses} times in 100, as the shop says"),
            None => format!("{} times in 100, by a guess", tie::usual_misses(&self.cause)),
        }
    }
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
    show(&app, &who, &code, None).await
}

/// The page as it stands, with what came too late if something did.
///
/// # Errors
/// As [`page`].
pub async fn show(app: &App, who: &Who, code: &str, late: Option<String>) -> Result<Response> {
    let cause = Cause::get(&app.db, code).await?;
    let shop = Shop::get(&app.db).await?;
    let all = Job::all(&app.db).await?;
    let job = |code: &str| all.iter().find(|job| job.code == code).cloned();
    let status = entry::status(late.as_ref());
    let page = CausePage {
        frame: Frame::new(&*cause.name, shop.name, who, "catalogue"),
        jobs: cause.jobs().filter_map(job).collect(),
        others: cause
            .other_ways()
            .map(|way| way.split('+').filter_map(job).collect())
            .collect(),
        cautions: caution::of_cause(&cause, &all),
        speaks: speaks_for(&app.db, &cause.code).await?,
        words: Words::all(&app.db).await?,
        drawing: drawn(&cause),
        late,
        cause,
    };
    Ok((status, html(page)?).into_response())
}

/// Where it sits on the first of its families that has a drawing.
fn drawn(cause: &Cause) -> Option<Markup> {
    let (region, name) = *REGIONS.iter().find(|known| known.0 == cause.region)?;
    let here = Spot {
        region,
        href: String::new(),
        words: name.to_owned(),
        p: 1.0,
        cause: cause.code.clone(),
    };
    let mut families = cause.families.split(';');
    families.find_map(|family| drawing::instrument(family, name, std::slice::from_ref(&here), &[]))
}

/// The answers that tell most for a cause: by how much more often they are given with it than with any other.
async fn speaks_for(mut on: impl Read, cause: &str) -> Result<Vec<Speaks>> {
    let mut rows: Vec<Speaks> = on
        .read(
            "select l.descriptor, d.question, l.answer, l.p, b.p as background, o.version is not null as own from likelihood l
             join descriptor d on d.code = l.descriptor
             join background b on b.descriptor = l.descriptor and b.answer = l.answer
             left join likelihood_own o on o.cause = l.cause and o.descriptor = l.descriptor
             where l.cause = $1 and l.p > b.p and not d.retired order by l.descriptor, l.answer",
        )
        .bind(cause.to_owned())
        .all()
        .await?;
    rows.sort_by(|one, other| (other.p / other.background).total_cmp(&(one.p / one.background)));
    rows.truncate(SHOWN);
    Ok(rows)
}
