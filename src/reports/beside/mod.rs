//! Beside is the groups of the shop in one table, cause by cause: what turns up in one of them more often than in the others.

pub mod page;
pub mod sentences;
pub mod table;

use std::collections::BTreeSet;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::Day;
use crate::error::Result;
use crate::form::Problems;
use crate::words::grouped;

use super::ask::Ask;
use super::group::{self, Group};
use super::recurrence::{Names, Totals};
use super::share::Share;
use super::sister::{self, Missed};
use super::span::Span;
use super::weigh::{self, Way, Weighed};
use super::work;

/// What stands side by side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    Family,
    Size,
    Account,
    Shop,
}

/// This shop among those of its house, for programs; no other may be named so.
pub const THIS_SHOP: &str = "this shop";

/// How the table is read, behind what is counted.
pub const READING: [(&str, &str); 2] = [
    (
        "More often, more seldom",
        "Than in the other columns together, by Fisher's exact test; of what is marked in this table, on average one in twenty is \
         chance (Benjamini and Hochberg, 1995).",
    ),
    (
        "Order",
        "What is marked stands before what is not; among each, first what one column is to be expected to have furthest above \
         the mean of all. The expected share leans on the other columns, by a beta-binomial prior fitted to them, and is in the CSV.",
    ),
];

impl By {
    pub const ALL: [By; 4] = [By::Family, By::Size, By::Account, By::Shop];

    /// As it stands in an address.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            By::Family => "family",
            By::Size => "size",
            By::Account => "account",
            By::Shop => "shop",
        }
    }

    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            By::Family => "Families",
            By::Size => "Sizes",
            By::Account => "Accounts",
            By::Shop => "Shops of the house",
        }
    }

    #[must_use]
    pub fn of_code(code: &str) -> Option<By> {
        By::ALL.into_iter().find(|by| by.code() == code)
    }
}

/// Families over the last twelve months that are over, unless something else is asked for.
///
/// # Errors
/// What wants mending.
pub fn understand(ask: &Ask, today: Day) -> Result<(By, Span), Problems> {
    let by = match ask.by.as_str() {
        "" => Some(By::Family),
        code => By::of_code(code),
    };
    let span = work::span(ask, today);
    match (by, span) {
        (Some(by), Ok(span)) => Ok((by, span)),
        (by, span) => {
            let mut problems = span.err().unwrap_or_default();
            if by.is_none() {
                problems.add("by", "Choose family, size, account or shop.");
            }
            Err(problems)
        }
    }
}

/// A group, or a shop of the house.
pub struct Column {
    /// For programs.
    pub code: String,
    pub words: String,
    /// Within a sentence, behind "orders".
    pub on: String,
    pub counted: Result<Totals, Missed>,
    /// The causes that are kept there, where they are not those of this shop.
    causes: Option<Names>,
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
    fn expected(&self) -> Option<f64> {
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

/// All that the table tells of a span.
pub struct Beside {
    pub by: By,
    pub span: Span,
    pub columns: Vec<Column>,
    /// What stands out most first.
    pub rows: Vec<Row>,
}

impl Beside {
    /// # Errors
    /// What the database says; what others of the house say is told in their columns.
    pub async fn read(app: &App, shop: &Shop, by: By, span: Span) -> Result<Beside> {
        let names = Names::of_causes(&app.db).await?;
        let columns = if by == By::Shop {
            shops(app, shop, &names, span).await?
        } else {
            let mut columns = Vec::new();
            for group in group::by(by.code()) {
                let totals = Totals::read(&app.db, span, group.code).await?;
                columns.push(Column::of_group(group, totals));
            }
            columns
        };
        let rows = rows(&columns, &names);
        Ok(Beside {
            by,
            span,
            columns,
            rows,
        })
    }

    /// In all columns that could be read.
    #[must_use]
    pub fn inspected(&self) -> i64 {
        self.columns.iter().filter_map(Column::inspected).sum()
    }

    #[must_use]
    pub fn address(&self, by: By) -> String {
        format!("/month/beside?by={}&{}", by.code(), self.span.query())
    }

    #[must_use]
    pub fn csv_address(&self) -> String {
        self.address(self.by)
            .replacen("/month/beside", "/month/beside.csv", 1)
    }
}

/// This shop first, then the others of its house as they were named.
async fn shops(app: &App, shop: &Shop, names: &Names, span: Span) -> Result<Vec<Column>> {
    let (own, seen) = tokio::join!(
        Totals::read(&app.db, span, ""),
        sister::look_at(&app.sisters, shop.house, span)
    );
    let mut columns = vec![Column {
        code: THIS_SHOP.to_owned(),
        words: shop.name.clone(),
        on: " here".to_owned(),
        counted: Ok(own?),
        causes: Some(names.clone()),
    }];
    for (sister, seen) in app.sisters.iter().zip(seen) {
        let (counted, causes) = match seen {
            Ok(seen) => (Ok(seen.totals), Some(seen.causes)),
            Err(missed) => (Err(missed), None),
        };
        columns.push(Column {
            code: sister.name.clone(),
            words: sister.name.clone(),
            on: format!(" at {}", sister.name),
            counted,
            causes,
        });
    }
    Ok(columns)
}
