//! An entry of the catalogue: its code is made once from its name, and it is retired or brought back, never deleted.

use std::ops::RangeInclusive;

use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use unicode_normalization::UnicodeNormalization;
use uuid::Uuid;

use crate::app::App;
use crate::clock::Moment;
use crate::db::Tx;
use crate::diagnosis::models;
use crate::error::{Error, Result};
use crate::form::{Form, Problems};
use crate::once::{self, Key};
use crate::staff::Who;

use super::{cause_page, descriptor_page, job_page};

/// The longest text of an entry.
pub const LONG: usize = 600;

/// A code for a new entry: the name in small letters, digits and `_`, with a number behind it if that is taken.
#[must_use]
pub fn code_of(name: &str, taken: impl Fn(&str) -> bool) -> String {
    let mut code = String::new();
    for c in name.nfkd().flat_map(char::to_lowercase) {
        if c.is_ascii_alphanumeric() {
            code.push(c);
        } else if !code.is_empty() && !code.ends_with('_') && (c.is_whitespace() || c.is_ascii_punctuation())
        {
            code.push('_');
        }
        if code.len() >= 40 {
            break;
        }
    }
    let code = code.trim_end_matches('_');
    // "new" is the address of the form, and a name without any such letter still needs a code.
    let code = if code.is_empty() || code == "new" {
        "own"
    } else {
        code
    };
    let numbered = (2..).map(|number| format!("{code}_{number}"));
    std::iter::once(code.to_owned())
        .chain(numbered)
        .find(|code| !taken(code))
        .unwrap_or_default()
}

/// Two names that a reader would take for the same.
#[must_use]
pub fn same_name(one: &str, other: &str) -> bool {
    crate::staff::name_key(one) == crate::staff::name_key(other)
}

/// A decimal number such as 1.5 or 1,5 as typed; empty is 0. What is no number is NaN, which no range holds.
#[must_use]
pub fn decimal(text: &str) -> f64 {
    let text = text.trim().replace(',', ".");
    let plain = text.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    match text.parse() {
        _ if text.is_empty() => 0.0,
        Ok(number) if plain => number,
        _ => f64::NAN,
    }
}

/// A number in its range, or a problem and the least of the range.
pub fn within(problems: &mut Problems, field: &str, number: f64, range: &RangeInclusive<f64>) -> f64 {
    if range.contains(&number) {
        return number;
    }
    problems.add(
        field,
        format!("Write a number from {} to {}.", range.start(), range.end()),
    );
    *range.start()
}

/// Somebody was faster.
pub const TAKEN: &str = "Somebody added this one just now. Look for it in the catalogue.";

/// The words when an entry was changed since it was read.
#[must_use]
pub fn stale(name: &str) -> String {
    format!("“{name}” was changed by somebody else just now. Look at it again, then decide.")
}

/// A code as it can be looked for: PostgreSQL refuses a NUL, which no code has.
#[must_use]
pub fn asked(code: &str) -> String {
    code.replace('\0', "\u{fffd}")
}

/// A new entry in the making, added once however often its form is sent.
pub struct New {
    pub tx: Tx,
    key: Option<Key>,
    actor: Uuid,
    now: Moment,
}

impl New {
    /// # Errors
    /// Again with the first answer, or what the database says.
    pub async fn begin(app: &App, who: &Who, once: &str, what: &[&str]) -> Result<New> {
        let now = app.clock.now();
        let what: Vec<&[u8]> = what.iter().map(|part| part.as_bytes()).collect();
        let key = (!once.is_empty()).then(|| Key::new(once, &what));
        let mut tx = app.db.begin().await?;
        if let Some(key) = &key {
            once::begin(&mut tx, who.actor, key, now).await?;
        }
        let actor = who.actor;
        Ok(New { tx, key, actor, now })
    }

