//! The order of checks: which cause to look for next, so that the search takes the fewest minutes. Pure.
//!
//! With one cause and independent minutes, looking by falling probability per minute is the order of least expected
//! minutes (Heckerman, Breese and Rommelse 1995, Decision-Theoretic Troubleshooting, CACM 38(3)). A check that may miss
//! finds with probability p * (1 - misses).

use super::rank::{Evidence, Looked, Model, Ranking};

/// Where the customer's instrument is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// The customer is there: what can be looked at on the counter comes first.
    Counter,
    Bench,
}

/// The causes still worth a look, the next first; none once something was found.
#[must_use]
pub fn in_order(model: &Model, ranking: &Ranking, evidence: &Evidence, place: Place) -> Vec<usize> {
    if evidence.found().next().is_some() {
        return Vec::new();
    }
    let looked = |cause: usize| {
        evidence
            .checks
            .iter()
            .any(|check| check.0 == cause && check.1 != Looked::Unclear)
    };
    let worth = |cause: usize| {
        let entry = &model.causes[cause];
        ranking.probability[cause] * (1.0 - entry.misses) / entry.check_minutes.max(0.5)
    };
    let later = |cause: usize| place == Place::Counter && !model.causes[cause].at_counter;
    let mut causes: Vec<usize> = (0..model.causes.len())
        .filter(|cause| !looked(*cause) && ranking.probability[*cause] > 0.0)
        .collect();
    causes.sort_by(|a, b| {
        later(*a)
            .cmp(&later(*b))
            .then_with(|| worth(*b).total_cmp(&worth(*a)))
            .then_with(|| model.causes[*a].code.cmp(&model.causes[*b].code))
    });
    causes
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
