//! Changing the causes: the owner's pages for a new one of the shop's own, and for the shop's wording of any.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::response::{IntoResponse, Redirect, Response};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::changed::{Shown, Side};
use crate::error::Result;
use crate::form::{Form, Problems, Typed};
use crate::once;
use crate::page::{Frame, html};
use crate::staff::Who;

use super::browse::FAMILIES;
use super::cause::{Cause, REGIONS};
use super::cause_form::{AGES, BANDS, Beside, CauseForm, FIELDS, SEASONS, typed_of};
use super::entry::New;

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
    let beside = Beside::within(&mut new.tx).await?;
    let (cause, mut problems) = form.of.check(None, &beside);
    if problems.is_empty() && !cause.insert(&mut new.tx).await? {
        problems.add(
            "name",
            "Somebody added this one just now. Look for it in the catalogue.",
        );
    }
    if !problems.is_empty() {
        drop(new);
        return show(&app, &who, ("", 1), Shown::amiss(form.typed, problems)).await;
    }
    new.then(&format!("/catalogue/causes/{}", cause.code)).await
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
    let now = Cause::get(&mut tx, &code).await?;
    let beside = Beside::within(&mut tx).await?;
    let (cause, problems) = form.of.check(Some(&now), &beside);
    if !problems.is_empty() {
        drop(tx);
        let shown = Shown::amiss(form.typed, problems);
        return show(&app, &who, (&code, form.of.version), shown).await;
    }
    if !cause.update(&mut tx).await? {
        drop(tx);
        let shown = Shown::late(&FIELDS, &typed_of(&now), form.typed);
        return show(&app, &who, (&code, now.version), shown).await;
    }
    tx.commit().await?;
    Ok(Redirect::to(&format!("/catalogue/causes/{code}")).into_response())
}
