//! What a program sends: JSON in a body or words in a query, read strictly, refused in plain words at the field.

use std::ops::Deref;

use axum::body::Bytes;
use axum::extract::{FromRequest, FromRequestParts, Request};
use axum::http::header::CONTENT_TYPE;
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};
use serde_path_to_error::{Path, Segment};

use crate::act::{self, Guard};
use crate::error::{Error, Result};
use crate::form::{self, Problems};
use crate::once::{self, Key};

use super::strict::{self, Shaped};

/// All that tells this call from another.
pub struct Sent {
    what: String,
    headers: HeaderMap,
    bytes: Bytes,
}

/// The JSON of a body.
///
/// The rules for every body: a member that is `null` is as if left out; a member that is not known is refused; a number
/// is written as one; nothing holds U+0000, which one of the databases could not keep.
pub struct Json<T> {
    pub of: T,
    sent: Sent,
}

/// What is to be otherwise: a member that is left out stays as it is, one that is `null` is cleared (RFC 7396).
pub struct Patch {
    said: Value,
    sent: Sent,
}

/// A body that says nothing; an empty one will do.
#[derive(serde::Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Nothing {}

/// The words of a query. One that is empty is as if left out; one that is not known, or stands twice, is refused.
pub struct Query<T>(pub T);

impl Sent {
    /// What a change to an order says of itself.
    ///
    /// # Errors
    /// When `If-Match` is missing or cannot be read.
    pub fn guard(&self) -> Result<Guard> {
        Guard::of_call(&self.headers, &self.what, &self.bytes)
    }

    /// The version that is changed.
    ///
    /// # Errors
    /// When `If-Match` is missing or cannot be read.
    pub fn version(&self) -> Result<i64> {
        act::version(&self.headers)
    }

    /// The key of something that is made, beside the body in other words: a fingerprint is kept, and nobody shall guess
    /// a password from it.
    ///
    /// # Errors
    /// When it is no key.
    pub fn key_for(&self, body: &impl Serialize) -> Result<Option<Key>> {
        let body = serde_json::to_vec(body).map_err(Error::fault)?;
        Key::of_call(&self.headers, &self.what, &body)
    }

    /// The key under which something is made once, if the call has one.
    ///
    /// # Errors
    /// When it is no key.
    pub fn key(&self) -> Result<Option<Key>> {
        Key::of_call(&self.headers, &self.what, &self.bytes)
    }

    /// The key, where there must be one.
    ///
    /// # Errors
    /// When there is none.
    pub fn needed_key(&self) -> Result<Key> {
        self.key()?.ok_or_else(|| {
            let words = format!(
                "Send {} with this: a word of your own for this one act, so that a second sending is not a second act.",
                once::HEADER
            );
            Error::Unreadable(words)
        })
    }
}

impl<T> Deref for Json<T> {
    type Target = Sent;
    fn deref(&self) -> &Sent {
        &self.sent
    }
}

impl Deref for Patch {
    type Target = Sent;
    fn deref(&self) -> &Sent {
        &self.sent
    }
}

impl Patch {
    /// The thing as it is to be, made of the thing as it is.
    ///
    /// # Errors
    /// What does not fit, at its field.
    pub fn onto<T: Serialize + DeserializeOwned>(&self, kept: &T) -> Result<T> {
        let kept = serde_json::to_value(kept).map_err(Error::fault)?;
        let (Value::Object(mut members), Value::Object(said)) = (kept, self.said.clone()) else {
            return shaped(self.said.clone(), "");
        };
        find_nuls(&self.said, "")?;
        for (name, value) in said {
            let clears = members.get(&name).is_some_and(|kept| !kept.is_boolean());
            if value.is_null() && clears {
                members.remove(&name);
            } else {
                // Null for what is not known, or is a yes or no, goes on, to be refused as any other.
                members.insert(name, strict::without_nulls(value));
            }
        }
        members.retain(|name, value| !value.is_null() || self.said.get(name).is_some());
        shaped(Value::Object(members), "")
    }
}

impl<S: Send + Sync, T: DeserializeOwned> FromRequest<S> for Json<T> {
    type Rejection = Error;

