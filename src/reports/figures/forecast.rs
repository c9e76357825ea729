//! A forecast is how many are to be expected when the same months come again, and the range to be ready for.

use super::of;

/// How many are to be expected, and between what numbers it will be 95 times in 100.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Forecast {
    pub expected: f64,
    /// Nothing when there is but one year: what one year says of the next is not known.
    pub range: Option<(u64, u64)>,
}

/// How much years differ beyond chance: the variance of a count of mean m is m + this * m * m. By moments, over all rows
/// together, each the counts of one thing in some years: Σ (s² - mean) / Σ mean², not below nought; C. I. Bliss & R. A.
/// Fisher, Biometrics 9 (1953) 176-200, has it for one row.
#[must_use]
pub fn dispersion(rows: &[Vec<u64>]) -> f64 {
    let (mut beyond, mut squares) = (0.0, 0.0);
    for row in rows.iter().filter(|row| row.len() > 1) {
        let mean = mean(row);
        let variance =
            row.iter().map(|n| (of(*n) - mean).powi(2)).sum::<f64>() / (of(row.len() as u64) - 1.0);
        beyond += variance - mean;
        squares += mean * mean;
    }
    if squares > 0.0 {
        (beyond / squares).max(0.0)
    } else {
        0.0
    }
}

fn mean(row: &[u64]) -> f64 {
    row.iter().map(|n| of(*n)).sum::<f64>() / of(row.len() as u64)
}

/// What the next year brings, from the counts of the same months in the years before. A rate of a Poisson process under
/// Jeffreys' prior, Gamma(½, 0), has after the sum y of k years the distribution Gamma(y + ½, k), and the next count the
/// negative binomial of it, with mean m = (y + ½) / k and variance m (1 + 1/k): A. Gelman & others, Bayesian Data Analysis, 3rd
/// edition (2013), sections 2.6 and 2.8. Years that differ beyond chance add `dispersion` · m² (1 + 1/k) to the variance; the
/// range is that of the negative binomial with this mean and this variance.
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
    let expected = mean(years) + 0.5 / k;
    let beyond = (expected + dispersion * expected * expected) * (1.0 + 1.0 / k) - expected;
    let size = expected * expected / beyond;
    Some(Forecast {
        expected,
        range: Some((quantile(size, expected, 0.025), quantile(size, expected, 0.975))),
    })
}

/// The smallest number that the negative binomial of this size and mean does not go beyond with this chance.
fn quantile(size: f64, mean: f64, chance: f64) -> u64 {
    let share = mean / (size + mean);
    // From nought up: each is the one before times (size + n) / (n + 1) of the share. Far from nought the first is too small to
    // be a number, so it goes by logarithms.
    let mut log = size * (1.0 - share).ln();
    let (mut sum, mut n) = (log.exp(), 0);
    // Six tens of standard deviations and more: never reached, but for the rounding of the last digits.
    let last = mean + 60.0 * (mean + mean * mean / size).sqrt() + 60.0;
    while sum < chance && of(n) < last {
        log += ((size + of(n)) / (of(n) + 1.0) * share).ln();
        n += 1;
        sum += log.exp();
    }
    n
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_range_is_that_of_scipy() {
        // scipy 1: stats.nbinom.ppf([0.025, 0.975], r, r / (r + m)), r = m^2 / (variance - m).
        for (years, dispersion, expected, range) in [
            (vec![4, 6, 5], 0.0, 5.166_666_666_666_667, (1, 11)),
            (vec![0, 0, 0], 0.0, 0.166_666_666_666_666_66, (0, 2)),
            (vec![12, 18, 9], 0.05, 13.166_666_666_666_666, (4, 25)),
            (vec![400, 551, 312, 420], 0.043, 420.875, (247, 638)),
            (vec![0, 1], 0.3, 0.75, (0, 4)),
            (vec![90_000, 91_000], 0.0, 90_500.25, (89_779, 91_223)),
        ] {
            let ours = forecast(&years, dispersion).unwrap();
            assert!((ours.expected - expected).abs() < 1e-9, "{years:?}");
            assert_eq!(ours.range, Some(range), "{years:?}");
        }
    }

    #[test]
    fn years_that_differ_beyond_chance_are_told_by_all_rows_together() {
        // numpy: sum of (np.var(row, ddof=1) - mean) over the sum of mean^2.
        let rows = [vec![12, 18, 9], vec![40, 55, 31], vec![7]];
        assert!((dispersion(&rows) - 0.058_458_354_888_773_93).abs() < 1e-12);
        assert!(
            dispersion(&[vec![5, 5, 5], vec![3, 3]]).abs() < 1e-12,
            "never below nought"
        );
        assert!(dispersion(&[]).abs() < 1e-12 && dispersion(&[vec![0, 0]]).abs() < 1e-12);
    }

    #[test]
    fn one_year_has_no_range_and_none_nothing() {
        assert_eq!(forecast(&[], 0.0), None);
        let one = forecast(&[7], 0.1).unwrap();
        assert_eq!((one.expected, one.range), (7.0, None));
    }
}
