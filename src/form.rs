//! A form is what somebody typed: read without loss, checked once, and given back whole when something wants mending.

use axum::body::Bytes;
use axum::extract::{FromRequest, Request};
use axum::http::header::CONTENT_TYPE;
use serde::de::DeserializeOwned;

use crate::error::Error;

/// A field that wants mending, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    pub field: String,
    pub words: String,
}

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Problems(Vec<Problem>);

/// What was typed, field by field, as it was typed.
#[derive(Clone, Debug, Default)]
pub struct Typed(Vec<(String, String)>);

/// A form as sent by a page of ours.
pub struct Form<T> {
    pub of: T,
    pub typed: Typed,
}

impl Problems {
    pub fn add(&mut self, field: impl Into<String>, words: impl Into<String>) {
        self.0.push(Problem {
            field: field.into(),
            words: words.into(),
        });
    }

    /// As the fields stand on the page, so that the summary leads down it.
    pub fn in_order(&mut self, fields: &[&str]) {
        let place = |problem: &Problem| fields.iter().position(|own| *own == problem.field);
        self.0
            .sort_by_key(|problem| place(problem).unwrap_or(fields.len()));
    }

    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub fn iter(&self) -> std::slice::Iter<'_, Problem> {
        self.0.iter()
    }

    /// The words for one field, or nothing.
    #[must_use]
    pub fn at(&self, field: &str) -> &str {
        self.0
            .iter()
            .find(|problem| problem.field == field)
            .map_or("", |problem| problem.words.as_str())
    }

    /// # Errors
    /// The problems, if there are any.
    pub fn settle(self) -> Result<(), Error> {
        if self.is_empty() {
            Ok(())
        } else {
            Err(Error::Problems(self))
        }
    }

    /// One line of text: trimmed, without signs that cannot be seen or printed.
    pub fn line(&mut self, field: &str, text: &str, longest: usize) -> String {
        let text = text.trim();
        if text
            .chars()
            .any(|c| c.is_control() || matches!(c, '\u{2028}' | '\u{2029}' | '\u{feff}'))
        {
            self.add(
                field,
                "There is a sign in this that cannot be kept. Type it again.",
            );
        } else if text.chars().count() > longest {
            self.add(field, format!("Keep this to {longest} letters."));
        }
        text.to_owned()
    }

    /// A line that must say something.
    pub fn needed(&mut self, field: &str, text: &str, longest: usize, words: &str) -> String {
        let text = self.line(field, text, longest);
        if !text.chars().any(seen) {
            self.add(field, words);
        }
        text
    }

    /// Several lines; line ends are kept as one sign each.
    pub fn text(&mut self, field: &str, text: &str, longest: usize) -> String {
        let text = text.replace("\r\n", "\n").trim().to_owned();
        if text
            .chars()
            .any(|c| (c.is_control() && c != '\n' && c != '\t') || matches!(c, '\u{2028}' | '\u{2029}'))
        {
            self.add(
                field,
                "There is a sign in this that cannot be kept. Type it again.",
            );
        } else if text.chars().count() > longest {
            self.add(field, format!("Keep this to {longest} letters."));
        }
        text
    }

    /// A whole number in a range; empty is none.
    pub fn number(&mut self, field: &str, text: &str, range: std::ops::RangeInclusive<i64>) -> Option<i64> {
        self.whole(field, whole(text), range)
    }

    /// The same of a number that was given as one.
    pub fn whole(
        &mut self,
        field: &str,
        given: Option<i64>,
        range: std::ops::RangeInclusive<i64>,
    ) -> Option<i64> {
        let number = given.filter(|number| range.contains(number));
        if number.is_none() && given.is_some() {
            self.add(
                field,
                format!("Write a whole number from {} to {}.", range.start(), range.end()),
            );
        }
        number
    }
}

/// A whole number as typed; empty is none. What is no number is the least there is, which no range holds.
#[must_use]
pub fn whole(text: &str) -> Option<i64> {
    let text = text.trim();
    let plain = text.bytes().all(|b| b.is_ascii_digit());
    let number = text.parse().ok().filter(|_| plain);
    (!text.is_empty()).then(|| number.unwrap_or(i64::MIN))
}

