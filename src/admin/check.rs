//! A check says whether the shop's books are whole: the database as a file, its rows among each other, and every count
//! that is kept beside the same counted anew.

use crate::climate::day;
use crate::db::Db;
use crate::diagnosis;
use crate::error::Result;
use crate::reports::recount::{self, Recount};

use super::shop::Shop;

/// What was looked at.
#[derive(Clone, Debug)]
pub struct Checked {
    /// What SQLite says of its file; nothing is said of a PostgreSQL, which looks after its own.
    pub file: Option<Vec<String>>,
    /// Rows that name another that is not there.
    pub astray: Vec<String>,
    pub recounts: Vec<Recount>,
}

impl Checked {
    #[must_use]
    pub fn is_well(&self) -> bool {
        let counts = self.recounts.iter().all(|recount| recount.amiss.is_empty());
        self.file.as_ref().is_none_or(Vec::is_empty) && self.astray.is_empty() && counts
    }
}

/// Looks at everything as of one moment, also while a shop is being served.
///
/// # Errors
/// What the database says.
pub async fn check(db: &Db) -> Result<Checked> {
    let (file, astray) = db.soundness().await?;
    let mut tx = db.snapshot().await?;
    let mut recounts = recount::all(&mut tx).await?;
    recounts.extend(diagnosis::recount::all(&mut tx).await?);
    if let Some(shop) = Shop::find(&mut tx).await? {
        recounts.extend(day::recount(&mut tx, &shop.zone()).await?);
    }
    Ok(Checked {
        file,
        astray,
        recounts,
    })
}
