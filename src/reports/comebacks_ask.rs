//! What is asked of the comebacks: the day as of which, by what they are told apart, and one cause or all.

use serde::Deserialize;

use crate::clock::Day;
use crate::db::Db;
use crate::error::Result;
use crate::form::Problems;

use super::comebacks::By;

/// As it stands in an address.
#[derive(Clone, Debug, Default, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields, default)]
#[into_params(parameter_in = Query)]
pub struct ComebacksAsked {
    /// `2026-02-10`: what came later is not known yet; left out: today.
    pub as_of: Option<String>,
    /// `cause`, `job`, `age_band`, `size`, `account`, `season` or `technician`; left out: `cause`.
    pub by: Option<String>,
    /// One cause by its code; left out: all of them.
    pub cause: Option<String>,
}

/// What was asked, once understood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    pub as_of: Day,
    pub by: By,
    /// Empty for all of them.
    pub cause: String,
}

impl ComebacksAsked {
    /// `at` stands before the name of a field that wants mending.
    ///
    /// # Errors
    /// What wants mending, or what the database says.
    pub async fn understand(&self, db: &Db, today: Day, at: &str) -> Result<Asked> {
        let mut problems = Problems::default();
        let said = |word: &Option<String>| word.as_deref().unwrap_or_default().trim().to_owned();
        let (as_of, by, cause) = (said(&self.as_of), said(&self.by), said(&self.cause));
        let as_of = match (as_of.as_str(), Day::parse(&as_of)) {
            ("", _) => today,
            (_, Some(day)) if day <= today => day,
            (_, Some(_)) => {
                problems.add(
                    format!("{at}as_of"),
                    "This day is to come. Take today or an earlier one.",
                );
                today
            }
            (_, None) => {
                problems.add(format!("{at}as_of"), "Write a day, such as 2026-02-10.");
                today
            }
        };
        let by = match (by.as_str(), By::of_code(&by)) {
            ("", _) => By::Cause,
            (_, Some(by)) => by,
            (_, None) => {
                let codes = By::ALL.map(By::code).join(", ");
                problems.add(format!("{at}by"), format!("Choose one of these: {codes}."));
                By::Cause
            }
        };
        if !cause.is_empty() {
            let known: Option<(String,)> = db
                .read("select code from cause where code = $1")
                .bind(cause.replace('\0', "\u{fffd}"))
                .optional()
                .await?;
            if known.is_none() {
                problems.add(
                    format!("{at}cause"),
                    "This is no cause of the catalogue. Choose again.",
                );
            }
        }
        problems.settle()?;
        Ok(Asked { as_of, by, cause })
    }
}
