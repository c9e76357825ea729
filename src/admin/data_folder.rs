//! The data folder holds the embedded database: one server at a time, and never quietly an empty shop where one was.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::time::Duration;

use anyhow::{Context, bail};

use crate::db::{Db, Trouble};
use crate::old_book::desk;

use super::private;

const DATABASE: &str = "purfle.db";
const LOCK: &str = "in-use";
/// Says that a shop lived here, with the same name of the house as its database.
const MARKER: &str = "shop-lives-here";

/// Beside the data of an invented shop: name, parts and password of each person, with tabs between.
pub const SIGN_IN: &str = "demo-sign-in.txt";
/// What the marker says until the shop is set up; a server that is killed before it stops leaves it so.
const NOT_SET_UP: &str = "not set up yet";

pub struct DataFolder {
    path: PathBuf,
    /// Held as long as the server lives; the system lets go of it even if the server is killed.
    _lock: File,
}

impl DataFolder {
    /// Takes the folder for this server alone, making it if it is not there.
    ///
    /// # Errors
    /// When another server has it, or a shop lived here whose database is gone.
    pub fn take(path: &Path) -> anyhow::Result<DataFolder> {
        private::folder(path).with_context(|| format!("The folder {} cannot be made.", path.display()))?;
        let lock = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .mode(0o600)
            .open(path.join(LOCK))
            .with_context(|| format!("The folder {} cannot be written to.", path.display()))?;
        match lock_soon(&lock) {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                bail!(
                    "Another Purfle is serving from {}. Stop it first, or give this one a folder of its own with --data.",
                    path.display()
                )
            }
            Err(TryLockError::Error(problem)) => {
                return Err(problem)
                    .with_context(|| format!("The folder {} cannot be locked.", path.display()));
            }
        }
        let folder = DataFolder {
            path: path.to_owned(),
            _lock: lock,
        };
        let database = folder.database();
        let empty = std::fs::metadata(&database).map_or(true, |file| file.len() == 0);
        if empty && folder.path.join(MARKER).exists() {
            bail!(
                "A shop lives in {}, but its database {} is gone or empty. Nothing was touched. Put the newest copy that \
                 was kept of the folder back, or, to begin an empty shop on purpose, choose another folder with --data.",
                path.display(),
                database.display()
            );
        }
        Ok(folder)
    }

    #[must_use]
    pub fn database(&self) -> PathBuf {
        self.path.join(DATABASE)
    }

    #[must_use]
    pub fn url(&self) -> String {
        url(&self.path)
    }

    /// Compares the marker with the shop in the database, before anything is written to it.
    ///
    /// # Errors
    /// When a shop lived here, and the database holds none, or another one, or is no database.
    pub async fn recognise(&self) -> anyhow::Result<()> {
        fits(&self.path).await
    }

    /// Leaves the marker: that a database is here, and once there is a shop, which.
    ///
    /// # Errors
    /// When it cannot be written.
    pub async fn settle(&self, db: &Db) -> anyhow::Result<()> {
        let marker = self.path.join(MARKER);
        let house: Option<(uuid::Uuid,)> = db.read("select house from shop where id = 1").optional().await?;
        let says = house.map_or(NOT_SET_UP.to_owned(), |(house,)| house.to_string());
        if std::fs::read_to_string(&marker).is_ok_and(|kept| kept.trim() == says) {
            return Ok(());
        }
        // Written beside it and moved, so that no crash leaves half a name.
        let beside = self.path.join("shop-lives-here.new");
        let mut file = desk::new_file(&beside)?;
        writeln!(file, "{says}")?;
        file.sync_all()?;
        std::fs::rename(&beside, &marker)?;
        Ok(())
    }
}

/// Closes a data folder, and what Purfle keeps in it, to everybody but the account that runs it; tells what was open, or
/// still is. Nothing of anybody else is touched.
#[must_use]
pub fn close(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let (ours, theirs): (Vec<PathBuf>, Vec<PathBuf>) =
        entries.map(|entry| entry.path()).partition(|path| is_ours(path));
    let mut told: Vec<String> = private::close_folder(folder, !theirs.is_empty())
        .into_iter()
        .collect();
    told.extend(private::close_files(&ours));
    told
}

/// Known by its name: the database and what SQLite lays beside it, the lock, the marker, keys and files of the old book.
fn is_ours(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    [DATABASE, LOCK, MARKER, desk::BEGINS, SIGN_IN]
        .iter()
        .any(|ours| name.starts_with(ours))
}

/// Whether the marker of a folder and the shop in its database are of the same house; nothing is written.
///
/// # Errors
/// When a shop lived here, and the database holds none, or another one, or is no database.
pub async fn fits(path: &Path) -> anyhow::Result<()> {
    let Ok(kept) = std::fs::read_to_string(path.join(MARKER)) else {
        return Ok(());
    };
    if kept.trim() == NOT_SET_UP {
        return Ok(());
    }
    let found = match Db::house_in(&path.join(DATABASE)).await {
        Ok(Some(house)) if kept.trim() == house.to_string() => return Ok(()),
        Ok(Some(_)) => "another one",
        Ok(None) => "none",
        Err(problem) if is_damaged(&problem) => bail!(
            "A shop lives in {}, but its database is damaged ({problem}). Nothing was touched. Keep a copy of the \
                 folder as it is, then put back the newest copy from before that was kept.",
            path.display(),
        ),
        Err(_) => "nothing that can be read",
    };
    bail!(
        "A shop lives in {}, but its database holds {found}. Nothing was touched. Put the right database back, or \
             choose another folder with --data.",
        path.display(),
    )
}

/// As [`Db::house_in`] found it, or as SQLite said on the way.
fn is_damaged(problem: &sqlx::Error) -> bool {
    let not_a_database = problem
        .as_database_error()
        .is_some_and(|refusal| refusal.code().as_deref() == Some("26"));
    matches!(problem, sqlx::Error::Protocol(_))
        || (Trouble::of(problem) == Some(Trouble::Damaged) && !not_a_database)
}

/// A server that is just ending, or a program it started, may hold the lock for a moment longer.
fn lock_soon(lock: &File) -> Result<(), TryLockError> {
    for _ in 0..10 {
        match lock.try_lock() {
            Err(TryLockError::WouldBlock) => std::thread::sleep(Duration::from_millis(50)),
            done => return done,
        }
    }
    lock.try_lock()
}

/// The address of the embedded database of a folder, for the commands that only visit it.
#[must_use]
pub fn url(folder: &Path) -> String {
    format!("sqlite:{}", folder.join(DATABASE).display())
}
