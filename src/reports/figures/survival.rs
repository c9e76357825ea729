//! Survival is the share that has not come back by a day, counted over all that were watched, however long each was.

use std::collections::BTreeMap;

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::interval::Interval;
use super::{Z95, of};

/// Those who left the watch on one day.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Left {
    back: u64,
    lost: u64,
}

/// A group that is watched: by day, how many came back, and how many were only seen as far as that.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Watched(BTreeMap<i64, Left>);

/// What is known at a day on which somebody came back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    pub day: i64,
    /// Still watched when the day began.
    pub at_risk: u64,
    pub back: u64,
    pub survival: f64,
    /// Greenwood's sum of d / (n (n - d)); without bound once nobody is left.
    sum: f64,
}

/// The product limit estimate of one group.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Curve {
    pub points: Vec<Point>,
    /// The last day on which anybody was watched.
    last: Option<i64>,
}

/// Whether the curves of several groups are the same.
#[derive(Clone, Debug, PartialEq)]
pub struct LogRank {
    pub chi_square: f64,
    pub df: u64,
    pub p_value: f64,
    /// Of each group: how many came back, and how many would have, were all alike.
    pub observed: Vec<u64>,
    pub expected: Vec<f64>,
}

impl Watched {
    /// Adds some who came back on a day, and some who were seen no further; a day before the first is the first.
    pub fn add(&mut self, day: i64, back: u64, lost: u64) {
        let left = self.0.entry(day.max(0)).or_default();
        left.back += back;
        left.lost += lost;
    }

    /// Adds those of another group.
    pub fn add_all(&mut self, other: &Watched) {
        for (&day, left) in &other.0 {
            self.add(day, left.back, left.lost);
        }
    }

    /// The last day on which at least so many are watched when it begins.
    #[must_use]
    pub fn last_with(&self, many: u64) -> Option<i64> {
        let mut here = 0;
        for (&day, left) in self.0.iter().rev() {
            here += left.back + left.lost;
            if here >= many.max(1) {
                return Some(day);
            }
        }
        None
    }

    /// How many came back within some days, both ends included.
    #[must_use]
    pub fn back_within(&self, days: std::ops::RangeInclusive<i64>) -> u64 {
        if days.is_empty() {
            return 0; // a map wants its ranges the right way round
        }
        self.0.range(days).map(|(_, left)| left.back).sum()
    }

    #[must_use]
    pub fn all(&self) -> u64 {
        self.0.values().map(|left| left.back + left.lost).sum()
    }

    #[must_use]
    pub fn back(&self) -> u64 {
        self.0.values().map(|left| left.back).sum()
    }

    /// Still watched when a day begins; whoever leaves on it is among them.
    #[must_use]
    pub fn at_risk(&self, day: i64) -> u64 {
        let from = self.0.range(day..);
        from.map(|(_, left)| left.back + left.lost).sum()
    }
}

/// A day, how many came back on it, and how many were seen no further.
impl FromIterator<(i64, u64, u64)> for Watched {
    fn from_iter<I: IntoIterator<Item = (i64, u64, u64)>>(left: I) -> Watched {
        let mut watched = Watched::default();
        for (day, back, lost) in left {
            watched.add(day, back, lost);
        }
        watched
    }
}

impl Curve {
    /// E. L. Kaplan and P. Meier, J. Am. Stat. Assoc. 53 (1958) 457-481: on a day on which d of n came back, the share
    /// that has not is multiplied by 1 - d/n. Those seen no further than a day count as watched on it.
    #[must_use]
    pub fn of(watched: &Watched) -> Curve {
        let (mut at_risk, mut survival, mut sum) = (watched.all(), 1.0, 0.0);
        let mut points = Vec::new();
        for (&day, left) in &watched.0 {
            if left.back > 0 {
                let (n, d) = (of(at_risk), of(left.back));
                survival = if left.back == at_risk {
                    0.0
                } else {
                    survival * (1.0 - d / n)
                };
                sum += if left.back == at_risk {
                    f64::INFINITY
                } else {
                    d / (n * (n - d))
                };
                points.push(Point {
                    day,
                    at_risk,
                    back: left.back,
                    survival,
                    sum,
                });
            }
            at_risk -= left.back + left.lost;
        }
        Curve {
            points,
            last: watched.0.keys().next_back().copied(),
        }
    }

