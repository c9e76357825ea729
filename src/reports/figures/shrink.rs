//! A shrunk rate leans on what the others are like, the more the fewer orders it was counted from.

use statrs::function::gamma::{digamma, ln_gamma};

use super::of;

/// What rates of this kind are like, as so many orders with and without the cause that each begins with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Prior {
    /// They differ: a beta distribution.
    Beta { with: f64, without: f64 },
    /// They do not differ more than chance makes them: all are this rate.
    Same(f64),
}

impl Prior {
    #[must_use]
    pub fn mean(&self) -> f64 {
        match *self {
            Prior::Beta { with, without } => with / (with + without),
            Prior::Same(rate) => rate,
        }
    }

    /// The rate that is to be expected of those who had so many of so many.
    #[must_use]
    pub fn shrunk(&self, count: u64, size: u64) -> f64 {
        match *self {
            Prior::Beta { with, without } => (with + of(count)) / (with + without + of(size)),
            Prior::Same(rate) => rate,
        }
    }
}

/// Beyond so many orders to begin with, the rates are the same for all that can be seen.
const SAME_BEYOND: f64 = 1e7;
const STEPS: usize = 100;
/// By so much of itself a sum of logarithms of the gamma function may be off.
const ROUNDED: f64 = 1e-11;

/// The likeliest beta prior of some rates: the beta-binomial model fitted by maximum likelihood.
///
/// J. G. Skellam, J. Royal Stat. Soc. B 10 (1948) 257-261; as empirical Bayes, B. Efron and C. Morris, J. Am. Stat. Assoc. 70
/// (1975) 311-319. Nothing where nothing was counted.
#[must_use]
pub fn fit(groups: &[(u64, u64)]) -> Option<Prior> {
    let groups: Vec<(f64, f64)> = groups
        .iter()
        .filter(|group| group.1 > 0)
        .map(|group| (of(group.0), of(group.1)))
        .collect();
    let (count, size) = groups
        .iter()
        .fold((0.0, 0.0), |sum, group| (sum.0 + group.0, sum.1 + group.1));
    if size <= 0.0 {
        return None;
    }
    let rate = count / size;
    if groups.len() < 2 || count <= 0.0 || count >= size {
        return Some(Prior::Same(rate));
    }
    if differ(&groups, rate) {
        return climb(&groups, Point::start(&groups, rate), rate);
    }
    // Large groups that are alike may hide a small one that is not: then a hill stands away from sameness, and may be higher.
    let likeliest = Point::scattered(rate)
        .max_by(|one, other| one.likelihood(&groups).total_cmp(&other.likelihood(&groups)))?;
    let found = climb(&groups, likeliest, rate)?;
    let same = count * rate.ln() + (size - count) * (-rate).ln_1p();
    let higher = match found {
        Prior::Beta { with, without } => likelihood(&groups, with, without) > same + same.abs() * ROUNDED,
        Prior::Same(_) => false,
    };
    Some(if higher { found } else { Prior::Same(rate) })
}

/// From a point up to the top of its hill.
fn climb(groups: &[(f64, f64)], start: Point, rate: f64) -> Option<Prior> {
    let mut at = start;
    let mut before = at.likelihood(groups);
    for _ in 0..STEPS {
        let step = at.uphill(groups);
        // Never far at once, and halved while it overshoots.
        let mut scale = (2.0 / step.0.abs().max(step.1.abs())).min(1.0);
        let (next, after) = loop {
            let next = Point {
                ln_odds: at.ln_odds + scale * step.0,
                ln_together: at.ln_together + scale * step.1,
            };
            let after = next.likelihood(groups);
            // Of many orders the logarithms of the gamma function part by more than the last steps gain.
            if after >= before - before.abs() * ROUNDED || scale < 1e-9 {
                break (next, after);
            }
            scale /= 2.0;
        };
        (at, before) = (next, after);
        if at.ln_together.exp() > SAME_BEYOND {
            return Some(Prior::Same(rate));
        }
        if step.0.abs().max(step.1.abs()) < 1e-10 {
            break;
        }
    }
    let (with, without) = at.both();
    (with.is_finite() && without.is_finite()).then_some(Prior::Beta { with, without })
}

/// Whether the rates differ more than chance makes them. Of no spread at all the likelihood rises towards sameness without
/// end; its slope there is R. E. Tarone's statistic (Biometrika 66 (1979) 585-590): rising with the spread, or not. Where it
/// does not rise there, it may yet be higher elsewhere.
fn differ(groups: &[(f64, f64)], rate: f64) -> bool {
    let spread: f64 = groups
        .iter()
        .map(|(count, size)| (count - size * rate).powi(2) / (rate * (1.0 - rate)) - size)
        .sum();
    spread > 0.0
}

/// A beta prior by the odds of its mean and by how many orders it stands for: the likelihood bends by each of them nearly
/// by itself.
#[derive(Clone, Copy)]
struct Point {
    ln_odds: f64,
    ln_together: f64,
}

