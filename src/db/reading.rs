//! To read in another shop's database: it is neither made nor migrated, and cannot be written to.

use std::path::Path;
use std::time::Duration;

use sqlx::postgres::{PgConnectOptions, PgPoolOptions};
use sqlx::sqlite::{SqliteConnectOptions, SqlitePoolOptions};

use super::Db;

/// A connection that nobody reads by is let go of: a file soon, so that its own server finds itself alone with it.
const KEPT_FILE: Duration = Duration::from_secs(1);
const KEPT: Duration = Duration::from_mins(1);
/// The disk of a file that does not answer may take as long as it will: whoever waits for it has a limit of their own.
const DISK_TAKES: Duration = Duration::from_hours(24);

/// How the tables of a database stand to those of this program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tables {
    Ours,
    Older,
    Newer,
    /// There are none.
    None,
}

impl Db {
    /// One connection, made when something is read. A server has so long to answer.
    ///
    /// # Errors
    /// When it is no address.
    pub fn to_read(url: &str, patience: Duration) -> sqlx::Result<Db> {
        if let Some(path) = url.strip_prefix("sqlite:") {
            let options = SqliteConnectOptions::new()
                .filename(Path::new(path))
                .create_if_missing(false)
                .read_only(true)
                .pragma("query_only", "on")
                .busy_timeout(patience);
            let pool = SqlitePoolOptions::new()
                .max_connections(1)
                .acquire_timeout(DISK_TAKES)
                .idle_timeout(KEPT_FILE)
                .connect_lazy_with(options);
            return Ok(Db::Sqlite {
                read: pool.clone(),
                write: pool,
            });
        }
        let options: PgConnectOptions = url.parse()?;
        let within = patience.as_millis().to_string();
        let options = options.options([
            ("default_transaction_read_only", "on"),
            ("statement_timeout", within.as_str()),
        ]);
        let pool = PgPoolOptions::new()
            .max_connections(1)
            .acquire_timeout(patience)
            .idle_timeout(KEPT)
            .connect_lazy_with(options);
        Ok(Db::Postgres(pool))
    }

    /// How its tables stand to ours.
    ///
    /// # Errors
    /// When it cannot be reached.
    pub async fn tables(&self) -> sqlx::Result<Tables> {
        let theirs = match self.migrated().await {
            Ok(theirs) => theirs,
            Err(problem) if no_such_table(&problem) => Vec::new(),
            Err(problem) => return Err(problem),
        };
        let ours = self.migrations();
        Ok(if theirs.is_empty() {
            Tables::None
        } else if theirs == ours {
            Tables::Ours
        } else if theirs.iter().all(|version| ours.contains(version)) {
            Tables::Older
        } else {
            Tables::Newer
        })
    }
}

/// PostgreSQL's 42P01; SQLite says it in words alone.
fn no_such_table(problem: &sqlx::Error) -> bool {
    let sqlx::Error::Database(refusal) = problem else {
        return false;
    };
    refusal.code().as_deref() == Some("42P01") || refusal.message().starts_with("no such table")
}
