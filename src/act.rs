//! An act on an order: one transaction, one version, one line of the story, done once however often it is sent.

use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use serde::Serialize;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::{Day, Moment};
use crate::counter::customer::Customer;
use crate::counter::instrument::Instrument;
use crate::counter::order::{self, Order};
use crate::counter::stage::{self, Move};
use crate::counter::story::Story;
use crate::db::Tx;
use crate::diagnosis::lesson;
use crate::diagnosis::models::Models;
use crate::error::{Error, Result};
use crate::form::Typed;
use crate::once::{self, Key};
use crate::reports::repaired::{self, Repairs};
use crate::reports::tally::{Cell, Counts};
use crate::staff::Who;

/// What a change says of itself: which version it was made on, and the key under which it is done once.
#[derive(Clone, Debug, Default)]
pub struct Guard {
    pub version: Option<i64>,
    pub key: Option<Key>,
}

pub struct Act {
    pub tx: Tx,
    pub order: Order,
    pub instrument: Instrument,
    pub shop: Shop,
    pub who: Who,
    pub now: Moment,
    pub today: Day,
    /// What it may be; brought up to date from within the act.
    pub models: Models,
    /// Whether the act changes what the order teaches.
    pub teaches: bool,
    /// Of which causes the act changes what was repaired on the instrument, or whether it came back.
    pub repairs: Repairs,
    /// What the act counts, kept at its end.
    pub counts: Counts,
    /// The kind of its customer, once it was asked for.
    kind: Option<String>,
    key: Option<Key>,
    story: Vec<String>,
}

impl Guard {
    /// From a form of ours: its hidden fields `version` and `once`.
    #[must_use]
    pub fn of_form(typed: &Typed, what: &str) -> Guard {
        let key = typed.at("once");
        let body: Vec<u8> = typed
            .under("")
            .flat_map(|(name, value)| [name.as_bytes(), b"=", value.as_bytes(), b"\n"].concat())
            .collect();
        Guard {
            version: typed.at("version").parse().ok(),
            key: (!key.is_empty()).then(|| Key::new(key, &[what.as_bytes(), &body])),
        }
    }

    /// From the headers of a call: `If-Match`, which a change must have, and `Idempotency-Key`.
    ///
    /// # Errors
    /// When `If-Match` is missing or cannot be read, or the key is no key.
    pub fn of_call(headers: &HeaderMap, what: &str, body: &[u8]) -> Result<Guard> {
        Ok(Guard {
            version: Some(version(headers)?),
            key: Key::of_call(headers, what, body)?,
        })
    }
}

impl Act {
    /// Begins: the key first (an act done before ends here with its answer), then the order at its version.
    ///
    /// # Errors
    /// Again, not found, stale, or what the database says.
    pub async fn begin(app: &App, who: &Who, id_or_tag: &str, guard: Guard) -> Result<Act> {
        let now = app.clock.now();
        let mut tx = app.db.begin().await?;
        if let Some(key) = &guard.key {
            once::begin(&mut tx, who.actor, key, now).await?;
        }
        let order = Order::get(&mut tx, id_or_tag).await?;
        if guard.version.is_some_and(|version| version != order.version) {
            return Err(Error::Stale(order::STALE.into()));
        }
        let shop = Shop::get(&mut tx).await?;
        let instrument = Instrument::get(&mut tx, order.instrument).await?;
        let mut act = Act::on(app, who, (tx, order), instrument, shop);
        (act.now, act.key) = (now, guard.key);
        act.today = act.shop.today(now);
        Ok(act)
    }

    /// Acts on within a transaction that is open, on an order that is its own.
    #[must_use]
    pub fn on(app: &App, who: &Who, (tx, order): (Tx, Order), instrument: Instrument, shop: Shop) -> Act {
        let now = app.clock.now();
        Act {
            tx,
            order,
            instrument,
            today: shop.today(now),
            shop,
            who: who.clone(),
            now,
            models: app.models.clone(),
            teaches: false,
            repairs: Repairs::default(),
            counts: Counts::default(),
            kind: None,
            key: None,
            story: Vec::new(),
        }
    }

