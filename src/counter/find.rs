//! Finding somebody while typing: by the beginning of any word of a name or an instrument, or any run of a phone's digits.

use std::collections::HashMap;

use sqlx::FromRow;
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;
use uuid::Uuid;

use crate::db::{Db, Tx, insert_rows};
use crate::error::Result;

/// A run of digits shorter than this is found by too many to help.
const SHORTEST_DIGITS: usize = 3;
/// So many rows of an index are looked at for one question; more words narrow it down.
const LOOKED_AT: i64 = 400;

#[derive(FromRow)]
struct Row {
    customer: Uuid,
}

/// Letters without marks, in small, as people type them in a hurry.
#[must_use]
pub fn fold(text: &str) -> String {
    text.nfkd()
        .filter(|c| !is_combining_mark(*c) && !matches!(c, '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{2060}'))
        .flat_map(char::to_lowercase)
        .flat_map(|c| match c {
            'ß' => ['s', 's'],
            'æ' => ['a', 'e'],
            'œ' => ['o', 'e'],
            'ø' => ['o', '\0'],
            'ł' => ['l', '\0'],
            'ı' => ['i', '\0'],
            other => [other, '\0'],
        })
        .filter(|c| *c != '\0' && !is_combining_mark(*c))
        .collect()
}

/// The words of a text, folded.
#[must_use]
pub fn words(text: &str) -> Vec<String> {
    let folded = fold(text);
    let mut words: Vec<String> = folded
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect();
    words.sort();
    words.dedup();
    words
}

#[must_use]
pub fn digits(text: &str) -> String {
    text.chars().filter(char::is_ascii_digit).collect()
}

/// All that a customer is found by: the words of the name, and each end of the phone number.
#[must_use]
pub fn customer_keys(name: &str, phone: &str, email: &str) -> Vec<String> {
    let mut keys = words(name);
    let number = digits(phone);
    keys.extend(
        (0..number.len().saturating_sub(SHORTEST_DIGITS - 1)).map(|start| number[start..].to_owned()),
    );
    let email = fold(email.trim());
    if !email.is_empty() {
        keys.push(email);
    }
    keys.sort();
    keys.dedup();
    keys
}

/// What somebody is found by: a word, the customer, and the instrument if it is one of theirs.
pub type Key = (String, Uuid, Option<Uuid>);

/// Writes what customers and instruments that are new are found by.
///
/// # Errors
/// What the database says.
pub async fn insert(tx: &mut Tx, keys: &[Key]) -> Result<()> {
    let into = "insert into find (key, customer, instrument) values";
    insert_rows(tx, into, 3, keys, |query, key| {
        query.bind(key.0.clone()).bind(key.1).bind(key.2)
    })
    .await?;
    Ok(())
}

/// Writes what a customer, or one instrument of theirs, is found by, instead of what was there.
///
/// # Errors
/// What the database says.
pub async fn replace(tx: &mut Tx, customer: Uuid, instrument: Option<Uuid>, keys: &[Key]) -> Result<()> {
    tx.query("delete from find where customer = $1 and instrument is not distinct from $2")
        .bind(customer)
        .bind(instrument)
        .execute()
        .await?;
    insert(tx, keys).await
}

/// The words to look for, at most four; the longest narrows most, so it goes first.
fn asked(typed: &str) -> Vec<String> {
    let mut asked = if typed.contains('@') {
        vec![fold(typed.trim())]
    } else if typed.chars().all(|c| !c.is_alphabetic()) && digits(typed).len() >= SHORTEST_DIGITS {
        vec![digits(typed)] // a phone number with its blanks and signs is one run of digits
    } else {
        words(typed)
    };
    asked.sort_by_key(|word| std::cmp::Reverse(word.len()));
    asked.truncate(4);
    asked
}

/// What the words typed point at: one instrument, or all of a customer's.
#[derive(Clone, Copy, Debug, PartialEq, Eq, FromRow)]
pub struct Hit {
    pub customer: Uuid,
    pub instrument: Option<Uuid>,
}

/// The instruments that fit all words typed, each word being of the instrument or of whose it is. Without `contacts`
/// nobody is found by phone or e-mail, for those who are not shown them.
///
/// # Errors
/// What the database says.
pub async fn hits(db: &Db, typed: &str, contacts: bool) -> Result<Vec<Hit>> {
    let mut found: Option<Vec<Hit>> = None;
    for word in asked(typed) {
        let mut rows: Vec<Hit> = db
            .read("select customer, instrument from find where key >= $1 and key < $2 order by key, customer, instrument limit $3")
            .bind(word.clone())
            .bind(format!("{word}\u{10ffff}"))
            .bind(LOOKED_AT)
            .all()
            .await?;
        let contact = word.contains('@') || word.chars().all(|c| c.is_ascii_digit());
        rows.retain(|row| contacts || !contact || row.instrument.is_some());
        found = Some(match found {
            None => rows,
            Some(kept) => narrowed(&kept, &rows),
        });
    }
    let mut found = found.unwrap_or_default();
    found.sort_unstable_by_key(|hit| (hit.customer, hit.instrument));
    found.dedup();
    Ok(found)
}

/// What fits both: of a customer as a whole and one instrument of theirs, it is the instrument.
fn narrowed(kept: &[Hit], rows: &[Hit]) -> Vec<Hit> {
    let by_customer = |hits: &[Hit]| {
        let mut map: HashMap<Uuid, Vec<Option<Uuid>>> = HashMap::new();
        for hit in hits {
            map.entry(hit.customer).or_default().push(hit.instrument);
        }
        map
    };
    let rows = by_customer(rows);
    let mut both = Vec::new();
    for hit in kept {
        for &instrument in rows.get(&hit.customer).into_iter().flatten() {
            if hit.instrument.is_none() || instrument.is_none() || hit.instrument == instrument {
                let instrument = hit.instrument.or(instrument);
                both.push(Hit { instrument, ..*hit });
            }
        }
    }
    both
}

/// The customers that fit all words typed, each word as a beginning; at most `limit` of them.
///
/// # Errors
/// What the database says.
pub async fn customers(db: &Db, typed: &str, limit: usize) -> Result<Vec<Uuid>> {
    let mut found: Option<Vec<Uuid>> = None;
    for word in asked(typed) {
        let rows: Vec<Row> = db
            .read("select customer from find where key >= $1 and key < $2 order by key, customer limit $3")
            .bind(word.clone())
            .bind(format!("{word}\u{10ffff}"))
            .bind(LOOKED_AT)
            .all()
            .await?;
        let hits = rows.into_iter().map(|row| row.customer);
        found = Some(match found {
            None => {
                let mut first = Vec::new();
                hits.for_each(|hit| {
                    if !first.contains(&hit) {
                        first.push(hit);
                    }
                });
                first
            }
            Some(kept) => {
                let hits: std::collections::HashSet<Uuid> = hits.collect();
                kept.into_iter()
                    .filter(|customer| hits.contains(customer))
                    .collect()
            }
        });
    }
    let mut found = found.unwrap_or_default();
    found.truncate(limit);
    Ok(found)
}
