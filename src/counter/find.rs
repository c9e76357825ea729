//! Finding somebody while typing: by the beginning of any word of a name or an instrument, or any run of a phone's digits.

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

/// Writes what a customer, or one instrument of theirs, is found by, instead of what was there.
///
/// # Errors
/// What the database says.
pub async fn index(
    tx: &mut Tx,
    keys: &[String],
    customer: Uuid,
    instrument: Option<Uuid>,
    fresh: bool,
) -> Result<()> {
    if !fresh {
        tx.query("delete from find where customer = $1 and instrument is not distinct from $2")
            .bind(customer)
            .bind(instrument)
            .execute()
            .await?;
    }
    insert_rows(
        tx,
        "insert into find (key, customer, instrument) values",
        3,
        keys,
        |query, key| query.bind(key.clone()).bind(customer).bind(instrument),
    )
    .await?;
    Ok(())
}

/// The customers that fit all words typed, each word as a beginning; at most `limit` of them.
///
/// # Errors
/// What the database says.
pub async fn customers(db: &Db, typed: &str, limit: usize) -> Result<Vec<Uuid>> {
    let mut asked = if typed.chars().all(|c| !c.is_alphabetic()) && digits(typed).len() >= SHORTEST_DIGITS {
        vec![digits(typed)] // a phone number with its blanks and signs is one run of digits
    } else {
        words(typed)
    };
    if typed.contains('@') {
        asked = vec![fold(typed.trim())];
    }
    // The longest word narrows most, so it goes first.
    asked.sort_by_key(|word| std::cmp::Reverse(word.len()));
    let mut found: Option<Vec<Uuid>> = None;
    for word in asked.iter().take(4) {
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
                        first.push(hit)
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
