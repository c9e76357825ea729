//! A block is a year or a decade that counts are kept of, so that a span of any length is a few of them.

use crate::clock::YearMonth;

use super::span::Span;

/// The months of a year and of a decade: the sizes in which everything is counted.
pub const SIZES: [i64; 2] = [12, 120];

/// Blocks of one size that follow each other, and which months of their years are meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    /// Of each block.
    pub months: i64,
    /// The first month of the first block, and of the last.
    pub from: YearMonth,
    pub to: YearMonth,
    /// Of each year, 0 for January; all twelve in a decade.
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

    /// Whether a month of each year is meant, 0 for January.
    #[must_use]
    pub fn means(&self, month: i64) -> bool {
        (self.of_year.0..=self.of_year.1).contains(&month)
    }

    /// The one month that is meant, if it is one: 0 for January.
    #[must_use]
    pub fn month(&self) -> Option<usize> {
        let (first, last) = self.of_year;
        usize::try_from(first).ok().filter(|_| first == last)
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

/// The blocks of these sizes that make up a span, when all that was ever counted lies within `counted`: every month of
/// the span that anything was counted in is met once, and no other.
#[must_use]
pub fn cover(span: Span, counted: Span, sizes: &[i64]) -> Vec<Run> {
    let (from, to) = (span.from.0.max(counted.from.0), span.to.0.min(counted.to.0));
    if from > to {
        return Vec::new();
    }
    // Beyond what was counted there is nothing, so the whole of the largest does.
    let largest = sizes.last().copied().unwrap_or(SIZES[0]);
    let from = if from == counted.from.0 {
        from.div_euclid(largest) * largest
    } else {
        from
    };
    let to = if to == counted.to.0 {
        (to.div_euclid(largest) + 1) * largest - 1
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
        sizes,
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
            for sizes in [&SIZES[..1], &SIZES] {
                let met = met(&cover(span, counted, sizes));
                for month in counted.from.0..=counted.to.0 {
                    let asked = month >= span.from.0 && month <= span.to.0;
                    prop_assert_eq!(met.get(&month).copied().unwrap_or_default(), i64::from(asked), "{}", month);
                }
            }
            let runs = cover(span, counted, &SIZES);
            // Never many, however long the span: at most nine loose years and one in part at either end, the rest in decades.
            let blocks: i64 = runs.iter().map(|run| (run.to.0 - run.from.0) / run.months + 1).sum();
            prop_assert!(blocks <= 20 + months / 120, "{} blocks", blocks);
        }
    }

    #[test]
    fn all_that_was_counted_is_whole_decades() {
        let counted = Span::parse("2020-02", "2026-02").unwrap();
        assert_eq!(cover(counted, counted, &SIZES), [Run::whole(120, 202, 202)]);
        assert_eq!(
            cover(Span::parse("1930-01", "2029-12").unwrap(), counted, &SIZES),
            [Run::whole(120, 202, 202)]
        );
        assert_eq!(cover(Span::year(2019), counted, &SIZES), []);
        assert_eq!(
            cover(Span::year(2025), counted, &SIZES),
            [Run::whole(12, 2025, 2025)]
        );
        let years = &SIZES[..1];
        assert_eq!(cover(counted, counted, years), [Run::whole(12, 2020, 2026)]);
    }
}
