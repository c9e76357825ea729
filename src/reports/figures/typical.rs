//! Typical is the ratio to be expected of a group of which little is known: it leans on what all groups have in common.

use super::{Z95, of};

/// Logarithms of one group, as much of them as is needed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Group {
    pub count: u64,
    pub sum: f64,
    pub squares: f64,
}

/// What is to be expected of a group: its ratio, and the range it may well lie in, 95 %.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Typical {
    pub ratio: f64,
    pub low: f64,
    pub high: f64,
    /// How far it leans on the others: 0 not at all, 1 wholly.
    pub leans: f64,
}

/// What all groups have in common, on the scale of the logarithms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Common {
    pub mean: f64,
    /// Of the mean.
    pub variance: f64,
    /// Between groups.
    pub between: f64,
    /// Within a group.
    pub within: f64,
}

impl Group {
    /// Adds ratios; what is not above nought has no logarithm, and says nothing.
    pub fn add(&mut self, ratio: f64, times: u64) {
        if ratio > 0.0 && ratio.is_finite() {
            let log = ratio.ln();
            self.count += times;
            self.sum += log * of(times);
            self.squares += log * log * of(times);
        }
    }

    fn mean(self) -> f64 {
        self.sum / of(self.count)
    }

    /// Of the squares of the distances from its own mean.
    fn scatter(self) -> f64 {
        (self.squares - self.sum * self.sum / of(self.count)).max(0.0)
    }
}

/// The mean and the variances by moments: the variance within groups is pooled over all of them, the one between groups is
/// that of R. DerSimonian & N. Laird, Controlled Clinical Trials 7 (1986) 177-188, not below nought. Nothing where
/// no group has two figures, or there is but one group.
#[must_use]
pub fn common(groups: &[Group]) -> Option<Common> {
    let groups: Vec<Group> = groups.iter().copied().filter(|group| group.count > 0).collect();
    let (count, figures) = (
        groups.len() as u64,
        groups.iter().map(|group| group.count).sum::<u64>(),
    );
    if count < 2 || figures <= count {
        return None;
    }
    let within = groups.iter().map(|group| group.scatter()).sum::<f64>() / of(figures - count);
    // All alike within every group: by a hair, so that nothing is divided by nought.
    let within = within.max(1e-9);
    let weights: Vec<f64> = groups.iter().map(|group| of(group.count) / within).collect();
    let sum: f64 = weights.iter().sum();
    let fixed = weighted(&groups, &weights);
    let far: f64 = groups
        .iter()
        .zip(&weights)
        .map(|(group, weight)| weight * (group.mean() - fixed).powi(2))
        .sum();
    let squares: f64 = weights.iter().map(|weight| weight * weight).sum();
    let between = ((far - of(count - 1)) / (sum - squares / sum)).max(0.0);
    let weights: Vec<f64> = groups
        .iter()
        .map(|group| 1.0 / (within / of(group.count) + between))
        .collect();
    Some(Common {
        mean: weighted(&groups, &weights),
        variance: 1.0 / weights.iter().sum::<f64>(),
        between,
        within,
    })
}

fn weighted(groups: &[Group], weights: &[f64]) -> f64 {
    let sum: f64 = groups
        .iter()
        .zip(weights)
        .map(|(group, weight)| weight * group.mean())
        .sum();
    sum / weights.iter().sum::<f64>()
}

