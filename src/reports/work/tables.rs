//! The tables of time and money as CSV.

use crate::reports::table_csv::{Table, figure, text};

use super::Work;
use super::stock::Stock;

/// The tables to ask for.
pub const TABLES: [&str; 8] = [
    "minutes", "steps", "stages", "days", "months", "owing", "causes", "parts",
];

/// The table of a name; `steps` and `days` are what `minutes` and `stages` are made of.
#[must_use]
pub fn table(work: &Work, name: &str) -> Option<Table> {
    let table = match name {
        "minutes" => Table::new(MINUTES, minutes(work)),
        "stages" => Table::new(
            &["stage", "name", "orders", "low", "middle", "high"],
            stages(work),
        ),
        "steps" => Table::new(&["job", "planned", "actual", "steps"], steps(work)),
        "days" => Table::new(&["stage", "days", "orders"], days(work)),
        "months" => Table::new(
            &["month", "currency", "charged", "taken", "owed", "shop_owes"],
            months(work),
        ),
        "owing" => Table::new(
            &["order", "customer", "collected_on", "currency", "owed"],
            owing(work),
        ),
        "causes" => Table::new(CAUSES, causes(work)),
        "parts" => Table::new(PARTS, parts(work)),
        _ => return None,
    };
    Some(table)
}

const MINUTES: &[&str] = &[
    "job",
    "name",
    "steps",
    "low",
    "middle",
    "high",
    "planned_middle",
    "planned_minutes",
    "actual_minutes",
    "compared",
    "ratio",
    "ratio_low",
    "ratio_high",
    "leans",
    "typical",
    "plan",
];

fn minutes(work: &Work) -> Vec<Vec<String>> {
    let row = |job: &super::job_minutes::JobMinutes| {
        let of = job.actual.quartiles();
        let typical = job.typical;
        vec![
            text(&job.job),
            text(&work.names_of_jobs.of(&job.job)),
            job.actual.count().to_string(),
            figure(of.map(|of| of.low)),
            figure(of.map(|of| of.middle)),
            figure(of.map(|of| of.high)),
            job.planned_middle().to_string(),
            job.sums.0.to_string(),
            job.sums.1.to_string(),
            job.compared.to_string(),
            figure(typical.map(|typical| typical.ratio)),
            figure(typical.map(|typical| typical.low)),
            figure(typical.map(|typical| typical.high)),
            figure(typical.map(|typical| typical.leans)),
            figure(job.typical_minutes().map(|minutes| minutes[0])),
            job.plan().code().to_owned(),
        ]
    };
    work.jobs.iter().map(row).collect()
}

fn stages(work: &Work) -> Vec<Vec<String>> {
    let row = |stage: &super::stage_days::StageDays| {
        let of = stage.days.quartiles();
        vec![
            stage.code.to_owned(),
            stage.words.to_owned(),
            stage.orders().to_string(),
            figure(of.map(|of| of.low)),
            figure(of.map(|of| of.middle)),
            figure(of.map(|of| of.high)),
        ]
    };
    work.stages.iter().map(row).collect()
}

fn steps(work: &Work) -> Vec<Vec<String>> {
    let rows = work.jobs.iter().flat_map(|job| {
        let pairs = job.pairs.iter();
        pairs.map(|((planned, actual), steps)| {
            let mut row = vec![text(&job.job)];
            row.extend([planned, actual, steps].map(i64::to_string));
            row
        })
    });
    rows.collect()
}

fn days(work: &Work) -> Vec<Vec<String>> {
    let rows = work.stages.iter().flat_map(|stage| {
        let values = stage.days.values();
        values.map(|(days, orders)| vec![stage.code.to_owned(), days.to_string(), orders.to_string()])
    });
    rows.collect()
}

fn months(work: &Work) -> Vec<Vec<String>> {
    let currency = work.shop.currency();
    let row = |money: &super::owing::MonthMoney| {
        let amounts = [money.charged, money.taken, money.owed, money.shop_owes];
        let mut row = vec![money.month.iso(), currency.code().to_owned()];
        row.extend(amounts.map(|amount| amount.typed(&currency)));
        row
    };
    work.months.iter().map(row).collect()
}

fn owing(work: &Work) -> Vec<Vec<String>> {
    let currency = work.shop.currency();
    let row = |owes: &super::owing::Owes| {
        vec![
            owes.tag.clone(),
            text(&owes.customer),
            owes.collected_on.iso(),
            currency.code().to_owned(),
            owes.owed.typed(&currency),
        ]
    };
    work.owing.list.iter().map(row).collect()
}

const CAUSES: &[&str] = &[
    "cause",
    "name",
    "orders",
    "currency",
    "minutes",
    "parts",
    "cost",
    "charged",
    "free_minutes",
    "free_parts",
    "free_cost",
];

fn causes(work: &Work) -> Vec<Vec<String>> {
    let currency = work.shop.currency();
    let row = |cause: &super::cause_cost::CauseCost| {
        vec![
            text(&cause.cause),
            text(&work.names_of_causes.of(&cause.cause)),
            cause.orders.to_string(),
            currency.code().to_owned(),
            cause.minutes.to_string(),
            cause.parts.typed(&currency),
            cause.cost.typed(&currency),
            cause.charged.typed(&currency),
            cause.free_minutes.to_string(),
            cause.free_parts.typed(&currency),
            cause.free.typed(&currency),
        ]
    };
    work.causes.iter().map(row).collect()
}

const PARTS: &[&str] = &[
    "part",
    "from",
    "to",
    "years",
    "counts",
    "dispersion",
    "expected",
    "low",
    "high",
];

/// Of the next months, and of the season that comes next.
fn parts(work: &Work) -> Vec<Vec<String>> {
    let season = work.season.iter().map(|season| &season.1);
    std::iter::once(&work.stock)
        .chain(season)
        .flat_map(stocked)
        .collect()
}

fn stocked(stock: &Stock) -> Vec<Vec<String>> {
    let row = |part: &super::stock::Part| {
        let counts: Vec<String> = part.years.iter().map(u64::to_string).collect();
        let range = part.forecast.range;
        let end = |end: Option<u64>| end.map_or(String::new(), |end| end.to_string());
        vec![
            text(&part.name),
            stock.span.from.iso(),
            stock.span.to.iso(),
            part.years.len().to_string(),
            counts.join(";"),
            stock.dispersion.to_string(),
            part.forecast.expected.to_string(),
            end(range.map(|range| range.0)),
            end(range.map(|range| range.1)),
        ]
    };
    stock.parts.iter().map(row).collect()
}
