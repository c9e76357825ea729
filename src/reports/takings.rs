//! Takings are what a span's work came to beside its causes: minutes planned and needed, money, and comebacks.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::counter::pickup::METHODS;
use crate::db::Db;
use crate::error::Result;
use crate::money::Money;
use crate::words::{grouped, minutes};

use super::counted::{self, WORK};
use super::share::{TOO_FEW, TOO_FEW_WORDS};
use super::span::Span;
use super::tally::What;

/// The steps of one kind that were done in the span.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Job {
    /// Empty for steps in free words.
    pub job: String,
    pub steps: i64,
    pub planned_minutes: i64,
    pub actual_minutes: i64,
}

impl Job {
    /// "1,204"
    #[must_use]
    pub fn done(&self) -> String {
        grouped(self.steps.unsigned_abs())
    }

    /// "1 h 20"
    #[must_use]
    pub fn planned(&self) -> String {
        minutes(self.planned_minutes)
    }

    /// "1 h 20"
    #[must_use]
    pub fn needed(&self) -> String {
        minutes(self.actual_minutes)
    }

    /// How long it took against the plan: "as planned", "12 % over", or that they are too few.
    #[must_use]
    pub fn against_plan(&self) -> String {
        match (self.steps, self.planned_minutes) {
            (..TOO_FEW, _) => TOO_FEW_WORDS.to_owned(),
            (_, ..=0) => "not planned".to_owned(),
            _ => over(self.planned_minutes, self.actual_minutes),
        }
    }

    /// All of them together.
    #[must_use]
    pub fn sum(jobs: &[Job]) -> Job {
        jobs.iter().fold(Job::default(), |sum, job| Job {
            job: String::new(),
            steps: sum.steps + job.steps,
            planned_minutes: sum.planned_minutes + job.planned_minutes,
            actual_minutes: sum.actual_minutes + job.actual_minutes,
        })
    }
}

/// Within five in a hundred is as planned: nobody times a step closer.
fn over(planned: i64, actual: i64) -> String {
    let twentieths = (actual - planned) * 20;
    if twentieths.abs() <= planned {
        return "as planned".to_owned();
    }
    let percent = ((actual - planned).abs() * 200 + planned) / (planned * 2);
    let way = if actual > planned { "over" } else { "under" };
    format!("{percent}\u{a0}% {way}")
}

/// One line of the money: what was charged for, or how it was paid.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Sum {
    pub kind: String,
    pub amount: Money,
    /// Pickups for what was charged, payments for what was taken.
    pub orders: i64,
}

/// The kinds of the money tally in the order of the page, and what they are called.
const CHARGED: [(&str, &str); 3] = [
    ("charged_labour", "Labour"),
    ("charged_parts", "Parts"),
    ("charged_tax", "Tax"),
];

#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Takings {
    /// What took longest first.
    pub jobs: Vec<Job>,
    pub money: Vec<Sum>,
    /// Comebacks by cause.
    pub comebacks: BTreeMap<String, i64>,
}

impl Takings {
    /// Of all families together: minutes and money are not counted by family.
    ///
    /// # Errors
    /// What the database says.
    pub async fn read(db: &Db, span: Span) -> Result<Takings> {
        let mut jobs = BTreeMap::<String, Job>::new();
        let mut money = BTreeMap::<String, Sum>::new();
        let mut comebacks = BTreeMap::<String, i64>::new();
        for line in counted::read(db, &WORK, span, "").await?.lines {
            let n = line.all();
            let code = line.code;
            match line.what {
                What::Orders
                | What::OrdersOther
                | What::Minutes
                | What::Days
                | What::Owed
                | What::Cost
                | What::Parts => {}
                _ if n == 0 => {}
                What::Comebacks => *comebacks.entry(code).or_default() += n,
                What::Steps => job(&mut jobs, code).steps += n,
                What::Planned => job(&mut jobs, code).planned_minutes += n,
                What::Actual => job(&mut jobs, code).actual_minutes += n,
                What::Amount => kind(&mut money, code).amount.0 += n,
                What::Times => kind(&mut money, code).orders += n,
            }
        }
        comebacks.retain(|_, orders| *orders > 0);
        let mut jobs: Vec<Job> = jobs.into_values().collect();
        jobs.sort_by_key(|job| Reverse(job.actual_minutes));
        Ok(Takings {
            jobs,
            money: money.into_values().collect(),
            comebacks,
        })
    }

    #[must_use]
    pub fn of_kind(&self, kind: &str) -> Sum {
        let found = self.money.iter().find(|sum| sum.kind == kind).cloned();
        found.unwrap_or(Sum {
            kind: kind.to_owned(),
            amount: Money::ZERO,
            orders: 0,
        })
    }

    /// What was charged at pickups, by what for.
    #[must_use]
    pub fn charged(&self) -> Vec<(&'static str, Sum)> {
        CHARGED
            .iter()
            .map(|kind| (kind.1, self.of_kind(kind.0)))
            .collect()
    }

    /// What was taken, by how it was paid.
    #[must_use]
    pub fn taken(&self) -> Vec<(&'static str, Sum)> {
        METHODS
            .iter()
            .map(|method| (method.1, self.of_kind(&format!("taken_{}", method.0))))
            .collect()
    }

    #[must_use]
    pub fn pickups(&self) -> i64 {
        self.of_kind(CHARGED[0].0).orders
    }

    #[must_use]
    pub fn all_comebacks(&self) -> i64 {
        self.comebacks.values().sum()
    }
}

fn job(jobs: &mut BTreeMap<String, Job>, code: String) -> &mut Job {
    jobs.entry(code.clone()).or_insert_with(|| Job {
        job: code,
        ..Job::default()
    })
}

fn kind(money: &mut BTreeMap<String, Sum>, code: String) -> &mut Sum {
    money.entry(code.clone()).or_insert_with(|| Sum {
        kind: code,
        amount: Money::ZERO,
        orders: 0,
    })
}

/// The whole of some lines.
#[must_use]
pub fn total(lines: &[(&'static str, Sum)]) -> Money {
    Money(lines.iter().map(|line| line.1.amount.0).sum())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(steps: i64, planned_minutes: i64, actual_minutes: i64) -> String {
        let job = String::new();
        Job {
            job,
            steps,
            planned_minutes,
            actual_minutes,
        }
        .against_plan()
    }

    #[test]
    fn minutes_against_the_plan_in_words() {
        assert_eq!(said(5, 100, 105), "as planned");
        assert_eq!(said(5, 100, 95), "as planned");
        assert_eq!(said(5, 100, 106), "6\u{a0}% over");
        assert_eq!(said(5, 200, 151), "25\u{a0}% under"); // 24.5
        assert_eq!(said(5, 100, 0), "100\u{a0}% under");
        assert_eq!(said(5, 0, 30), "not planned");
        assert_eq!(said(4, 100, 300), TOO_FEW_WORDS);
    }
}
