//! The order of checks: which cause to look for next, so that the search takes the fewest minutes. Pure.
//!
//! With one cause and independent minutes, looking by falling probability per minute is the order of least expected
//! minutes (Heckerman, Breese and Rommelse 1995, Decision-Theoretic Troubleshooting, CACM 38(3)). A check that may miss
//! finds with probability p * (1 - misses). Causes that no answer can part ([`super::alike`]) are one look: it finds with
//! the sum of their chances, and takes its minutes once.

use super::rank::{Evidence, Looked, Model, Ranking};

/// Where the customer's instrument is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// The customer is there: what can be looked at on the counter comes first.
    Counter,
    Bench,
}

/// One look, that settles one cause or several that are alike.
#[derive(Clone, Debug, PartialEq)]
pub struct Look {
    /// The likeliest to be found first.
    pub causes: Vec<usize>,
    /// The chance that it finds one of them.
    pub finds: f64,
    pub minutes: f64,
}

/// The looks that are still worth it, the next first; none once something was found.
#[must_use]
pub fn looks(model: &Model, ranking: &Ranking, evidence: &Evidence, place: Place) -> Vec<Look> {
    if evidence.found().next().is_some() {
        return Vec::new();
    }
    let looked = |cause: usize| {
        let of = |check: &&(usize, Looked)| check.0 == cause && check.1 != Looked::Unclear;
        evidence.checks.iter().any(|check| of(&check))
    };
    let later = |cause: usize| place == Place::Counter && !model.causes[cause].at_counter;
    let finds = |cause: usize| ranking.probability[cause] * (1.0 - model.causes[cause].misses);
    let mut open: Vec<usize> = (0..model.causes.len())
        .filter(|cause| !looked(*cause) && ranking.probability[*cause] > 0.0)
        .collect();
    let code = |cause: usize| &model.causes[cause].code;
    open.sort_by(|a, b| {
        finds(*b)
            .total_cmp(&finds(*a))
            .then_with(|| code(*a).cmp(code(*b)))
    });
    let mut looks: Vec<Look> = Vec::new();
    for cause in open {
        let minutes = model.causes[cause].check_minutes.max(0.5);
        let with = |look: &&mut Look| {
            let first = look.causes[0];
            model.group(first) == model.group(cause) && later(first) == later(cause)
        };
        if let Some(look) = looks.iter_mut().find(with) {
            look.causes.push(cause);
            look.finds += finds(cause);
            look.minutes = look.minutes.max(minutes);
        } else {
            looks.push(Look {
                causes: vec![cause],
                finds: finds(cause),
                minutes,
            });
        }
    }
    looks.sort_by(|a, b| {
        later(a.causes[0])
            .cmp(&later(b.causes[0]))
            .then_with(|| (b.finds / b.minutes).total_cmp(&(a.finds / a.minutes)))
            .then_with(|| code(a.causes[0]).cmp(code(b.causes[0])))
    });
    looks
}

/// The causes in the order to look for them; those of one look follow each other.
#[must_use]
pub fn in_order(model: &Model, ranking: &Ranking, evidence: &Evidence, place: Place) -> Vec<usize> {
    let looks = looks(model, ranking, evidence, place);
    looks.into_iter().flat_map(|look| look.causes).collect()
}

/// The minutes to expect until it is found when looking in this order, if these looks find it: where it is none of these, or
/// a look misses it, nobody walks through all of them for it. Each step has its chance to find it, and its minutes.
#[must_use]
pub fn expected_minutes(steps: &[(f64, f64)]) -> f64 {
    let (mut spent, mut minutes, mut found) = (0.0, 0.0, 0.0);
    for (probability, cost) in steps {
        spent += cost;
        minutes += probability * spent;
        found += probability;
    }
    if found > 0.0 { minutes / found } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_minutes_are_those_of_a_search_that_finds() {
        // Found at once in half of all, after both looks in a quarter; what is found by neither does not count.
        let minutes = expected_minutes(&[(0.5, 2.0), (0.25, 4.0)]);
        assert!((minutes - (0.5 * 2.0 + 0.25 * 6.0) / 0.75).abs() < 1e-12);
        assert!(expected_minutes(&[]).abs() < 1e-12);
    }
}
