//! Causes that are alike: no answer can part them, one look does. Pure.
//!
//! Causes of one region whose looks take equally long are alike when all answers together, if every question were asked,
//! take away at most [`TOLD`] of the doubt which of them it is; that is so for each of them against the others as they
//! come. (Whether one look is the other the catalogue does not say: looks of one length in one place are taken for it, a rule
//! of our own.)
//!
//! The doubt is Shannon's entropy, and what the answers tell of it is at most the sum of what each tells on its own, since
//! they are independent given the cause. By Fano's inequality (Fano 1961, Transmission of Information) whoever then guesses
//! between two that are equally common is wrong at least once in five times, though everything was asked.

use super::question::information;
use super::rank::Model;

/// So much of the doubt at most. In the catalogue the pairs that the trade names come to 0.08 (tuner screw and ring), 0.11
/// (peg pin and collar, end pin rod and collar) and 0.22 (the lower seam against the others); a quarter lets in two more
/// pairs, crack and joint of the top (0.14) and slots of the nut (0.17).
pub const TOLD: f64 = 0.25;

/// The group of each cause, by index of the model: those that share a number, the least index among them, are alike.
#[must_use]
pub fn groups(model: &Model, regions: &[&str]) -> Vec<usize> {
    let count = model.causes.len();
    let mut group: Vec<usize> = (0..count).collect();
    let mut left: Vec<usize> = (0..count).collect();
    while let Some(&first) = left.first() {
        let minutes = |at: usize| model.causes[at].check_minutes.to_bits();
        let here = |at: &usize| regions[*at] == regions[first] && minutes(*at) == minutes(first);
        let (near, rest): (Vec<usize>, Vec<usize>) = left.into_iter().partition(here);
        left = rest;
        for together in joined(model, near) {
            let least = together.iter().copied().min().unwrap_or(first);
            for at in together {
                group[at] = least;
            }
        }
    }
    group
}

/// Joins the two groups that the answers tell apart least, as long as there are two that are alike.
fn joined(model: &Model, near: Vec<usize>) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = near.into_iter().map(|at| vec![at]).collect();
    loop {
        let mut best: Option<(f64, usize, usize)> = None;
        for a in 0..groups.len() {
            for b in a + 1..groups.len() {
                let apart = apart(model, &[&groups[a][..], &groups[b]].concat());
                if apart <= TOLD && best.is_none_or(|best| apart < best.0) {
                    best = Some((apart, a, b));
                }
            }
        }
        let Some((_, a, b)) = best else {
            return groups;
        };
        let other = groups.remove(b);
        groups[a].extend(other);
    }
}

/// What all answers together tell at most of these causes, as a share of the doubt: of the one that they part best from
/// the others.
#[must_use]
pub fn apart(model: &Model, causes: &[usize]) -> f64 {
    let told = causes.iter().map(|one| {
        let others: Vec<usize> = causes.iter().copied().filter(|other| other != one).collect();
        told(model, *one, &others)
    });
    told.fold(0.0, f64::max)
}

fn told(model: &Model, one: usize, others: &[usize]) -> f64 {
    let share = |at: &usize| model.causes[*at].share;
    let all: f64 = others.iter().map(share).sum();
    let shares = [share(&one), all];
    if shares.iter().any(|share| *share <= 0.0) {
        return f64::INFINITY; // one that never comes is not in doubt
    }
    let bits: f64 = model
        .questions
        .iter()
        .map(|question| {
            let answers = 0..question.answers.len();
            let of_one = answers.clone().map(|answer| question.p(one, answer));
            let of_others = answers.map(|answer| {
                let each = others.iter().map(|at| share(at) * question.p(*at, answer));
                each.sum::<f64>() / all
            });
            information(&shares, &[of_one.collect(), of_others.collect()])
        })
        .sum();
    bits / doubt(&shares)
}

/// Entropy in bits.
fn doubt(shares: &[f64]) -> f64 {
    let all: f64 = shares.iter().sum();
    let of = |share: &f64| -(share / all) * (share / all).log2();
    shares.iter().map(of).sum()
}
