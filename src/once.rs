//! An act that carries a key is done once: a second sending, by double tap or by retry, gets the first answer.

use axum::http::HeaderMap;
use sha2::{Digest, Sha256};
use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::Moment;
use crate::db::Tx;
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::staff::session;

/// The header in which a call carries its key.
pub const HEADER: &str = "Idempotency-Key";
const LONGEST: usize = 200;
/// Keys are kept for so long.
const KEPT_MS: i64 = 7 * 86_400_000;

/// The key of an act, and a fingerprint of what it asks.
#[derive(Clone, Debug)]
pub struct Key {
    text: String,
    fingerprint: String,
}

#[derive(FromRow)]
struct Kept {
    fingerprint: String,
    status: i64,
    answer: String,
}

impl Key {
    /// `what` is all that makes the act this one: its address and its body.
    #[must_use]
    pub fn new(text: &str, what: &[&[u8]]) -> Key {
        let mut hash = Sha256::new();
        for part in what {
            hash.update(part.len().to_le_bytes());
            hash.update(part);
        }
        let fingerprint = hash
            .finalize()
            .iter()
            .fold(String::new(), |text, byte| format!("{text}{byte:02x}"));
        Key {
            text: text.chars().take(LONGEST).collect(),
            fingerprint,
        }
    }
}

impl Key {
    /// The `Idempotency-Key` of a call, if it has one.
    ///
    /// # Errors
    /// A problem if it is empty, too long or not plain letters: to overlook it would do the act twice.
    pub fn of_call(headers: &HeaderMap, what: &str, body: &[u8]) -> Result<Option<Key>> {
        let mut keys = headers.get_all(HEADER).iter();
        let Some(key) = keys.next() else { return Ok(None) };
        let text = key.to_str().unwrap_or_default();
        if text.is_empty() || text.len() > LONGEST || keys.next().is_some() {
            let mut problems = Problems::default();
            problems.add(
                HEADER,
                "Send one key of 1 to 200 plain letters, digits and signs.",
            );
            return Err(Error::Problems(problems));
        }
        Ok(Some(Key::new(text, &[what.as_bytes(), body])))
    }
}

/// A fresh key for a form.
///
/// # Errors
/// When the system has no randomness to give.
pub fn fresh() -> Result<String> {
    session::secret().map(|secret| secret[..22].to_owned())
}

/// Takes the key for this transaction. Whoever comes second waits here until the first is done, and gets its answer.
///
/// # Errors
/// [`Error::Again`] with the first answer; a problem if the key was used for something else.
pub async fn begin(tx: &mut Tx, actor: Uuid, key: &Key, now: Moment) -> Result<()> {
    let taken = tx
        .query(
            "insert into once (actor, key, fingerprint, status, answer, at) values ($1, $2, $3, 0, '', $4)
             on conflict do nothing",
        )
        .bind(actor)
        .bind(key.text.clone())
        .bind(key.fingerprint.clone())
        .bind(now)
        .execute()
        .await?;
    if taken == 1 {
        return Ok(());
    }
    let first: Kept = tx
        .query("select fingerprint, status, answer from once where actor = $1 and key = $2")
        .bind(actor)
        .bind(key.text.clone())
        .one()
        .await?;
    if first.fingerprint != key.fingerprint {
        let mut problems = Problems::default();
        problems.add(
            HEADER,
            "This key was used for something else. Take a new key for a new act.",
        );
        return Err(Error::Problems(problems));
    }
    Err(Error::Again {
        status: u16::try_from(first.status).unwrap_or(200),
        answer: first.answer,
    })
}

/// Keeps the answer with the key, in the act's own transaction.
///
/// # Errors
/// What the database says.
pub async fn keep(tx: &mut Tx, actor: Uuid, key: &Key, status: u16, answer: &str, now: Moment) -> Result<()> {
    tx.query("update once set status = $3, answer = $4 where actor = $1 and key = $2")
        .bind(actor)
        .bind(key.text.clone())
        .bind(i64::from(status))
        .bind(answer.to_owned())
        .execute()
        .await?;
    // One in many acts sweeps, so that the table stays small without a worker of its own.
    if now.0 % 64 == 0 {
        tx.query("delete from once where at < $1")
            .bind(now.plus_ms(-KEPT_MS))
            .execute()
            .await?;
    }
    Ok(())
}
