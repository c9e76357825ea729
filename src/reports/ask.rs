//! What is asked of a report: the months, and one family or all of them.

use crate::clock::Day;
use crate::counter::instrument::FAMILIES;
use crate::error::{Error, Result};
use crate::form::{self, Problems};

use super::span::{NotSpan, Span};

/// As it stands in the address of the page.
#[derive(Clone, Debug, Default)]
pub struct Ask {
    pub from: String,
    pub to: String,
    pub family: String,
    /// Which table, when it is asked for as CSV.
    pub table: String,
    /// Which of the reports that were kept, when it is asked for as it was.
    pub reported: String,
}

/// What was asked, once understood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Asked {
    pub span: Span,
    /// Empty for all families.
    pub family: &'static str,
    /// The months stood the wrong way round, and were turned.
    pub turned: bool,
}

/// The families that are counted, with their words: a bow has no buzz causes.
pub fn families() -> impl Iterator<Item = (&'static str, &'static str)> {
    FAMILIES
        .iter()
        .filter(|family| family.0 != "bow")
        .map(|family| (family.0, family.1))
}

/// A family by its code; empty is all of them.
pub fn family(problems: &mut Problems, field: &str, code: &str) -> &'static str {
    match families().find(|family| family.0 == code) {
        Some(family) => family.0,
        None if code.is_empty() => "",
        None => {
            problems.add(
                field,
                "Choose violin, viola, cello or bass, or leave it out for all.",
            );
            ""
        }
    }
}

impl Ask {
    /// Reads the query of an address; what it does not know of it does not matter here.
    ///
    /// # Errors
    /// Unreadable, when a part stands twice or is no text.
    pub fn read(query: Option<&str>) -> Result<Ask> {
        let query = query.unwrap_or_default().as_bytes();
        if std::str::from_utf8(&form::decoded(query)).is_err() {
            return Err(Error::Unreadable(
                "There are signs in this address that are no text. Choose the months anew.".into(),
            ));
        }
        let (mut ask, mut said) = (Ask::default(), Vec::new());
        for (name, value) in form_urlencoded::parse(query).into_owned() {
            let (part, words) = match name.as_str() {
                "from" => (&mut ask.from, "the first month"),
                "to" => (&mut ask.to, "the last month"),
                "family" => (&mut ask.family, "the family"),
                "table" => (&mut ask.table, "the table"),
                "reported" => (&mut ask.reported, "the report"),
                _ => continue,
            };
            if said.contains(&name) {
                return Err(Error::Unreadable(format!(
                    "This address names {words} twice. Choose it once."
                )));
            }
            *part = value;
            said.push(name);
        }
        Ok(ask)
    }

    /// The last full month unless something else is asked for; one month alone is a span of its own.
    ///
    /// # Errors
    /// What wants mending.
    pub fn understand(&self, today: Day) -> Result<Asked, Problems> {
        let mut problems = Problems::default();
        let family = family(&mut problems, "family", &self.family);
        let (from, to) = match (self.from.trim(), self.to.trim()) {
            ("", one) | (one, "") => (one, one),
            both => both,
        };
        let parsed = match (from, Span::parse(from, to)) {
            ("", _) => Ok((Span::last_full(today), false)),
            (_, Err((_, NotSpan::Backwards))) => Span::parse(to, from).map(|span| (span, true)),
            (_, other) => other.map(|span| (span, false)),
        };
        match parsed {
            Ok((span, turned)) if problems.is_empty() => Ok(Asked { span, family, turned }),
            Ok(_) => Err(problems),
            Err((field, words)) => {
                // A month written once stands in the first field.
                let field = if self.from.trim().is_empty() { "to" } else { field };
                problems.add(field, words.to_string());
                Err(problems)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn understand(query: &str) -> Result<Asked, Problems> {
        Ask::read(Some(query))
            .unwrap()
            .understand(Day::parse("2026-02-10").unwrap())
    }

    #[test]
    fn nothing_asked_is_the_last_full_month() {
        for query in ["", "from=&to=&family=", "other=thing"] {
            let asked = understand(query).unwrap();
            assert_eq!((asked.span.to_string().as_str(), asked.family), ("2026-01", ""));
        }
    }

    #[test]
    fn one_month_is_a_span_and_backwards_is_turned() {
        assert_eq!(understand("from=2025-03").unwrap().span.to_string(), "2025-03");
        assert_eq!(understand("to=2025-03&family=cello").unwrap().family, "cello");
        let turned = understand("from=2025-05&to=2025-03").unwrap();
        assert_eq!(
            (turned.span.to_string().as_str(), turned.turned),
            ("2025-03-to-2025-05", true)
        );
    }

    #[test]
    fn what_is_amiss_is_told_at_its_field() {
        for (query, field) in [
            ("from=2025", "from"),
            ("to=2025-00", "to"),
            ("from=2025-01&to=soon", "to"),
            ("from=1900-01&to=2199-12", "from"),
            ("family=bow", "family"),
            ("family=drum", "family"),
        ] {
            let problems = understand(query).unwrap_err();
            assert_ne!(problems.at(field), "", "{query}");
        }
        assert!(Ask::read(Some("from=2025-01&from=2025-02")).is_err());
    }
}
