//! A calendar is what was counted in each month of the year, whatever the year: January of all years together, and so on.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::figures::regression::Family;
use super::figures::season::{Swing, swing};
use super::recurrence::{Recurrence, Years};
use super::season::{Season, Seasons};
use super::share::Share;
use super::span::Span;

/// January to December.
pub type Months = [i64; 12];

/// Fewer confirmed orders than this say nothing of a trend or a swing: the tests are true for many (rule of our own).
pub const FEW_CONFIRMED: i64 = 10;

/// From how many times a cause's own share over the year a month is tinted deeper.
const STEPS: [f64; 3] = [0.75, 1.25, 1.75];
/// What the tints mean, in their order.
pub const TINTS: [&str; 4] = [
    "under three quarters of its share over the year",
    "about its share",
    "1.25 times or more",
    "1.75 times or more",
];
/// As they stand over the columns.
pub const MONTHS: [&str; 12] = [
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
];

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Calendar {
    seasons: Seasons,
    inspected: Months,
    confirmed: BTreeMap<String, Months>,
}

impl Calendar {
    #[must_use]
    pub fn new(seasons: Seasons) -> Calendar {
        Calendar {
            seasons,
            inspected: [0; 12],
            confirmed: BTreeMap::new(),
        }
    }

    /// Of figures that were read already.
    #[must_use]
    pub fn of_figures(figures: &Recurrence, seasons: Seasons) -> Calendar {
        let causes = figures.causes.iter();
        Calendar {
            seasons,
            inspected: figures.inspected_months,
            confirmed: causes.map(|cause| (cause.cause.clone(), cause.months)).collect(),
        }
    }

    /// Of the months of a span.
    #[must_use]
    pub fn of_years(years: &Years, span: Span, seasons: Seasons) -> Calendar {
        let mut calendar = Calendar::new(seasons);
        for year in years.each() {
            let sums = calendar.of_cause(&year.code);
            for (month, orders) in year.within(span) {
                sums[usize::from(month.month_number()) - 1] += orders;
            }
        }
        calendar.confirmed.retain(|_, months| *months != [0; 12]);
        calendar
    }

    /// An empty cause is all that were inspected.
    fn of_cause(&mut self, cause: &str) -> &mut Months {
        if cause.is_empty() {
            &mut self.inspected
        } else {
            self.confirmed.entry(cause.to_owned()).or_default()
        }
    }

    fn months(&self, cause: &str) -> Months {
        self.confirmed.get(cause).copied().unwrap_or_default()
    }

    fn in_season(&self, season: Season, months: Months) -> i64 {
        let of_season = |month: &u8| months[usize::from(*month) - 1];
        self.seasons.months(season).map(|month| of_season(&month)).sum()
    }

    /// By which it tells them apart.
    #[must_use]
    pub fn seasons(&self) -> Seasons {
        self.seasons
    }

    #[must_use]
    pub fn inspected(&self, season: Season) -> i64 {
        self.in_season(season, self.inspected)
    }

    #[must_use]
    pub fn share(&self, season: Season, cause: &str) -> Share {
        Share::new(self.in_season(season, self.months(cause)), self.inspected(season))
    }

    /// Of all seasons.
    #[must_use]
    pub fn all(&self, cause: &str) -> Share {
        Share::new(self.months(cause).iter().sum(), self.inspected.iter().sum())
    }

    /// Each month's share of a cause, January first.
    #[must_use]
    pub fn by_month(&self, cause: &str) -> [Share; 12] {
        let months = self.months(cause);
        std::array::from_fn(|month| Share::new(months[month], self.inspected[month]))
    }

    /// Each month of a cause as it is tinted: from 0, far below its own share over the year, to 3, far above; nothing where
    /// there are too few to say.
    #[must_use]
    pub fn heat(&self, cause: &str) -> [(Share, Option<u8>); 12] {
        let mean = self.all(cause).rate().filter(|rate| *rate > 0.0);
        self.by_month(cause).map(|share| {
            let times = share
                .rate()
                .filter(|_| !share.few())
                .zip(mean)
                .map(|(rate, mean)| rate / mean);
            let tint = times.map(|times| {
                STEPS
                    .iter()
                    .zip(0..)
                    .filter(|step| times >= *step.0)
                    .fold(0, |_, step| step.1 + 1)
            });
            (share, tint)
        })
    }

    /// How the cause rises and falls over the year; nothing where too few were confirmed to say, or where no month or only
    /// some months of the year were counted.
    #[must_use]
    pub fn swing(&self, cause: &str) -> Option<Swing> {
        let months = self.by_month(cause);
        if self.all(cause).confirmed < FEW_CONFIRMED || months.iter().any(Share::none) {
            return None;
        }
        let count = |n: i64| u64::try_from(n).unwrap_or_default();
        swing(
            Family::Binomial,
            &months.map(|share| (count(share.confirmed), count(share.inspected))),
        )
    }
}
