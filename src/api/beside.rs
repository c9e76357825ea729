//! `GET /api/v1/reports/recurrence/beside`: the groups of the shop, or the shops of the house, side by side, for programs.

use axum::Json;
use axum::extract::State;
use serde::{Deserialize, Serialize};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::Result;
use crate::form::Problems;
use crate::reports::beside::rows::{Column, Part, Row};
use crate::reports::beside::{Beside, By};
use crate::reports::sister::Missed;
use crate::reports::span::Span;

use super::json::Query;

/// What stands side by side, and the months, both included.
#[derive(Debug, Default, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields, default)]
#[into_params(parameter_in = Query)]
pub struct BesideAsked {
    /// `family`, `size`, `account` or `shop`.
    #[param(required = true)]
    by: String,
    /// `2025-12`
    #[param(required = true)]
    from: String,
    /// `2026-02`
    #[param(required = true)]
    to: String,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct BesideAnswer {
    /// The shop's day on which the figures were read.
    as_of: String,
    by: &'static str,
    /// Orders inspected in all groups that could be read.
    inspected: i64,
    groups: Vec<BesideGroup>,
    /// Each cause that was confirmed in any of the groups, what stands out most first, in each of them; left out where a shop
    /// does not keep the cause, or cannot be reached.
    cells: Vec<BesideCell>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct BesideGroup {
    /// `violin`, `full`, `unknown`, `school` ..; `this shop`, or another of the house by the name it was given.
    group: String,
    /// As people call it.
    name: String,
    /// `null` where it cannot be reached.
    inspected: Option<i64>,
    /// Why it cannot be reached: `late`, `away`, `no_shop`, `older`, `newer` or `twice`.
    missed: Option<&'static str>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct BesideCell {
    cause: String,
    name: String,
    group: String,
    /// What the rate is of.
    inspected: i64,
    confirmed: i64,
    rate: Option<f64>,
    /// Of Wilson's 95 % interval, as is `high`.
    low: Option<f64>,
    high: Option<f64>,
    /// The rate to be expected here, leaning on the cause's other groups: a beta-binomial prior fitted to them.
    shrunk_rate: Option<f64>,
    /// Against the other groups together by Fisher's exact test, two-sided; `null` where there are none.
    p_value: Option<f64>,
    /// Benjamini and Hochberg's over all cells of this answer.
    q_value: Option<f64>,
}

/// How often each cause turns up in each family, size, kind of account, or shop of the house.
#[utoipa::path(get, path = "/api/v1/reports/recurrence/beside", tag = "reports", params(BesideAsked), responses((status = 200, body = BesideAnswer)))]
pub async fn beside(State(app): State<App>, Query(asked): Query<BesideAsked>) -> Result<Json<BesideAnswer>> {
    let (by, span) = asked.understand()?;
    let shop = Shop::get(&app.db).await?;
    let told = Beside::read(&app, &shop, by, span).await?;
    let as_of = shop.today(app.clock.now()).iso();
    Ok(Json(BesideAnswer::of(as_of, &told)))
}

impl BesideAsked {
    fn understand(&self) -> Result<(By, Span)> {
        let mut problems = Problems::default();
        let by = By::of_code(&self.by);
        if by.is_none() {
            problems.add("?by", "Choose family, size, account or shop.");
        }
        match (by, Span::parse(&self.from, &self.to)) {
            (Some(by), Ok(span)) => return Ok((by, span)),
            (_, Err((field, words))) => problems.add(format!("?{field}"), words.to_string()),
            _ => {}
        }
        Err(problems.into())
    }
}

impl BesideAnswer {
    fn of(as_of: String, told: &Beside) -> BesideAnswer {
        let cells = told.rows.iter().flat_map(|row| {
            let parts = told.columns.iter().zip(&row.parts);
            parts.filter_map(|(column, part)| BesideCell::of(row, column, part))
        });
        BesideAnswer {
            as_of,
            by: told.by.code(),
            inspected: told.inspected(),
            groups: told.columns.iter().map(BesideGroup::of).collect(),
            cells: cells.collect(),
        }
    }
}

impl BesideGroup {
    fn of(column: &Column) -> BesideGroup {
        BesideGroup {
            group: column.code.clone(),
            name: column.words.clone(),
            inspected: column.inspected(),
            missed: column.missed().map(Missed::code),
        }
    }
}

impl BesideCell {
    fn of(row: &Row, column: &Column, part: &Part) -> Option<BesideCell> {
        let Part::Told { weighed, shrunk } = part else {
            return None;
        };
        let share = weighed.share;
        let interval = share.interval();
        Some(BesideCell {
            cause: row.cause.clone(),
            name: row.name.clone(),
            group: column.code.clone(),
            inspected: share.inspected,
            confirmed: share.confirmed,
            rate: share.rate(),
            low: interval.map(|interval| interval.low),
            high: interval.map(|interval| interval.high),
            shrunk_rate: *shrunk,
            p_value: weighed.p_value,
            q_value: weighed.q_value,
        })
    }
}
