//! An act on anything but an order, for programs: one transaction, one version, done once however often it is sent.

use axum::http::StatusCode;
use axum::response::Response;
use serde::Serialize;

use crate::act::Guard;
use crate::app::App;
use crate::clock::Moment;
use crate::db::Tx;
use crate::error::{Error, Result};
use crate::once::{self, Key};
use crate::staff::Who;

use super::orders::json;

pub struct Doing {
    pub tx: Tx,
    pub now: Moment,
    who: Who,
    guard: Guard,
}

/// The version that was read is the one that stands.
///
/// # Errors
/// Stale.
pub fn fits(read: Option<i64>, stands: i64) -> Result<()> {
    if read == Some(stands) {
        return Ok(());
    }
    Err(Error::Stale(
        "This was changed since you read it. Read it again, then change it.".into(),
    ))
}

impl Doing {
    /// Begins to make something new, under its key.
    ///
    /// # Errors
    /// Again with the first answer, or what the database says.
    pub async fn make(app: &App, who: &Who, key: Option<Key>) -> Result<Doing> {
        Doing::begin(app, who, Guard { version: None, key }).await
    }

    /// Begins to change what stood at this version; a second sending finds another.
    ///
    /// # Errors
    /// What the database says.
    pub async fn change(app: &App, who: &Who, version: i64) -> Result<Doing> {
        let version = Some(version);
        Doing::begin(app, who, Guard { version, key: None }).await
    }

    /// Begins an act under its guard.
    ///
    /// # Errors
    /// Again with the first answer, or what the database says.
    pub async fn begin(app: &App, who: &Who, guard: Guard) -> Result<Doing> {
        let now = app.clock.now();
        let mut tx = app.db.begin().await?;
        if let Some(key) = &guard.key {
            once::begin(&mut tx, who.actor, key, now).await?;
        }
        let who = who.clone();
        Ok(Doing { tx, now, who, guard })
    }

    /// Nothing is changed that was changed by somebody else since it was read.
    ///
    /// # Errors
    /// Stale.
    pub fn fits(&self, version: i64) -> Result<()> {
        fits(self.guard.version, version)
    }

    /// Keeps it, and answers with what stands now and its version as ETag.
    ///
    /// # Errors
    /// What the database says; then nothing is kept.
    pub async fn answer(
        mut self,
        status: StatusCode,
        version: i64,
        told: &impl Serialize,
    ) -> Result<Response> {
        let body = serde_json::to_string(told).map_err(Error::fault)?;
        if let Some(key) = &self.guard.key {
            let (actor, status) = (self.who.actor, status.as_u16());
            once::keep(&mut self.tx, actor, key, status, &body, self.now).await?;
        }
        self.tx.commit().await?;
        Ok(json(status, Some(version), body))
    }
}
