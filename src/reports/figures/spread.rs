//! A spread is how often each value was counted, and so where its middle and its quarters lie.

use std::collections::BTreeMap;

use super::of;

/// Exact counts by value.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Spread(BTreeMap<i64, u64>);

/// A quarter lies below the first, half below the second, three quarters below the third.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quartiles {
    pub low: f64,
    pub middle: f64,
    pub high: f64,
}

impl Spread {
    /// Adds values; what was counted out again does not count.
    pub fn add(&mut self, value: i64, times: i64) {
        if let Ok(times @ 1..) = u64::try_from(times) {
            *self.0.entry(value).or_default() += times;
        }
    }

    /// Each value and how often it was counted.
    pub fn values(&self) -> impl Iterator<Item = (i64, u64)> {
        self.0.iter().map(|(value, times)| (*value, *times))
    }

    #[must_use]
    pub fn count(&self) -> u64 {
        self.0.values().sum()
    }

    /// The value below which this share lies, by the seventh definition of R. J. Hyndman & Y. Fan, The American Statistician
    /// 50 (1996) 361-365: the values stand at 0, 1/(n-1), .. 1 and between two of them it goes straight, as numpy does
    /// unless told otherwise. Nothing without values.
    #[must_use]
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "a place among counts of orders, minutes and days far below 2^53"
    )]
    pub fn quantile(&self, share: f64) -> Option<f64> {
        let last = self.count().checked_sub(1)?;
        let at = share.clamp(0.0, 1.0) * of(last);
        let below = self.nth(at.floor() as u64)? as f64;
        let above = self.nth(at.ceil() as u64)? as f64;
        Some(below + (above - below) * at.fract())
    }

    #[must_use]
    pub fn quartiles(&self) -> Option<Quartiles> {
        Some(Quartiles {
            low: self.quantile(0.25)?,
            middle: self.quantile(0.5)?,
            high: self.quantile(0.75)?,
        })
    }

    /// The value at a place in order, from 0.
    fn nth(&self, place: u64) -> Option<i64> {
        let mut passed = 0;
        self.0.iter().find_map(|(value, times)| {
            passed += times;
            (place < passed).then_some(*value)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn quartiles(values: &[i64]) -> Option<[f64; 3]> {
        let mut spread = Spread::default();
        for value in values {
            spread.add(*value, 1);
        }
        spread.quartiles().map(|of| [of.low, of.middle, of.high])
    }

    #[test]
    fn quartiles_are_those_of_numpy() {
        // numpy 2: np.percentile(values, [25, 50, 75]), method "linear".
        assert_eq!(quartiles(&[35, 40, 48, 52, 61, 90]), Some([42.0, 50.0, 58.75]));
        assert_eq!(
            quartiles(&[1, 2, 3, 4, 5, 6, 7, 8, 9, 10]),
            Some([3.25, 5.5, 7.75])
        );
        assert_eq!(quartiles(&[0, 0, 0, 7]), Some([0.0, 0.0, 1.75]));
    }

    #[test]
    fn none_has_no_middle_and_one_is_its_own() {
        assert_eq!(quartiles(&[]), None);
        assert_eq!(quartiles(&[12]), Some([12.0, 12.0, 12.0]));
        assert_eq!(quartiles(&[5, 5, 5]), Some([5.0, 5.0, 5.0]));
        let mut spread = Spread::default();
        spread.add(4, 0);
        spread.add(4, -1);
        assert_eq!((spread.count(), spread.quartiles()), (0, None));
    }
}
