//! Changing the jobs: the owner's pages for a new one of the shop's own, and for the shop's steps and minutes of any.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::changed::{self, Side};
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::once::{self, Key};
use crate::page::{Frame, html};
use crate::staff::Who;

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
    /// The words for one cell of the steps.
    #[expect(
        clippy::trivially_copy_pass_by_ref,
        reason = "a template hands over references"
    )]
    fn amiss(&self, name: &str, row: &usize) -> &str {
        self.problems.at(&format!("{name}-{row}"))
    }
}

/// What a form shows beside the fields themselves.
#[derive(Default)]
struct Shown {
    problems: Problems,
    typed: Typed,
    changed: Option<Vec<Side>>,
}

async fn show(app: &App, who: &Who, (code, version): (&str, i64), shown: Shown) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let status = match (&shown.changed, shown.problems.is_empty()) {
        (Some(_), _) => StatusCode::PRECONDITION_FAILED,
        (None, true) => StatusCode::OK,
        (None, false) => StatusCode::UNPROCESSABLE_ENTITY,
    };
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
    let shown = Shown {
        typed,
        ..Shown::default()
    };
    show(&app, &who, ("", 1), shown).await
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
    let now = app.clock.now();
    let key =
        (!form.of.once.is_empty()).then(|| Key::new(&form.of.once, &[b"new job", form.of.name.as_bytes()]));
    let mut tx = app.db.begin().await?;
    if let Some(key) = &key {
        once::begin(&mut tx, who.actor, key, now).await?;
    }
    let (new, problems, rows) = form.of.read();
    let (job, _) = match new_job::add(&mut tx, problems, &new).await {
        Err(Error::Problems(problems)) => {
            drop(tx);
            let shown = Shown {
                problems: on_form(&problems, &rows),
                typed: form.typed,
                changed: None,
            };
            return show(&app, &who, ("", 1), shown).await;
        }
        added => added?,
    };
    let location = format!("/catalogue/jobs/{}", job.code);
    if let Some(key) = &key {
        once::keep(&mut tx, who.actor, key, 303, &location, now).await?;
    }
    tx.commit().await?;
    Ok(Redirect::to(&location).into_response())
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
    let shown = Shown {
        typed: typed_of(&job, &steps),
        ..Shown::default()
    };
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
    let mut shown = Shown {
        typed: form.typed,
        ..Shown::default()
    };
    let mut version = form.of.version;
    let (new, problems, rows) = form.of.read();
    match new_job::change(&mut tx, problems, (&code, version), &new).await {
        Err(Error::Problems(problems)) => shown.problems = on_form(&problems, &rows),
        Err(Error::Stale(_)) => {
            let now = Job::get(&mut tx, &code).await?;
            let standing = typed_of(&now, &JobStep::of(&mut tx, &code).await?);
            version = now.version;
            shown.changed = Some(changed::between(&FIELDS, &standing, &shown.typed));
        }
        kept => {
            kept?;
            tx.commit().await?;
            return Ok(Redirect::to(&format!("/catalogue/jobs/{code}")).into_response());
        }
    }
    drop(tx);
    show(&app, &who, (&code, version), shown).await
}
