//! The sentences of time and money: what the owner should know first, made from the figures and true at any size.

use crate::words::count;

use super::Work;
use super::job_minutes::{JobMinutes, Plan, said};
use super::stage_days::days;

/// Its opening stands out, and it leads to its table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sentence {
    pub lead: String,
    pub rest: String,
    pub table: &'static str,
}

/// A sentence for each part of the page that has something to say.
#[must_use]
pub fn sentences(work: &Work) -> Vec<Sentence> {
    [minutes(work), waits(work), owed(work), cost(work), stock(work)]
        .into_iter()
        .flatten()
        .collect()
}

fn sentence(lead: impl Into<String>, rest: impl Into<String>, table: &'static str) -> Sentence {
    Sentence {
        lead: lead.into(),
        rest: rest.into(),
        table,
    }
}

/// The job whose planning is off by the most minutes in all.
fn minutes(work: &Work) -> Option<Sentence> {
    let off = work.jobs.iter().filter(|job| job.is_off());
    let lost = |job: &&JobMinutes| (job.sums.1 - job.sums.0).abs();
    if let Some(job) = off.clone().max_by_key(lost) {
        let typical = job.typical_minutes()?[0];
        let more = i64::try_from(off.count()).unwrap_or(1) - 1;
        let more = if more == 0 {
            String::new()
        } else {
            format!(
                " {} planned too short or too long.",
                count(more, "other job is", "other jobs are")
            )
        };
        let (takes, planned) = (said(typical), job.planned_words());
        return Some(sentence(
            format!("{} takes {takes} here", work.names_of_jobs.of(&job.job)),
            format!(", planned {planned}.{more}"),
            "minutes",
        ));
    }
    let some = work.jobs.iter().any(|job| job.plan() == Plan::Well);
    some.then(|| {
        sentence(
            "Work takes as long as planned",
            ", as far as there are enough steps to say.",
            "minutes",
        )
    })
}

/// Where half of them stood longest.
fn waits(work: &Work) -> Option<Sentence> {
    let middle = |code: &str| {
        let stage = work.stages.iter().find(|stage| stage.code == code)?;
        stage.quartiles().map(|of| of.middle)
    };
    let whole = middle("whole")?;
    let (words, longest) = [
        ("to be looked at", "first"),
        ("for the customer's answer", "answer"),
        ("on the bench", "bench"),
        ("to be fetched", "ready"),
    ]
    .into_iter()
    .filter_map(|(words, code)| Some((words, middle(code)?)))
    .max_by(|a, b| a.1.total_cmp(&b.1))?;
    let home = format!(", {} from intake to pickup.", days(whole));
    Some(if longest > 0.0 {
        sentence(
            format!("Orders wait longest {words}"),
            format!(": {} in the middle{home}", days(longest)),
            "stages",
        )
    } else {
        sentence(
            "Orders wait nowhere for long",
            format!(": in the middle{home}"),
            "stages",
        )
    })
}

fn owed(work: &Work) -> Option<Sentence> {
    let owing = &work.owing;
    if owing.orders == 0 {
        let charged = work.months.iter().any(|money| money.charged.0 != 0);
        return charged.then(|| sentence("Nothing is owed", " to the shop today.", "owed"));
    }
    let oldest = owing.list.first()?;
    Some(sentence(
        format!("{} is owed", work.shop.money(&owing.sum)),
        format!(
            " on {}, the longest since {}.",
            count(owing.orders, "order", "orders"),
            oldest.collected_on.with_year()
        ),
        "owed",
    ))
}

fn cost(work: &Work) -> Option<Sentence> {
    let dearest = work.causes.first().filter(|cause| cause.cost.0 > 0)?;
    let money = |amount| work.shop.money(amount);
    let free = if dearest.free.0 > 0 {
        format!(", {} of it put right without charge", money(&dearest.free))
    } else {
        String::new()
    };
    Some(sentence(
        format!("{} cost the shop most", work.names_of_causes.of(&dearest.cause)),
        format!(
            ": {} in time and parts{free}; {} was charged for it.",
            money(&dearest.cost),
            money(&dearest.charged)
        ),
        "causes",
    ))
}

fn stock(work: &Work) -> Option<Sentence> {
    let part = work.stock.parts.first()?;
    let months = work.stock.span.words();
    Some(match part.range() {
        Some(range) => sentence(
            format!("{}: expect {}", part.words(), part.expected()),
            format!(" from {months}, {range} to be ready for."),
            "parts",
        ),
        None => sentence(
            format!("{}: {} last year", part.words(), part.expected()),
            format!(" in the months of {months}. One year says little of the next."),
            "parts",
        ),
    })
}
