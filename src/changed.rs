//! A change that came too late: what stands now beside what was typed, so that nothing is lost and nothing overwritten.

use std::borrow::Cow;

use axum::http::StatusCode;

use crate::form::{Problems, Typed};

/// A field of a form, with its label, and whether its value is a code rather than words.
pub type Field = (&'static str, &'static str, bool);

/// One field, as it stands and as it was typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Side {
    pub label: Cow<'static, str>,
    pub now: String,
    pub typed: String,
}

/// A form as it is shown, for the first time or again.
#[derive(Default)]
pub struct Shown {
    pub problems: Problems,
    pub typed: Typed,
    /// Both versions, when somebody else changed it meanwhile.
    pub changed: Option<Vec<Side>>,
}

impl Shown {
    #[must_use]
    pub fn fresh(typed: Typed) -> Shown {
        Shown {
            typed,
            ..Shown::default()
        }
    }

    #[must_use]
    pub fn amiss(typed: Typed, problems: Problems) -> Shown {
        Shown {
            problems,
            typed,
            changed: None,
        }
    }

    #[must_use]
    pub fn late(fields: &[Field], now: &Typed, typed: Typed) -> Shown {
        Shown {
            problems: Problems::default(),
            changed: Some(between(fields, now, &typed)),
            typed,
        }
    }

    #[must_use]
    pub fn status(&self) -> StatusCode {
        match (&self.changed, self.problems.is_empty()) {
            (Some(_), _) => StatusCode::PRECONDITION_FAILED,
            (None, true) => StatusCode::OK,
            (None, false) => StatusCode::UNPROCESSABLE_ENTITY,
        }
    }
}

impl Side {
    #[must_use]
    pub fn differs(&self) -> bool {
        self.now != self.typed
    }
}

/// The fields in which the two differ.
#[must_use]
pub fn between(fields: &[Field], now: &Typed, typed: &Typed) -> Vec<Side> {
    let side = |&(name, label, code): &Field| Side {
        label: label.into(),
        now: said(now, name, code),
        typed: said(typed, name, code),
    };
    fields.iter().map(side).filter(Side::differs).collect()
}

/// All that stands in a field, in one line: ticks and rows joined.
fn said(typed: &Typed, name: &str, code: bool) -> String {
    let values: Vec<String> = typed
        .under(name)
        .filter(|(rest, value)| rest.is_empty() && !value.trim().is_empty())
        .map(|(_, value)| {
            let value = value.trim().replace("\r\n", "\n");
            if code {
                value.replace('_', " ").replace('+', " and ")
            } else {
                value
            }
        })
        .collect();
    values.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_differs_is_shown_in_words() {
        let now = Typed::default()
            .with("name", "Nut loose")
            .with("place", "counter")
            .with("tick", "yes")
            .with("job", "reglue_nut");
        let typed = Typed::default()
            .with("name", " Nut loose ")
            .with("place", "bench")
            .with("job", "reglue_nut")
            .with("job", "new_nut");
        let fields = [
            ("name", "Name", false),
            ("place", "Place", true),
            ("tick", "Luthier", true),
            ("job", "Jobs", true),
        ];
        let sides = between(&fields, &now, &typed);
        let shown: Vec<_> = sides
            .iter()
            .map(|side| (&*side.label, &*side.now, &*side.typed))
            .collect();
        assert_eq!(
            shown,
            [
                ("Place", "counter", "bench"),
                ("Luthier", "yes", ""),
                ("Jobs", "reglue nut", "reglue nut, new nut")
            ]
        );
    }
}
