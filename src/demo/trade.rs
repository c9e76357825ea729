//! The trade as the invented history follows it: which cause comes when and on what, what is answered, what is looked at first.
//!
//! The ties are the catalogue's own (`season_tie`, `age_tie`); how strong each is, and how dry each month is, are common
//! practice, no source, from memory: they make a history in which reports have something true to find, and no more.
//!
//! No shop is as the catalogue has it. Here a cause that follows neither season nor age comes by a factor of about [`SHARE_OFF`] more often or more seldom, and what is
//! answered of it by [`ANSWER_OFF`], drawn once and for all: so there is something to be learned.

use std::collections::HashMap;

use crate::catalogue::cause::Cause;
use crate::catalogue::descriptor::{Descriptor, SAYS_NOTHING};
use crate::catalogue::job::Job;
use crate::catalogue::seed;
use crate::catalogue::tie::{MODERATE, STRONG, WORN};
use crate::counter::instrument::FAMILIES;
use crate::error::Result;

use super::chance::{Chance, real};
use super::instruments::Piece;

/// How dry rooms are, January to December, 1 for the heart of the heating months; and how much the air swings.
pub const DRY: [f64; 12] = [1.0, 1.0, 0.9, 0.55, 0.35, 0.15, 0.0, 0.0, 0.2, 0.5, 0.75, 0.95];
const SWING: [f64; 12] = [0.15, 0.1, 0.35, 0.9, 0.9, 0.6, 0.05, 0.05, 0.85, 1.0, 0.9, 0.25];

/// How far off the catalogue this shop is: the spread of the logarithm of each share, and of each P(answer | cause). Invented.
const SHARE_OFF: f64 = 0.5;
const ANSWER_OFF: f64 = 0.35;

pub struct Trade {
    pub causes: Vec<Cause>,
    pub jobs: Vec<Job>,
    pub descriptors: Vec<Descriptor>,
    /// Choices of each descriptor that say something.
    choices: Vec<Vec<String>>,
    /// P(answer | cause), by cause, descriptor and choice.
    answers: Vec<Vec<Vec<f64>>>,
    job_places: HashMap<String, usize>,
    /// How often each cause comes: by month, by family, and by age (under 2, 20, 80 years, and over) without and with
    /// student use.
    season: Vec<[f64; 12]>,
    family: Vec<[f64; 4]>,
    age: Vec<[[f64; 2]; 4]>,
}

/// What an instrument's visit depends on.
#[derive(Clone, Copy, Debug)]
pub struct On<'a> {
    pub piece: &'a Piece,
    pub year: i64,
    /// From 0 for January.
    pub month: usize,
}

impl Trade {
    /// # Errors
    /// When a file of the program is broken, which a test excludes.
    pub fn new() -> Result<Trade> {
        let (causes, jobs) = (seed::causes()?, seed::jobs()?);
        let mut descriptors = seed::descriptors()?;
        descriptors.sort_by(|a, b| a.code.cmp(&b.code)); // as answers are kept on an order
        let choices: Vec<Vec<String>> = descriptors
            .iter()
            .map(|descriptor| {
                let telling = descriptor
                    .choices()
                    .filter(|choice| !SAYS_NOTHING.contains(choice));
                telling.map(str::to_owned).collect()
            })
            .collect();
        let background: HashMap<(String, String), f64> = seed::background()?
            .into_iter()
            .map(|row| ((row.descriptor, row.answer), row.p))
            .collect();
        let likelihood: HashMap<(String, String, String), f64> = seed::likelihoods()?
            .into_iter()
            .map(|row| ((row.cause, row.descriptor, row.answer), row.p))
            .collect();
        let table = |cause: &Cause, at: usize| {
            let code = &descriptors[at].code;
            let said: Vec<Option<f64>> = choices[at]
                .iter()
                .map(|choice| {
                    likelihood
                        .get(&(cause.code.clone(), code.clone(), choice.clone()))
                        .copied()
                })
                .collect();
            let usual: Vec<f64> = choices[at]
                .iter()
                .map(|choice| {
                    background
                        .get(&(code.clone(), choice.clone()))
                        .copied()
                        .unwrap_or(0.01)
                })
                .collect();
            as_here(&cause.code, code, &spread_rest(&said, &usual))
        };
        let answers = causes
            .iter()
            .map(|cause| (0..descriptors.len()).map(|at| table(cause, at)).collect())
            .collect();
        let job_places = jobs
            .iter()
            .enumerate()
            .map(|(at, job)| (job.code.clone(), at))
            .collect();
        let season = causes.iter().map(season).collect();
        let family = causes
            .iter()
            .map(|cause| std::array::from_fn(|at| family(cause, FAMILIES[at].0)))
            .collect();
        let age = causes
            .iter()
            .map(|cause| {
                [1, 10, 50, 120].map(|years| [false, true].map(|student| age(cause, years, student)))
            })
            .collect();
        Ok(Trade {
            causes,
            jobs,
            descriptors,
            choices,
            answers,
            job_places,
            season,
            family,
            age,
        })
    }

