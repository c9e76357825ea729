//! `GET /api/v1/reports/recurrence`: the figures of the month's report, for programs.

use axum::Json;
use axum::extract::State;
use serde::{Deserialize, Serialize};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::Result;
use crate::form::Problems;
use crate::reports::age::AgeBand;
use crate::reports::ask::family;
use crate::reports::recurrence::{Confirmed, Recurrence};
use crate::reports::season::Season;
use crate::reports::share::Share;
use crate::reports::span::Span;

use super::json::Query;

/// The months, both included, and a family or all of them.
#[derive(Debug, Default, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields, default)]
#[into_params(parameter_in = Query)]
pub struct RecurrenceAsked {
    /// `2025-12`
    #[param(required = true)]
    from: String,
    /// `2026-02`
    #[param(required = true)]
    to: String,
    /// `violin`, `viola`, `cello` or `bass`; left out: all of them.
    family: Option<String>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct RecurrenceAnswer {
    /// The shop's day on which the figures were read.
    as_of: String,
    /// Orders inspected in the span.
    inspected: i64,
    /// Each cause confirmed in the span, in each age band and season in which an order was inspected.
    cells: Vec<CellAnswer>,
    /// Each cause confirmed in the span, most frequent first.
    causes: Vec<CauseAnswer>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct CellAnswer {
    cause: String,
    /// `under_2`, `2_to_19`, `20_to_79`, `80_to_99`, `100_plus` or `unknown`.
    age_band: &'static str,
    /// `dry`, `humid` or `change`.
    season: &'static str,
    /// Orders inspected in this band and season: what the rate is of.
    inspected: i64,
    confirmed: i64,
    rate: Option<f64>,
    /// Of Wilson's 95 % interval, as is `high`.
    low: Option<f64>,
    high: Option<f64>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct CauseAnswer {
    cause: String,
    confirmed: i64,
    rate: Option<f64>,
    /// Of Wilson's 95 % interval, as is `high`.
    low: Option<f64>,
    high: Option<f64>,
}

/// How often each cause turns up among the orders inspected, by age and season.
#[utoipa::path(get, path = "/api/v1/reports/recurrence", tag = "reports", params(RecurrenceAsked), responses((status = 200, body = RecurrenceAnswer)))]
pub async fn recurrence(
    State(app): State<App>,
    Query(asked): Query<RecurrenceAsked>,
) -> Result<Json<RecurrenceAnswer>> {
    let (span, family) = asked.understand()?;
    let shop = Shop::get(&app.db).await?;
    let figures = Recurrence::read(&app.db, span, family, &shop.seasons()).await?;
    let as_of = shop.today(app.clock.now()).iso();
    Ok(Json(RecurrenceAnswer::of(as_of, &figures)))
}

impl RecurrenceAsked {
    fn understand(&self) -> Result<(Span, &'static str)> {
        let mut problems = Problems::default();
        let family = family(
            &mut problems,
            "?family",
            self.family.as_deref().unwrap_or_default(),
        );
        match Span::parse(&self.from, &self.to) {
            Ok(span) => {
                problems.settle()?;
                Ok((span, family))
            }
            Err((field, words)) => {
                problems.add(format!("?{field}"), words.to_string());
                Err(problems.into())
            }
        }
    }
}

impl RecurrenceAnswer {
    fn of(as_of: String, figures: &Recurrence) -> RecurrenceAnswer {
        let causes = figures.causes.iter().map(|cause| {
            let share = figures.share(cause);
            let interval = share.interval();
            CauseAnswer {
                cause: cause.cause.clone(),
                confirmed: share.confirmed,
                rate: share.rate(),
                low: interval.map(|interval| interval.low),
                high: interval.map(|interval| interval.high),
            }
        });
        RecurrenceAnswer {
            as_of,
            inspected: figures.inspected.all(),
            cells: figures.cells().map(CellAnswer::of).collect(),
            causes: causes.collect(),
        }
    }
}

impl CellAnswer {
    fn of((cause, band, season, share): (&Confirmed, AgeBand, Season, Share)) -> CellAnswer {
        let interval = share.interval();
        CellAnswer {
            cause: cause.cause.clone(),
            age_band: band.code(),
            season: season.code(),
            inspected: share.inspected,
            confirmed: share.confirmed,
            rate: share.rate(),
            low: interval.map(|interval| interval.low),
            high: interval.map(|interval| interval.high),
        }
    }
}