    /// The share that has not come back when a day is over, with its range. Nothing is said beyond the last day on
    /// which anybody was watched, unless all have come back.
    #[must_use]
    pub fn at(&self, day: i64) -> Option<(f64, Option<Interval>)> {
        let point = self.points.iter().rev().find(|point| point.day <= day);
        if let Some(point) = point.filter(|point| point.survival <= 0.0) {
            return Some((point.survival, point.interval()));
        }
        if self.last.is_none_or(|last| last < day) {
            return None;
        }
        Some(point.map_or((1.0, None), |point| (point.survival, point.interval())))
    }
}

impl Point {
    /// M. Greenwood, Reports on Public Health and Medical Subjects 33 (1926), app. 1: S times the root of the sum.
    #[must_use]
    pub fn standard_error(&self) -> Option<f64> {
        self.sum.is_finite().then(|| self.survival * self.sum.sqrt())
    }

    /// The 95 % range on the scale of log(-log S), which stays within 0 to 1: J. D. Kalbfleisch and R. L. Prentice, The
    /// Statistical Analysis of Failure Time Data (1980), ch. 1. Where nobody or everybody has come back it says nothing.
    #[must_use]
    pub fn interval(&self) -> Option<Interval> {
        if self.survival <= 0.0 || self.survival >= 1.0 || !self.sum.is_finite() {
            return None;
        }
        let log = self.survival.ln();
        let spread = Z95 * self.sum.sqrt() / log.abs();
        let end = |by: f64| (log * by.exp()).exp();
        Some(Interval {
            low: end(spread),
            high: end(-spread),
        })
    }
}

/// N. Mantel, Cancer Chemother. Rep. 50 (1966) 163-170; R. Peto and J. Peto, J. R. Stat. Soc. A 135 (1972) 185-207; for
/// several groups with their covariances as in D. Collett, Modelling Survival Data in Medical Research, ch. 2.
///
/// Groups that could not have shown a difference take no part, and are not among the degrees of freedom. Nothing where
/// no two groups can be compared.
#[must_use]
pub fn log_rank(groups: &[&Watched]) -> Option<LogRank> {
    let k = groups.len();
    let mut days: BTreeMap<i64, Vec<(usize, Left)>> = BTreeMap::new();
    for (at, group) in groups.iter().enumerate() {
        for (&day, &left) in &group.0 {
            days.entry(day).or_default().push((at, left));
        }
    }
    let mut at_risk: Vec<u64> = groups.iter().map(|group| group.all()).collect();
    let (mut expected, mut covariance) = (vec![0.0; k], vec![vec![0.0; k]; k]);
    for left in days.into_values() {
        let d = of(left.iter().map(|group| group.1.back).sum());
        let n = of(at_risk.iter().sum());
        if d > 0.0 {
            // Where only one is left it is that one: there is no chance in it.
            let factor = if n > 1.0 {
                d * (n - d) / (n * n * (n - 1.0))
            } else {
                0.0
            };
            let here: Vec<(usize, f64)> = (0..k)
                .filter(|at| at_risk[*at] > 0)
                .map(|at| (at, of(at_risk[at])))
                .collect();
            for &(at, own) in &here {
                expected[at] += d * own / n;
                for &(other, theirs) in &here {
                    covariance[at][other] += factor
                        * if at == other {
                            own * (n - own)
                        } else {
                            -own * theirs
                        };
                }
            }
        }
        for (at, group) in left {
            at_risk[at] -= group.back + group.lost;
        }
    }
    let observed: Vec<u64> = groups.iter().map(|group| group.back()).collect();
    let apart = observed.iter().zip(&expected).map(|(o, e)| of(*o) - e).collect();
    let (chi_square, df) = squared(covariance, apart);
    let p_value = ChiSquared::new(of(df)).ok()?.sf(chi_square);
    Some(LogRank {
        chi_square,
        df,
        p_value: p_value.clamp(0.0, 1.0),
        observed,
        expected,
    })
}

