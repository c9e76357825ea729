//! `GET /api/v1/climate/plate`: how far a plate would move from one air to another, for programs.

use axum::Json as Answer;
use axum::extract::State;
use serde::Serialize;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::climate::known::Known;
use crate::climate::plate_ask::PlateAsked;
use crate::climate::plate_told::{Place, PlateTold};
use crate::climate::reading::figure;
use crate::error::{Error, Result};

use super::json::Query;

/// How far a plate would like to move, were it free to.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct PlateAnswer {
    width_mm: f64,
    /// `spruce` or `maple`.
    wood: &'static str,
    /// `quarter` or `slab`.
    cut: &'static str,
    /// The kind whose figures are taken, from the Wood Handbook: it has none of European woods.
    kind: &'static str,
    /// By which part of itself the width changes for each percent of moisture.
    coefficient_per_percent: f64,
    from: PlaceAnswer,
    to: PlaceAnswer,
    /// Narrower below nought.
    change_mm: f64,
    /// The same in whole tenths of a millimetre.
    change_tenths_mm: i64,
    /// One of the moistures lies outside 6 to 14 %, where the rule holds: it is only the part within.
    at_least: bool,
}

/// Where the wood comes from, or goes to.
#[derive(Debug, Serialize, utoipa::ToSchema)]
#[schema(as = PlateAir)]
pub struct PlaceAnswer {
    /// `air`, as it was said; `month`, one of the last twelve here; `last_30_days`, here.
    of: &'static str,
    wood_moisture_percent: f64,
    /// Of air that was said.
    temperature_c: Option<f64>,
    relative_humidity: Option<f64>,
    /// `2025-07`, of a month here.
    month: Option<String>,
}

impl From<Place> for PlaceAnswer {
    fn from(place: Place) -> Self {
        let wood_moisture_percent = rounded(place.moisture());
        let here = |of, month| PlaceAnswer {
            of,
            wood_moisture_percent,
            temperature_c: None,
            relative_humidity: None,
            month,
        };
        match place {
            Place::Now(_) => here("last_30_days", None),
            Place::Month(month, _) => here("month", Some(month.iso())),
            Place::Air(air) => PlaceAnswer {
                temperature_c: Some(figure(air.temperature)),
                relative_humidity: Some(figure(air.humidity)),
                ..here("air", None)
            },
        }
    }
}

impl From<&PlateTold> for PlateAnswer {
    fn from(told: &PlateTold) -> Self {
        let movement = told.movement();
        PlateAnswer {
            width_mm: told.width(),
            wood: told.wood.code(),
            cut: told.cut.code(),
            kind: told.wood.kind(),
            coefficient_per_percent: told.wood.coefficient(told.cut),
            from: told.from.into(),
            to: told.to.into(),
            change_mm: rounded(movement.millimetres),
            change_tenths_mm: movement.tenths(),
            at_least: movement.at_least,
        }
    }
}

fn rounded(figure: f64) -> f64 {
    (figure * 1000.0).round() / 1000.0
}

/// Tells how far a plate of a width would like to move: between two airs that are said, or what the wood did here.
#[utoipa::path(get, path = "/api/v1/climate/plate", tag = "climate", params(PlateAsked), responses((status = 200, body = PlateAnswer)))]
pub async fn plate(State(app): State<App>, Query(asked): Query<PlateAsked>) -> Result<Answer<PlateAnswer>> {
    let shop = Shop::get(&app.db).await?;
    let known = Known::read(&app, &shop).await?;
    let told = asked.understand(known.here(), "?").map_err(Error::Problems)?;
    Ok(Answer(PlateAnswer::from(&told)))
}
