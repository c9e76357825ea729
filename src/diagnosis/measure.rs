//! Measures of a ranking: how often the cause stood first, how sure it was, and whether it was rightly so. Pure.

/// A bin of the calibration: predictions of one tenth of the range, 1.0 in the last.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Bin {
    pub predictions: i64,
    /// How often what was predicted was the case.
    pub hits: i64,
    /// The sum of the probabilities.
    pub sum: f64,
}

impl Bin {
    /// The mean of what was said.
    #[must_use]
    pub fn said(&self) -> Option<f64> {
        (self.predictions > 0).then(|| self.sum / super::learn::real(self.predictions))
    }

    /// How often it was so.
    #[must_use]
    pub fn was(&self) -> Option<f64> {
        (self.predictions > 0).then(|| super::learn::real(self.hits) / super::learn::real(self.predictions))
    }
}

pub const BINS: usize = 10;

/// Which of so many bins of equal width a probability falls in; they are closed on the left.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "between 0 and a small number of bins after the clamp"
)]
pub fn bin(p: f64, bins: usize) -> usize {
    ((p.clamp(0.0, 1.0) * bins as f64) as usize).min(bins.saturating_sub(1))
}

/// Expected calibration error: the mean distance of what was said and what was the case, bin by bin, weighted by how
/// much is in each (Naeini, Cooper and Hauskrecht 2015, Obtaining Well Calibrated Probabilities Using Bayesian Binning).
#[must_use]
pub fn calibration_error(bins: &[Bin]) -> f64 {
    let all: i64 = bins.iter().map(|bin| bin.predictions).sum();
    if all == 0 {
        return 0.0;
    }
    let off: f64 = bins
        .iter()
        .map(|bin| (bin.sum - super::learn::real(bin.hits)).abs())
        .sum();
    off / super::learn::real(all)
}

/// Brier's score of one prediction over many classes: the sum of (p - 1 for what was the case, else 0) squared
/// (Brier 1950, Verification of Forecasts Expressed in Terms of Probability). From 0, the best, to 2.
#[must_use]
pub fn brier(probabilities: impl Iterator<Item = f64>, was: usize) -> f64 {
    let off = |(at, p): (usize, f64)| p - if at == was { 1.0 } else { 0.0 };
    probabilities.enumerate().map(off).map(|off| off * off).sum()
}

/// The median of counted values: the least value that half of them do not exceed.
#[must_use]
pub fn median(counted: &[(i64, i64)]) -> Option<i64> {
    let mut sorted = counted.to_vec();
    sorted.sort_unstable();
    let all: i64 = sorted.iter().map(|value| value.1).sum();
    let mut seen = 0;
    sorted.into_iter().find_map(|(value, times)| {
        seen += times;
        (times > 0 && 2 * seen >= all).then_some(value)
    })
}