/// Whether a sign leaves ink: a name of blanks and joiners alone is no name.
fn seen(c: char) -> bool {
    !c.is_whitespace()
        && !matches!(c, '\u{ad}' | '\u{115f}' | '\u{1160}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{2800}' | '\u{3164}' | '\u{feff}' | '\u{ffa0}')
}

impl<'a> IntoIterator for &'a Problems {
    type Item = &'a Problem;
    type IntoIter = std::slice::Iter<'a, Problem>;
    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl Typed {
    /// What stands in a field; empty if nothing does.
    #[must_use]
    pub fn at(&self, field: &str) -> &str {
        self.0
            .iter()
            .find(|(name, _)| name == field)
            .map_or("", |(_, value)| value.as_str())
    }

    /// Whether a field (a box, a choice) has this value among others.
    #[must_use]
    pub fn has(&self, field: &str, value: &str) -> bool {
        self.0.iter().any(|(name, kept)| name == field && kept == value)
    }

    /// The fields whose name begins so, with the rest of the name: `answer.onset` by `answer.`.
    pub fn under<'a>(&'a self, prefix: &'a str) -> impl Iterator<Item = (&'a str, &'a str)> {
        self.0
            .iter()
            .filter_map(move |(name, value)| Some((name.strip_prefix(prefix)?, value.as_str())))
    }

    #[must_use]
    pub fn with(mut self, field: &str, value: impl Into<String>) -> Typed {
        self.0.push((field.to_owned(), value.into()));
        self
    }

    /// The same with one field changed.
    #[must_use]
    pub fn instead(mut self, field: &str, value: &str) -> Typed {
        self.0.retain(|(name, _)| name != field);
        self.with(field, value)
    }

    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// The body of a request as bytes, with plain words when it is too long or broke off.
///
/// # Errors
/// [`Error::TooLarge`] or [`Error::Unreadable`].
pub async fn body<S: Send + Sync>(request: Request, state: &S) -> Result<Bytes, Error> {
    Bytes::from_request(request, state).await.map_err(|refusal| {
        if refusal.status() == axum::http::StatusCode::PAYLOAD_TOO_LARGE {
            Error::TooLarge("a page's text (256 kB)")
        } else {
            Error::Unreadable("It broke off on the way. Send it again.".into())
        }
    })
}

impl<S: Send + Sync, T: DeserializeOwned> FromRequest<S> for Form<T> {
    type Rejection = Error;

    async fn from_request(request: Request, state: &S) -> Result<Self, Error> {
        let kind = request
            .headers()
            .get(CONTENT_TYPE)
            .and_then(|value| value.to_str().ok())
            .unwrap_or_default();
        if !kind.starts_with("application/x-www-form-urlencoded") {
            return Err(Error::MediaType("a form (application/x-www-form-urlencoded)"));
        }
        let bytes = body(request, state).await?;
        let unreadable = || {
            Error::Unreadable("The form could not be read. Go back, load the page anew and try again.".into())
        };
        // Broken escapes are refused: decoded loosely they would turn into other signs in silence.
        if std::str::from_utf8(&decoded(&bytes)).is_err() {
            return Err(unreadable());
        }
        let of = serde_html_form::from_bytes(&bytes).map_err(|_| unreadable())?;
        Ok(Form {
            of,
            typed: Typed(form_urlencoded::parse(&bytes).into_owned().collect()),
        })
    }
}

/// Escapes taken out, as bytes, so that what is no text can be refused.
pub(crate) fn decoded(bytes: &[u8]) -> Vec<u8> {
    let digit = |b: Option<&u8>| b.and_then(|b| (*b as char).to_digit(16));
    let mut out = Vec::with_capacity(bytes.len());
    let mut at = 0;
    while at < bytes.len() {
        match (bytes[at], digit(bytes.get(at + 1)), digit(bytes.get(at + 2))) {
            (b'%', Some(high), Some(low)) => {
                out.push(u8::try_from(high * 16 + low).unwrap_or(0xff));
                at += 3;
            }
            (byte, ..) => {
                out.push(byte);
                at += 1;
            }
        }
    }
    out
}
