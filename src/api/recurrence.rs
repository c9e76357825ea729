//! `GET /api/v1/reports/recurrence`: the figures of the month's report, for programs.

use axum::Json;
use axum::extract::State;
use serde::{Deserialize, Serialize};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::Result;
use crate::form::Problems;
use crate::reports::ask::Asked;
use crate::reports::bands::Bands;
use crate::reports::calendar::Calendar;
use crate::reports::group;
use crate::reports::in_force;
use crate::reports::recurrence::Recurrence;
use crate::reports::reported;
use crate::reports::season::{Season, Seasons};
use crate::reports::span::Span;
use crate::reports::standing::{Standing, standings};
use crate::reports::weigh;

use super::json::Query;
use super::shape::AgeRecount;

/// The months, both included, and a family, a size or a kind of account: one of the three at most.
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
    /// `full`, `fractional` or `unknown`.
    size: Option<String>,
    /// `person`, `school` or `fleet`, as the customer is known now.
    account: Option<String>,
    /// The `id` under which these months were kept as reported: the figures as they were then.
    reported: Option<String>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct RecurrenceAnswer {
    /// The shop's day on which the figures were read, or kept as reported.
    as_of: String,
    /// The years under which each band of age ends and from which the next counts: what the cells are told by.
    age_bounds: Vec<i64>,
    /// While the ages are counted anew by other bands.
    age_recount: Option<AgeRecount>,
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
    /// By the bands of the shop: `under_2`, `2_to_19`, `20_to_79`, `80_to_99`, `100_plus` unless it set its own; or `unknown`.
    age_band: String,
    /// `dry`, `humid` or `change`.
    season: &'static str,
    /// Orders inspected in this band and season: what the rate is of.
    inspected: i64,
    confirmed: i64,
    rate: Option<f64>,
    /// Of Wilson's 95 % interval, as is `high`.
    low: Option<f64>,
    high: Option<f64>,
    /// The rate to be expected here, leaning on the cause's other cells: a beta-binomial prior fitted to them.
    shrunk_rate: Option<f64>,
    /// Against the rest of what was asked for by Fisher's exact test, two-sided; `null` where there is no rest.
    p_value: Option<f64>,
    /// Benjamini and Hochberg's over all cells of this answer.
    q_value: Option<f64>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct CauseAnswer {
    cause: String,
    confirmed: i64,
    rate: Option<f64>,
    /// Of Wilson's 95 % interval, as is `high`.
    low: Option<f64>,
    high: Option<f64>,
    /// A wave over the twelve months against none; `null` under ten confirmed orders, or where a month of the year was not
    /// inspected in.
    season: Option<SeasonAnswer>,
    /// Cochran and Armitage's over the known age bands; `null` under ten confirmed orders, or where there is nothing to
    /// compare.
    age_trend: Option<TrendAnswer>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct SeasonAnswer {
    /// Of the likelihood ratio of a logistic regression on the sine and cosine of the month, two degrees of freedom, with
    /// Bartlett's correction.
    p_value: f64,
    /// Benjamini and Hochberg's over the causes of this answer.
    q_value: Option<f64>,
    /// 1 for January.
    peak_month: u8,
    /// Where in the year it is highest, from 0 at the start of January to 12.
    peak: f64,
    /// How far to either side the peak may truly lie, in months, 95 %; `null` where it may be any month.
    peak_within: Option<f64>,
    /// Of the log odds, from the middle to the highest point.
    amplitude: f64,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct TrendAnswer {
    p_value: f64,
    /// Benjamini and Hochberg's over the causes of this answer.
    q_value: Option<f64>,
    /// `rises` or `falls` with age, or `level`.
    direction: &'static str,
    /// How much the rate changes from one band to the next.
    slope: f64,
}

/// How often each cause turns up among the orders inspected, by age and season.
#[utoipa::path(get, path = "/api/v1/reports/recurrence", tag = "reports", params(RecurrenceAsked), responses((status = 200, body = RecurrenceAnswer)))]
pub async fn recurrence(
    State(app): State<App>,
    Query(asked): Query<RecurrenceAsked>,
) -> Result<Json<RecurrenceAnswer>> {
    let of = asked.understand()?;
    let shop = Shop::get(&app.db).await?;
    let id = asked.reported.as_deref().unwrap_or_default();
    if let Some((kept, was)) = reported::asked_for(&app.db, of, id, false).await? {
        let as_of = in_force::shop_of(&was, shop).today(kept.kept_at).iso();
        let seasons = was.by_season.seasons();
        return Ok(Json(RecurrenceAnswer::of(as_of, &was.recurrence, seasons, None)));
    }
    let seasons = shop.seasons();
    let figures = Recurrence::read(&app.db, of.span, of.group.code, &seasons).await?;
    let as_of = shop.today(app.clock.now()).iso();
    let recount = AgeRecount::of(&shop.rules);
    Ok(Json(RecurrenceAnswer::of(as_of, &figures, seasons, recount)))
}

impl RecurrenceAsked {
    fn understand(&self) -> Result<Asked> {
        let mut problems = Problems::default();
        let asked = [&self.family, &self.size, &self.account];
        let asked = asked.map(|asked| asked.as_deref().unwrap_or_default());
        let group = group::asked(&mut problems, "?", asked);
        match Span::parse(&self.from, &self.to) {
            Ok(span) => {
                problems.settle()?;
                let turned = false;
                Ok(Asked { span, group, turned })
            }
            Err((field, words)) => {
                problems.add(format!("?{field}"), words.to_string());
                Err(problems.into())
            }
        }
    }
}

impl RecurrenceAnswer {
    fn of(
        as_of: String,
        figures: &Recurrence,
        seasons: Seasons,
        age_recount: Option<AgeRecount>,
    ) -> RecurrenceAnswer {
        let calendar = Calendar::of_figures(figures, seasons);
        let standings = standings(figures, &Season::ALL, &calendar, &calendar);
        let causes = figures.causes.iter().zip(&standings).map(|(cause, standing)| {
            let share = figures.share(cause);
            let interval = share.interval();
            CauseAnswer {
                cause: cause.cause.clone(),
                confirmed: share.confirmed,
                rate: share.rate(),
                low: interval.map(|interval| interval.low),
                high: interval.map(|interval| interval.high),
                season: SeasonAnswer::of(standing),
                age_trend: TrendAnswer::of(standing),
            }
        });
        RecurrenceAnswer {
            as_of,
            age_bounds: figures.bands.bounds().to_vec(),
            age_recount,
            inspected: figures.inspected.all(),
            cells: weigh::cells(figures, None)
                .iter()
                .map(|cell| CellAnswer::of(&figures.bands, cell))
                .collect(),
            causes: causes.collect(),
        }
    }
}

impl SeasonAnswer {
    fn of(standing: &Standing) -> Option<SeasonAnswer> {
        let swing = standing.swing?;
        Some(SeasonAnswer {
            p_value: swing.p_value,
            q_value: standing.swing_q,
            peak_month: swing.peak_month(),
            peak: swing.peak,
            peak_within: swing.peak_within,
            amplitude: swing.amplitude,
        })
    }
}

impl TrendAnswer {
    fn of(standing: &Standing) -> Option<TrendAnswer> {
        let trend = standing.trend?;
        let direction = match trend.z {
            z if z > 0.0 => "rises",
            z if z < 0.0 => "falls",
            _ => "level",
        };
        Some(TrendAnswer {
            p_value: trend.p_value,
            q_value: standing.trend_q,
            direction,
            slope: trend.slope,
        })
    }
}

impl CellAnswer {
    fn of(bands: &Bands, cell: &weigh::Cell<'_>) -> CellAnswer {
        let share = cell.weighed.share;
        let interval = share.interval();
        CellAnswer {
            cause: cell.cause.cause.clone(),
            age_band: bands.code(cell.band),
            season: cell.season.code(),
            inspected: share.inspected,
            confirmed: share.confirmed,
            rate: share.rate(),
            low: interval.map(|interval| interval.low),
            high: interval.map(|interval| interval.high),
            shrunk_rate: cell.shrunk,
            p_value: cell.weighed.p_value,
            q_value: cell.weighed.q_value,
        }
    }
}
