//! The page on which the hygrometer is read in: two fields and a tap, or a file of readings.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::multipart::{Multipart, MultipartRejection};
use axum::extract::{Extension, Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

use crate::act::Guard;
use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::{Moment, Zone};
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::once;
use crate::page::{Frame, html};
use crate::staff::Who;
use crate::words::count;

use super::file::{self, Brought};
use super::reading::{self, Air, Came, Fate, NewReading, Reading, amiss, hundredths, zone_moment};

/// So many of the last readings are shown.
const FEW: i64 = 6;
/// So many lines of a file that are not taken are told one by one.
const TOLD: usize = 40;

#[derive(Template)]
#[template(path = "climate/reading_page.html")]
struct ReadingPage {
    frame: Frame,
    shown: Shown,
    kept: Option<Reading>,
    latest: Vec<Reading>,
    zone: Zone,
    once: String,
}

/// What the page shows beside the readings.
#[derive(Default)]
struct Shown {
    problems: Problems,
    typed: Typed,
    brought: Option<Brought>,
    kept: Option<Uuid>,
    known: bool,
    taken_out: bool,
}

impl ReadingPage {
    fn when(&self, reading: &Reading) -> String {
        self.zone.words(reading.at)
    }

    fn at_another_time(&self) -> bool {
        let typed = |field| !self.shown.typed.at(field).is_empty();
        typed("day") || typed("time")
    }

    fn readings(&self, n: usize) -> String {
        count(i64::try_from(n).unwrap_or(i64::MAX), "reading", "readings")
    }

    fn lines(&self, n: usize) -> String {
        count(i64::try_from(n).unwrap_or(i64::MAX), "line", "lines")
    }

    fn left<'a>(&self, brought: &'a Brought) -> (&'a [(u64, String)], usize) {
        let told = brought.left.len().min(TOLD);
        (&brought.left[..told], brought.left.len() - told)
    }
}

