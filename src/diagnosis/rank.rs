//! The ranking: how likely each cause is, given the instrument, the season, the answers and what was looked at. Pure.
//!
//! One cause at a time, with an explicit "none of these". By Bayes' rule a cause's prior share is multiplied by
//! P(answer | cause) for each answer and by what each check says; what was not asked says nothing.
//!
//! Answers about one noise overlap ("metallic" and "stops when the tailpiece is touched" are half the same news), and
//! a customer with the wrong idea answers all of them by it, so that multiplying them as if they were independent is
//! over-sure. Their evidence is therefore raised to a power below 1, which is fitted: see [`super::temper`].
//!
//! What was found ends the search: whatever was expected before, all but one in a hundred goes to what was found, and the
//! others share the rest as they stood. It goes on once that was mended and the noise stayed.
//!
//! Weights of evidence are in decibans, 10 log10 of a ratio of odds (Good 1950, Probability and the Weighing of
//! Evidence): 3 double the odds, 10 make them tenfold.

use crate::diagnosis::age::AgeBand;
use crate::reports::season::Season;

/// How likely it is none of those that were found: somebody takes a harmless rattle for the buzz. From memory, no source.
const FOUND_WRONGLY: f64 = 0.01;
/// The odds of a cause that is out altogether, so that no weight is infinite: 300 decibans against it.
const OUT: f64 = 1e-30;

/// What is known of the causes and questions of one family.
#[derive(Clone, Debug, Default)]
pub struct Model {
    pub causes: Vec<Entry>,
    pub questions: Vec<Question>,
    /// The power to which the answers' evidence is raised: 1 if they were independent.
    pub power: f64,
    /// The prior share of "none of these".
    pub none_share: f64,
    /// Causes with the same number are settled by one look ([`super::alike`]); a cause without one stands alone.
    pub groups: Vec<usize>,
}

/// A cause as the ranking sees it.
#[derive(Clone, Debug, Default)]
pub struct Entry {
    pub code: String,
    /// Its prior share of the family; all of them and `none_share` sum to 1.
    pub share: f64,
    /// How many times as often as its share it comes, by age band in the order of [`AgeBand::ALL`].
    pub by_age: [f64; 6],
    /// The same by season, in the order of [`Season::ALL`].
    pub by_season: [f64; 3],
    /// The same on a student or rental instrument, and on one that is not.
    pub by_student: [f64; 2],
    pub check_minutes: f64,
    pub at_counter: bool,
    /// The chance that its check misses it.
    pub misses: f64,
}

/// A question, with P(answer | cause).
#[derive(Clone, Debug, Default)]
pub struct Question {
    pub code: String,
    pub minutes: f64,
    pub answers: Vec<String>,
    /// ln P(answer | cause), a row of `answers` for each cause, and one for "none of these" at the end.
    ln: Vec<f64>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Looked {
    Found,
    NotFound,
    /// Says nothing.
    Unclear,
    /// It was there and was mended, and the buzz stayed: it is not the one.
    Mended,
}

/// All that is known of one noise. Indices are those of the model.
#[derive(Clone, Debug, Default)]
pub struct Evidence {
    pub band: Option<AgeBand>,
    pub season: Option<Season>,
    pub student: Option<bool>,
    /// Question and answer.
    pub answers: Vec<(usize, usize)>,
    /// Cause and what the check said.
    pub checks: Vec<(usize, Looked)>,
}

/// Where the causes stand.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ranking {
    /// By cause of the model: by its share of the family alone, on such an instrument at such a time, and now.
    pub share: Vec<f64>,
    pub prior: Vec<f64>,
    pub probability: Vec<f64>,
    pub none_of_these: f64,
    /// The causes, the likeliest first.
    pub order: Vec<usize>,
}

impl Question {
    /// `given` holds P(answer | cause) for each cause, and for "none of these" at the end.
    #[must_use]
    pub fn new(code: &str, minutes: f64, answers: Vec<String>, given: &[Vec<f64>]) -> Question {
        let ln = given.iter().flatten().map(|p| p.ln()).collect();
        Question {
            code: code.to_owned(),
            minutes,
            answers,
            ln,
        }
    }

