//! `GET /api/v1/reports/comebacks`: how many repairs came back by a day, for programs.

use std::collections::BTreeMap;

use axum::Json;
use axum::extract::State;
use serde::Serialize;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::Result;
use crate::reports::comebacks::{self, DAYS, Group};
use crate::reports::comebacks_ask::ComebacksAsked;
use crate::reports::figures::survival::{Curve, LogRank};
use crate::reports::unlike::unlike;

use super::json::Query;
use super::shape::AgeRecount;

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct ComebacksAnswer {
    /// The day as of which this is known; what came later counts as not back yet.
    as_of: String,
    by: &'static str,
    /// Empty for all causes.
    cause: String,
    /// The years under which each band of age ends and from which the next counts: what ages are told by.
    age_bounds: Vec<i64>,
    /// While the ages are counted anew by other bands.
    age_recount: Option<AgeRecount>,
    groups: Vec<GroupAnswer>,
    /// All groups together.
    together: GroupAnswer,
    /// Whether the groups come back alike; nothing where no two can be compared.
    logrank: Option<LogRankAnswer>,
    /// The same as it is told on the page: groups of which fewer than five would be expected back are taken together.
    logrank_told: Option<LogRankAnswer>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct GroupAnswer {
    /// The code of the cause, job, age band, size (`full`, `fractional`, `no_size`), account (`person`, `school`, `fleet`) or
    /// season, or the id of the technician, which is for the owner's eyes only.
    /// Empty for a job in free words, for what a program did, and for all together.
    key: String,
    /// Causes repaired on orders that were collected.
    repaired: u64,
    /// Of those: how many came back, however late.
    comebacks: u64,
    /// Of those: back 300 to 430 days after the pickup, in the same season; nature's, not the shop's.
    seasonal_returns: u64,
    /// By the day: `30`, `90` and `365`.
    at: BTreeMap<i64, AtAnswer>,
    /// Each day on which any came back.
    curve: Vec<PointAnswer>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct AtAnswer {
    /// The share that came back by then (Kaplan and Meier 1958); nothing where nobody was watched that long.
    returned: Option<f64>,
    /// Of the 95 % log-log interval, as is `high`; nothing where none or all came back.
    low: Option<f64>,
    high: Option<f64>,
    /// Still watched when that day began.
    at_risk: u64,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct PointAnswer {
    /// Since the pickup.
    day: i64,
    at_risk: u64,
    /// The share that had not come back when the day was over.
    survival: f64,
    low: Option<f64>,
    high: Option<f64>,
}

/// Of all groups, each for itself. Beside many that are small, chance makes its `p_value` small more often than it says.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct LogRankAnswer {
    chi_square: f64,
    df: u64,
    p_value: f64,
}

/// How many of the causes repaired came back by a day, told apart by cause, job, age, size, account, season or technician.
#[utoipa::path(get, path = "/api/v1/reports/comebacks", tag = "reports", params(ComebacksAsked), responses((status = 200, body = ComebacksAnswer)))]
pub async fn comebacks(
    State(app): State<App>,
    Query(asked): Query<ComebacksAsked>,
) -> Result<Json<ComebacksAnswer>> {
    let shop = Shop::get(&app.db).await?;
    let asked = asked
        .understand(&app.db, shop.today(app.clock.now()), "?")
        .await?;
    let groups = comebacks::read(&app.db, &asked, &shop.rules, &shop.seasons()).await?;
    Ok(Json(ComebacksAnswer {
        as_of: asked.as_of.iso(),
        by: asked.by.code(),
        cause: asked.cause,
        age_bounds: shop.rules.bands().into(),
        age_recount: AgeRecount::of(&shop.rules),
        together: GroupAnswer::of(&comebacks::together(&groups)),
        logrank: comebacks::compared(&groups).as_ref().map(LogRankAnswer::of),
        logrank_told: unlike(&groups).as_ref().map(LogRankAnswer::of),
        groups: groups.iter().map(GroupAnswer::of).collect(),
    }))
}

impl LogRankAnswer {
    fn of(test: &LogRank) -> LogRankAnswer {
        LogRankAnswer {
            chi_square: test.chi_square,
            df: test.df,
            p_value: test.p_value,
        }
    }
}

impl GroupAnswer {
    fn of(group: &Group) -> GroupAnswer {
        let curve = Curve::of(&group.watched);
        let at = DAYS.map(|day| {
            let known = curve.at(day);
            let range = known.and_then(|known| known.1);
            let answer = AtAnswer {
                returned: known.map(|known| 1.0 - known.0),
                low: range.map(|range| 1.0 - range.high),
                high: range.map(|range| 1.0 - range.low),
                at_risk: group.watched.at_risk(day),
            };
            (day, answer)
        });
        let points = curve.points.iter().map(|point| {
            let range = point.interval();
            PointAnswer {
                day: point.day,
                at_risk: point.at_risk,
                survival: point.survival,
                low: range.map(|range| range.low),
                high: range.map(|range| range.high),
            }
        });
        GroupAnswer {
            key: group.key.clone(),
            repaired: group.repaired(),
            comebacks: group.back(),
            seasonal_returns: group.seasonal,
            at: at.into(),
            curve: points.collect(),
        }
    }
}
