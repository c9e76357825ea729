//! Changing the causes: the owner's pages for a new one of the shop's own, and for the shop's wording of any.

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

use super::browse::FAMILIES;
use super::cause::{Cause, REGIONS};
use super::cause_form::{CauseForm, FIELDS, on_form, typed_of};
use super::entry::New;
use super::new_cause::{self, AGES, BANDS, Beside, SEASONS};

#[derive(Template)]
#[template(path = "catalogue/cause_change.html")]
struct CausePage {
    frame: Frame,
    /// The code of the cause that is changed; empty for a new one.
    code: String,
    version: i64,
    once: String,
    problems: Problems,
    typed: Typed,
    changed: Option<Vec<Side>>,
    jobs: Vec<Choice>,
    ways: Vec<Choice>,
}

impl CausePage {
    fn regions(&self) -> &'static [(&'static str, &'static str)] {
        &REGIONS
    }
    fn families(&self) -> [&'static str; 4] {
        FAMILIES
    }
    fn bands(&self) -> &'static [(&'static str, &'static str, f64)] {
        &BANDS
    }
    fn seasons(&self) -> &'static [(&'static str, &'static str)] {
        &SEASONS
    }
    fn ages(&self) -> &'static [(&'static str, &'static str)] {
        &AGES
    }
}

/// A code to choose, and its words.
type Choice = (String, String);

/// The jobs to choose from: those in use, and those that stand in the form already.
fn choices(beside: &Beside, typed: &Typed) -> (Vec<Choice>, Vec<Choice>) {
    let stands = |code: &str| {
        ["job1", "job2", "job3", "other1", "other2", "other3"]
            .iter()
            .any(|field| typed.at(field).split('+').any(|own| own == code))
    };
    let mut jobs: Vec<Choice> = beside
        .jobs
        .iter()
        .filter(|job| !job.retired || stands(&job.code))
        .map(|job| (job.code.clone(), job.name.clone()))
        .collect();
    jobs.sort_by(|one, other| one.1.cmp(&other.1));
    let mut ways = jobs.clone();
    let used = beside.causes.iter().flat_map(Cause::other_ways);
    let typed = ["other1", "other2", "other3"]
        .into_iter()
        .map(|field| typed.at(field));
    for way in used.chain(typed).filter(|way| way.contains('+')) {
        let names: Vec<&str> = way
            .split('+')
            .filter_map(|code| jobs.iter().find(|job| job.0 == code))
            .map(|job| job.1.as_str())
            .collect();
        if !names.is_empty() && ways.iter().all(|known| known.0 != way) {
            ways.push((way.to_owned(), names.join(" + ")));
        }
    }
    (jobs, ways)
}

async fn show(app: &App, who: &Who, (code, version): (&str, i64), shown: Shown) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let beside = Beside::read(&app.db).await?;
    let status = shown.status();
    let (jobs, ways) = choices(&beside, &shown.typed);
    let title = if code.is_empty() {
        "A new cause"
    } else {
        "Change a cause"
    };
    let page = CausePage {
        frame: Frame::new(title, shop.name, who, "catalogue"),
        code: code.to_owned(),
        version,
        once: once::fresh()?,
        problems: shown.problems,
        typed: shown.typed,
        changed: shown.changed,
        jobs,
        ways,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /catalogue/causes/new`
///
/// # Errors
/// What the database says.
pub async fn new_page(State(app): State<App>, Extension(who): Extension<Who>) -> Result<Response> {
    let mut typed = Typed::default()
        .with("check_place", "bench")
        .with("common", "occasional")
        .with("season_tie", "none")
        .with("age_tie", "any");
    for family in FAMILIES {
        typed = typed.with("families", family);
    }
    show(&app, &who, ("", 1), Shown::fresh(typed)).await
}

/// `POST /catalogue/causes/new`
///
/// # Errors
/// Again with the first answer, or what the database says.
pub async fn add(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    form: Form<CauseForm>,
) -> Result<Response> {
    let mut new = New::begin(&app, &who, &form.of.once, &["new cause", &form.of.name]).await?;
    match new_cause::add(&mut new.tx, Problems::default(), &form.of.read()).await {
        Err(Error::Problems(problems)) => {
            drop(new);
            let shown = Shown::amiss(form.typed, on_form(&problems));
            show(&app, &who, ("", 1), shown).await
        }
        added => new.then(&format!("/catalogue/causes/{}", added?.code)).await,
    }
}

/// `GET /catalogue/causes/{code}/change`
///
/// # Errors
/// Not found, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(code): Path<String>,
) -> Result<Response> {
    let cause = Cause::get(&app.db, &code).await?;
    let shown = Shown::fresh(typed_of(&cause));
    show(&app, &who, (&cause.code, cause.version), shown).await
}

/// `POST /catalogue/causes/{code}/change`
///
/// # Errors
/// Not found, or what the database says.
pub async fn change(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(code): Path<String>,
    form: Form<CauseForm>,
) -> Result<Response> {
    let mut tx = app.db.begin().await?;
    let version = form.of.version;
    let (version, shown) =
        match new_cause::change(&mut tx, Problems::default(), (&code, version), &form.of.read()).await {
            Err(Error::Problems(problems)) => (version, Shown::amiss(form.typed, on_form(&problems))),
            Err(Error::Stale(_)) => {
                let now = Cause::get(&mut tx, &code).await?;
                (now.version, Shown::late(&FIELDS, &typed_of(&now), form.typed))
            }
            kept => {
                kept?;
                tx.commit().await?;
                return Ok(Redirect::to(&format!("/catalogue/causes/{code}")).into_response());
            }
        };
    drop(tx);
    show(&app, &who, (&code, version), shown).await
}
