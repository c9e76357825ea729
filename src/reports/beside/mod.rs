//! Beside is the groups of the shop in one table, cause by cause: what turns up in one of them more often than in the others.

pub mod page;
pub mod rows;
pub mod sentences;
pub mod table;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::Day;
use crate::error::Result;
use crate::form::Problems;

use self::rows::{Column, Row, rows};

use super::ask::Ask;
use super::group;
use super::recurrence::{Names, Totals};
use super::sister;
use super::span::Span;
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

    /// There is no other shop to put this one beside.
    #[must_use]
    pub fn is_alone(&self) -> bool {
        self.columns.len() == 1
    }

    #[must_use]
    pub fn has_table(&self) -> bool {
        !self.is_alone() && !self.rows.is_empty()
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
