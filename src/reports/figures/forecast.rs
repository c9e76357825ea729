//! A forecast is how many are to be expected when the same months come again, and the range to be ready for.

use statrs::function::gamma::ln_gamma;

use super::of;

/// How many are to be expected, and between what numbers it will be 95 times in 100.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Forecast {
    pub expected: f64,
    /// Nothing when there is but one year: what one year says of the next is not known.
    pub range: Option<(u64, u64)>,
}

/// How much years differ beyond chance: the variance of a count of mean m is m + this * m * m. Over all rows together, each the
/// counts of one thing in some years: as large as makes Pearson's chi-square what it is expected to be, not below nought (N. E.
/// Breslow, Applied Statistics 33 (1984) 38-44), so that each row counts by what it says, and no large one for all.
#[must_use]
pub fn dispersion(rows: &[Vec<u64>]) -> f64 {
    let rows: Vec<(f64, f64, f64)> = rows
        .iter()
        .filter(|row| row.len() > 1 && row.iter().any(|n| *n > 0))
        .map(|row| {
            let mean = mean(row);
            let squares: f64 = row.iter().map(|n| (of(*n) - mean).powi(2)).sum();
            (mean, squares, of(row.len() as u64 - 1))
        })
        .collect();
    // Falls as the dispersion rises.
    let too_far = |dispersion: f64| {
        let of_row =
            |&(mean, squares, free): &(f64, f64, f64)| squares / (mean + dispersion * mean * mean) - free;
        rows.iter().map(of_row).sum::<f64>() > 0.0
    };
    if !too_far(0.0) {
        return 0.0;
    }
    let (mut low, mut high) = (0.0, 1.0);
    // A row of k years says k at most: one of them has all.
    while too_far(high) && high < MOST_UNLIKE {
        high *= 2.0;
    }
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if too_far(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// More unlike each other no years are.
const MOST_UNLIKE: f64 = 1024.0;
/// Until no digit changes.
const HALVINGS: u32 = 64;
/// Less than this changes no range.
const NONE: f64 = 1e-6;

fn mean(row: &[u64]) -> f64 {
    row.iter().map(|n| of(*n)).sum::<f64>() / of(row.len() as u64)
}

/// What the next year brings, from the counts of the same months in the years before. A rate of a Poisson process under
/// Jeffreys' prior, Gamma(½, 0), has after the sum y of k years the distribution Gamma(y + ½, k), and the next count the
/// negative binomial of it, with mean (y + ½) / k: A. Gelman & others, Bayesian Data Analysis, 3rd edition (2013), sections
/// 2.6 and 2.8. Years that differ beyond chance are negative binomial themselves, of size r = 1 / `dispersion`; under
/// Jeffreys' prior for its chance, Beta(0, ½), the next count is beta negative binomial, (r, kr, y + ½): N. L. Johnson, A. W.
/// Kemp & S. Kotz, Univariate Discrete Distributions, 3rd edition (2005), section 6.2.3 (from memory), which without
/// dispersion comes to the former.
#[must_use]
pub fn forecast(years: &[u64], dispersion: f64) -> Option<Forecast> {
    let k = of(years.len() as u64);
    if years.is_empty() {
        return None;
    }
    if years.len() == 1 {
        return Some(Forecast {
            expected: of(years[0]),
            range: None,
        });
    }
    let next = Next {
        years: k,
        counted: mean(years) * k + 0.5,
        size: (dispersion > NONE).then(|| 1.0 / dispersion),
    };
    Some(Forecast {
        expected: next.counted / k,
        range: Some((next.quantile(0.025), next.quantile(0.975))),
    })
}

/// The distribution of the next count.
struct Next {
    years: f64,
    /// And a half.
    counted: f64,
    /// Of each year's negative binomial; nothing where years differ by chance alone.
    size: Option<f64>,
}

impl Next {
    /// The logarithm of the chance of none.
    fn none(&self) -> f64 {
        let Some(size) = self.size else {
            return self.counted * (self.years / (self.years + 1.0)).ln();
        };
        let before = self.years * size;
        ln_gamma(before + size) - ln_gamma(before) + ln_gamma(before + self.counted)
            - ln_gamma(before + size + self.counted)
    }

    /// How many times as likely as n the next above it is.
    fn one_more(&self, n: f64) -> f64 {
        let Some(size) = self.size else {
            return (self.counted + n) / ((n + 1.0) * (self.years + 1.0));
        };
        let all = (self.years + 1.0) * size + self.counted + n;
        (size + n) * (self.counted + n) / ((n + 1.0) * all)
    }

    /// The smallest number that it does not go beyond with this chance: from nought up, by logarithms, as far from nought the
    /// first is too small to be a number.
    fn quantile(&self, chance: f64) -> u64 {
        let mut log = self.none();
        let (mut sum, mut n) = (log.exp(), 0);
        // Never reached, but for the rounding of the last digits: a hundred times what is expected.
        let last = 100.0 * self.counted / self.years + 1000.0;
        while sum < chance && of(n) < last {
            log += self.one_more(of(n)).ln();
            n += 1;
            sum += log.exp();
        }
        n
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_range_is_that_of_scipy() {
        // scipy 1.17: without dispersion stats.nbinom.ppf([0.025, 0.975], y + 1/2, k / (k + 1)); with it the sums of special.gammaln
        // and special.betaln for the beta negative binomial, one of which integrate.quad gives as the mixture it is.
        for (years, dispersion, expected, range) in [
            (vec![4, 6, 5], 0.0, 5.166_666_666_666_667, (1, 11)),
            (vec![0, 0, 0], 0.0, 0.166_666_666_666_666_66, (0, 2)),
            (vec![12, 18, 9], 0.05, 13.166_666_666_666_666, (5, 26)),
            (vec![400, 551, 312, 420], 0.043, 420.875, (253, 651)),
            (vec![0, 1], 0.3, 0.75, (0, 5)),
            (vec![2, 9], 1.5, 5.75, (0, 119)),
            (vec![90_000, 91_000], 0.0, 90_500.25, (89_779, 91_223)),
        ] {
            let ours = forecast(&years, dispersion).unwrap();
            assert!((ours.expected - expected).abs() < 1e-9, "{years:?}");
            assert_eq!(ours.range, Some(range), "{years:?}");
        }
    }

    #[test]
    fn hardly_any_dispersion_is_none() {
        for years in [vec![4, 6, 5], vec![40, 60, 51, 42]] {
            assert_eq!(
                forecast(&years, 2e-6).unwrap().range,
                forecast(&years, 0.0).unwrap().range
            );
        }
    }

    #[test]
    fn years_that_differ_beyond_chance_are_told_by_all_rows_together() {
        // scipy 1.17: optimize.brentq on the sum of squares / (mean + d mean^2) - (k - 1).
        let near = |rows: &[Vec<u64>], theirs: f64| assert!((dispersion(rows) - theirs).abs() < 1e-12);
        near(
            &[vec![12, 18, 9], vec![40, 55, 31], vec![7]],
            0.054_966_789_417_166_54,
        );
        near(&[vec![3, 0, 0], vec![0, 0, 9]], 2.369_924_076_215_481);
        near(&[vec![5, 5, 5], vec![3, 3]], 0.0); // never below nought
        near(&[], 0.0);
        near(&[vec![0, 0]], 0.0);
    }

    #[test]
    fn one_year_has_no_range_and_none_nothing() {
        assert_eq!(forecast(&[], 0.0), None);
        let one = forecast(&[7], 0.1).unwrap();
        assert_eq!((one.expected, one.range), (7.0, None));
    }
}
