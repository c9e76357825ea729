//! A share is so many of the orders that were inspected, with the range it may lie in, or not said at all when they are few.

use serde::{Deserialize, Serialize};

use super::figures::interval::{Interval, wilson};
use crate::words::grouped;

/// Fewer inspected orders than this are shown as counts, not as shares (practice of the trade, no source).
pub const TOO_FEW: i64 = 5;
pub const TOO_FEW_WORDS: &str = "too few to say";

/// How shares are to be read, beside the definitions of what is counted.
pub const READING: [(&str, &str); 2] = [
    (
        "Too few to say",
        "Where fewer than five orders were inspected, the counts stand without a share.",
    ),
    (
        "From .. to",
        "The range in which the share may truly lie, 95 %, by Wilson's score interval (1927).",
    ),
];

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Share {
    pub confirmed: i64,
    pub inspected: i64,
}

impl Share {
    #[must_use]
    pub fn new(confirmed: i64, inspected: i64) -> Share {
        Share { confirmed, inspected }
    }

    /// Nobody was inspected here.
    #[must_use]
    pub fn none(&self) -> bool {
        self.inspected <= 0
    }

    #[must_use]
    pub fn few(&self) -> bool {
        self.inspected < TOO_FEW
    }

    /// From 0 to 1, however few; nothing where nobody was inspected.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "counts of orders lie far below 2^53")]
    pub fn rate(&self) -> Option<f64> {
        (!self.none()).then(|| self.confirmed as f64 / self.inspected as f64)
    }

    /// Where the rate may truly lie, 95 %.
    #[must_use]
    pub fn interval(&self) -> Option<Interval> {
        let successes = u64::try_from(self.confirmed).ok()?;
        wilson(successes, u64::try_from(self.inspected).ok()?)
    }

    /// "18 of 74"
    #[must_use]
    pub fn counts(&self) -> String {
        let digits = |n: i64| grouped(n.max(0).unsigned_abs());
        format!("{} of {}", digits(self.confirmed), digits(self.inspected))
    }

    /// "24 %", or that they are too few.
    #[must_use]
    pub fn percent(&self) -> String {
        self.rate()
            .filter(|_| !self.few())
            .map_or(TOO_FEW_WORDS.to_owned(), percent)
    }

    /// "24" of a hundred; "<1" for what is seldom. Empty where nobody was inspected.
    #[must_use]
    pub fn in_100(&self) -> String {
        self.rate().map_or(String::new(), |rate| {
            let whole = (rate * 100.0).round();
            if rate > 0.0 && whole < 1.0 {
                "<1".to_owned()
            } else {
                format!("{whole}")
            }
        })
    }

    /// "16 to 35", in percent; empty where the share is not said either.
    #[must_use]
    pub fn range(&self) -> String {
        let round = |end: f64| (end * 100.0).round();
        self.interval()
            .filter(|_| !self.few())
            .map_or(String::new(), |interval| {
                format!("{} to {}", round(interval.low), round(interval.high))
            })
    }

    /// "24 %, 16 to 35", or that they are too few.
    #[must_use]
    pub fn said(&self) -> String {
        if self.few() {
            TOO_FEW_WORDS.to_owned()
        } else {
            format!("{}, {}", self.percent(), self.range())
                .replace(' ', "\u{a0}")
                .replacen(",\u{a0}", ", ", 1)
        }
    }
}

/// A rate in whole percent; what is seldom is not called never, nor what is mostly always.
#[must_use]
pub fn percent(rate: f64) -> String {
    let whole = (rate * 100.0).round();
    if rate > 0.0 && whole < 1.0 {
        "under\u{a0}1\u{a0}%".to_owned()
    } else if rate < 1.0 && whole > 99.0 {
        "over\u{a0}99\u{a0}%".to_owned()
    } else {
        format!("{whole}\u{a0}%")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_is_said_with_its_range() {
        let seams = Share::new(18, 74);
        assert_eq!(seams.counts(), "18 of 74");
        assert_eq!(seams.said(), "24\u{a0}%, 16\u{a0}to\u{a0}35");
        assert_eq!(Share::new(1_204, 12_040).counts(), "1,204 of 12,040");
    }

    #[test]
    fn few_are_counted_and_not_rated() {
        assert_eq!(Share::new(3, 4).said(), TOO_FEW_WORDS);
        assert_eq!(Share::new(3, 4).counts(), "3 of 4");
        assert_eq!(Share::new(3, 5).percent(), "60\u{a0}%");
        assert_eq!(
            (Share::new(0, 0).rate(), Share::new(0, 0).said().as_str()),
            (None, TOO_FEW_WORDS)
        );
        assert!(READING[0].1.contains("fewer than five") && TOO_FEW == 5);
    }

    #[test]
    fn seldom_is_not_never_and_mostly_is_not_always() {
        let said = [
            (0, 300, "0\u{a0}%"),
            (1, 300, "under\u{a0}1\u{a0}%"),
            (299, 300, "over\u{a0}99\u{a0}%"),
            (300, 300, "100\u{a0}%"),
            (1, 200, "1\u{a0}%"),
        ];
        for (confirmed, inspected, words) in said {
            assert_eq!(Share::new(confirmed, inspected).percent(), words);
        }
    }
}
