//! The page of a job: its steps in order with their minutes and waits, what can hurt somebody, and what it mends.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::response::{IntoResponse, Response};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::Result;
use crate::page::{Frame, html};
use crate::staff::Who;
use crate::words;

use super::cause::Cause;
use super::caution::{self, Caution};
use super::entry;
use super::job::{Job, JobStep};
use super::source;

#[derive(Template)]
#[template(path = "catalogue/job_page.html")]
struct JobPage {
    frame: Frame,
    late: Option<String>,
    job: Job,
    steps: Vec<JobStep>,
    mends: Vec<Cause>,
    /// Causes for which it is another way.
    may_mend: Vec<Cause>,
    cautions: Vec<&'static Caution>,
}

impl JobPage {
    fn source(&self) -> String {
        source::words(&self.job.source)
    }
}

/// Hours of waiting as they are said: "12 h", "1 h 30", "22 days".
#[must_use]
#[expect(clippy::cast_possible_truncation, reason = "waits are days, not ages")]
pub fn wait_words(hours: &f64) -> String {
    let minutes = (hours * 60.0).round() as i64;
    if minutes >= 3 * 1440 && minutes % 1440 == 0 {
        return words::count(minutes / 1440, "day", "days");
    }
    words::minutes(minutes)
}

/// `GET /catalogue/jobs/{code}`
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
    let job = Job::get(&app.db, code).await?;
    let shop = Shop::get(&app.db).await?;
    let all = Cause::all(&app.db).await?;
    let mends = |cause: &&Cause| cause.jobs().any(|own| own == job.code);
    let may_mend = |cause: &&Cause| {
        cause
            .other_ways()
            .any(|way| way.split('+').any(|own| own == job.code))
    };
    let status = entry::status(late.as_ref());
    let page = JobPage {
        frame: Frame::new(&*job.name, shop.name, who, "catalogue"),
        steps: JobStep::of(&app.db, &job.code).await?,
        mends: all.iter().filter(mends).cloned().collect(),
        may_mend: all
            .iter()
            .filter(|cause| !mends(cause))
            .filter(may_mend)
            .cloned()
            .collect(),
        cautions: caution::of_job(&job),
        late,
        job,
    };
    Ok((status, html(page)?).into_response())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wait_is_said_in_hours_until_it_is_days() {
        assert_eq!(wait_words(&0.5), "30 min");
        assert_eq!(wait_words(&12.0), "12 h");
        assert_eq!(wait_words(&28.0), "28 h");
        assert_eq!(wait_words(&528.0), "22 days");
    }
}
