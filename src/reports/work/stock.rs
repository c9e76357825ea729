//! Stock is the parts to have ready: how many of each will be used in the months to come, from the same months of the years before.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use crate::clock::{Day, YearMonth};
use crate::db::Db;
use crate::error::Result;
use crate::reports::counted::years_of;
use crate::reports::figures::forecast::{Forecast, dispersion, forecast};
use crate::reports::season::{Season, Seasons};
use crate::reports::span::{EARLIER, Span, capital};
use crate::reports::tally::What;
use crate::words::count;

/// The months that are looked ahead.
const AHEAD: i64 = 3;

#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// In small letters, with single blanks.
    pub name: String,
    /// In these months of each year before, the latest first.
    pub years: Vec<u64>,
    pub forecast: Forecast,
}

#[derive(Clone, Debug)]
pub struct Stock {
    /// The next months.
    pub span: Span,
    /// The same months of the years before, of which all is known, the latest first.
    pub earlier: Vec<Span>,
    /// What is used most first.
    pub parts: Vec<Part>,
    /// How much years differ beyond chance, over all parts.
    pub dispersion: f64,
}

/// What is used in the season that comes next, with what it is called.
pub type OfSeason = Option<(&'static str, Stock)>;

/// The season that begins next after a month, and its months; nothing where the air is the same all year.
fn coming(seasons: &Seasons, month: YearMonth) -> Option<(&'static str, Span)> {
    let of = |month: YearMonth| seasons.of_month(month.month_number()).unwrap_or(Season::Change);
    let from = (1..=12)
        .map(|on| month.plus(on))
        .find(|next| of(*next) != of(next.plus(-1)))?;
    let to = (0..12)
        .map(|on| from.plus(on))
        .find(|last| of(last.plus(1)) != of(*last))?;
    Some((of(from).words(), Span { from, to }))
}

impl Stock {
    /// For the next three months, and for the season that comes next.
    ///
    /// # Errors
    /// What the database says.
    pub async fn read(db: &Db, today: Day, seasons: &Seasons) -> Result<(Stock, OfSeason)> {
        let span = Span::up_to(today.month().plus(AHEAD), AHEAD);
        let from = span.from.plus(-12 * EARLIER).year();
        // The year before as well, to see since when parts are written at all.
        let rows = years_of(db, What::Parts, (from - 1, today.year())).await?;
        let mut used = BTreeMap::<String, BTreeMap<i64, i64>>::new();
        for row in rows {
            let months = used.entry(row.code).or_default();
            for (month, n) in (row.year.0..).zip(row.months).filter(|month| month.1 != 0) {
                *months.entry(month).or_default() += n;
            }
        }
        let season = coming(seasons, today.month()).map(|(words, span)| (words, Stock::of(span, &used)));
        Ok((
            Stock::of(span, &used),
            season.filter(|season| !season.1.parts.is_empty()),
        ))
    }

    /// From how many of each were used in each month.
    #[must_use]
    pub fn of(span: Span, used: &BTreeMap<String, BTreeMap<i64, i64>>) -> Stock {
        let first = used.values().filter_map(|months| months.keys().next()).min();
        let earlier: Vec<Span> = span
            .earlier()
            .filter(|earlier| first.is_some_and(|first| earlier.from >= YearMonth(*first)))
            .collect();
        let mut counted = Vec::new();
        for (name, months) in used {
            let years: Vec<u64> = earlier
                .iter()
                .map(|year| {
                    let sum: i64 = months.range(year.from.0..=year.to.0).map(|month| month.1).sum();
                    u64::try_from(sum).unwrap_or(0)
                })
                .collect();
            if years.iter().any(|n| *n > 0) {
                counted.push((name.clone(), years));
            }
        }
        let all: Vec<Vec<u64>> = counted.iter().map(|part| part.1.clone()).collect();
        let dispersion = dispersion(&all);
        let mut parts: Vec<Part> = counted
            .into_iter()
            .filter_map(|(name, years)| {
                let forecast = forecast(&years, dispersion)?;
                Some(Part {
                    name,
                    years,
                    forecast,
                })
            })
            .collect();
        parts.sort_by_key(|part| Reverse(part.years.iter().sum::<u64>()));
        Stock {
            span,
            earlier,
            parts,
            dispersion,
        }
    }

    /// "3 years"
    #[must_use]
    pub fn years(&self) -> String {
        count(i64::try_from(self.earlier.len()).unwrap_or(0), "year", "years")
    }
}

impl Part {
    /// With a capital, as it begins a line.
    #[must_use]
    pub fn words(&self) -> String {
        capital(&self.name)
    }

    /// "13", to the next whole one.
    #[must_use]
    pub fn expected(&self) -> String {
        format!("{:.0}", self.forecast.expected)
    }

    /// "4 to 25"
    #[must_use]
    pub fn range(&self) -> Option<String> {
        self.forecast.range.map(|(low, high)| format!("{low} to {high}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn next(letters: &str, month: &str) -> Option<(&'static str, String)> {
        let (words, span) = coming(&letters.parse().unwrap(), YearMonth::parse(month).unwrap())?;
        Some((words, span.to_string()))
    }

    #[test]
    fn the_next_season_is_the_one_that_begins() {
        let northern = "dddccchhcccd";
        let said = |words, span: &str| Some((words, span.to_owned()));
        assert_eq!(
            next(northern, "2026-11"),
            said("dry months", "2026-12-to-2027-03")
        );
        assert_eq!(
            next(northern, "2026-12"),
            said("change months", "2027-04-to-2027-06")
        );
        assert_eq!(
            next(northern, "2026-06"),
            said("humid months", "2026-07-to-2026-08")
        );
        assert_eq!(next("cccccccccccc", "2026-06"), None);
    }
}
