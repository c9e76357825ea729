//! The settings of the ranking for programs: whom it follows, and how fast it learns.

use axum::extract::{Extension, State};
use axum::http::StatusCode;
use axum::response::Response;
use serde::Serialize;

use crate::app::App;
use crate::diagnosis::models::Stand;
use crate::diagnosis::settings::{self, NewSettings};
use crate::error::Result;
use crate::staff::Who;

use super::doing::Doing;
use super::json::Json;
use super::orders::tell;

/// Whom the ranking follows, and how strongly the catalogue's word counts.
#[derive(Serialize, utoipa::ToSchema)]
pub struct RankingSettings {
    /// `shop` or `catalogue`.
    follow: String,
    /// `slow`, `as_measured` or `fast`; null where the strengths are none of the three.
    pace: Option<&'static str>,
    /// So many orders the catalogue's shares count for in a family.
    share_strength: i64,
    /// The same in an age band or a season.
    cell_strength: i64,
    /// The same for the answers to one question.
    answer_strength: i64,
    /// The power to which the answers' evidence is raised, fitted on `fitted_on` orders.
    power: f64,
    fitted_on: i64,
    /// What `If-Match` of the next change says.
    version: i64,
}

impl From<&Stand> for RankingSettings {
    fn from(stand: &Stand) -> RankingSettings {
        RankingSettings {
            follow: stand.follow.clone(),
            pace: Some(settings::pace(stand)).filter(|pace| !pace.is_empty()),
            share_strength: stand.share_strength,
            cell_strength: stand.cell_strength,
            answer_strength: stand.answer_strength,
            power: stand.power(),
            fitted_on: stand.tempered,
            version: stand.version,
        }
    }
}

/// Tells the settings of the ranking.
#[utoipa::path(get, path = "/api/v1/diagnosis/settings", tag = "diagnosis", responses((status = 200, body = RankingSettings)))]
pub async fn read(State(app): State<App>) -> Result<Response> {
    let stand = Stand::get(&app.db).await?;
    tell(stand.version, &RankingSettings::from(&stand))
}

/// Sets them; every ranking follows from then on.
#[utoipa::path(put, path = "/api/v1/diagnosis/settings", tag = "diagnosis", request_body = NewSettings, responses((status = 200, body = RankingSettings)))]
pub async fn change(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    call: Json<NewSettings>,
) -> Result<Response> {
    let mut doing = Doing::change(&app, &who, call.version()?).await?;
    let kept = Stand::get(&mut doing.tx).await?;
    doing.fits(kept.version)?;
    let changed = settings::change(&mut doing.tx, kept.version, &call.of).await?;
    doing
        .answer(StatusCode::OK, changed.version, &RankingSettings::from(&changed))
        .await
}
