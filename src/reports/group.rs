//! A group is the part of the shop that a report of recurrence is about: all of it, a family, a size, or a kind of account.

use crate::counter::size::SizeClass;
use crate::db::{Db, Tx};
use crate::error::Result;
use crate::form::Problems;

use super::block::SIZES;
use super::history;
use super::repaired;
use super::tally::Counts;

/// By which of them an address asks, and how it is said.
#[derive(Debug, PartialEq, Eq)]
pub struct Group {
    /// As it stands in the tally, where the family does, and in the names of files; empty for all.
    pub code: &'static str,
    /// `family`, `size` or `account`; empty for all.
    pub by: &'static str,
    /// What it is asked for with.
    pub value: &'static str,
    /// On screens.
    pub words: &'static str,
    /// Within a sentence, after "orders".
    pub on: &'static str,
}

const fn group(
    code: &'static str,
    by: &'static str,
    value: &'static str,
    words: &'static str,
    on: &'static str,
) -> Group {
    Group {
        code,
        by,
        value,
        words,
        on,
    }
}

/// All of them, in the order in which they are chosen from; a bow has no buzz causes.
pub static GROUPS: [Group; 11] = [
    group("", "", "", "All instruments", ""),
    group("violin", "family", "violin", "Violins", " on violins"),
    group("viola", "family", "viola", "Violas", " on violas"),
    group("cello", "family", "cello", "Cellos", " on cellos"),
    group("bass", "family", "bass", "Basses", " on basses"),
    group("full", "size", "full", "Full size", " on full-size instruments"),
    group(
        "fractional",
        "size",
        "fractional",
        "Fractional",
        " on fractional instruments",
    ),
    group(
        "no_size",
        "size",
        "unknown",
        "Size not known",
        " on instruments of unknown size",
    ),
    group(
        "person",
        "account",
        "person",
        "Persons",
        " on persons' instruments",
    ),
    group(
        "school",
        "account",
        "school",
        "Schools",
        " on schools' instruments",
    ),
    group(
        "fleet",
        "account",
        "fleet",
        "Rental fleets",
        " on rental fleets' instruments",
    ),
];

/// What a group may be asked by, as a heading, and what to choose where it is none of them.
pub const BY: [(&str, &str, &str); 3] = [
    (
        "family",
        "By family",
        "Choose violin, viola, cello or bass, or leave it out for all.",
    ),
    (
        "size",
        "By size",
        "Choose full, fractional or unknown, or leave it out for all.",
    ),
    (
        "account",
        "By account",
        "Choose person, school or fleet, or leave it out for all.",
    ),
];

/// So that a report says what it is of in a word.
pub const ONE: &str = "Ask for one of family, size and account at a time.";

/// All that are asked for by family, by size or by account.
pub fn by(by: &str) -> impl Iterator<Item = &'static Group> {
    GROUPS.iter().filter(move |group| group.by == by)
}

/// The group of a code.
#[must_use]
pub fn of_code(code: &str) -> Option<&'static Group> {
    GROUPS.iter().find(|group| group.code == code)
}

/// The group of a size and that of an account: each order stands in both.
#[must_use]
pub fn of_order(family: &str, size: &str, account: &str) -> [&'static str; 2] {
    let size = match SizeClass::of(family, size) {
        SizeClass::Full => "full",
        SizeClass::Fractional => "fractional",
        SizeClass::Unknown => "no_size",
    };
    [size, of_account(account)]
}

/// The group of a kind of customer; the database holds no others.
#[must_use]
pub fn of_account(kind: &str) -> &'static str {
    let account = by("account").find(|group| group.code == kind);
    account.map_or("person", |group| group.code)
}

/// Which blocks are kept of a group: of sizes and accounts the years by age alone, so that an act writes little.
#[must_use]
pub fn blocks(code: &str) -> &'static [i64] {
    match of_code(code) {
        Some(group) if matches!(group.by, "size" | "account") => &SIZES[..1],
        _ => &SIZES,
    }
}

/// The one group that is asked for, by family, by size or by account; fields are named after `at`.
pub fn asked(problems: &mut Problems, at: &str, asked: [&str; 3]) -> &'static Group {
    let mut found = &GROUPS[0];
    for ((by, _, amiss), value) in BY.into_iter().zip(asked) {
        if value.is_empty() {
            continue;
        }
        match GROUPS.iter().find(|group| group.by == by && group.value == value) {
            Some(group) if found.code.is_empty() => found = group,
            Some(_) => problems.add(format!("{at}{by}"), ONE),
            None => problems.add(format!("{at}{by}"), amiss),
        }
    }
    found
}

impl Group {
    /// As in an address: `&family=violin`; nothing for all.
    #[must_use]
    pub fn query(&self) -> String {
        if self.by.is_empty() {
            String::new()
        } else {
            format!("&{}={}", self.by, self.value)
        }
    }

    /// For the name of a file and the cell of a table.
    #[must_use]
    pub fn name(&self) -> &'static str {
        if self.code.is_empty() { "all" } else { self.code }
    }
}

/// Of the definitions above. Whoever changes what stands in which group raises it, and every shop is counted anew.
const DEFINITION: i64 = 2;

/// Counts sizes and accounts from the history, in a shop that has not counted them by this definition yet.
///
/// # Errors
/// What the database says.
pub async fn count_anew(db: &Db) -> Result<()> {
    let (counted_as,): (i64,) = db
        .read("select groups_as from counted where id = 1")
        .one()
        .await?;
    if counted_as == DEFINITION {
        return Ok(());
    }
    let mut tx = db.begin().await?;
    // Of two programs that start at once the second waits here, and finds it done.
    let turn = tx
        .query("update counted set groups_as = $1 where id = 1 and groups_as <> $1")
        .bind(DEFINITION)
        .execute()
        .await?;
    if turn == 1 {
        for group in by("size").chain(by("account")) {
            tx.query("delete from tally_block where what in ('orders', 'orders_other') and family = $1")
                .bind(group.code)
                .execute()
                .await?;
        }
        keep(&mut tx).await?;
        repaired::size_anew(&mut tx).await?;
        tx.commit().await?;
    }
    Ok(())
}

async fn keep(tx: &mut Tx) -> Result<()> {
    let mut counts = Counts::default();
    for (from, to) in history::years(tx).await? {
        for stood in history::of_days(tx, from, to).await? {
            counts.groups(stood.cell(), &stood.cause, stood.orders);
        }
    }
    counts.keep(tx).await
}
