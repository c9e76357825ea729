//! What the shop's confirmed findings change: the catalogue's figures as so many pseudo-counts, the shop's own counts on
//! top. Pure.
//!
//! - The **share** of a cause in a family is (K * catalogue + confirmed) / (K + all confirmed).
//! - In an **age band** or a **season** it is the same again, with M pseudo-counts of the family's share times the
//!   catalogue's tie: a cell with few orders stays near the family's share.
//! - **P(answer | cause)** is (L * catalogue + answered so) / (L + all answered) over the confirmed orders of all families.
//!
//! These are posterior means under Dirichlet priors (Gelman et al., Bayesian Data Analysis, multinomial model). How
//! strong K, L and M are by default was measured on shops whose truth is known: see [`Strength::default`].

use std::collections::{BTreeMap, HashMap};

use sqlx::FromRow;

use crate::catalogue::answer::Words;
use crate::catalogue::cause::Cause;
use crate::catalogue::descriptor::{Background, Descriptor, Likelihood, SAYS_NOTHING};
use crate::catalogue::tie;
use crate::diagnosis::age::AgeBand;
use crate::reports::season::{Season, Seasons};

use super::rank::{Entry, Model, Question};

/// The share of "none of these" before the shop has taught anything: the player, the room, two causes at once.
/// From memory, no source.
pub const NONE_SHARE: f64 = 0.05;
/// One answer in fifty is a slip of the ear or the finger, so that no single answer rules a cause out. From memory.
const SLIP: f64 = 0.02;
/// The code of "none of these" in counts.
pub const NONE: &str = "";

/// How many orders the catalogue's word counts for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strength {
    /// K, for the shares of a family.
    pub shares: f64,
    /// M, for an age band or a season.
    pub cells: f64,
    /// L, for the answers to one question.
    pub answers: f64,
}

impl Default for Strength {
    /// Measured on simulated shops (`tests/fitted.rs`): the log loss in nats of later orders, the mean over shops where the
    /// catalogue is right, off by half, and off by a factor of 2 in shares and 1.6 in likelihoods, each after 500 and after
    /// 5,000 orders, for all of K 30 to 1,000, M 400 to 6,400 and L 10 to 100 together. It was least, 2.870, for 300, 1,600
    /// and 60; these lost 0.001 more and learn faster where the catalogue is off. 100, 400 and 30 lost 0.022 more.
    fn default() -> Strength {
        Strength {
            shares: 300.0,
            cells: 1600.0,
            answers: 30.0,
        }
    }
}

/// The catalogue as it stands, with its figures.
#[derive(Clone, Debug, Default)]
pub struct Figures {
    /// Those that can be had; what was retired is neither ranked nor asked.
    pub causes: Vec<Cause>,
    pub descriptors: Vec<Descriptor>,
    /// How their answers are said.
    pub words: Words,
    background: HashMap<String, Vec<(String, f64)>>,
    likelihood: HashMap<String, HashMap<String, Vec<(String, f64)>>>,
}

/// What one order teaches: its confirmed causes, or that it was none of these.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Lesson {
    pub family: String,
    pub band: usize,
    /// 0 for January.
    pub month: usize,
    pub causes: Vec<String>,
    pub answers: BTreeMap<String, String>,
}

/// What the confirmed orders of a shop have taught.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// By family and cause.
    shares: HashMap<(String, String), Cells>,
    /// The same cell by cell, as kept.
    kept: HashMap<(String, String, usize, usize), i64>,
    /// By cause, question and answer.
    answers: HashMap<String, HashMap<String, BTreeMap<String, i64>>>,
}

/// Confirmed orders as they are kept; `month` counts from 0 for January.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, FromRow)]
pub struct TaughtShare {
    pub family: String,
    pub cause: String,
    pub age_band: String,
    pub month: i64,
    pub orders: i64,
}

