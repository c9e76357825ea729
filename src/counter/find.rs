//! Finding somebody while typing: by the beginning of any word of a name or an instrument, or any run of a phone's digits.

use std::collections::HashMap;

use sqlx::FromRow;
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;
use uuid::Uuid;

use crate::db::{Db, Query, Tx, insert_rows};
use crate::error::Result;

/// A run of digits shorter than this is found by too many to help.
const SHORTEST_DIGITS: usize = 3;
/// So far the rows of a word are counted, to begin with the rarest.
const COUNTED: i64 = 1000;
/// So many words are looked for at once.
const WORDS: usize = 4;

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

/// The words to look for, at most four, each the beginning of a key; the longest first.
fn asked(typed: &str) -> Vec<String> {
    let mut asked = if typed.contains('@') {
        vec![fold(typed.trim())]
    } else if is_phone(typed) {
        vec![digits(typed)] // a phone number with its blanks and signs is one run of digits
    } else {
        words(typed)
    };
    asked.sort_by_key(|word| std::cmp::Reverse(word.len()));
    asked.truncate(WORDS);
    asked
}

fn is_phone(typed: &str) -> bool {
    typed.chars().all(|c| !c.is_alphabetic()) && digits(typed).len() >= SHORTEST_DIGITS
}

/// The ways in which what was typed is looked for, one after the other, until one finds somebody. A phone number is looked
/// for as it was typed; then without what is dialled before it, the 0 of a call within the country or the 00 of one from
/// abroad; and an international one, with + or 00, then without its country code of one to three digits (ITU-T E.164),
/// since the shop may have written it as it is dialled at home.
fn ways(typed: &str) -> Vec<Vec<String>> {
    let mut ways = vec![asked(typed)];
    if !is_phone(typed) {
        return ways;
    }
    let typed = typed.trim().replace("(0)", "");
    let number = digits(&typed);
    let bare = number.trim_start_matches('0');
    let mut also = |number: &str, least: usize| {
        if number.len() >= least && ways.iter().all(|way| way[0] != number) {
            ways.push(vec![number.to_owned()]);
        }
    };
    also(bare, SHORTEST_DIGITS);
    if typed.starts_with('+') || number.starts_with("00") {
        for code in 1..=3 {
            // What is left is still long enough to be somebody's number, and not a piece of anybody's.
            also(bare.get(code..).unwrap_or_default(), 6);
        }
    }
    ways
}

/// From the word that fits fewest, each row whose customer has all the other words too: cut off only behind that, after
/// 400 rows. The inner questions stay questions for one customer, whatever the database knows of its rows.
macro_rules! all_words {
    () => {
        "select f.customer, f.instrument from find f where f.key >= $1 and f.key < $2
         and ($3 = '' or (select g.customer from find g where g.customer = f.customer and g.key >= $3 and g.key < $4
         limit 1) is not null)
         and ($5 = '' or (select g.customer from find g where g.customer = f.customer and g.key >= $5 and g.key < $6
         limit 1) is not null)
         and ($7 = '' or (select g.customer from find g where g.customer = f.customer and g.key >= $7 and g.key < $8
         limit 1) is not null)
         order by f.key, f.customer, f.instrument limit 400"
    };
}
const ALL_WORDS: &str = all_words!();
/// Another word's rows of the customers that have all words.
const ROWS_OF: &str = concat!(
    "select g.customer, g.instrument from (select distinct d.customer from (",
    all_words!(),
    ") d) c cross join find g where g.customer = c.customer and g.key >= $9 and g.key < $10 limit 4000"
);

/// Behind the last key that begins with a word.
fn end(word: &str) -> String {
    format!("{word}\u{10ffff}")
}

/// The words, the one that fits fewest rows first; nobody counts further than [`COUNTED`].
async fn rarest_first(db: &Db, words: Vec<String>) -> Result<Vec<String>> {
    if words.len() < 2 {
        return Ok(words);
    }
    let mut counted = Vec::new();
    for word in words {
        let (rows,): (i64,) = db
            .read(
                "select count(*) from (select 1 as one from find where key >= $1 and key < $2 limit $3) few",
            )
            .bind(word.clone())
            .bind(end(&word))
            .bind(COUNTED)
            .one()
            .await?;
        counted.push((rows, word));
    }
    counted.sort_by_key(|counted| counted.0); // as many rows: the longer stays first
    Ok(counted.into_iter().map(|counted| counted.1).collect())
}

/// A question for all words, of which the rarest comes first.
fn ask<'a>(db: &'a Db, sql: &'static str, words: &[String]) -> Query<'a> {
    let mut query = db.read(sql);
    for at in 0..WORDS {
        let word = words.get(at).map_or("", String::as_str);
        query = query.bind(word.to_owned()).bind(end(word));
    }
    query
}

/// The rows of the rarest word, which comes first, whose customers have the others too.
async fn fitting(db: &Db, words: &[String]) -> Result<Vec<Hit>> {
    if words.is_empty() {
        return Ok(Vec::new());
    }
    Ok(ask(db, ALL_WORDS, words).all().await?)
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
    for way in ways(typed) {
        let hits = hits_of(db, way, contacts).await?;
        if !hits.is_empty() {
            return Ok(hits);
        }
    }
    Ok(Vec::new())
}

async fn hits_of(db: &Db, words: Vec<String>, contacts: bool) -> Result<Vec<Hit>> {
    let words = rarest_first(db, words).await?;
    let shown = |word: &str, hit: &Hit| {
        let contact = word.contains('@') || word.chars().all(|c| c.is_ascii_digit());
        contacts || !contact || hit.instrument.is_some()
    };
    let mut found = fitting(db, &words).await?;
    found.retain(|hit| words.first().is_some_and(|word| shown(word, hit)));
    for word in words.iter().skip(1) {
        let query = ask(db, ROWS_OF, &words).bind(word.clone()).bind(end(word));
        let mut rows: Vec<Hit> = query.all().await?;
        rows.retain(|hit| shown(word, hit));
        found = narrowed(&found, &rows);
    }
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
    for way in ways(typed) {
        let words = rarest_first(db, way).await?;
        let mut found: Vec<Uuid> = Vec::new();
        for hit in fitting(db, &words).await? {
            if !found.contains(&hit.customer) {
                found.push(hit.customer);
            }
        }
        if !found.is_empty() {
            found.truncate(limit);
            return Ok(found);
        }
    }
    Ok(Vec::new())
}
