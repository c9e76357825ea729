//! A block is a year, a decade or a century that counts are kept of, so that a span of any length is a few of them.

use crate::clock::YearMonth;

use super::span::Span;

/// The months of a year, a decade and a century: the sizes in which everything is counted.
pub const SIZES: [i64; 3] = [12, 120, 1200];

/// Blocks of one size that follow each other, and which months of their years are meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    /// Of each block.
    pub months: i64,
    /// The first month of the first block, and of the last.
    pub from: YearMonth,
    pub to: YearMonth,
    /// Of each year, 0 for January; all twelve in any block that is longer than a year.
    of_year: (i64, i64),
}

impl Run {
    fn whole(months: i64, first: i64, last: i64) -> Run {
        Run {
            months,
            from: YearMonth(first * months),
            to: YearMonth(last * months),
            of_year: (0, 11),
        }
    }

    /// Part of one year.
    fn part(year: i64, of_year: (i64, i64)) -> Run {
        Run {
            of_year,
            ..Run::whole(12, year, year)
        }
    }

    #[must_use]
    pub fn is_one(&self) -> bool {
        self.from == self.to
    }

    /// Of the twelve months of a row, those that are meant, with their number from 0.
    pub fn meant(self, months: [i64; 12]) -> impl Iterator<Item = (i64, i64)> {
        let (first, last) = self.of_year;
        (0..)
            .zip(months)
            .filter(move |month| month.0 >= first && month.0 <= last)
    }
}

/// The first month of the block of a size that a month lies in.
#[must_use]
pub fn first_of(month: YearMonth, months: i64) -> YearMonth {
    YearMonth(month.0.div_euclid(months) * months)
}

/// The blocks that make up a span, when all that was ever counted lies within `counted`: every month of the span that
/// anything was counted in is met once, and no other.
#[must_use]
pub fn cover(span: Span, counted: Span) -> Vec<Run> {
    let (from, to) = (span.from.0.max(counted.from.0), span.to.0.min(counted.to.0));
    if from > to {
        return Vec::new();
    }
    // Beyond what was counted there is nothing, so whole blocks do: centuries when it is all asked for.
    let (begins, ends) = (from == counted.from.0, to == counted.to.0);
    let size = if begins && ends { SIZES[2] } else { SIZES[1] };
    let from = if begins {
        from.div_euclid(size) * size
    } else {
        from
    };
    let to = if ends {
        (to.div_euclid(size) + 1) * size - 1
    } else {
        to
    };
    let (first, last) = (from.div_euclid(12), to.div_euclid(12));
    let (head, tail) = (from.rem_euclid(12), to.rem_euclid(12));
    if first == last {
        return vec![Run::part(first, (head, tail))];
    }
    let mut runs = Vec::new();
    if head > 0 {
        runs.push(Run::part(first, (head, 11)));
    }
    if tail < 11 {
        runs.push(Run::part(last, (0, tail)));
    }
    climb(
        &SIZES,
        first + i64::from(head > 0),
        last - i64::from(tail < 11),
        &mut runs,
    );
    runs
}

/// Whole blocks of the first size, by ten at a time where they fill one of the next.
fn climb(sizes: &[i64], first: i64, last: i64, runs: &mut Vec<Run>) {
    let [size, larger @ ..] = sizes else { return };
    let (inner, end) = ((first + 9).div_euclid(10), (last + 1).div_euclid(10));
    if larger.is_empty() || inner >= end {
        runs.extend((first <= last).then(|| Run::whole(*size, first, last)));
        return;
    }
    runs.extend((first < inner * 10).then(|| Run::whole(*size, first, inner * 10 - 1)));
    climb(larger, inner, end - 1, runs);
    runs.extend((end * 10 <= last).then(|| Run::whole(*size, end * 10, last)));
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use proptest::prelude::*;

    use super::*;

    /// Each month that is met, and how often.
    fn met(runs: &[Run]) -> BTreeMap<i64, i64> {
        let mut met = BTreeMap::new();
        for run in runs {
            let years = run.from.0 / 12..(run.to.0 + run.months) / 12;
            for (year, month) in years.flat_map(|year| run.meant([0; 12]).map(move |month| (year, month.0))) {
                *met.entry(year * 12 + month).or_default() += 1;
            }
        }
        met
    }

    proptest! {
        #[test]
        fn every_month_that_counts_is_met_once_and_no_other(
            from in 1900_i64 * 12..2199 * 12, months in 1_i64..1300, begin in 1900_i64 * 12..2199 * 12, long in 0_i64..1500,
        ) {
            let span = Span { from: YearMonth(from), to: YearMonth(from + months - 1) };
            let counted = Span { from: YearMonth(begin), to: YearMonth(begin + long) };
            let runs = cover(span, counted);
            let met = met(&runs);
            for month in counted.from.0..=counted.to.0 {
                let asked = month >= span.from.0 && month <= span.to.0;
                prop_assert_eq!(met.get(&month).copied().unwrap_or_default(), i64::from(asked), "{}", month);
            }
            // Never many, however long the span: at most nine loose blocks of a size at either end.
            let blocks: i64 = runs.iter().map(|run| (run.to.0 - run.from.0) / run.months + 1).sum();
            prop_assert!(blocks <= 2 + 18 + 18 + 2, "{} blocks", blocks);
        }
    }

    #[test]
    fn all_that_was_counted_is_one_century() {
        let counted = Span::parse("2020-02", "2026-02").unwrap();
        assert_eq!(cover(counted, counted), [Run::whole(1200, 20, 20)]);
        assert_eq!(
            cover(Span::parse("1930-01", "2029-12").unwrap(), counted),
            [Run::whole(1200, 20, 20)]
        );
        assert_eq!(cover(Span::year(2019), counted), []);
        assert_eq!(cover(Span::year(2025), counted), [Run::whole(12, 2025, 2025)]);
    }
}