/// z' V^- z and the rank of V, for a covariance matrix whose rows sum to nothing: by elimination, the largest first.
fn squared(mut v: Vec<Vec<f64>>, mut z: Vec<f64>) -> (f64, u64) {
    let k = z.len();
    let largest = (0..k).map(|at| v[at][at]).fold(0.0, f64::max);
    let mut left: Vec<usize> = (0..k).collect();
    let (mut sum, mut rank) = (0.0, 0);
    while let Some(next) =
        (0..left.len()).max_by(|a, b| v[left[*a]][left[*a]].total_cmp(&v[left[*b]][left[*b]]))
    {
        let at = left.swap_remove(next);
        let pivot = v[at][at];
        if pivot <= largest * 1e-9 || pivot <= 0.0 {
            break;
        }
        sum += z[at] * z[at] / pivot;
        rank += 1;
        let (row, own) = (v[at].clone(), z[at]);
        for &other in &left {
            let by = v[other][at] / pivot;
            z[other] -= by * own;
            for &column in &left {
                v[other][column] -= by * row[column];
            }
        }
    }
    (sum, rank)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn watched(left: &[(i64, u64, u64)]) -> Watched {
        left.iter().copied().collect()
    }

    #[test]
    fn nobody_watched_says_nothing() {
        let curve = Curve::of(&Watched::default());
        assert_eq!((curve.at(0), curve.points.len()), (None, 0));
        assert_eq!(log_rank(&[]), None);
        assert_eq!(log_rank(&[&Watched::default(), &Watched::default()]), None);
    }

    #[test]
    fn nobody_back_is_all_of_them_without_a_range_as_far_as_they_were_seen() {
        let curve = Curve::of(&watched(&[(10, 0, 3), (40, 0, 2)]));
        assert_eq!(curve.at(40), Some((1.0, None)));
        assert_eq!(curve.at(41), None);
        let other = watched(&[(50, 0, 9)]);
        assert_eq!(log_rank(&[&watched(&[(10, 0, 3)]), &other]), None);
    }

    #[test]
    fn one_that_came_back_is_none_left_for_ever() {
        let curve = Curve::of(&watched(&[(0, 1, 0)]));
        assert_eq!(curve.at(0), Some((0.0, None)));
        assert_eq!(curve.at(365), Some((0.0, None)));
        assert_eq!(curve.points[0].standard_error(), None);
    }

    #[test]
    fn who_is_lost_on_a_day_was_watched_on_it() {
        let curve = Curve::of(&watched(&[(5, 1, 3)]));
        assert_eq!(curve.points[0].at_risk, 4);
        let (survival, interval) = curve.at(5).unwrap();
        assert!((survival - 0.75).abs() < 1e-12 && interval.is_some());
        assert_eq!(curve.at(6), None, "nobody was seen on");
    }

    #[test]
    fn a_day_before_the_first_is_the_first() {
        assert_eq!(watched(&[(-3, 1, 1)]), watched(&[(0, 1, 1)]));
    }

    #[test]
    fn groups_that_are_alike_are_told_alike() {
        let one = watched(&[(3, 2, 1), (9, 1, 4)]);
        let test = log_rank(&[&one, &one, &one]).unwrap();
        assert!(test.chi_square.abs() < 1e-9 && test.df == 2 && test.p_value > 0.999_999);
    }

    #[test]
    fn a_group_that_was_never_there_with_another_takes_no_part() {
        let (one, other) = (watched(&[(3, 2, 1), (9, 1, 4)]), watched(&[(4, 1, 5), (9, 2, 2)]));
        let two = log_rank(&[&one, &other]).unwrap();
        let three = log_rank(&[&one, &Watched::default(), &other]).unwrap();
        assert_eq!((two.df, three.df), (1, 1));
        assert!((two.chi_square - three.chi_square).abs() < 1e-12);
    }

    #[test]
    fn no_figure_is_ever_nan_or_out_of_bounds() {
        for back in 0..4 {
            for lost in 0..4 {
                let group = watched(&[(0, back, lost), (7, lost, back), (30, back, back)]);
                let curve = Curve::of(&group);
                for day in [0, 1, 7, 29, 30, 31, 999] {
                    let Some((survival, interval)) = curve.at(day) else {
                        continue;
                    };
                    let ends = interval.map_or((0.0, 1.0), |interval| (interval.low, interval.high));
                    assert!(0.0 <= ends.0 && ends.0 <= survival && survival <= ends.1 && ends.1 <= 1.0);
                }
                if let Some(test) = log_rank(&[&group, &watched(&[(7, 1, 2)])]) {
                    assert!(
                        test.chi_square >= 0.0 && (0.0..=1.0).contains(&test.p_value),
                        "{test:?}"
                    );
                }
            }
        }
    }
}