async fn show(app: &App, who: &Who, shown: Shown) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let kept = match shown.kept {
        Some(id) => Reading::get(&app.db, id).await.ok(),
        None => None,
    };
    let status = if shown.problems.is_empty() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = ReadingPage {
        frame: Frame::new("The hygrometer", &*shop.name, who, "air"),
        shown,
        kept,
        latest: Reading::latest(&app.db, FEW).await?,
        zone: shop.zone(),
        once: once::fresh()?,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /air/reading`
///
/// # Errors
/// What the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Query(asked): Query<BTreeMap<String, String>>,
) -> Result<Response> {
    let shown = Shown {
        kept: asked.get("kept").and_then(|id| id.parse().ok()),
        known: asked.contains_key("known"),
        taken_out: asked.contains_key("out"),
        ..Shown::default()
    };
    show(&app, &who, shown).await
}

/// A reading as the page sends it; day and time empty for now.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct ReadingForm {
    temperature_c: String,
    relative_humidity: String,
    day: String,
    time: String,
    #[serde(rename = "once")]
    _once: String,
}

impl ReadingForm {
    fn read(&self, zone: &Zone, now: Moment) -> Result<NewReading> {
        let mut problems = Problems::default();
        let air = Air::check(
            &mut problems,
            ("temperature_c", "relative_humidity"),
            hundredths(&self.temperature_c),
            hundredths(&self.relative_humidity),
        );
        let at = match (self.day.trim(), self.time.trim()) {
            ("", "") => Some(Moment(now.0 - now.0.rem_euclid(60_000))),
            // A time alone is of today.
            ("", time) => zone_moment(&zone.day(now).iso(), time, zone),
            (day, time) => zone_moment(day, time, zone),
        };
        match at.map(|at| amiss(at, now)) {
            None => problems.add("day", "Write a day and a time, such as 2026-02-10 and 9:30."),
            Some(Some(why)) => problems.add("day", why),
            Some(None) => {}
        }
        match (air, at, problems.is_empty()) {
            (Some(air), Some(at), true) => Ok(NewReading { at, air }),
            _ => Err(problems.into()),
        }
    }
}

/// `POST /air/reading`
///
/// # Errors
/// What the database says.
pub async fn keep(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    form: Form<ReadingForm>,
) -> Result<Response> {
    match try_keep(&app, &who, &form).await {
        Err(Error::Problems(problems)) => {
            let shown = Shown {
                problems,
                typed: form.typed,
                ..Shown::default()
            };
            show(&app, &who, shown).await
        }
        kept => kept,
    }
}

async fn try_keep(app: &App, who: &Who, form: &Form<ReadingForm>) -> Result<Response> {
    let now = app.clock.now();
    let guard = Guard::of_form(&form.typed, "reading of the air");
    let mut tx = app.db.begin().await?;
    if let Some(key) = &guard.key {
        once::begin(&mut tx, who.actor, key, now).await?;
    }
    let zone = Shop::get(&mut tx).await?.zone();
    let new = form.of.read(&zone, now)?;
    let fates = reading::keep(&mut tx, who, Came::Typed, &zone, &[new]).await?;
    let location = match fates.first() {
        Some(Fate::Kept(id)) => format!("/air/reading?kept={id}"),
        Some(Fate::Known(id)) => format!("/air/reading?kept={id}&known=yes"),
        Some(Fate::Other(air)) => {
            let mut problems = Problems::default();
            let words = format!(
                "At this moment there is another reading: {}. If it is wrong, take it out first.",
                air.words()
            );
            problems.add("day", words);
            return Err(problems.into());
        }
        None => return Err(Error::fault("a reading came to nothing")),
    };
    if let Some(key) = &guard.key {
        once::keep(
            &mut tx,
            who.actor,
            key,
            StatusCode::SEE_OTHER.as_u16(),
            &location,
            now,
        )
        .await?;
    }
    tx.commit().await?;
    Ok(Redirect::to(&location).into_response())
}

/// `POST /air/reading/{id}/withdraw`
///
/// # Errors
/// What the database says.
pub async fn take_out(State(app): State<App>, Path(id): Path<String>) -> Result<Response> {
    let id = id.parse().map_err(|_| Error::NotFound)?;
    let mut tx = app.db.begin().await?;
    let zone = Shop::get(&mut tx).await?.zone();
    match reading::take_out(&mut tx, &zone, id).await {
        Err(Error::NotFound) => {} // a second tap
        taken => {
            taken?;
            tx.commit().await?;
        }
    }
    Ok(Redirect::to("/air/reading?out=yes").into_response())
}

/// `POST /air/file`: brought in twice it changes nothing the second time, so it carries no key.
///
/// # Errors
/// What the database says.
pub async fn bring(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    parts: Result<Multipart, MultipartRejection>,
) -> Result<Response> {
    let mut shown = Shown::default();
    match try_bring(&app, &who, parts).await {
        Err(Error::Problems(problems)) => shown.problems = problems,
        brought => shown.brought = Some(brought?),
    }
    show(&app, &who, shown).await
}

async fn try_bring(app: &App, who: &Who, parts: Result<Multipart, MultipartRejection>) -> Result<Brought> {
    let parts = parts.map_err(|_| Error::MediaType("a file from this page (multipart/form-data)"))?;
    let bytes = bytes(parts).await?;
    let mut tx = app.db.begin().await?;
    let zone = Shop::get(&mut tx).await?.zone();
    let lines = file::read(&bytes, &zone, app.clock.now())?;
    let fates = reading::keep(&mut tx, who, Came::File, &zone, &lines.new_readings()).await?;
    tx.commit().await?;
    Ok(lines.brought(&fates))
}

/// What is in the file that was chosen.
async fn bytes(mut parts: Multipart) -> Result<Vec<u8>> {
    let broken = |refusal: axum::extract::multipart::MultipartError| {
        if refusal.status() == StatusCode::PAYLOAD_TOO_LARGE {
            Error::TooLarge("a file of readings (4 MB)")
        } else {
            Error::Unreadable("The file broke off on the way. Send it again.".into())
        }
    };
    while let Some(part) = parts.next_field().await.map_err(broken)? {
        if part.name() == Some("file") {
            let bytes = part.bytes().await.map_err(broken)?;
            if !bytes.is_empty() {
                return Ok(bytes.into());
            }
        }
    }
    let mut problems = Problems::default();
    problems.add("file", "Choose a file first.");
    Err(problems.into())
}
