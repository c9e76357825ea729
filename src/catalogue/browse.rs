//! Browsing is reading the catalogue from end to end: causes by where they sit, jobs, and the questions that are asked.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::{Extension, Query, State};
use axum::response::Response;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::Result;
use crate::page::{Frame, Markup, html};
use crate::printing::drawing::{self, Spot};
use crate::reports::recurrence::Totals;
use crate::reports::span::Span;
use crate::staff::Who;
use crate::words;

use super::answer::Words;
use super::cause::{Cause, REGIONS};
use super::descriptor::Descriptor;
use super::job::Job;

/// The families that can buzz, in the order of the shop.
pub const FAMILIES: [&str; 4] = ["violin", "viola", "cello", "bass"];

#[derive(Template)]
#[template(path = "catalogue/browse.html")]
struct CausesPage {
    frame: Frame,
    /// The family chosen, or nothing for all.
    family: String,
    regions: Vec<(&'static str, &'static str, Vec<Cause>)>,
    retired: Vec<Cause>,
    /// Over the twelve months up to this one.
    here: Totals,
    count: i64,
}

impl CausesPage {
    fn families(&self) -> [&'static str; 4] {
        FAMILIES
    }

    /// The places of the instrument, each leading to its causes; a violin where no family is chosen.
    fn drawing(&self) -> Option<Markup> {
        let family = if self.family.is_empty() {
            "violin"
        } else {
            &self.family
        };
        let spot = |(region, name, causes): &(&'static str, &'static str, Vec<Cause>)| Spot {
            region,
            href: format!("#r-{region}"),
            words: format!(
                "{name}: {}",
                words::count(i64::try_from(causes.len()).unwrap_or(i64::MAX), "cause", "causes")
            ),
            p: 0.0,
            cause: String::new(),
        };
        let spots: Vec<Spot> = self.regions.iter().map(spot).collect();
        drawing::whole(family, "Places on the instrument", &spots, &[])
    }

    fn here(&self, code: &str) -> i64 {
        self.here.share(code).confirmed
    }
}

/// `GET /catalogue`
///
/// # Errors
/// What the database says.
pub async fn causes(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Query(asked): Query<BTreeMap<String, String>>,
) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let asked = asked.get("family").map_or("", String::as_str);
    let family = FAMILIES.into_iter().find(|family| *family == asked).unwrap_or("");
    let twelve = Span::up_to(shop.today(app.clock.now()).month(), 12);
    let here = Totals::read(&app.db, twelve, "").await?;
    let all = Cause::all(&app.db).await?.into_iter();
    let (retired, mut causes): (Vec<Cause>, Vec<Cause>) = all
        .filter(|cause| family.is_empty() || cause.in_family(family))
        .partition(|cause| cause.retired);
    causes.sort_by(|one, other| other.prior_share.total_cmp(&one.prior_share));
    let count = i64::try_from(causes.len()).unwrap_or(0);
    let regions = REGIONS.iter().map(|&(region, words)| {
        let own = causes.iter().filter(|cause| cause.region == region);
        (region, words, own.cloned().collect::<Vec<_>>())
    });
    html(CausesPage {
        frame: Frame::new("Catalogue", shop.name, &who, "catalogue"),
        family: family.to_owned(),
        regions: regions.filter(|region| !region.2.is_empty()).collect(),
        retired,
        here,
        count,
    })
}

#[derive(Template)]
#[template(path = "catalogue/browse_jobs.html")]
struct JobsPage {
    frame: Frame,
    groups: Vec<(&'static str, &'static str, Vec<Job>)>,
    retired: Vec<Job>,
}

/// `GET /catalogue/jobs`
///
/// # Errors
/// What the database says.
pub async fn jobs(State(app): State<App>, Extension(who): Extension<Who>) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let (retired, mut jobs): (Vec<Job>, Vec<Job>) =
        Job::all(&app.db).await?.into_iter().partition(|job| job.retired);
    jobs.sort_by(|one, other| one.name.cmp(&other.name));
    let groups = [
        ("counter", "At the counter"),
        ("bench_technician", "At the bench"),
        ("senior_luthier", "For a luthier who may open bodies"),
    ];
    let groups = groups.into_iter().map(|(who, words)| {
        let own = jobs.iter().filter(|job| job.who == who);
        (who, words, own.cloned().collect::<Vec<_>>())
    });
    html(JobsPage {
        frame: Frame::new("Jobs", shop.name, &who, "catalogue"),
        groups: groups.collect(),
        retired,
    })
}

#[derive(Template)]
#[template(path = "catalogue/browse_questions.html")]
struct QuestionsPage {
    frame: Frame,
    words: Words,
    questions: Vec<Descriptor>,
    retired: Vec<Descriptor>,
}

/// `GET /catalogue/questions`
///
/// # Errors
/// What the database says.
pub async fn questions(State(app): State<App>, Extension(who): Extension<Who>) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let all = Descriptor::all(&app.db).await?.into_iter();
    let (retired, questions) = all.partition(|question| question.retired);
    html(QuestionsPage {
        frame: Frame::new("Questions", shop.name, &who, "catalogue"),
        words: Words::all(&app.db).await?,
        questions,
        retired,
    })
}