/// Answers given on confirmed orders, as they are kept.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, FromRow)]
pub struct TaughtAnswer {
    pub cause: String,
    pub descriptor: String,
    pub answer: String,
    pub orders: i64,
}

/// Confirmed orders of a cause by age band and by month of the year.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Cells {
    all: i64,
    band: [i64; 6],
    month: [i64; 12],
}

impl Figures {
    #[must_use]
    pub fn new(
        causes: Vec<Cause>,
        descriptors: Vec<Descriptor>,
        background: Vec<Background>,
        likelihood: Vec<Likelihood>,
    ) -> Figures {
        let mut figures = Figures {
            causes: causes.into_iter().filter(|cause| !cause.retired).collect(),
            descriptors: descriptors
                .into_iter()
                .filter(|question| !question.retired)
                .collect(),
            ..Figures::default()
        };
        for row in background {
            if !SAYS_NOTHING.contains(&row.answer.as_str()) {
                figures
                    .background
                    .entry(row.descriptor)
                    .or_default()
                    .push((row.answer, row.p));
            }
        }
        for row in likelihood {
            let of_cause = figures.likelihood.entry(row.cause).or_default();
            of_cause
                .entry(row.descriptor)
                .or_default()
                .push((row.answer, row.p));
        }
        figures
    }

    /// P(answer | cause), in the order of the background's answers.
    fn given(&self, cause: &str, question: &str) -> Vec<f64> {
        let background = self.background.get(question).map_or(&[][..], Vec::as_slice);
        let listed = self.likelihood.get(cause).and_then(|of| of.get(question));
        answers_given(listed.map_or(&[], Vec::as_slice), background)
    }
}

/// P(answer | cause) for every answer of a question: what is listed as it is, what is left of 1 shared over the
/// other answers as the background has them; a question with nothing listed takes the background.
#[must_use]
pub fn answers_given(listed: &[(String, f64)], background: &[(String, f64)]) -> Vec<f64> {
    let of = |answer: &str| listed.iter().find(|row| row.0 == answer).map(|row| row.1);
    let taken: f64 = background.iter().filter_map(|row| of(&row.0)).sum();
    let open: f64 = background
        .iter()
        .filter(|row| of(&row.0).is_none())
        .map(|row| row.1)
        .sum();
    let rest = (1.0 - taken).max(0.0);
    background
        .iter()
        .map(|(answer, p)| of(answer).unwrap_or(if open > 0.0 { rest * p / open } else { 0.0 }))
        .collect()
}

impl Counts {
    /// Learns from an order (`orders` 1), or unlearns it (-1).
    pub fn learn(&mut self, lesson: &Lesson, orders: i64) {
        for cause in &lesson.causes {
            self.share(&lesson.family, cause, lesson.band, lesson.month, orders);
            for (question, answer) in &lesson.answers {
                self.answer(cause, question, answer, orders);
            }
        }
    }

    /// Counts confirmed orders in a cell.
    pub fn share(&mut self, family: &str, cause: &str, band: usize, month: usize, orders: i64) {
        let cells = self
            .shares
            .entry((family.to_owned(), cause.to_owned()))
            .or_default();
        cells.all += orders;
        if let Some(cell) = cells.band.get_mut(band) {
            *cell += orders;
        }
        if let Some(cell) = cells.month.get_mut(month) {
            *cell += orders;
        }
    }

    /// Sets a cell to what is kept.
    pub fn set_share(&mut self, row: &TaughtShare) {
        let band = AgeBand::of_code(&row.age_band).unwrap_or(AgeBand::Unknown) as usize;
        let month = usize::try_from(row.month).unwrap_or(0);
        let of = (row.family.clone(), row.cause.clone(), band, month);
        let before = self.kept.insert(of, row.orders).unwrap_or(0);
        self.share(&row.family, &row.cause, band, month, row.orders - before);
    }

