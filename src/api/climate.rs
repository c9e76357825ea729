//! The air for programs: readings sent in, and what is known of the last year.

use axum::Json as Answer;
use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use serde::{Deserialize, Serialize};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::climate::course::Mean;
use crate::climate::follow::Follows;
use crate::climate::known::Known;
use crate::climate::reading::{
    self, Air, Came, Fate, NewReading, Reading, amiss, figure, hundredths_of, moment,
};
use crate::climate::{chart, day::AirDay, wood};
use crate::clock::{Moment, Zone};
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::staff::Who;

use super::doing::Doing;
use super::json::{Json, Nothing, Query};

/// So many readings at once.
const MOST: usize = 1000;

/// One reading by its own three members, or many as `readings`.
#[derive(Debug, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReadingsSent {
    /// RFC 3339, or a day and a time of the shop's zone; left out: now.
    at: Option<String>,
    temperature_c: Option<f64>,
    /// Percent.
    relative_humidity: Option<f64>,
    /// Up to 1,000, instead of the members beside this one.
    readings: Option<Vec<ReadingSent>>,
}

#[derive(Debug, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReadingSent {
    /// RFC 3339, or a day and a time of the shop's zone.
    at: String,
    temperature_c: f64,
    /// Percent.
    relative_humidity: f64,
}

/// What became of what was sent.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct ReadingsKept {
    /// New.
    kept: usize,
    /// Here already, the same.
    known: usize,
    /// Not taken: at that moment there is another reading, which stays.
    other: usize,
    /// In the order in which they were sent.
    readings: Vec<ReadingAnswer>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct ReadingAnswer {
    /// Nothing for one that was not taken.
    id: Option<uuid::Uuid>,
    #[schema(format = DateTime)]
    at: String,
    temperature_c: f64,
    relative_humidity: f64,
    /// What wood comes to in such air.
    wood_moisture_percent: f64,
    /// Why it should be looked at twice.
    odd: Option<&'static str>,
}

fn answer(id: Option<uuid::Uuid>, at: Moment, air: Air) -> ReadingAnswer {
    let (temperature_c, relative_humidity) = (figure(air.temperature), figure(air.humidity));
    ReadingAnswer {
        id,
        at: at.rfc3339(),
        temperature_c,
        relative_humidity,
        wood_moisture_percent: rounded(wood::moisture(temperature_c, relative_humidity)),
        odd: air.odd(),
    }
}

fn rounded(moisture: f64) -> f64 {
    (moisture * 1000.0).round() / 1000.0
}

impl ReadingsSent {
    fn read(&self, zone: &Zone, now: Moment) -> Result<Vec<NewReading>> {
        let mut problems = Problems::default();
        let one =
            |problems: &mut Problems, before: &str, at: Option<&str>, air: (Option<f64>, Option<f64>)| {
                let field = |name: &str| format!("{before}{name}");
                let names = (field("temperature_c"), field("relative_humidity"));
                let figures = (air.0.and_then(hundredths_of), air.1.and_then(hundredths_of));
                let air = Air::check(problems, (&names.0, &names.1), figures.0, figures.1);
                let at = at.map_or(Some(now), |at| moment(at, zone));
                match at.map(|at| amiss(at, now)) {
                    None => problems.add(field("at"), "Write the moment as 2026-02-10T09:30:00Z."),
                    Some(Some(why)) => problems.add(field("at"), why),
                    Some(None) => {}
                }
                Some(NewReading { at: at?, air: air? })
            };
        let new: Vec<Option<NewReading>> = match &self.readings {
            None => vec![one(
                &mut problems,
                "",
                self.at.as_deref(),
                (self.temperature_c, self.relative_humidity),
            )],
            Some(_)
                if self.at.is_some() || self.temperature_c.is_some() || self.relative_humidity.is_some() =>
            {
                problems.add(
                    "readings",
                    "Send one reading by itself, or many in this list, not both.",
                );
                Vec::new()
            }
            Some(many) if many.is_empty() || many.len() > MOST => {
                problems.add("readings", "Send 1 to 1,000 readings at once.");
                Vec::new()
            }
            Some(many) => (0..)
                .zip(many)
                .map(|(place, sent): (usize, _)| {
                    let air = (Some(sent.temperature_c), Some(sent.relative_humidity));
                    one(&mut problems, &format!("readings.{place}."), Some(&sent.at), air)
                })
                .collect(),
        };
        problems.settle()?;
        Ok(new.into_iter().flatten().collect())
    }
}

/// Keeps readings of the hygrometer. A moment that has one already keeps it, so that sending twice does nothing twice.
#[utoipa::path(post, path = "/api/v1/climate/readings", tag = "climate", request_body = ReadingsSent, responses((status = 201, body = ReadingsKept)))]
pub async fn send(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    call: Json<ReadingsSent>,
) -> Result<Response> {
    let mut doing = Doing::make(&app, &who, call.key()?).await?;
    let zone = Shop::get(&mut doing.tx).await?.zone();
    let new = call.of.read(&zone, doing.now)?;
    let fates = reading::keep(&mut doing.tx, &who, Came::Sent, &zone, &new).await?;
    let count = |wanted: fn(&Fate) -> bool| fates.iter().filter(|fate| wanted(fate)).count();
    let told = ReadingsKept {
        kept: count(|fate| matches!(fate, Fate::Kept(_))),
        known: count(|fate| matches!(fate, Fate::Known(_))),
        other: count(|fate| matches!(fate, Fate::Other(_))),
        readings: new
            .iter()
            .zip(&fates)
            .map(|(new, fate)| became(*new, *fate))
            .collect(),
    };
    let version = reading::version(&mut doing.tx).await?;
    doing.answer(StatusCode::CREATED, version, &told).await
}

