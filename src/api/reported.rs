//! What was reported, for programs: a span's figures are kept as they stand, and told beside what was corrected since.

use axum::extract::{Extension, State};
use axum::http::StatusCode;
use axum::response::Response;
use serde::{Deserialize, Serialize};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::Result;
use crate::reports::ask::{Ask, Asked};
use crate::reports::bands::Bands;
use crate::reports::corrected::{Corrected, corrected};
use crate::reports::report::Report;
use crate::reports::reported::{self, Reported};
use crate::staff::Who;

use super::doing::Doing;
use super::json::{Json, Query};

/// The months, both included, and a family, a size or a kind of account: one of the three at most.
#[derive(Debug, Default, Deserialize, utoipa::IntoParams, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
#[into_params(parameter_in = Query)]
pub struct ReportedAsked {
    /// `2025-12`; left out with `to`: the last month that is over.
    from: Option<String>,
    /// `2026-02`
    to: Option<String>,
    /// `violin`, `viola`, `cello` or `bass`; left out: all of them.
    family: Option<String>,
    /// `full`, `fractional` or `unknown`.
    size: Option<String>,
    /// `person`, `school` or `fleet`, as the customer is known now.
    account: Option<String>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct ReportedList {
    /// When these months were reported, the latest first.
    items: Vec<ReportedAnswer>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct ReportedAnswer {
    id: uuid::Uuid,
    at: String,
    by: String,
    /// The years from which each band of age counted then; where they are others now, the ages are not compared.
    age_bounds: Vec<i64>,
    /// What is not any more as it was reported then, the most telling first. The figures as they were are told by
    /// `/api/v1/reports/recurrence` with this `id` as `reported`.
    corrected: Vec<Corrected>,
}

impl ReportedAsked {
    fn understand(&self, shop: &Shop, app: &App) -> Result<Asked> {
        let said = |words: &Option<String>| words.clone().unwrap_or_default();
        let ask = Ask {
            from: said(&self.from),
            to: said(&self.to),
            family: said(&self.family),
            size: said(&self.size),
            account: said(&self.account),
            ..Ask::default()
        };
        Ok(ask.understand(shop.today(app.clock.now()))?)
    }
}

impl ReportedAnswer {
    fn of(reported: Reported, bands: &Bands, corrected: Vec<Corrected>) -> ReportedAnswer {
        ReportedAnswer {
            id: reported.id,
            at: reported.kept_at.rfc3339(),
            by: reported.name,
            age_bounds: bands.bounds().to_vec(),
            corrected,
        }
    }
}

/// Tells when a span was reported, and what was corrected since.
#[utoipa::path(get, path = "/api/v1/reports/reported", tag = "reports", params(ReportedAsked), responses((status = 200, body = ReportedList)))]
pub async fn list(
    State(app): State<App>,
    Query(asked): Query<ReportedAsked>,
) -> Result<axum::Json<ReportedList>> {
    let shop = Shop::get(&app.db).await?;
    let asked = asked.understand(&shop, &app)?;
    let now = Report::read(&app, shop, asked).await?;
    let mut items = Vec::new();
    for one in reported::of_span(&app.db, asked).await? {
        let (kept, was) = reported::as_it_was(&app.db, asked, one.id).await?;
        let corrected = corrected(&now.shop, &was, &now.figures);
        items.push(ReportedAnswer::of(kept, &was.recurrence.bands, corrected));
    }
    Ok(axum::Json(ReportedList { items }))
}

/// Keeps the figures of a span that is over as reported; with nothing changed since, what is kept already is told.
#[utoipa::path(post, path = "/api/v1/reports/reported", tag = "reports", request_body = ReportedAsked, responses((status = 201, body = ReportedAnswer)))]
pub async fn keep(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    call: Json<ReportedAsked>,
) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let asked = call.of.understand(&shop, &app)?;
    let report = Report::read(&app, shop, asked).await?;
    let mut doing = Doing::make(&app, &who, call.key()?).await?;
    let kept = reported::keep(&mut doing.tx, &who, doing.now, &report).await?;
    let told = ReportedAnswer::of(kept, &report.figures.recurrence.bands, Vec::new());
    doing.answer(StatusCode::CREATED, 1, &told).await
}
