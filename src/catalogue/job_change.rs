//! Changing the jobs: the owner's pages for a new one of the shop's own, and for the shop's steps and minutes of any.

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

use super::caution::{CAUTIONS, Caution};
use super::entry::New;
use super::job::{Job, JobStep};
use super::job_form::{FIELDS, JobForm, Row, on_form, rows, typed_of};
use super::new_job::{self, MATERIALS, WHO};

#[derive(Template)]
#[template(path = "catalogue/job_change.html")]
struct JobPage {
    frame: Frame,
    /// The code of the job that is changed; empty for a new one.
    code: String,
    version: i64,
    once: String,
    problems: Problems,
    typed: Typed,
    changed: Option<Vec<Side>>,
    rows: Vec<Row>,
}

impl JobPage {
    fn who(&self) -> &'static [(&'static str, &'static str)] {
        &WHO
    }
    fn materials(&self) -> [&'static str; 4] {
        MATERIALS
    }
    fn cautions(&self) -> &'static [Caution] {
        &CAUTIONS
    }
    /// The words for one cell of the steps.
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
        "A new job"
    } else {
        "Change a job"
    };
    let page = JobPage {
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

/// `GET /catalogue/jobs/new`
///
/// # Errors
/// What the database says.
pub async fn new_page(State(app): State<App>, Extension(who): Extension<Who>) -> Result<Response> {
    let typed = Typed::default()
        .with("who", "bench_technician")
        .with("factor_cello", "1")
        .with("factor_bass", "1")
        .with("materials", "none");
    show(&app, &who, ("", 1), Shown::fresh(typed)).await
}

/// `POST /catalogue/jobs/new`
///
/// # Errors
/// Again with the first answer, or what the database says.
pub async fn add(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    form: Form<JobForm>,
) -> Result<Response> {
    let mut new = New::begin(&app, &who, &form.of.once, &["new job", &form.of.name]).await?;
    let (job, problems, rows) = form.of.read();
    match new_job::add(&mut new.tx, problems, &job).await {
        Err(Error::Problems(problems)) => {
            drop(new);
            let shown = Shown::amiss(form.typed, on_form(&problems, &rows));
            show(&app, &who, ("", 1), shown).await
        }
        added => new.then(&format!("/catalogue/jobs/{}", added?.0.code)).await,
    }
}

/// `GET /catalogue/jobs/{code}/change`
///
/// # Errors
/// Not found, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(code): Path<String>,
) -> Result<Response> {
    let job = Job::get(&app.db, &code).await?;
    let steps = JobStep::of(&app.db, &job.code).await?;
    let shown = Shown::fresh(typed_of(&job, &steps));
    show(&app, &who, (&job.code, job.version), shown).await
}

/// `POST /catalogue/jobs/{code}/change`
///
/// # Errors
/// Not found, or what the database says.
pub async fn change(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(code): Path<String>,
    form: Form<JobForm>,
) -> Result<Response> {
    let mut tx = app.db.begin().await?;
    let version = form.of.version;
    let (new, problems, rows) = form.of.read();
    let (version, shown) = match new_job::change(&mut tx, problems, (&code, version), &new).await {
        Err(Error::Problems(problems)) => (version, Shown::amiss(form.typed, on_form(&problems, &rows))),
        Err(Error::Stale(_)) => {
            let now = Job::get(&mut tx, &code).await?;
            let standing = typed_of(&now, &JobStep::of(&mut tx, &code).await?);
            (now.version, Shown::late(&FIELDS, &standing, form.typed))
        }
        kept => {
            kept?;
            tx.commit().await?;
            return Ok(Redirect::to(&format!("/catalogue/jobs/{code}")).into_response());
        }
    };
    drop(tx);
    show(&app, &who, (&code, version), shown).await
}