    /// In a shop whose air is the same all year nothing follows the season.
    pub fn without_seasons(&mut self) {
        self.season.fill([1.0; 12]);
    }

    #[must_use]
    pub fn job(&self, code: &str) -> Option<usize> {
        self.job_places.get(code).copied()
    }

    #[must_use]
    pub fn cause(&self, code: &str) -> Option<usize> {
        self.causes.iter().position(|cause| cause.code == code)
    }

    /// How often a cause comes on this instrument in this month, beside the others.
    fn weight(&self, at: usize, on: On<'_>) -> f64 {
        let Some(family) = FAMILIES[..4]
            .iter()
            .position(|family| family.0 == on.piece.family)
        else {
            return 0.0; // a bow has no causes of its own
        };
        let band = match on.piece.age(on.year) {
            ..2 => 0,
            2..20 => 1,
            20..80 => 2,
            _ => 3,
        };
        self.season[at][on.month]
            * self.family[at][family]
            * self.age[at][band][usize::from(on.piece.student)]
    }

    /// A true cause, as often as its weight says; of those that `among` lets through.
    pub fn draw(&self, chance: &mut Chance, on: On<'_>, among: impl Fn(&Cause) -> bool) -> usize {
        let weights: Vec<f64> = (0..self.causes.len())
            .map(|at| {
                if among(&self.causes[at]) {
                    self.weight(at, on)
                } else {
                    0.0
                }
            })
            .collect();
        chance.weighted(weights.iter().copied())
    }

    /// What the noise does, question by question, whether or not anybody asks: a place among the telling choices.
    pub fn truth(&self, chance: &mut Chance, cause: usize) -> Vec<usize> {
        self.answers[cause]
            .iter()
            .map(|table| chance.weighted(table.iter().copied()))
            .collect()
    }

    #[must_use]
    pub fn choice(&self, descriptor: usize, choice: usize) -> &str {
        &self.choices[descriptor][choice]
    }

    /// What the truth is to a question, by its code.
    #[must_use]
    pub fn said<'a>(&'a self, truth: &[usize], code: &str) -> &'a str {
        let at = self
            .descriptors
            .iter()
            .position(|descriptor| descriptor.code == code);
        at.map_or("", |at| &self.choices[at][truth[at]])
    }

    /// The causes in the order in which somebody good at it looks: the likelier and the quicker first, with a mind of
    /// their own.
    pub fn order_of_looks(&self, chance: &mut Chance, on: On<'_>, answers: &[(usize, usize)]) -> Vec<usize> {
        let mut looks: Vec<(f64, usize)> = (0..self.causes.len())
            .filter_map(|at| {
                let weight = self.weight(at, on);
                (weight > 0.0).then(|| {
                    let told: f64 = answers
                        .iter()
                        .map(|&(question, answer)| self.answers[at][question][answer].max(0.01))
                        .product();
                    let worth = weight * told / real(self.causes[at].check_minutes.max(1));
                    (worth * chance.spread(0.5), at)
                })
            })
            .collect();
        looks.sort_by(|a, b| b.0.total_cmp(&a.0));
        looks.into_iter().map(|look| look.1).collect()
    }
}

/// P(answer | cause): what is said of it, and the rest shared out as usual.
fn spread_rest(said: &[Option<f64>], usual: &[f64]) -> Vec<f64> {
    let rest = (1.0 - said.iter().flatten().sum::<f64>()).max(0.0);
    let open: f64 = said
        .iter()
        .zip(usual)
        .filter(|(said, _)| said.is_none())
        .map(|(_, usual)| usual)
        .sum();
    said.iter()
        .zip(usual)
        .map(|(said, usual)| said.unwrap_or(if open > 0.0 { rest * usual / open } else { 0.0 }))
        .collect()
}