    pub(super) fn ln(&self, cause: usize, answer: usize) -> f64 {
        self.ln[cause * self.answers.len() + answer]
    }

    /// P(answer | cause); the cause after the last is "none of these".
    #[must_use]
    pub fn p(&self, cause: usize, answer: usize) -> f64 {
        self.ln(cause, answer).exp()
    }
}

impl Entry {
    pub(super) fn tie_of_age(&self, evidence: &Evidence) -> f64 {
        evidence.band.map_or(1.0, |band| self.by_age[band as usize])
    }

    pub(super) fn tie_of_season(&self, evidence: &Evidence) -> f64 {
        evidence
            .season
            .map_or(1.0, |season| self.by_season[season as usize])
    }

    pub(super) fn tie_of_student(&self, evidence: &Evidence) -> f64 {
        evidence
            .student
            .map_or(1.0, |student| self.by_student[usize::from(!student)])
    }

    /// How much more often than its share it comes on such an instrument at such a time.
    fn tie(&self, evidence: &Evidence) -> f64 {
        self.tie_of_age(evidence) * self.tie_of_season(evidence) * self.tie_of_student(evidence)
    }
}

impl Looked {
    /// ln of P(what was seen | the cause is the one) over P(.. | it is another). What was found is not weighed but ends
    /// the search: see [`Evidence::found`].
    pub(super) fn ln(self, misses: f64) -> f64 {
        match self {
            Looked::NotFound => misses.clamp(0.001, 0.999).ln(),
            Looked::Mended => f64::NEG_INFINITY,
            Looked::Found | Looked::Unclear => 0.0,
        }
    }
}

impl Evidence {
    /// What was found and is not mended yet.
    pub fn found(&self) -> impl Iterator<Item = usize> {
        let found = self.checks.iter().filter(|check| check.1 == Looked::Found);
        found.map(|check| check.0)
    }

    /// Gives what was found all but [`FOUND_WRONGLY`]; those that were share it, and the others the rest, as they stood.
    pub(super) fn end_the_search(&self, probability: &mut [f64]) {
        let mut of_found = vec![false; probability.len()];
        for cause in self.found() {
            of_found[cause] = true;
        }
        let all_found = of_found.iter().filter(|found| **found).count();
        if all_found == 0 {
            return;
        }
        let sum: f64 = (probability.iter().zip(&of_found))
            .filter(|of| *of.1)
            .map(|of| of.0)
            .sum();
        let (to_found, to_rest) = if sum < 1.0 {
            (1.0 - FOUND_WRONGLY, FOUND_WRONGLY / (1.0 - sum))
        } else {
            (1.0, 0.0)
        };
        for (p, found) in probability.iter_mut().zip(of_found) {
            *p = match (found, sum > 0.0) {
                (true, true) => *p / sum * to_found,
                (true, false) => to_found / real(all_found),
                (false, _) => *p * to_rest,
            };
        }
    }
}

impl Model {
    #[must_use]
    pub fn cause(&self, code: &str) -> Option<usize> {
        self.causes.iter().position(|cause| cause.code == code)
    }

    #[must_use]
    pub fn question(&self, code: &str) -> Option<usize> {
        self.questions.iter().position(|question| question.code == code)
    }

    /// The number of the group that a cause is of.
    #[must_use]
    pub fn group(&self, cause: usize) -> usize {
        self.groups.get(cause).copied().unwrap_or(cause)
    }

    /// The prior of each cause on this instrument at this time, and of "none of these" at the end.
    fn prior(&self, evidence: &Evidence) -> Vec<f64> {
        let mut prior: Vec<f64> = self
            .causes
            .iter()
            .map(|cause| cause.share * cause.tie(evidence))
            .collect();
        prior.push(self.none_share);
        to_one(&mut prior);
        prior
    }

