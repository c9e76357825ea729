//! To weigh a part of the instruments is to put it beside the rest of those that the report is of: whether a cause turns up there more than chance explains.

use super::bands::Band;
use super::calendar::FEW_CONFIRMED;
use super::figures::association::Fourfold;
use super::figures::discovery::q_values;
use super::figures::shrink;
use super::figures::trend::{Trend, cochran_armitage};
use super::recurrence::{Confirmed, Recurrence};
use super::season::Season;
use super::share::Share;

/// Marked is what has a q value of at most this: then at most one in twenty of what is marked in a table is chance.
pub const MARKED: f64 = 0.05;

/// How it is read, beside the definitions of what is counted.
pub const READING: [(&str, &str); 3] = [
    (
        "More often, more seldom",
        "Than in the rest of all that this report is of, by Fisher's exact test; of what is marked in a table, on average one in twenty is chance \
         (Benjamini and Hochberg, 1995).",
    ),
    (
        "With age",
        "Whether the share rises or falls over the known bands (Cochran and Armitage, 1955), from ten confirmed orders on.",
    ),
    (
        "Over the year",
        "A wave over the twelve months against none, by logistic regression (likelihood ratio, corrected as Bartlett has it, 1937), \
         from ten confirmed orders on.",
    ),
];

/// Which way a part differs from the rest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    More,
    Less,
}

impl Way {
    #[must_use]
    pub fn sign(self) -> &'static str {
        match self {
            Way::More => "↑",
            Way::Less => "↓",
        }
    }

    /// In a table for elsewhere.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Way::More => "more",
            Way::Less => "less",
        }
    }

    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Way::More => "more often",
            Way::Less => "more seldom",
        }
    }
}

/// A share with what is to be thought of it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Weighed {
    pub share: Share,
    /// Its share in all that the report is of.
    pub whole: Share,
    /// Nothing where there is no rest to put beside it.
    pub p_value: Option<f64>,
    /// Over the whole table.
    pub q_value: Option<f64>,
}

impl Weighed {
    /// Whether it is marked, and which way.
    #[must_use]
    pub fn way(&self) -> Option<Way> {
        self.q_value.filter(|q_value| *q_value <= MARKED)?;
        let more = i128::from(self.share.confirmed) * i128::from(self.whole.inspected)
            > i128::from(self.whole.confirmed) * i128::from(self.share.inspected);
        Some(if more { Way::More } else { Way::Less })
    }

    /// The rest of what the report is of.
    #[must_use]
    pub fn elsewhere(&self) -> Share {
        Share::new(
            self.whole.confirmed - self.share.confirmed,
            self.whole.inspected - self.share.inspected,
        )
    }
}

fn counts(share: Share) -> (u64, u64) {
    let count = |n: i64| u64::try_from(n).unwrap_or_default();
    (count(share.confirmed), count(share.inspected))
}

/// Weighs a table: of each cause its share in all that the report is of, and in each part.
#[must_use]
pub fn table(rows: &[(Share, Vec<Share>)]) -> Vec<Vec<Weighed>> {
    let mut table: Vec<Vec<Weighed>> = rows.iter().map(|(whole, parts)| row(*whole, parts)).collect();
    let p_values: Vec<f64> = table
        .iter()
        .flatten()
        .map(|weighed| weighed.p_value.unwrap_or(f64::NAN))
        .collect();
    let told = q_values(&p_values);
    for (weighed, q_value) in table.iter_mut().flatten().zip(told) {
        weighed.q_value = Some(q_value).filter(|q_value| !q_value.is_nan());
    }
    table
}

/// The rate to be expected in each part of a row, leaning on the others by a beta-binomial prior fitted to all of them;
/// nothing where nobody was inspected at all.
#[must_use]
pub fn shrunk(row: &[Weighed]) -> Vec<Option<f64>> {
    let groups: Vec<(u64, u64)> = row.iter().map(|weighed| counts(weighed.share)).collect();
    let prior = shrink::fit(&groups);
    groups
        .iter()
        .map(|(count, size)| prior.map(|prior| prior.shrunk(*count, *size)))
        .collect()
}

fn row(whole: Share, parts: &[Share]) -> Vec<Weighed> {
    let weighed = |part: &Share| {
        let beside = Fourfold::within(counts(*part), counts(whole))
            .filter(|_| !part.none() && part.inspected < whole.inspected);
        Weighed {
            share: *part,
            whole,
            p_value: beside.map(|table| table.fisher()),
            q_value: None,
        }
    };
    parts.iter().map(weighed).collect()
}

/// One cell of the report: a cause, an age band and a season in which somebody was inspected.
pub struct Cell<'a> {
    pub cause: &'a Confirmed,
    pub band: Band,
    pub season: Season,
    pub weighed: Weighed,
    /// The rate to be expected here, leaning on the cause's other cells.
    pub shrunk: Option<f64>,
}

/// Each cause, or one of them, in each band and season in which somebody was inspected, weighed over all that is told.
#[must_use]
pub fn cells<'a>(figures: &'a Recurrence, only: Option<&str>) -> Vec<Cell<'a>> {
    let causes: Vec<&Confirmed> = figures
        .causes
        .iter()
        .filter(|cause| only.is_none_or(|only| only == cause.cause))
        .collect();
    let places = || {
        figures
            .bands
            .all()
            .flat_map(|band| Season::ALL.map(|season| (band, season)))
    };
    let rows: Vec<(Share, Vec<Share>)> = causes
        .iter()
        .map(|cause| {
            let share = |(band, season)| {
                Share::new(cause.orders.at(band, season), figures.inspected.at(band, season))
            };
            (figures.share(cause), places().map(share).collect())
        })
        .collect();
    causes
        .into_iter()
        .zip(table(&rows))
        .flat_map(|(cause, row)| {
            let shrunk = shrunk(&row);
            places()
                .zip(row)
                .zip(shrunk)
                .map(move |(((band, season), weighed), shrunk)| Cell {
                    cause,
                    band,
                    season,
                    weighed,
                    shrunk,
                })
        })
        .filter(|cell| !cell.weighed.share.none())
        .collect()
}

/// The trend of a cause over the bands whose age is known; nothing where too few were confirmed to say.
#[must_use]
pub fn trend(figures: &Recurrence, cause: &Confirmed) -> Option<Trend> {
    let mut confirmed = 0;
    let groups: Vec<(f64, u64, u64)> = figures
        .bands
        .known()
        .zip(0_u32..)
        .map(|(band, at)| {
            let share = figures.of_band(cause, band);
            confirmed += share.confirmed;
            let (count, size) = counts(share);
            (f64::from(at), count, size)
        })
        .collect();
    if confirmed < FEW_CONFIRMED {
        return None;
    }
    cochran_armitage(&groups)
}

/// The q values of some tests over a table, in their order.
#[must_use]
pub fn over_table(p_values: impl Iterator<Item = Option<f64>>) -> Vec<Option<f64>> {
    let p_values: Vec<f64> = p_values.map(|p_value| p_value.unwrap_or(f64::NAN)).collect();
    q_values(&p_values)
        .into_iter()
        .map(|q_value| Some(q_value).filter(|q_value| !q_value.is_nan()))
        .collect()
}

/// Whether a q value is small enough to be told.
#[must_use]
pub fn is_told(q_value: Option<f64>) -> bool {
    q_value.is_some_and(|q_value| q_value <= MARKED)
}