    /// Sets the count of an answer to what is kept.
    pub fn set_answer(&mut self, row: &TaughtAnswer) {
        let of_cause = self.answers.entry(row.cause.clone()).or_default();
        let counted = of_cause.entry(row.descriptor.clone()).or_default();
        counted.insert(row.answer.clone(), row.orders);
    }

    /// Counts an answer given on confirmed orders.
    pub fn answer(&mut self, cause: &str, question: &str, answer: &str, orders: i64) {
        if SAYS_NOTHING.contains(&answer) {
            return;
        }
        let of_cause = self.answers.entry(cause.to_owned()).or_default();
        let counted = of_cause.entry(question.to_owned()).or_default();
        *counted.entry(answer.to_owned()).or_default() += orders;
    }

    fn cells(&self, family: &str, cause: &str) -> Cells {
        let of = (family.to_owned(), cause.to_owned());
        self.shares.get(&of).copied().unwrap_or_default()
    }

    /// Confirmed orders of a cause in a family.
    #[must_use]
    pub fn confirmed(&self, family: &str, cause: &str) -> i64 {
        self.cells(family, cause).all
    }

    /// The same in the months of one season.
    #[must_use]
    pub fn confirmed_in(&self, family: &str, cause: &str, season: Season, seasons: &Seasons) -> i64 {
        of_seasons(&self.cells(family, cause).month, seasons)[season as usize]
    }

    /// How often each answer was given to a question on orders of a cause.
    #[must_use]
    pub fn answered(&self, cause: &str, question: &str) -> Option<&BTreeMap<String, i64>> {
        self.answers.get(cause)?.get(question)
    }

    /// P(answer | cause) with what was answered here.
    #[must_use]
    pub fn given(
        &self,
        cause: &str,
        question: &str,
        answers: &[String],
        catalogue: &[f64],
        strength: f64,
    ) -> Vec<f64> {
        let Some(counted) = self.answered(cause, question) else {
            return catalogue.to_vec();
        };
        let own = |answer: &String| real(counted.get(answer).copied().unwrap_or(0));
        let all: f64 = answers.iter().map(own).sum();
        let mixed = answers.iter().zip(catalogue);
        mixed
            .map(|(answer, p)| (strength * p + own(answer)) / (strength + all))
            .collect()
    }
}

/// The model of a family: the catalogue with what the shop has taught.
#[must_use]
pub fn model(
    figures: &Figures,
    counts: &Counts,
    strength: Strength,
    seasons: &Seasons,
    family: &str,
    power: f64,
) -> Model {
    let causes: Vec<&Cause> = figures
        .causes
        .iter()
        .filter(|cause| cause.in_family(family))
        .collect();
    let (shares, none_share) = shares(&causes, counts, strength.shares, family);
    let cells: Vec<Cells> = causes
        .iter()
        .map(|cause| counts.cells(family, &cause.code))
        .collect();
    let ages: Vec<[f64; 6]> = by_cell(
        &shares,
        &causes.iter().map(|cause| tie::by_age(cause)).collect::<Vec<_>>(),
        &cells.iter().map(|cells| cells.band).collect::<Vec<_>>(),
        strength.cells,
    );
    let by_season = by_cell(
        &shares,
        &causes
            .iter()
            .map(|cause| tie::by_season(cause, seasons))
            .collect::<Vec<_>>(),
        &cells
            .iter()
            .map(|cells| of_seasons(&cells.month, seasons))
            .collect::<Vec<_>>(),
        strength.cells,
    );
    let entries = causes.iter().enumerate().map(|(at, cause)| Entry {
        code: cause.code.clone(),
        share: shares[at],
        by_age: ages[at],
        by_season: by_season[at],
        by_student: tie::by_student(cause),
        check_minutes: real(cause.check_minutes.max(1)),
        at_counter: cause.check_place == "counter",
        misses: tie::misses(cause),
    });
    Model {
        causes: entries.collect(),
        questions: questions(figures, &causes, counts, strength.answers, family),
        power,
        none_share,
        groups: Vec::new(),
    }
}

