//! Trouble is why the database could not do what it was asked, told apart by what people can do about it.

use sqlx::error::DatabaseError;
use sqlx::sqlite::SqliteError;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// It cannot be reached, or it let go of us.
    Away,
    /// Somebody else was in the way for too long.
    Busy,
    /// It went away between being told to keep something and saying that it did.
    Unheard,
    Full,
    ReadOnly,
    /// The disk under it does not do as it is told.
    Disk,
    Damaged,
}

/// What came back in place of the answer to a commit.
#[derive(Debug, thiserror::Error)]
#[error("no answer to a commit: {0}")]
struct Unheard(sqlx::Error);

impl Trouble {
    /// What the trouble is; none when the database is well and what it was asked was at fault.
    #[must_use]
    pub fn of(problem: &sqlx::Error) -> Option<Trouble> {
        match problem {
            sqlx::Error::Io(why) if is_unheard(why) => Some(Trouble::Unheard),
            sqlx::Error::Io(_)
            | sqlx::Error::PoolTimedOut
            | sqlx::Error::PoolClosed
            | sqlx::Error::Tls(_)
            | sqlx::Error::WorkerCrashed => Some(Trouble::Away),
            sqlx::Error::Database(refusal) => {
                let code = refusal.code().unwrap_or_default();
                match refusal.try_downcast_ref::<SqliteError>() {
                    Some(_) => of_sqlite(code.parse().ok()?),
                    None => of_postgres(&code),
                }
            }
            _ => None,
        }
    }

    /// As said to whoever asked for it.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Trouble::Away => "We could not reach the database. Nothing was kept; try again.",
            Trouble::Busy => "The database is busy just now. Nothing was kept; try again.",
            Trouble::Unheard => {
                "The database went away before it said whether this was kept. Send it again: if it was kept, it is \
                 not kept twice."
            }
            Trouble::Full => {
                "The disk is full. Nothing was kept; what is here can still be read. Make room, then try again."
            }
            Trouble::ReadOnly => {
                "The database can only be read just now. Nothing was kept. Ask whoever looks after the computer."
            }
            Trouble::Disk => {
                "The disk did not take this: it is full or failing. Nothing was kept. Ask whoever looks after the \
                 computer."
            }
            Trouble::Damaged => {
                "The database is damaged. Nothing was kept. Stop, and ask whoever looks after the computer to put \
                 back the newest copy of it from before."
            }
        }
    }
}

fn is_unheard(why: &std::io::Error) -> bool {
    why.get_ref()
        .and_then(|why| why.downcast_ref::<Unheard>())
        .is_some()
}

/// The primary result code is the low byte of the extended one: <https://sqlite.org/rescode.html>.
fn of_sqlite(code: i64) -> Option<Trouble> {
    match code & 0xff {
        5 | 6 => Some(Trouble::Busy),
        8 => Some(Trouble::ReadOnly),
        10 => Some(Trouble::Disk),
        11 | 26 => Some(Trouble::Damaged),
        13 => Some(Trouble::Full),
        14 => Some(Trouble::Away),
        _ => None,
    }
}

/// <https://www.postgresql.org/docs/current/errcodes-appendix.html>
fn of_postgres(code: &str) -> Option<Trouble> {
    match code {
        // Shut down, crashed, starting up, or our transaction was ended for idling.
        "57P01" | "57P02" | "57P03" | "57P05" | "25P03" => Some(Trouble::Away),
        // No connection left; a lock waited for too long; two in each other's way.
        "53300" | "55P03" | "57014" | "40001" | "40P01" => Some(Trouble::Busy),
        "53100" => Some(Trouble::Full),
        "25006" => Some(Trouble::ReadOnly),
        "58030" => Some(Trouble::Disk),
        "XX001" | "XX002" => Some(Trouble::Damaged),
        _ if code.starts_with("08") => Some(Trouble::Away),
        _ => None,
    }
}

/// `SQLITE_IOERR_FSYNC`: what was written may reach the disk all the same.
const NOT_SYNCED: i64 = 1034;

/// A commit that got no answer may have been done.
pub fn at_commit(problem: sqlx::Error) -> sqlx::Error {
    let not_synced = |refusal: &dyn DatabaseError| {
        refusal.try_downcast_ref::<SqliteError>().is_some()
            && refusal.code().and_then(|code| code.parse().ok()) == Some(NOT_SYNCED)
    };
    let unheard = match Trouble::of(&problem) {
        Some(Trouble::Away) => true,
        Some(Trouble::Disk) => problem.as_database_error().is_some_and(not_synced),
        _ => false,
    };
    if unheard {
        sqlx::Error::Io(std::io::Error::other(Unheard(problem)))
    } else {
        problem
    }
}