impl Point {
    /// From the moments of the rates, as good as any to begin with.
    fn start(groups: &[(f64, f64)], rate: f64) -> Point {
        let many = groups.iter().map(|_| 1.0).sum::<f64>();
        let size = groups.iter().map(|group| group.1).sum::<f64>();
        let spread = groups
            .iter()
            .map(|(count, of)| of * (count / of - rate).powi(2))
            .sum::<f64>()
            / size;
        let by_chance = rate * (1.0 - rate) * many / size;
        let between = (spread - by_chance).max(rate * (1.0 - rate) * 1e-3);
        let together = (rate * (1.0 - rate) / between - 1.0).max(0.1);
        Point {
            ln_odds: (rate / (1.0 - rate)).ln(),
            ln_together: together.ln(),
        }
    }

    /// Priors of this mean that stand for one order up to a hundred thousand.
    fn scattered(rate: f64) -> impl Iterator<Item = Point> {
        let ln_odds = (rate / (1.0 - rate)).ln();
        [1.0, 4.0, 16.0, 64.0, 250.0, 1e3, 4e3, 16e3, 64e3]
            .into_iter()
            .map(move |together: f64| Point {
                ln_odds,
                ln_together: together.ln(),
            })
    }

    fn mean(self) -> f64 {
        1.0 / (1.0 + (-self.ln_odds).exp())
    }

    /// So many with and without to begin with.
    fn both(self) -> (f64, f64) {
        let together = self.ln_together.exp();
        (together * self.mean(), together / (1.0 + self.ln_odds.exp()))
    }

    fn likelihood(self, groups: &[(f64, f64)]) -> f64 {
        let (with, without) = self.both();
        likelihood(groups, with, without)
    }

    /// Newton's step where the likelihood is curved downwards; where it is not, a step the way that it rises.
    fn uphill(self, groups: &[(f64, f64)]) -> (f64, f64) {
        let (with, without) = self.both();
        let (slope, curve) = derivatives(groups, with, without);
        // By the chain rule, from both figures to the odds of the mean and the logarithm of their sum.
        let mean = self.mean();
        let by_odds = (with + without) * mean * (1.0 - mean);
        let apart = slope.0 - slope.1;
        let slope = (by_odds * apart, with * slope.0 + without * slope.1);
        let (odds, both, together) = (
            by_odds * by_odds * (curve.0 - 2.0 * curve.1 + curve.2) + by_odds * (1.0 - 2.0 * mean) * apart,
            by_odds * (with * (curve.0 - curve.1) + without * (curve.1 - curve.2)) + by_odds * apart,
            with * with * curve.0 + 2.0 * with * without * curve.1 + without * without * curve.2 + slope.1,
        );
        let determinant = odds * together - both * both;
        if odds < 0.0 && determinant > 0.0 {
            (
                (both * slope.1 - together * slope.0) / determinant,
                (both * slope.0 - odds * slope.1) / determinant,
            )
        } else {
            let odds = if odds < 0.0 {
                -slope.0 / odds
            } else {
                slope.0.signum()
            };
            (odds, slope.1.signum())
        }
    }
}

/// The logarithm of the beta-binomial likelihood of a prior, but for what all priors share.
fn likelihood(groups: &[(f64, f64)], with: f64, without: f64) -> f64 {
    let beta = |with: f64, without: f64| ln_gamma(with) + ln_gamma(without) - ln_gamma(with + without);
    let prior = beta(with, without);
    groups
        .iter()
        .map(|(count, size)| beta(with + count, without + size - count) - prior)
        .sum()
}

/// The slope of the likelihood and its curve, by those with and those without.
fn derivatives(groups: &[(f64, f64)], with: f64, without: f64) -> ((f64, f64), (f64, f64, f64)) {
    let (of_with, of_without, of_both) = (digamma(with), digamma(without), digamma(with + without));
    let (curve_with, curve_without, curve_both) =
        (trigamma(with), trigamma(without), trigamma(with + without));
    let (mut slope, mut curve) = ((0.0, 0.0), (0.0, 0.0, 0.0));
    for (count, size) in groups {
        let both = of_both - digamma(with + without + size);
        let curve_of_both = curve_both - trigamma(with + without + size);
        slope.0 += digamma(with + count) - of_with + both;
        slope.1 += digamma(without + size - count) - of_without + both;
        curve.0 += trigamma(with + count) - curve_with + curve_of_both;
        curve.1 += curve_of_both;
        curve.2 += trigamma(without + size - count) - curve_without + curve_of_both;
    }
    (slope, curve)
}

/// The second derivative of the logarithm of the gamma function: by recurrence up to 10, then its asymptotic series
/// (M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions (1964), 6.4.6 and 6.4.12).
#[must_use]
pub fn trigamma(x: f64) -> f64 {
    let (mut x, mut sum) = (x, 0.0);
    while x < 10.0 {
        sum += 1.0 / (x * x);
        x += 1.0;
    }
    let by = 1.0 / x;
    let square = by * by;
    let series = 1.0 / 6.0
        + square * (-1.0 / 30.0 + square * (1.0 / 42.0 + square * (-1.0 / 30.0 + square * (5.0 / 66.0))));
    sum + by + square / 2.0 + by * square * series
}