/// The shares of a family's causes, and of none of them; together 1.
fn shares(causes: &[&Cause], counts: &Counts, strength: f64, family: &str) -> (Vec<f64>, f64) {
    let listed: f64 = causes.iter().map(|cause| cause.prior_share.max(0.0)).sum();
    let own: Vec<f64> = causes
        .iter()
        .map(|cause| real(counts.confirmed(family, &cause.code)))
        .collect();
    let own_none = real(counts.confirmed(family, NONE));
    let all = own.iter().sum::<f64>() + own_none;
    let mixed = |catalogue: f64, own: f64| (strength * catalogue + own) / (strength + all);
    let of = |cause: &&Cause| {
        if listed > 0.0 {
            (1.0 - NONE_SHARE) * cause.prior_share.max(0.0) / listed
        } else {
            0.0
        }
    };
    let shares = causes
        .iter()
        .zip(own)
        .map(|(cause, own)| mixed(of(cause), own))
        .collect();
    let none = if listed > 0.0 { NONE_SHARE } else { 1.0 };
    (shares, mixed(none, own_none))
}

/// How many times as often as its share each cause comes in each cell: the tie, drawn towards what was counted there.
fn by_cell<const N: usize>(
    shares: &[f64],
    ties: &[[f64; N]],
    counted: &[[i64; N]],
    strength: f64,
) -> Vec<[f64; N]> {
    let mut ratios = vec![[1.0; N]; shares.len()];
    for cell in 0..N {
        let usual: f64 = shares
            .iter()
            .zip(ties)
            .map(|(share, tie)| share * tie[cell])
            .sum();
        let all: f64 = counted.iter().map(|counted| real(counted[cell])).sum();
        for (cause, ratio) in ratios.iter_mut().enumerate() {
            let share = shares[cause];
            if share > 0.0 && usual > 0.0 {
                let expected = shares.iter().sum::<f64>() * share * ties[cause][cell] / usual;
                let own = real(counted[cause][cell]);
                ratio[cell] = (strength * expected + own) / (strength + all) / share;
            }
        }
    }
    ratios
}

fn of_seasons(months: &[i64; 12], seasons: &Seasons) -> [i64; 3] {
    let mut counted = [0; 3];
    for (month, orders) in (1..).zip(months) {
        counted[seasons.of_month(month).unwrap_or(Season::Change) as usize] += orders;
    }
    counted
}

fn questions(
    figures: &Figures,
    causes: &[&Cause],
    counts: &Counts,
    strength: f64,
    family: &str,
) -> Vec<Question> {
    let asked = figures
        .descriptors
        .iter()
        .filter(|question| question.fits(family));
    asked
        .filter_map(|question| {
            let background = figures.background.get(&question.code)?;
            let answers: Vec<String> = background.iter().map(|row| row.0.clone()).collect();
            let codes = causes.iter().map(|cause| cause.code.as_str()).chain([NONE]);
            let given: Vec<Vec<f64>> = codes
                .map(|cause| {
                    let catalogue = figures.given(cause, &question.code);
                    let mixed = counts.given(cause, &question.code, &answers, &catalogue, strength);
                    with_slips(&mixed)
                })
                .collect();
            Some(Question::new(&question.code, question.minutes, answers, &given))
        })
        .collect()
}

/// Made to sum to 1, and never nothing at all.
fn with_slips(given: &[f64]) -> Vec<f64> {
    let sum: f64 = given.iter().sum();
    let even = 1.0 / real(i64::try_from(given.len()).unwrap_or(1));
    let p = |p: &f64| if sum > 0.0 { p / sum } else { even };
    given
        .iter()
        .map(|given| (1.0 - SLIP) * p(given) + SLIP * even)
        .collect()
}

/// Counts fit a double exactly up to 2^53.
#[expect(clippy::cast_precision_loss, reason = "counts of a shop are far below 2^53")]
pub(super) fn real(count: i64) -> f64 {
    count as f64
}
