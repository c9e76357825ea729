//! A span is the months that a report is about, both ends included.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::clock::{Day, YearMonth};

/// The longest span that makes sense to a shop.
const LONGEST: i64 = 100 * 12;
/// A span is put beside so many of earlier years.
pub const EARLIER: i64 = 5;

#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Span {
    pub from: YearMonth,
    pub to: YearMonth,
}

/// Why two months are no span. The text is the hint for the screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotSpan {
    #[error("Write a month from 1900-01 to 2199-12, such as 2025-12.")]
    Month,
    #[error("The first month comes after the last. Turn them round.")]
    Backwards,
    #[error("That is more than a hundred years. Choose a shorter span.")]
    TooLong,
}

impl Span {
    /// Reads two months as `2025-12`.
    ///
    /// # Errors
    /// The field, `from` or `to`, and what is amiss with it.
    pub fn parse(from: &str, to: &str) -> Result<Span, (&'static str, NotSpan)> {
        let from = YearMonth::parse(from.trim()).ok_or(("from", NotSpan::Month))?;
        let to = YearMonth::parse(to.trim()).ok_or(("to", NotSpan::Month))?;
        let span = Span { from, to };
        match span.months() {
            ..1 => Err(("from", NotSpan::Backwards)),
            1..=LONGEST => Ok(span),
            _ => Err(("from", NotSpan::TooLong)),
        }
    }

    #[must_use]
    pub fn month(month: YearMonth) -> Span {
        Span {
            from: month,
            to: month,
        }
    }

    /// The last month that is over, which is what the owner reads at the start of the next.
    #[must_use]
    pub fn last_full(today: Day) -> Span {
        Span::month(today.month().plus(-1))
    }

    /// So many months, the last of which is `to`.
    #[must_use]
    pub fn up_to(to: YearMonth, months: i64) -> Span {
        Span {
            from: to.plus(1 - months),
            to,
        }
    }

    #[must_use]
    pub fn year(year: i64) -> Span {
        Span::up_to(YearMonth(year * 12 + 11), 12)
    }

    #[must_use]
    pub fn months(self) -> i64 {
        self.to.0 - self.from.0 + 1
    }

    #[must_use]
    pub fn is_month(self) -> bool {
        self.from == self.to
    }

    #[must_use]
    pub fn is_year(self) -> bool {
        self == Span::year(self.from.year())
    }

    /// This many months later, or earlier.
    #[must_use]
    pub fn moved(self, months: i64) -> Span {
        Span {
            from: self.from.plus(months),
            to: self.to.plus(months),
        }
    }

    /// By how many years earlier spans are apart: whole years, so that the months are the same, and none counted twice.
    #[must_use]
    pub fn years_apart(self) -> i64 {
        (self.months() - 1) / 12 + 1
    }

    /// The same months of earlier years, latest first.
    pub fn earlier(self) -> impl Iterator<Item = Span> {
        (1..=EARLIER).map(move |back| self.moved(-12 * self.years_apart() * back))
    }

    /// "The month of January 2026", "The year 2025", "December 2024 to February 2025".
    #[must_use]
    pub fn title(self) -> String {
        if self.is_month() {
            format!("The month of {}", self.from)
        } else if self.is_year() {
            format!("The year {}", self.from.year())
        } else {
            capital(&self.words())
        }
    }

    /// "in January 2026", "in 2025", "from December 2024 to February 2025".
    #[must_use]
    pub fn within(self) -> String {
        if self.is_month() || self.is_year() {
            format!("in {}", self.words())
        } else {
            format!("from {}", self.words())
        }
    }

    /// "January 2026", "2025", "March to May 2025", "December 2024 to February 2025".
    #[must_use]
    pub fn words(self) -> String {
        if self.is_month() {
            self.from.to_string()
        } else if self.is_year() {
            self.from.year().to_string()
        } else if self.from.year() == self.to.year() {
            format!("{} to {}", month_name(self.from), self.to)
        } else {
            format!("{} to {}", self.from, self.to)
        }
    }

