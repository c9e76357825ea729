//! The course of a cause is how its share went from month to month, or from year to year where the span is long.

use serde::{Deserialize, Serialize};

use crate::clock::YearMonth;
use crate::page::Markup;

use super::chart;
use super::recurrence::Years;
use super::share::Share;
use super::span::{Span, month_name};

/// A span of more months than this is drawn year by year.
const LONG: i64 = 24;
/// So many months or years are drawn, the last ones: the picture has room for no more.
const ROOM: i64 = 12;
/// So many years before are drawn behind the months.
const BEFORE: i64 = 4;

/// What a span is drawn of.
pub struct Drawn {
    pub by_year: bool,
    /// Years before these are left out.
    shortened: bool,
    parts: Vec<Span>,
}

#[derive(Serialize, Deserialize)]
pub struct Course {
    by_year: bool,
    shortened: bool,
    /// Each month or year, the first and the last year as far as the span goes.
    pub parts: Vec<(Span, Share)>,
    /// The same months of the years before, latest first; of years none.
    pub before: Vec<Vec<Share>>,
}

impl Drawn {
    /// The twelve months up to the span's end, or the last years of a long one.
    #[must_use]
    pub fn of(span: Span) -> Drawn {
        let by_year = span.months() > LONG;
        let (first, last) = (span.from.year(), span.to.year());
        let parts = if by_year {
            let year = |year: i64| Span {
                from: Span::year(year).from.max(span.from),
                to: Span::year(year).to.min(span.to),
            };
            (first.max(last - ROOM + 1)..=last).map(year).collect()
        } else {
            let first = span.to.plus(1 - ROOM);
            (first.0..=span.to.0)
                .map(|month| Span::month(YearMonth(month)))
                .collect()
        };
        Drawn {
            by_year,
            shortened: by_year && last - first >= ROOM,
            parts,
        }
    }

    /// The first and the last year of it.
    #[must_use]
    pub fn years(&self) -> (i64, i64) {
        let first = self.parts.first().map_or(0, |part| part.from.year());
        (first, self.parts.last().map_or(first, |part| part.to.year()))
    }

    /// Of one cause; nothing is drawn when none was confirmed. Of years before, those are drawn that lie in `known` whole.
    #[must_use]
    pub fn course(self, years: &Years, cause: &str, known: Span) -> Course {
        let months = |back: i64| -> Vec<Share> {
            let moved = self.parts.iter().map(|part| part.moved(-12 * back));
            moved.map(|part| years.totals(part).share(cause)).collect()
        };
        let first = self.parts.first().map_or(known.to, |part| part.from);
        let before: Vec<Vec<Share>> = if self.by_year || cause.is_empty() {
            Vec::new()
        } else {
            (1..=BEFORE)
                .take_while(|back| first.plus(-12 * back) >= known.from)
                .map(months)
                .collect()
        };
        let parts = self.parts.into_iter().filter(|_| !cause.is_empty());
        Course {
            by_year: self.by_year,
            shortened: self.shortened,
            parts: parts
                .map(|part| (part, years.totals(part).share(cause)))
                .collect(),
            before,
        }
    }
}

impl Course {
    /// "month by month", "year by year, the last twelve".
    #[must_use]
    pub fn words(&self) -> &'static str {
        match (self.by_year, self.shortened) {
            (false, _) => "month by month",
            (true, false) => "year by year",
            (true, true) => "year by year, the last twelve",
        }
    }

    /// "; thin lines: the four years before", where there are any.
    #[must_use]
    pub fn behind(&self) -> &'static str {
        match self.before.len() {
            0 => "",
            1 => "; thin line: the year before",
            2 => "; thin lines: the two years before",
            3 => "; thin lines: the three years before",
            _ => "; thin lines: the four years before",
        }
    }

    /// There is more than one month or year to put beside each other.
    #[must_use]
    pub fn goes_on(&self) -> bool {
        self.parts.iter().filter(|part| !part.1.none()).count() > 1
    }

    /// "Month" or "Year".
    #[must_use]
    pub fn head(&self) -> &'static str {
        if self.by_year { "Year" } else { "Month" }
    }

    /// "month" or "year".
    #[must_use]
    pub fn part(&self) -> &'static str {
        if self.by_year { "year" } else { "month" }
    }

    #[must_use]
    pub fn chart(&self) -> Markup {
        let points: Vec<(String, Share)> = self
            .parts
            .iter()
            .map(|(part, share)| {
                let name = if self.by_year {
                    part.to.year().to_string()
                } else {
                    month_name(part.to).chars().take(3).collect()
                };
                (name, *share)
            })
            .collect();
        chart::course(&points, &self.before)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn however_long_the_span_no_more_is_drawn_than_there_is_room_for() {
        for months in [1, 12, 24, 25, 73, 144, 145, 1200] {
            let span = Span::up_to(YearMonth(2026 * 12 + 1), months);
            let drawn = Drawn::of(span);
            assert!(drawn.parts.len() <= 12, "{months}");
            assert_eq!(drawn.by_year, months > 24);
            assert_eq!(drawn.parts.last().map(|part| part.to), Some(span.to));
        }
        let years = Drawn::of(Span::parse("2020-02", "2026-02").unwrap());
        let words: Vec<String> = years.parts.iter().map(|part| part.words()).collect();
        assert_eq!(
            (words.len(), words[0].as_str(), words[6].as_str()),
            (7, "February to December 2020", "January to February 2026")
        );
        assert!(!years.shortened && Drawn::of(Span::parse("2010-02", "2026-02").unwrap()).shortened);
    }
}