impl Common {
    /// Of a group, its own mean drawn to the common one the more the less it says: B. Efron & C. Morris, Journal of the American
    /// Statistical Association 70 (1975) 311-319, for unequal variances. The range is of the normal distribution it has after
    /// the figures, with the variances as they were found and the common mean not known (A. Gelman & others, Bayesian Data
    /// Analysis, 3rd edition (2013), section 5.4): how wide the variances themselves may be off is not in it.
    #[must_use]
    pub fn typical(&self, group: Group) -> Typical {
        let (leans, mean, variance) = if group.count == 0 {
            (1.0, self.mean, self.between + self.variance)
        } else {
            let own = self.within / of(group.count);
            let leans = own / (own + self.between);
            let mean = leans * self.mean + (1.0 - leans) * group.mean();
            (leans, mean, (1.0 - leans) * own + leans * leans * self.variance)
        };
        let half = Z95 * variance.sqrt();
        Typical {
            ratio: mean.exp(),
            low: (mean - half).exp(),
            high: (mean + half).exp(),
            leans,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn group(ratios: &[f64]) -> Group {
        let mut group = Group::default();
        for ratio in ratios {
            group.add(*ratio, 1);
        }
        group
    }

    fn near(ours: f64, theirs: f64) {
        assert!((ours - theirs).abs() < 1e-9, "{ours} here, {theirs} there");
    }

    #[test]
    fn few_lean_on_all_and_many_stand_for_themselves() {
        let many = group(&[1.5, 1.6, 1.4, 1.5, 1.7, 1.5, 1.4, 1.6, 1.5, 1.5]);
        let few = group(&[2.0]);
        let other = group(&[1.0, 0.9, 1.1, 1.0, 1.05]);
        let common = common(&[many, few, other]).unwrap();
        let (many, few) = (common.typical(many), common.typical(few));
        assert!(many.leans < few.leans && few.ratio < 2.0 && few.ratio > 1.0);
        assert!(few.high / few.low > many.high / many.low);
        assert!(common.typical(Group::default()).leans >= 1.0);
    }

    #[test]
    fn groups_that_are_alike_are_one() {
        let alike = [
            group(&[1.0, 1.2, 0.8]),
            group(&[1.2, 1.0, 0.8]),
            group(&[0.8, 1.0, 1.2]),
        ];
        let common = common(&alike).unwrap();
        near(common.between, 0.0);
        near(common.typical(alike[0]).leans, 1.0);
        near(common.typical(alike[0]).ratio, (1.2_f64 * 0.8).powf(1.0 / 3.0));
    }

    #[test]
    fn the_variances_are_those_of_statsmodels_and_the_rest_follows() {
        let groups = [
            group(&[1.5, 1.6, 1.4, 1.55]),
            group(&[2.0, 1.8]),
            group(&[1.0, 0.9, 1.1, 1.0, 1.05]),
            group(&[1.3]),
        ];
        let common = common(&groups).unwrap();
        // statsmodels 0.14: combine_effects(means of the logs, pooled variance / counts, method_re="dl").
        near(common.within, 0.004_701_912_222_659_385);
        near(common.between, 0.083_951_083_276_818_7);
        near(common.mean, 0.330_176_581_773_372_1);
        near(common.variance, 0.021_554_461_038_073_364);
        // numpy, by the formulas: exp(mean), and exp(mean -+ 1.96 sd).
        for (group, [ratio, low, high]) in groups.into_iter().zip([
            [
                1.508_946_204_437_753_5,
                1.411_370_275_977_793_3,
                1.613_268_103_091_982_9,
            ],
            [
                1.881_396_453_347_576_4,
                1.712_506_879_143_062_9,
                2.066_942_128_979_989,
            ],
            [
                1.011_383_967_904_791_6,
                0.952_623_964_055_689_3,
                1.073_768_421_885_976_4,
            ],
            [
                1.304_683_971_694_236,
                1.143_724_733_106_433,
                1.488_295_405_986_855,
            ],
        ]) {
            let typical = common.typical(group);
            near(typical.ratio, ratio);
            near(typical.low, low);
            near(typical.high, high);
        }
    }

    #[test]
    fn what_says_nothing_is_left_out() {
        assert_eq!(common(&[]), None);
        assert_eq!(common(&[group(&[1.0, 2.0])]), None);
        assert_eq!(common(&[group(&[1.0]), group(&[2.0])]), None);
        assert_eq!(group(&[0.0, -1.0, f64::NAN, f64::INFINITY]).count, 0);
        let same = [group(&[1.0, 1.0]), group(&[1.0, 1.0, 1.0])];
        let common = common(&same).unwrap();
        near(common.typical(same[0]).ratio, 1.0);
        assert!(common.typical(same[0]).high < 1.001);
    }
}
