//! A reason is what one thing that is known says of a cause, in decibans. Pure.
//!
//! All reasons of a cause sum up to the weight of all that is known for it ([`super::rank::Ranking::decibans`]): from its share
//! of the family to how likely it is now. The age, the season and whose instrument it is come one after another; then each
//! answer on its own, against the causes as likely as they were by then; then what the answers say twice
//! ([`Says::Overlap`]), for answers lean on each other and all of them together weigh less than each on its own; then the
//! checks, one after another. What was looked for elsewhere is one reason ([`Says::Others`]).

use super::age::AgeBand;
use crate::reports::season::Season;

use super::rank::{Evidence, Looked, Model, level, to_one};

/// What it is that speaks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Says {
    Age(AgeBand),
    Season(Season),
    /// Whether it is a student's or a rental.
    Student(bool),
    /// Question and answer, by index of the model.
    Answer(usize, usize),
    /// What the answers say twice.
    Overlap,
    /// What came of looking for this cause.
    Check(Looked),
    /// What came of looking for others.
    Others,
}

/// Above 0 it speaks for the cause, below against it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reason {
    pub says: Says,
    pub decibans: f64,
}

/// How likely each cause is after each thing that is known, as levels of odds.
pub struct Reasons {
    /// By their shares alone, and after each tie.
    share: Vec<f64>,
    ties: Vec<(Says, Vec<f64>)>,
    /// After each answer on its own, and after all of them.
    each: Vec<(Says, Vec<f64>)>,
    answered: Vec<f64>,
    /// After each check; the causes that it was a look for.
    checks: Vec<(Vec<usize>, Looked, Vec<f64>)>,
}

impl Reasons {
    #[must_use]
    pub fn new(model: &Model, evidence: &Evidence) -> Reasons {
        let mut ln: Vec<f64> = model.causes.iter().map(|cause| cause.share.ln()).collect();
        ln.push(model.none_share.ln());
        let share = levels(&ln);
        let mut ties = Vec::new();
        for (at, cause) in model.causes.iter().enumerate() {
            ln[at] += cause.tie_of_age(evidence).ln();
        }
        if let Some(band) = evidence.band {
            ties.push((Says::Age(band), levels(&ln)));
        }
        for (at, cause) in model.causes.iter().enumerate() {
            ln[at] += cause.tie_of_season(evidence).ln();
        }
        if let Some(season) = evidence.season {
            ties.push((Says::Season(season), levels(&ln)));
        }
        for (at, cause) in model.causes.iter().enumerate() {
            ln[at] += cause.tie_of_student(evidence).ln();
        }
        if let Some(student) = evidence.student {
            ties.push((Says::Student(student), levels(&ln)));
        }
        let mut each = Vec::new();
        let prior = ln.clone();
        for &(question, answer) in &evidence.answers {
            let says = |at: usize| model.power * model.questions[question].ln(at, answer);
            let alone: Vec<f64> = prior.iter().enumerate().map(|(at, ln)| ln + says(at)).collect();
            each.push((Says::Answer(question, answer), levels(&alone)));
            for (at, ln) in ln.iter_mut().enumerate() {
                *ln += says(at);
            }
        }
        Reasons {
            share,
            ties,
            each,
            answered: levels(&ln),
            checks: checks(model, evidence, ln),
        }
    }

    /// The reasons of a cause, the strongest first; what the answers say twice is the last.
    #[must_use]
    pub fn of(&self, cause: usize) -> Vec<Reason> {
        let mut reasons = Vec::new();
        let mut before = self.share[cause];
        for (says, after) in &self.ties {
            reasons.push((*says, after[cause] - before));
            before = after[cause];
        }
        let each = self
            .each
            .iter()
            .map(|(says, alone)| (*says, alone[cause] - before));
        let each: Vec<(Says, f64)> = each.collect();
        let alone: f64 = each.iter().map(|of| of.1).sum();
        let overlap = self.answered[cause] - before - alone;
        reasons.extend(each);
        before = self.answered[cause];
        let mut others = 0.0;
        for (causes, looked, after) in &self.checks {
            let weight = after[cause] - before;
            before = after[cause];
            if causes.contains(&cause) {
                reasons.push((Says::Check(*looked), weight));
            } else {
                others += weight;
            }
        }
        if !self.checks.is_empty() {
            reasons.push((Says::Others, others));
        }
        reasons.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
        if self.each.len() > 1 {
            reasons.push((Says::Overlap, overlap));
        }
        let reason = |(says, decibans)| Reason { says, decibans };
        reasons.into_iter().map(reason).collect()
    }
}

/// The levels after each check; what was found comes last, for it ends the search.
fn checks(model: &Model, evidence: &Evidence, mut ln: Vec<f64>) -> Vec<(Vec<usize>, Looked, Vec<f64>)> {
    let mut checks = Vec::new();
    for &(cause, looked) in &evidence.checks {
        if matches!(looked, Looked::NotFound | Looked::Mended) {
            ln[cause] += looked.ln(model.causes[cause].misses);
            checks.push((vec![cause], looked, levels(&ln)));
        }
    }
    let found: Vec<usize> = evidence.found().collect();
    if !found.is_empty() {
        let mut p = probabilities(&ln);
        evidence.end_the_search(&mut p);
        checks.push((found, Looked::Found, p.iter().map(|p| level(*p)).collect()));
    }
    checks
}

fn probabilities(ln: &[f64]) -> Vec<f64> {
    let most = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut p: Vec<f64> = ln.iter().map(|ln| (ln - most).exp()).collect();
    to_one(&mut p);
    p
}

fn levels(ln: &[f64]) -> Vec<f64> {
    probabilities(ln).iter().map(|p| level(*p)).collect()
}
