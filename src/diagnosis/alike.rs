//! Causes that are alike: no answer can part them, one look at the bench does. Pure.
//!
//! Two causes of one region are alike when all answers together, if every question were asked, would be expected to
//! part them by no more than [`ALIKE`] decibans (the mean of the two Kullback-Leibler divergences, in decibans).

use super::rank::Model;

/// Odds of about two to one after *all* questions: no better than a guess between two.
const ALIKE: f64 = 3.5;

/// The group of each cause, by index of the model: those that share a number are alike. Every pair within a group is.
#[must_use]
pub fn groups(model: &Model, regions: &[&str]) -> Vec<usize> {
    let count = model.causes.len();
    let mut group: Vec<usize> = (0..count).collect();
    let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
    for a in 0..count {
        for b in a + 1..count {
            if regions[a] == regions[b] {
                let apart = apart(model, a, b);
                if apart <= ALIKE {
                    pairs.push((apart, a, b));
                }
            }
        }
    }
    pairs.sort_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)).then(x.2.cmp(&y.2)));
    for (_, a, b) in pairs {
        let (one, other) = (group[a], group[b]);
        let members = |of: usize| (0..count).filter(|at| group[*at] == of).collect::<Vec<usize>>();
        let (ones, others) = (members(one), members(other));
        let all_alike = ones
            .iter()
            .all(|x| others.iter().all(|y| apart(model, *x, *y) <= ALIKE));
        if one != other && all_alike {
            for at in others {
                group[at] = one;
            }
        }
    }
    group
}

/// How far all answers together are expected to part two causes, in decibans.
#[must_use]
pub fn apart(model: &Model, a: usize, b: usize) -> f64 {
    let nats: f64 = model
        .questions
        .iter()
        .map(|question| {
            (0..question.answers.len())
                .map(|answer| {
                    let (x, y) = (question.p(a, answer), question.p(b, answer));
                    (x - y) * (x / y).ln()
                })
                .sum::<f64>()
        })
        .sum();
    10.0 / std::f64::consts::LN_10 * nats / 2.0
}