    async fn from_request(request: Request, state: &S) -> Result<Self> {
        let (value, sent) = Sent::read(request, state).await?;
        let of = shaped(strict::without_nulls(value), "")?;
        Ok(Json { of, sent })
    }
}

impl<S: Send + Sync> FromRequest<S> for Patch {
    type Rejection = Error;

    async fn from_request(request: Request, state: &S) -> Result<Self> {
        let (said, sent) = Sent::read(request, state).await?;
        Ok(Patch { said, sent })
    }
}

impl Sent {
    async fn read<S: Send + Sync>(request: Request, state: &S) -> Result<(Value, Sent)> {
        let what = format!("{} {}", request.method(), request.uri().path());
        let headers = request.headers().clone();
        let kind = headers.get(CONTENT_TYPE);
        let untyped = kind.is_none();
        if kind.is_some_and(|kind| !is_json(kind)) {
            return Err(Error::MediaType("JSON (content type application/json)"));
        }
        let bytes = form::body(request, state).await?;
        let value = match (untyped, bytes.is_empty()) {
            (true, true) => Value::Object(Map::new()),
            (true, false) => return Err(Error::MediaType("JSON (content type application/json)")),
            (false, _) => strict::parse(&bytes)?,
        };
        let sent = Sent { what, headers, bytes };
        Ok((value, sent))
    }
}

/// `application/json`, in UTF-8 if a charset is named.
fn is_json(kind: &HeaderValue) -> bool {
    let kind = kind.to_str().unwrap_or_default().to_ascii_lowercase();
    let mut parts = kind.split(';').map(str::trim);
    parts.next() == Some("application/json")
        && parts.all(|part| {
            part.strip_prefix("charset=")
                .is_none_or(|set| set.trim_matches('"') == "utf-8")
        })
}

impl<S: Send + Sync, T: DeserializeOwned> FromRequestParts<S> for Query<T> {
    type Rejection = Error;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self> {
        let query = parts.uri.query().unwrap_or_default().as_bytes();
        // Broken escapes are refused: decoded loosely they would turn into other signs in silence.
        if std::str::from_utf8(&form::decoded(query)).is_err() {
            return Err(Error::Unreadable(
                "The address holds signs that are no text in UTF-8.".into(),
            ));
        }
        let (mut said, mut problems) = (Map::new(), Problems::default());
        for (name, value) in form_urlencoded::parse(query).into_owned() {
            if said.insert(name.clone(), Value::String(value)).is_some() {
                problems.add(format!("?{name}"), "This stands twice. Say it once.");
            }
        }
        problems.settle()?;
        said.retain(|_, value| value.as_str() != Some(""));
        Ok(Query(shaped(Value::Object(said), "?")?))
    }
}

/// The same problems, told of a query's words.
#[must_use]
pub fn in_query(problems: &Problems) -> Problems {
    let mut told = Problems::default();
    for problem in problems {
        told.add(format!("?{}", problem.field), problem.words.clone());
    }
    told
}

/// The shape of a value, or what does not fit, told at the field; `before` its name stands a `?` for a query.
fn shaped<T: DeserializeOwned>(value: Value, before: &str) -> Result<T> {
    find_nuls(&value, before)?;
    serde_path_to_error::deserialize(Shaped(value)).map_err(|refusal| {
        let mut field = steps(refusal.path());
        let refusal = refusal.into_inner();
        field.extend(refusal.missing.map(str::to_owned));
        let mut problems = Problems::default();
        problems.add(format!("{before}{}", field.join(".")), refusal.words);
        Error::Problems(problems)
    })
}

fn find_nuls(value: &Value, before: &str) -> Result<()> {
    let mut problems = Problems::default();
    strict::find_nul(&mut problems, value, before, "");
    problems.settle()
}

fn steps(path: &Path) -> Vec<String> {
    path.iter()
        .filter_map(|step| match step {
            Segment::Seq { index } => Some(index.to_string()),
            Segment::Map { key } => Some(key.clone()),
            Segment::Enum { .. } | Segment::Unknown => None,
        })
        .collect()
}
