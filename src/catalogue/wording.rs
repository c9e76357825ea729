//! The wording of a question is how the shop asks it, with its hint; the answers stay.

use serde::{Deserialize, Serialize};

use crate::db::Tx;
use crate::error::{Error, Result};
use crate::form::Problems;

use super::descriptor::Descriptor;
use super::entry;

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Wording {
    pub question: String,
    pub hint: String,
}

impl Wording {
    /// As it stands.
    #[must_use]
    pub fn of(kept: &Descriptor) -> Wording {
        Wording {
            question: kept.question.clone(),
            hint: kept.hint.clone(),
        }
    }
}

/// Words a question anew, unless somebody else did since `version`.
///
/// # Errors
/// Not found, problems, stale, or what the database says.
pub async fn change(tx: &mut Tx, code: &str, version: i64, new: &Wording) -> Result<Descriptor> {
    let kept = Descriptor::get(&mut *tx, code).await?;
    let mut problems = Problems::default();
    let words = "Write the question as you would ask it.";
    let question = problems.needed("question", &new.question, 200, words);
    let hint = problems.line("hint", &new.hint, 400);
    problems.settle()?;
    let stale = entry::stale(&kept.question);
    let mut worded = Descriptor {
        question,
        hint,
        changed: true,
        version,
        ..kept
    };
    if !worded.update(tx).await? {
        return Err(Error::Stale(stale));
    }
    worded.version += 1;
    Ok(worded)
}
