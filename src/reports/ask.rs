//! What is asked of a report: the months, and one group of instruments or all of them.

use crate::clock::Day;
use crate::error::{Error, Result};
use crate::form::{self, Problems};

use super::group::{self, Group};
use super::span::{NotSpan, Span};

/// As it stands in the address of the page.
#[derive(Clone, Debug, Default)]
pub struct Ask {
    pub from: String,
    pub to: String,
    pub family: String,
    pub size: String,
    pub account: String,
    /// Any of the three by its code, as the page's list of them sends it.
    pub group: String,
    /// Of one cause alone, where a page tells of one.
    pub cause: String,
    /// What is to stand side by side.
    pub by: String,
    /// Which table, when it is asked for as CSV.
    pub table: String,
    /// Which of the reports that were kept, when it is asked for as it was.
    pub reported: String,
}

/// What was asked, once understood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Asked {
    pub span: Span,
    pub group: &'static Group,
    /// The months stood the wrong way round, and were turned.
    pub turned: bool,
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
                "size" => (&mut ask.size, "the size"),
                "account" => (&mut ask.account, "the kind of account"),
                "group" => (&mut ask.group, "the group"),
                "cause" => (&mut ask.cause, "the cause"),
                "by" => (&mut ask.by, "what is to stand side by side"),
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

    fn group(&self, problems: &mut Problems) -> &'static Group {
        let of_code = group::of_code(&self.group);
        let asked = group::asked(problems, "", [&self.family, &self.size, &self.account]);
        match of_code {
            Some(chosen) if asked.code.is_empty() => chosen,
            Some(chosen) if chosen.code.is_empty() || chosen == asked => asked,
            Some(_) => {
                problems.add("group", group::ONE);
                asked
            }
            None => {
                problems.add("group", "Choose one of the list.");
                asked
            }
        }
    }

    /// The last full month unless something else is asked for; one month alone is a span of its own.
    ///
    /// # Errors
    /// What wants mending.
    pub fn understand(&self, today: Day) -> Result<Asked, Problems> {
        let mut problems = Problems::default();
        let group = self.group(&mut problems);
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
            Ok((span, turned)) if problems.is_empty() => Ok(Asked { span, group, turned }),
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
            assert_eq!(
                (asked.span.to_string().as_str(), asked.group.code),
                ("2026-01", "")
            );
        }
    }

    #[test]
    fn one_month_is_a_span_and_backwards_is_turned() {
        assert_eq!(understand("from=2025-03").unwrap().span.to_string(), "2025-03");
        assert_eq!(understand("to=2025-03&family=cello").unwrap().group.code, "cello");
        let turned = understand("from=2025-05&to=2025-03").unwrap();
        assert_eq!(
            (turned.span.to_string().as_str(), turned.turned),
            ("2025-03-to-2025-05", true)
        );
    }

    #[test]
    fn a_group_is_asked_for_by_its_kind_or_chosen_by_its_code() {
        for (query, code) in [
            ("size=full", "full"),
            ("size=unknown", "no_size"),
            ("account=fleet&family=&size=", "fleet"),
            ("group=fractional", "fractional"),
            ("group=viola&family=viola", "viola"),
            ("group=&account=school", "school"),
        ] {
            assert_eq!(understand(query).unwrap().group.code, code, "{query}");
        }
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
            ("size=huge", "size"),
            ("account=teacher", "account"),
            ("group=bow", "group"),
            ("family=cello&account=school", "account"),
            ("size=full&account=school", "account"),
            ("family=cello&group=school", "group"),
        ] {
            let problems = understand(query).unwrap_err();
            assert_ne!(problems.at(field), "", "{query}");
        }
        assert!(Ask::read(Some("from=2025-01&from=2025-02")).is_err());
    }
}
