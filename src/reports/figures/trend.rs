//! A trend is that a rate rises or falls from one age band to the next, all along.

use super::{chi_square_1, of};

/// Which way, how steeply, and how often chance alone would seem as steep.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    pub z: f64,
    pub chi_square: f64,
    pub p_value: f64,
    /// How much the rate changes from one score to the next.
    pub slope: f64,
}

/// The Cochran-Armitage test for a linear trend in proportions over ordered groups.
///
/// W. G. Cochran, Biometrics 10 (1954) 417-451; P. Armitage, Biometrics 11 (1955) 375-386. Each group is its score, and how
/// many of how many. Nothing where there is nothing to compare: fewer than two groups with anybody in them, all or none.
#[must_use]
pub fn cochran_armitage(groups: &[(f64, u64, u64)]) -> Option<Trend> {
    let groups: Vec<(f64, f64, f64)> = groups
        .iter()
        .filter(|group| group.2 > 0)
        .map(|group| (group.0, of(group.1), of(group.2)))
        .collect();
    let successes: f64 = groups.iter().map(|group| group.1).sum();
    let all: f64 = groups.iter().map(|group| group.2).sum();
    if successes <= 0.0 || successes >= all {
        return None;
    }
    let rate = successes / all;
    let mean = groups.iter().map(|group| group.0 * group.2).sum::<f64>() / all;
    let lean: f64 = groups
        .iter()
        .map(|group| (group.0 - mean) * (group.1 - group.2 * rate))
        .sum();
    let spread: f64 = groups
        .iter()
        .map(|group| group.2 * (group.0 - mean).powi(2))
        .sum();
    if spread <= 0.0 {
        return None;
    }
    let z = lean / (rate * (1.0 - rate) * spread).sqrt();
    Some(Trend {
        z,
        chi_square: z * z,
        p_value: chi_square_1(z * z),
        slope: lean / spread,
    })
}