fn became(new: NewReading, fate: Fate) -> ReadingAnswer {
    match fate {
        Fate::Kept(id) | Fate::Known(id) => answer(Some(id), new.at, new.air),
        Fate::Other(_) => answer(None, new.at, new.air),
    }
}

/// Takes a reading out that was mistyped; its day is counted anew.
#[utoipa::path(post, path = "/api/v1/climate/readings/{reading}/withdraw", tag = "climate", responses((status = 200, body = ReadingAnswer)))]
pub async fn withdraw(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(id): Path<String>,
    call: Json<Nothing>,
) -> Result<Response> {
    let id = id.parse().map_err(|_| Error::NotFound)?;
    let mut doing = Doing::make(&app, &who, call.key()?).await?;
    let zone = Shop::get(&mut doing.tx).await?.zone();
    let taken = reading::take_out(&mut doing.tx, &zone, id).await?;
    let version = reading::version(&mut doing.tx).await?;
    let told = answer(Some(taken.id), taken.at, taken.air);
    doing.answer(StatusCode::OK, version, &told).await
}

/// Nothing to say: it is of the year up to today.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ClimateAsked {}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct ClimateAnswer {
    /// The shop's day.
    as_of: String,
    latest: Option<ReadingAnswer>,
    /// The last 30 days, and the 30 before them; nothing where fewer than ten days have readings.
    last_30_days: Option<MeanAnswer>,
    the_30_before: Option<MeanAnswer>,
    /// The days of the last year that have readings.
    days: Vec<DayAnswer>,
    /// Ten days and more without a reading.
    gaps: Vec<GapAnswer>,
    /// Months that have both readings and inspections, of the last 72; under 18 no cause is weighed.
    months_weighed: usize,
    causes: Vec<CauseAnswer>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct MeanAnswer {
    days: usize,
    temperature_c: f64,
    relative_humidity: f64,
    wood_moisture_percent: f64,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct DayAnswer {
    day: String,
    readings: i64,
    temperature_c: f64,
    relative_humidity: f64,
    wood_moisture_percent: f64,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct GapAnswer {
    from: String,
    to: String,
}

/// How the odds of a cause go with the wood, by logistic regression over months.
#[derive(Debug, Serialize, utoipa::ToSchema)]
#[schema(as = CauseAndAir)]
pub struct CauseAnswer {
    cause: String,
    confirmed: u64,
    inspected: u64,
    /// For each percent of moisture less over the last 30 days, averaged over the days of the month of intake.
    odds_per_percent_drier: f64,
    /// For each percent lost from the 30 days before those, likewise.
    odds_per_percent_lost: f64,
    /// Of both together, by the likelihood ratio on two degrees of freedom with Bartlett's correction.
    p_value: f64,
    /// Over all causes told here.
    q_value: f64,
}

impl From<Mean> for MeanAnswer {
    fn from(mean: Mean) -> Self {
        MeanAnswer {
            days: mean.days,
            temperature_c: mean.temperature,
            relative_humidity: mean.humidity,
            wood_moisture_percent: rounded(mean.moisture),
        }
    }
}

impl From<&AirDay> for DayAnswer {
    fn from(day: &AirDay) -> Self {
        DayAnswer {
            day: day.day.iso(),
            readings: day.readings,
            temperature_c: day.mean_temperature(),
            relative_humidity: day.mean_humidity(),
            wood_moisture_percent: rounded(day.mean_moisture()),
        }
    }
}

impl From<&Follows> for CauseAnswer {
    fn from(cause: &Follows) -> Self {
        CauseAnswer {
            cause: cause.cause.clone(),
            confirmed: cause.confirmed,
            inspected: cause.inspected,
            odds_per_percent_drier: cause.drier.times,
            odds_per_percent_lost: cause.drying.times,
            p_value: cause.p_value,
            q_value: cause.q_value,
        }
    }
}

/// Tells the air of the last year, what the wood made of it, and which causes follow it.
#[utoipa::path(get, path = "/api/v1/climate", tag = "climate", responses((status = 200, body = ClimateAnswer)))]
pub async fn read(State(app): State<App>, Query(_): Query<ClimateAsked>) -> Result<Answer<ClimateAnswer>> {
    let shop = Shop::get(&app.db).await?;
    let known = Known::read(&app, &shop).await?;
    let (from, to) = (known.today.plus(1 - chart::DAYS), known.today);
    let of = |reading: &Reading| answer(Some(reading.id), reading.at, reading.air);
    let gaps = known.course.gaps(from, to).into_iter().map(|gap| GapAnswer {
        from: gap.from.iso(),
        to: gap.to.iso(),
    });
    Ok(Answer(ClimateAnswer {
        as_of: to.iso(),
        latest: known.latest.as_ref().map(of),
        last_30_days: known.now().map(MeanAnswer::from),
        the_30_before: known.before().map(MeanAnswer::from),
        days: known
            .course
            .within(from, to)
            .iter()
            .map(DayAnswer::from)
            .collect(),
        gaps: gaps.collect(),
        months_weighed: known.weighed.months,
        causes: known.weighed.causes.iter().map(CauseAnswer::from).collect(),
    }))
}