    /// Moves the order on, if the table of moves allows it.
    ///
    /// # Errors
    /// A conflict with the reason, or that this person may not.
    pub fn go(&mut self, act: Move) -> Result<()> {
        let bow = self.instrument.is_bow();
        let stage = stage::after_of(self.order.stage, act, self.who.roles, bow)?;
        self.order.enter(stage, self.today);
        Ok(())
    }

    /// Counts the order in or out: of a cause, or of all that were inspected when it is empty.
    ///
    /// # Errors
    /// What the database says.
    pub async fn count(&mut self, cause: &str, orders: i64) -> Result<()> {
        let kind = match self.kind.take() {
            Some(kind) => kind,
            None => Customer::kind_of(&mut self.tx, self.order.customer).await?,
        };
        let cell = Cell::of(&self.order, &self.instrument, &kind);
        self.counts.orders(cell, cause, orders);
        self.kind = Some(kind);
        Ok(())
    }

    /// Adds a line to the story.
    pub fn say(&mut self, words: impl Into<String>) {
        self.story.push(words.into());
    }

    /// The id for something new, in the order of time.
    #[must_use]
    pub fn id(&self) -> Uuid {
        Uuid::now_v7()
    }

    /// Writes the order, its story and what it counts; the transaction is still open, for the answer to be read from.
    ///
    /// # Errors
    /// Stale, or what the database says.
    pub async fn write(&mut self) -> Result<()> {
        if std::mem::take(&mut self.teaches) {
            lesson::learn(self).await?;
        }
        let repairs = std::mem::take(&mut self.repairs);
        if repairs != Repairs::Unchanged {
            repaired::begin(&mut self.tx, self.instrument.id).await?;
        }
        self.order.update(&mut self.tx).await?;
        repaired::keep(&mut self.tx, self.instrument.id, &repairs).await?;
        let lines: Vec<Story> = std::mem::take(&mut self.story)
            .into_iter()
            .map(|words| Story {
                id: Uuid::now_v7(),
                work_order: self.order.id,
                at: self.now,
                by_name: self.who.name.clone(),
                words,
            })
            .collect();
        Story::insert(&mut self.tx, &lines).await?;
        self.counts.keep_by(&mut self.tx, &self.shop.rules).await
    }

    /// Keeps everything, with the answer under its key.
    ///
    /// # Errors
    /// What the database says; then nothing is kept.
    pub async fn commit(mut self, status: StatusCode, answer: &str) -> Result<Order> {
        if let Some(key) = &self.key {
            once::keep(
                &mut self.tx,
                self.who.actor,
                key,
                status.as_u16(),
                answer,
                self.now,
            )
            .await?;
        }
        self.tx.commit().await?;
        Ok(self.order)
    }

    /// Writes, keeps, and sends the browser on.
    ///
    /// # Errors
    /// As [`Act::write`] and [`Act::commit`].
    pub async fn then(mut self, location: &str) -> Result<Response> {
        self.write().await?;
        self.commit(StatusCode::SEE_OTHER, location).await?;
        Ok(Redirect::to(location).into_response())
    }

    /// Writes, keeps, and answers a call with JSON and the order's new version as ETag.
    ///
    /// # Errors
    /// As [`Act::write`] and [`Act::commit`].
    pub async fn answer(self, status: StatusCode, body: &impl Serialize) -> Result<Response> {
        let body = serde_json::to_string(body).map_err(Error::fault)?;
        let order = self.commit(status, &body).await?;
        let kind = (header::CONTENT_TYPE, HeaderValue::from_static("application/json"));
        Ok((status, [kind, (header::ETAG, etag(order.version))], body).into_response())
    }
}

/// The version that a call changes.
///
/// # Errors
/// When `If-Match` is missing or cannot be read.
pub fn version(headers: &HeaderMap) -> Result<i64> {
    let version = headers.get(header::IF_MATCH).ok_or(Error::VersionMissing)?;
    let version = version.to_str().unwrap_or_default().trim();
    let version = version.trim_start_matches("W/").trim_matches('"').parse();
    version.map_err(|_| Error::Stale("The version in If-Match is none that this ever had.".into()))
}

/// A version as an entity tag.
#[must_use]
pub fn etag(version: i64) -> HeaderValue {
    HeaderValue::from_str(&format!("\"{version}\"")).unwrap_or(HeaderValue::from_static("\"0\""))
}