    /// The head of a column: "2025", "2024/25", "2019 to 2021".
    #[must_use]
    pub fn column(self) -> String {
        let (from, to) = (self.from.year(), self.to.year());
        match to - from {
            0 => from.to_string(),
            1 if self.months() <= 12 => format!("{from}/{:02}", to % 100),
            _ => format!("{from} to {to}"),
        }
    }

    /// As in an address: `from=2025-12&to=2026-02`.
    #[must_use]
    pub fn query(self) -> String {
        format!("from={}&to={}", self.from.iso(), self.to.iso())
    }
}

/// `2025-12`, or `2025-12-to-2026-02`: for the name of a file.
impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.from.iso())?;
        if self.is_month() {
            Ok(())
        } else {
            write!(f, "-to-{}", self.to.iso())
        }
    }
}

/// "December"
#[must_use]
pub fn month_name(month: YearMonth) -> String {
    let words = month.to_string();
    words
        .split_once(' ')
        .map_or(words.clone(), |(name, _)| name.to_owned())
}

/// With a capital letter, to begin a sentence with.
#[must_use]
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(from: &str, to: &str) -> Span {
        Span::parse(from, to).unwrap()
    }

    #[test]
    fn a_span_says_what_it_is() {
        let said = [
            (
                "2026-01",
                "2026-01",
                "The month of January 2026",
                "in January 2026",
                "2026",
            ),
            ("2025-01", "2025-12", "The year 2025", "in 2025", "2025"),
            (
                "2025-03",
                "2025-05",
                "March to May 2025",
                "from March to May 2025",
                "2025",
            ),
            (
                "2024-12",
                "2025-02",
                "December 2024 to February 2025",
                "from December 2024 to February 2025",
                "2024/25",
            ),
            (
                "1999-12",
                "2000-02",
                "December 1999 to February 2000",
                "from December 1999 to February 2000",
                "1999/00",
            ),
            (
                "2020-01",
                "2022-12",
                "January 2020 to December 2022",
                "from January 2020 to December 2022",
                "2020 to 2022",
            ),
        ];
        for (from, to, title, within, column) in said {
            let span = span(from, to);
            assert_eq!(
                (
                    span.title().as_str(),
                    span.within().as_str(),
                    span.column().as_str()
                ),
                (title, within, column)
            );
        }
    }

    #[test]
    fn what_is_no_span_is_told_at_its_field() {
        assert_eq!(Span::parse("2025-13", "2025-12"), Err(("from", NotSpan::Month)));
        assert_eq!(Span::parse("2025-12", ""), Err(("to", NotSpan::Month)));
        assert_eq!(Span::parse("1025-12", "2025-12"), Err(("from", NotSpan::Month)));
        assert_eq!(
            Span::parse("2025-12", "2025-11"),
            Err(("from", NotSpan::Backwards))
        );
        assert_eq!(Span::parse("1925-12", "2025-12"), Err(("from", NotSpan::TooLong)));
        assert_eq!(span("1926-01", "2025-12").months(), 1200);
    }

    #[test]
    fn earlier_spans_have_the_same_months_and_none_twice() {
        let january: Vec<String> = span("2026-01", "2026-01")
            .earlier()
            .map(|span| span.to_string())
            .collect();
        assert_eq!(january, ["2025-01", "2024-01", "2023-01", "2022-01", "2021-01"]);
        let winter = span("2025-12", "2026-02").earlier().next().unwrap();
        assert_eq!(winter, span("2024-12", "2025-02"));
        // Fourteen months: two years back, or December and January would stand in both.
        let long = span("2024-12", "2026-01");
        assert_eq!(long.earlier().next().unwrap(), span("2022-12", "2024-01"));
        for months in 1..=40 {
            let span = Span::up_to(YearMonth(24_312), months);
            let before = span.earlier().next().unwrap();
            assert!(before.to < span.from && (span.from.0 - before.from.0) % 12 == 0);
        }
    }

    #[test]
    fn the_last_full_month_turns_with_the_year() {
        let at = |day: &str| Span::last_full(Day::parse(day).unwrap()).to_string();
        assert_eq!(
            (at("2026-01-01"), at("2026-01-31")),
            ("2025-12".into(), "2025-12".into())
        );
        assert_eq!(
            (at("2024-02-29"), at("2024-03-01")),
            ("2024-01".into(), "2024-02".into())
        );
    }
}
