//! The days of a stage: how long orders stood there that were handed back.

use crate::reports::counted::Sum;
use crate::reports::figures::spread::{Quartiles, Spread};
use crate::reports::home::STAGES;
use crate::reports::share::{TOO_FEW, TOO_FEW_WORDS};
use crate::reports::tally::What;

#[derive(Clone, Debug)]
pub struct StageDays {
    pub code: &'static str,
    pub words: &'static str,
    pub days: Spread,
}

/// Each stage in the order of the work, the whole last.
#[must_use]
pub fn of(sums: &[Sum]) -> Vec<StageDays> {
    let mut stages: Vec<StageDays> = STAGES
        .iter()
        .map(|&(code, words)| StageDays {
            code,
            words,
            days: Spread::default(),
        })
        .collect();
    for sum in sums.iter().filter(|sum| sum.what == What::Days) {
        let Some((code, days)) = sum.code.split_once(' ') else {
            continue;
        };
        let stage = stages.iter_mut().find(|stage| stage.code == code);
        if let (Some(stage), Ok(days)) = (stage, days.parse()) {
            stage.days.add(days, sum.n);
        }
    }
    stages
}

impl StageDays {
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.code == "whole"
    }

    #[must_use]
    pub fn orders(&self) -> u64 {
        self.days.count()
    }

    /// Nothing of fewer than five.
    #[must_use]
    pub fn quartiles(&self) -> Option<Quartiles> {
        let few = i64::try_from(self.orders()).is_ok_and(|orders| orders < TOO_FEW);
        self.days.quartiles().filter(|_| !few)
    }

    /// "4 days", and "2 to 7".
    #[must_use]
    pub fn stood(&self) -> (String, String) {
        self.quartiles().map_or_else(
            || (TOO_FEW_WORDS.to_owned(), String::new()),
            |of| {
                (
                    days(of.middle),
                    format!("{} to {}", halves(of.low), halves(of.high)),
                )
            },
        )
    }
}

/// "4 days", "1 day", "2.5 days".
#[must_use]
pub fn days(days: f64) -> String {
    let said = halves(days);
    let word = if said == "1" { "day" } else { "days" };
    format!("{said} {word}")
}

/// To one decimal, and none where it is whole.
fn halves(days: f64) -> String {
    let said = format!("{days:.1}");
    said.strip_suffix(".0").map_or(said.clone(), str::to_owned)
}