    /// How likely each cause is.
    #[must_use]
    pub fn rank(&self, evidence: &Evidence) -> Ranking {
        self.rank_with(evidence, self.power)
    }

    /// As [`Model::rank`], with the answers' evidence raised to a given power.
    #[must_use]
    pub fn rank_with(&self, evidence: &Evidence, power: f64) -> Ranking {
        let mut prior = self.prior(evidence);
        let mut score: Vec<f64> = prior.iter().map(|p| p.ln()).collect();
        for &(question, answer) in &evidence.answers {
            let question = &self.questions[question];
            for (at, score) in score.iter_mut().enumerate() {
                *score += power * question.ln(at, answer);
            }
        }
        for &(cause, looked) in &evidence.checks {
            score[cause] += looked.ln(self.causes[cause].misses);
        }
        let most = score.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mut probability: Vec<f64> = score.iter().map(|score| (score - most).exp()).collect();
        to_one(&mut probability);
        evidence.end_the_search(&mut probability);
        let none_of_these = probability.pop().unwrap_or(1.0);
        let mut share = self.prior(&Evidence::default());
        share.pop();
        prior.pop();
        let mut order: Vec<usize> = (0..self.causes.len()).collect();
        order.sort_by(|a, b| {
            probability[*b]
                .total_cmp(&probability[*a])
                .then_with(|| self.causes[*a].code.cmp(&self.causes[*b].code))
        });
        Ranking {
            share,
            prior,
            probability,
            none_of_these,
            order,
        }
    }

    /// How likely one cause is when the answers' evidence is raised to each of these powers: as [`Model::rank_with`]
    /// says it before anything was found, without working through everything again for each.
    #[must_use]
    pub fn at_powers<const N: usize>(&self, evidence: &Evidence, cause: usize, powers: [f64; N]) -> [f64; N] {
        let mut fixed: Vec<f64> = self.prior(evidence).iter().map(|p| p.ln()).collect();
        for &(checked, looked) in &evidence.checks {
            fixed[checked] += looked.ln(self.causes[checked].misses);
        }
        let mut answered = vec![0.0; fixed.len()];
        for &(question, answer) in &evidence.answers {
            let question = &self.questions[question];
            for (at, answered) in answered.iter_mut().enumerate() {
                *answered += question.ln(at, answer);
            }
        }
        powers.map(|power| {
            let score = |at: usize| fixed[at] + power * answered[at];
            let most = (0..fixed.len()).map(score).fold(f64::NEG_INFINITY, f64::max);
            let all: f64 = (0..fixed.len()).map(|at| (score(at) - most).exp()).sum();
            if all > 0.0 {
                (score(cause) - most).exp() / all
            } else {
                0.0
            }
        })
    }
}

impl Ranking {
    /// The weight of all that is known for a cause: its odds now over those that its share of the family gives it, in decibans.
    #[must_use]
    pub fn decibans(&self, cause: usize) -> f64 {
        level(self.probability[cause]) - level(self.share[cause])
    }

    /// From 1 for the likeliest.
    #[must_use]
    pub fn place(&self, cause: usize) -> usize {
        self.order
            .iter()
            .position(|at| *at == cause)
            .map_or(usize::MAX, |at| at + 1)
    }
}

/// 10 log10 of the odds, so that weights are differences of levels; of what is out altogether a level that is very low.
#[must_use]
pub fn level(p: f64) -> f64 {
    10.0 * (p / (1.0 - p).max(f64::EPSILON)).max(OUT).log10()
}

#[expect(clippy::cast_precision_loss, reason = "a handful of causes")]
fn real(n: usize) -> f64 {
    n as f64
}

/// Divides by the sum; where nothing is left, all goes to the last, "none of these".
pub(super) fn to_one(weights: &mut [f64]) {
    let sum: f64 = weights.iter().sum();
    if sum > 0.0 {
        for weight in weights {
            *weight /= sum;
        }
    } else if let Some(last) = weights.last_mut() {
        *last = 1.0;
    }
}
