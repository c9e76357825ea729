//! A row is a cause in each of the columns, weighed against the others together; a column is a group, or a shop of the house.

use std::collections::BTreeSet;

use crate::reports::group::Group;
use crate::reports::recurrence::{Names, Totals};
use crate::reports::share::Share;
use crate::reports::sister::Missed;
use crate::reports::weigh::{self, Way, Weighed};
use crate::words::grouped;

/// A group, or a shop of the house.
pub struct Column {
    /// For programs.
    pub code: String,
    pub words: String,
    /// Within a sentence, behind "orders".
    pub on: String,
    pub counted: Result<Totals, Missed>,
    /// The causes that are kept there, where they are not those of this shop.
    pub causes: Option<Names>,
}

impl Column {
    #[must_use]
    pub fn of_group(group: &Group, totals: Totals) -> Column {
        Column {
            code: group.value.to_owned(),
            words: group.words.to_owned(),
            on: group.on.to_owned(),
            counted: Ok(totals),
            causes: None,
        }
    }

    fn keeps(&self, cause: &str) -> bool {
        let kept = self.causes.as_ref().map(|causes| causes.known(cause).is_some());
        kept.unwrap_or(true)
    }

    /// How many were inspected; nothing where that is not known.
    #[must_use]
    pub fn inspected(&self) -> Option<i64> {
        self.counted.as_ref().ok().map(|totals| totals.inspected)
    }

    /// "1,204"
    #[must_use]
    pub fn inspected_words(&self) -> String {
        let digits = |n: i64| grouped(n.max(0).unsigned_abs());
        self.inspected().map_or("–".to_owned(), digits)
    }

    #[must_use]
    pub fn missed(&self) -> Option<Missed> {
        self.counted.as_ref().err().copied()
    }
}

/// What there is to say of a cause in a column.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Part {
    Told {
        weighed: Weighed,
        /// The rate to be expected here, leaning on the other columns.
        shrunk: Option<f64>,
    },
    NotKept,
    Missed,
}

impl Part {
    #[must_use]
    pub fn weighed(&self) -> Option<&Weighed> {
        match self {
            Part::Told { weighed, .. } => Some(weighed),
            _ => None,
        }
    }

    /// Which way it is marked on the page.
    #[must_use]
    pub fn way(&self) -> Option<Way> {
        let weighed = self.weighed().filter(|weighed| !weighed.share.few())?;
        weighed.way()
    }

    /// What is to be expected, where enough were inspected to speak of it.
    pub(super) fn expected(&self) -> Option<f64> {
        match self {
            Part::Told { weighed, shrunk } if !weighed.share.few() => *shrunk,
            _ => None,
        }
    }
}

/// A cause that was confirmed in any of the columns.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    pub cause: String,
    pub name: String,
    /// In all columns that keep it.
    pub whole: Share,
    pub parts: Vec<Part>,
}

impl Row {
    #[must_use]
    pub fn is_marked(&self) -> bool {
        self.parts.iter().any(|part| part.way().is_some())
    }

    /// How far above the mean of all columns it is to be expected in the one that has most of it.
    fn stands_out(&self) -> f64 {
        let expected = || self.parts.iter().filter_map(Part::expected);
        let (sum, columns) = expected().fold((0.0, 0.0), |(sum, n), rate| (sum + rate, n + 1.0));
        expected().fold(0.0, |most, rate| f64::max(most, rate - sum / columns))
    }
}

/// The rows of some columns, what stands out most first.
#[must_use]
pub fn rows(columns: &[Column], names: &Names) -> Vec<Row> {
    let totals = || columns.iter().filter_map(|column| column.counted.as_ref().ok());
    let causes: BTreeSet<&String> = totals().flat_map(|totals| totals.confirmed.keys()).collect();
    // Only columns that can say something of a cause are weighed against each other.
    let told = |column: &Column, cause: &str| {
        let totals = column.counted.as_ref().ok()?;
        column.keeps(cause).then(|| totals.share(cause))
    };
    let shares: Vec<(Share, Vec<Share>)> = causes
        .iter()
        .map(|cause| {
            let parts: Vec<Share> = columns.iter().filter_map(|column| told(column, cause)).collect();
            let whole = parts.iter().fold(Share::default(), |sum, part| {
                Share::new(sum.confirmed + part.confirmed, sum.inspected + part.inspected)
            });
            (whole, parts)
        })
        .collect();
    let weighed = weigh::table(&shares).into_iter().zip(&shares);
    let mut rows: Vec<Row> = causes
        .iter()
        .zip(weighed)
        .map(|(cause, (weighed, (whole, _)))| {
            let shrunk = weigh::shrunk(&weighed);
            let mut parts = weighed.into_iter().zip(shrunk);
            let mut part = |column: &Column| match (&column.counted, column.keeps(cause)) {
                (Err(_), _) => Part::Missed,
                (Ok(_), false) => Part::NotKept,
                (Ok(_), true) => parts
                    .next()
                    .map_or(Part::NotKept, |(weighed, shrunk)| Part::Told { weighed, shrunk }),
            };
            Row {
                cause: (*cause).clone(),
                name: name(columns, names, cause),
                whole: *whole,
                parts: columns.iter().map(&mut part).collect(),
            }
        })
        .collect();
    // To one in a million, so that of those that do not differ the most frequent comes first.
    let above = |row: &Row| (row.stands_out() * 1e6).round();
    rows.sort_by(|one, other| {
        let marked = other.is_marked().cmp(&one.is_marked());
        let above = above(other).total_cmp(&above(one));
        let often = other.whole.confirmed.cmp(&one.whole.confirmed);
        marked.then(above).then(often)
    });
    rows
}

/// As this shop calls it, or else whoever keeps it.
fn name(columns: &[Column], names: &Names, cause: &str) -> String {
    let elsewhere = || {
        columns
            .iter()
            .find_map(|column| column.causes.as_ref()?.known(cause))
    };
    let name = names.known(cause).or_else(elsewhere);
    name.unwrap_or(cause).to_owned()
}