    /// Keeps it and leads to its page.
    ///
    /// # Errors
    /// What the database says.
    pub async fn then(mut self, location: &str) -> Result<Response> {
        if let Some(key) = &self.key {
            once::keep(&mut self.tx, self.actor, key, 303, location, self.now).await?;
        }
        self.tx.commit().await?;
        Ok(Redirect::to(location).into_response())
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    Cause,
    Job,
    Descriptor,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Retire {
    retired: String,
    version: i64,
}

/// Retires an entry, or brings it back. Its wording stays as it was: later editions may still better it.
///
/// # Errors
/// Not found, stale, or what the database says.
pub async fn retire(tx: &mut Tx, (kind, code): (Kind, &str), version: i64, retired: bool) -> Result<()> {
    let (find, write) = match kind {
        Kind::Cause => (
            "select name from cause where code = $1",
            "update cause set retired = $3, version = version + 1 where code = $1 and version = $2",
        ),
        Kind::Job => (
            "select name from job where code = $1",
            "update job set retired = $3, version = version + 1 where code = $1 and version = $2",
        ),
        Kind::Descriptor => (
            "select question from descriptor where code = $1",
            "update descriptor set retired = $3, version = version + 1 where code = $1 and version = $2",
        ),
    };
    let name: Option<(String,)> = tx.query(find).bind(asked(code)).optional().await?;
    let (name,) = name.ok_or(Error::NotFound)?;
    let query = tx.query(write).bind(code.to_owned()).bind(version);
    if query.bind(retired).execute().await? == 0 {
        return Err(Error::Stale(stale(&name)));
    }
    if kind != Kind::Job {
        models::changed(tx).await?; // nothing retired is looked for or asked
    }
    Ok(())
}

async fn on_page(app: &App, what: (Kind, &str), form: &Retire) -> Result<()> {
    let mut tx = app.db.begin().await?;
    retire(&mut tx, what, form.version, form.retired == "yes").await?;
    tx.commit().await?;
    Ok(())
}

/// The status of an entry's page, which may show what came too late.
#[must_use]
pub fn status(late: Option<&String>) -> StatusCode {
    if late.is_some() {
        StatusCode::PRECONDITION_FAILED
    } else {
        StatusCode::OK
    }
}

/// `POST /catalogue/causes/{code}/retired`
///
/// # Errors
/// Not found, or what the database says. When it comes late, the page as it stands now asks again.
pub async fn retire_cause(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(code): Path<String>,
    form: Form<Retire>,
) -> Result<Response> {
    match on_page(&app, (Kind::Cause, &code), &form.of).await {
        Ok(()) => Ok(Redirect::to(&format!("/catalogue/causes/{code}")).into_response()),
        Err(Error::Stale(words)) => cause_page::show(&app, &who, &code, Some(words)).await,
        Err(other) => Err(other),
    }
}

/// `POST /catalogue/jobs/{code}/retired`
///
/// # Errors
/// Not found, or what the database says. When it comes late, the page as it stands now asks again.
pub async fn retire_job(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(code): Path<String>,
    form: Form<Retire>,
) -> Result<Response> {
    match on_page(&app, (Kind::Job, &code), &form.of).await {
        Ok(()) => Ok(Redirect::to(&format!("/catalogue/jobs/{code}")).into_response()),
        Err(Error::Stale(words)) => job_page::show(&app, &who, &code, Some(words)).await,
        Err(other) => Err(other),
    }
}

/// `POST /catalogue/questions/{code}/retired`
///
/// # Errors
/// Not found, or what the database says. When it comes late, the page as it stands now asks again.
pub async fn retire_question(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(code): Path<String>,
    form: Form<Retire>,
) -> Result<Response> {
    match on_page(&app, (Kind::Descriptor, &code), &form.of).await {
        Ok(()) => Ok(Redirect::to(&format!("/catalogue/questions/{code}")).into_response()),
        Err(Error::Stale(words)) => descriptor_page::show(&app, &who, &code, Some(words)).await,
        Err(other) => Err(other),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_made_of_the_name_and_is_its_own() {
        let free = |_: &str| false;
        assert_eq!(code_of("Loose Nut, upper edge!", free), "loose_nut_upper_edge");
        assert_eq!(code_of("Ébène fêlée", free), "ebene_felee");
        assert_eq!(code_of("New", free), "own");
        assert_eq!(code_of("弦", free), "own");
        assert_eq!(code_of("Nut", |code| code == "nut" || code == "nut_2"), "nut_3");
        assert!(code_of(&"long name ".repeat(40), free).len() <= 40);
    }

    #[test]
    fn a_decimal_is_read_with_point_or_comma() {
        let mut problems = Problems::default();
        let mut read = |text| within(&mut problems, "f", decimal(text), &(0.5..=3.0));
        assert_eq!((read("1,4"), read("2.5"), read("1e1")), (1.4, 2.5, 0.5));
        assert_eq!(problems.iter().count(), 1);
        assert!(problems.at("f").contains("from 0.5 to 3"));
    }
}
