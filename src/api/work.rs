//! `GET /api/v1/reports/work`: time and money of a span, for programs.

use axum::Json;
use axum::extract::State;
use serde::{Deserialize, Serialize};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::Day;
use crate::error::Result;
use crate::form::Problems;
use crate::reports::figures::spread::Spread;
use crate::reports::span::Span;
use crate::reports::work::Work;
use crate::reports::work::job_minutes::JobMinutes;
use crate::reports::work::stock::Stock;

use super::json::Query;

/// The months, both included.
#[derive(Debug, Default, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields, default)]
#[into_params(parameter_in = Query)]
pub struct WorkAsked {
    /// `2025-12`
    #[param(required = true)]
    from: String,
    /// `2026-02`
    #[param(required = true)]
    to: String,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct WorkAnswer {
    /// The shop's day on which the figures were read.
    as_of: String,
    currency: String,
    /// Each job of which steps were done in the span, what was done most often first.
    jobs: Vec<JobAnswer>,
    /// Days of orders handed back in the span, by stage: `first`, `answer`, `bench`, `ready`, and `whole` from intake to pickup.
    stages: Vec<StageAnswer>,
    /// In a shop older than these figures: `answer` and `bench` are known of orders taken in from this day on.
    stages_since: Option<String>,
    /// Each month of the span up to now.
    months: Vec<MonthAnswer>,
    /// Owed by customers today.
    owed: OwedAnswer,
    /// Each cause confirmed on orders handed back in the span, the dearest first.
    causes: Vec<CostAnswer>,
    /// For the next three months, whatever the span.
    stock: StockAnswer,
    /// For the season of the shop that begins next; `null` where nothing is known of it.
    season: Option<StockAnswer>,
}

/// Quartiles are those of Hyndman and Fan's type 7.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct QuartilesAnswer {
    low: f64,
    middle: f64,
    high: f64,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct JobAnswer {
    /// Empty for steps in free words.
    job: String,
    steps: u64,
    /// Minutes they took.
    actual: Option<QuartilesAnswer>,
    /// The middle one of the minutes planned.
    planned: f64,
    planned_minutes: i64,
    actual_minutes: i64,
    /// Actual against planned, leaning on all jobs; `null` for free words, or where there is nothing to lean on.
    typical: Option<TypicalAnswer>,
    /// `too_few`, `as_planned`, `too_short` or `too_long`.
    plan: &'static str,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct TypicalAnswer {
    ratio: f64,
    /// Of the 95 % range, as is `high`.
    low: f64,
    high: f64,
    /// How far it leans on the other jobs, 0 to 1.
    leans: f64,
    /// Of a step that is planned as usual.
    minutes: Option<f64>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct StageAnswer {
    stage: &'static str,
    orders: u64,
    days: Option<QuartilesAnswer>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct MonthAnswer {
    month: String,
    charged: i64,
    taken: i64,
    /// By customers, when the month was over.
    owed: i64,
    /// Paid too much on orders handed back.
    shop_owes: i64,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct OwedAnswer {
    orders: i64,
    amount: i64,
    /// At most fifty, the longest owed first.
    list: Vec<OwesAnswer>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct OwesAnswer {
    order: String,
    customer: String,
    collected_on: String,
    owed: i64,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct CostAnswer {
    cause: String,
    orders: i64,
    minutes: i64,
    parts: i64,
    /// Minutes at the labour rate of today, and parts; before tax, as is `charged`.
    cost: i64,
    charged: i64,
    /// Of the cost, what was put right without charge as it came back within the shop's comeback window.
    free: i64,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct StockAnswer {
    from: String,
    to: String,
    /// How much years differ beyond chance: the variance of a count of mean m is m + this * m * m.
    dispersion: f64,
    parts: Vec<PartAnswer>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct PartAnswer {
    /// In small letters.
    part: String,
    /// Used in the same months of the years before, the latest first.
    counts: Vec<u64>,
    expected: f64,
    /// Of the 95 % range, as is `high`; `null` with but one year.
    low: Option<u64>,
    high: Option<u64>,
}

/// Minutes by job, days by stage, what is owed, what causes cost, and parts to stock.
#[utoipa::path(get, path = "/api/v1/reports/work", tag = "reports", params(WorkAsked), responses((status = 200, body = WorkAnswer)))]
pub async fn work(State(app): State<App>, Query(asked): Query<WorkAsked>) -> Result<Json<WorkAnswer>> {
    let mut problems = Problems::default();
    let span = match Span::parse(&asked.from, &asked.to) {
        Ok(span) => span,
        Err((field, words)) => {
            problems.add(format!("?{field}"), words.to_string());
            return Err(problems.into());
        }
    };
    let shop = Shop::get(&app.db).await?;
    let work = Work::read(&app, shop, span).await?;
    Ok(Json(WorkAnswer {
        as_of: work.today.iso(),
        currency: work.shop.currency().code().to_owned(),
        jobs: work.jobs.iter().map(JobAnswer::of).collect(),
        stages: stages(&work),
        stages_since: work.stages_since.map(Day::iso),
        months: months(&work),
        owed: owed(&work),
        causes: causes(&work),
        stock: stock(&work.stock),
        season: work.season.as_ref().map(|season| stock(&season.1)),
    }))
}

fn quartiles(spread: &Spread) -> Option<QuartilesAnswer> {
    spread.quartiles().map(|of| QuartilesAnswer {
        low: of.low,
        middle: of.middle,
        high: of.high,
    })
}

impl JobAnswer {
    fn of(job: &JobMinutes) -> JobAnswer {
        JobAnswer {
            job: job.job.clone(),
            steps: job.actual.count(),
            actual: quartiles(&job.actual),
            planned: job.planned_middle(),
            planned_minutes: job.sums.0,
            actual_minutes: job.sums.1,
            typical: job.typical.map(|typical| TypicalAnswer {
                ratio: typical.ratio,
                low: typical.low,
                high: typical.high,
                leans: typical.leans,
                minutes: job.typical_minutes().map(|minutes| minutes[0]),
            }),
            plan: job.plan().code(),
        }
    }
}

fn stages(work: &Work) -> Vec<StageAnswer> {
    let stages = work.stages.iter().map(|stage| StageAnswer {
        stage: stage.code,
        orders: stage.orders(),
        days: quartiles(&stage.days),
    });
    stages.collect()
}

fn months(work: &Work) -> Vec<MonthAnswer> {
    let months = work.months.iter().map(|money| MonthAnswer {
        month: money.month.iso(),
        charged: money.charged.0,
        taken: money.taken.0,
        owed: money.owed.0,
        shop_owes: money.shop_owes.0,
    });
    months.collect()
}

fn owed(work: &Work) -> OwedAnswer {
    let list = work.owing.list.iter().map(|owes| OwesAnswer {
        order: owes.tag.clone(),
        customer: owes.customer.clone(),
        collected_on: owes.collected_on.iso(),
        owed: owes.owed.0,
    });
    OwedAnswer {
        orders: work.owing.orders,
        amount: work.owing.sum.0,
        list: list.collect(),
    }
}

fn causes(work: &Work) -> Vec<CostAnswer> {
    let causes = work.causes.iter().map(|cause| CostAnswer {
        cause: cause.cause.clone(),
        orders: cause.orders,
        minutes: cause.minutes,
        parts: cause.parts.0,
        cost: cause.cost.0,
        charged: cause.charged.0,
        free: cause.free.0,
    });
    causes.collect()
}

fn stock(stock: &Stock) -> StockAnswer {
    let parts = stock.parts.iter().map(|part| PartAnswer {
        part: part.name.clone(),
        counts: part.years.clone(),
        expected: part.forecast.expected,
        low: part.forecast.range.map(|range| range.0),
        high: part.forecast.range.map(|range| range.1),
    });
    StockAnswer {
        from: stock.span.from.iso(),
        to: stock.span.to.iso(),
        dispersion: stock.dispersion,
        parts: parts.collect(),
    }
}