/// How far this shop is off in one thing, up or down: e to the power of a number of about the standard normal distribution, the
/// sum of twelve even ones less six (Irwin 1927, Hall 1927).
fn here(what: &str, code: &str, at: u64) -> f64 {
    let mut chance = Chance::of(0, &format!("{what} {code}"), at);
    ((0..12).map(|_| chance.unit()).sum::<f64>() - 6.0).exp()
}

/// P(answer | cause) as it is in this shop.
fn as_here(cause: &str, question: &str, given: &[f64]) -> Vec<f64> {
    let of = format!("{cause} {question}");
    let off = (0..)
        .zip(given)
        .map(|(at, p)| p * here("answer", &of, at).powf(ANSWER_OFF));
    let off: Vec<f64> = off.collect();
    let (before, after) = (given.iter().sum::<f64>(), off.iter().sum::<f64>());
    off.iter()
        .map(|p| if after > 0.0 { p * before / after } else { 0.0 })
        .collect()
}

fn season(cause: &Cause) -> [f64; 12] {
    let code = cause.code.as_str();
    let ratio: f64 = if STRONG.contains(&code) {
        4.2
    } else if MODERATE.contains(&code) {
        1.9
    } else {
        1.25
    };
    std::array::from_fn(|month| {
        let tide = match cause.season_tie.as_str() {
            "dry" => DRY[month],
            "humid" => 1.0 - DRY[month],
            "change" => SWING[month],
            _ => return 1.0,
        };
        ratio.powf(tide - 0.5)
    })
}

fn age(cause: &Cause, years: i64, student: bool) -> f64 {
    if WORN.contains(&cause.code.as_str()) {
        return match years {
            0..2 => 0.02,
            2..20 => 0.4,
            _ => 2.0,
        };
    }
    match (cause.age_tie.as_str(), years) {
        ("new", 0..2) => 3.5,
        ("new", 2..20) => 1.2,
        ("new", _) => 0.8,
        ("student", _) => {
            if student {
                2.2
            } else {
                0.7
            }
        }
        ("old", 0..20) => 0.3,
        ("old", 20..80) => 0.9,
        ("old", _) => 2.6,
        // New instruments crack in their first heating winter.
        _ if cause.code == "top_crack" && years < 2 => 1.8,
        _ => 1.0,
    }
}

/// Cello and bass carry more seams and cracks for each instrument than violin and viola (S18 of the catalogue's sources).
fn family(cause: &Cause, family: &str) -> f64 {
    let splits = cause.code.contains("seam") || cause.code.contains("crack");
    let factor = if splits && matches!(family, "cello" | "bass") {
        1.7
    } else {
        1.0
    };
    // What follows season or age comes as often as the catalogue has it, so that there are enough to see that it does.
    let here = match (cause.season_tie.as_str(), cause.age_tie.as_str()) {
        ("none", "none") => here("share", &cause.code, 0).powf(SHARE_OFF),
        _ => 1.0,
    };
    if cause.in_family(family) {
        cause.prior_share * factor * here
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_of_every_cause_sum_to_one() {
        let trade = Trade::new().expect("the catalogue");
        for (cause, tables) in trade.answers.iter().enumerate() {
            for (question, table) in tables.iter().enumerate() {
                let sum: f64 = table.iter().sum();
                let (cause, question) = (&trade.causes[cause].code, &trade.descriptors[question].code);
                assert!((sum - 1.0).abs() < 0.02, "{cause} {question}: {sum}");
            }
        }
    }

    #[test]
    fn the_named_ties_are_in_the_catalogue() {
        let trade = Trade::new().expect("the catalogue");
        for code in STRONG.iter().chain(&MODERATE).chain(&WORN) {
            assert!(trade.cause(code).is_some(), "{code}");
        }
        for code in STRONG.iter().chain(&MODERATE) {
            let cause = &trade.causes[trade.cause(code).expect("named")];
            assert_ne!(cause.season_tie, "none", "{code}");
        }
    }
}
