//! Private is what the account alone may read that runs Purfle: the data folder, and the files in it.

use std::fs::{DirBuilder, Metadata, OpenOptions, Permissions};
use std::io::{ErrorKind, Result};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};

/// Makes a folder, and those above it that are missing; one that is there stays as it is.
///
/// # Errors
/// When it cannot be made.
pub fn folder(path: &Path) -> Result<()> {
    DirBuilder::new().recursive(true).mode(0o700).create(path)
}

/// Makes an empty file, unless there is one. What SQLite lays beside its file takes the mode of it.
///
/// # Errors
/// When it cannot be made.
pub fn file(path: &Path) -> Result<()> {
    let made = OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(path);
    match made {
        Err(problem) if problem.kind() == ErrorKind::AlreadyExists => Ok(()),
        made => made.map(drop),
    }
}

/// What of these others may read or change, is closed to them; what was done, or could not be, is told.
#[must_use]
pub fn close_files(files: &[PathBuf]) -> Vec<String> {
    let (mut closed, mut told) = (Vec::new(), Vec::new());
    for path in files {
        let Ok(about) = path.symlink_metadata() else {
            continue;
        };
        if !about.is_file() || is_closed(&about) {
            continue;
        }
        match set(path, mode(&about) & 0o700) {
            Ok(()) => closed.push(path.display().to_string()),
            Err(problem) => told.push(open_still(path, &problem)),
        }
    }
    if !closed.is_empty() {
        told.push(format!(
            "Others on this computer could read {}; now only the account can that runs Purfle.",
            closed.join(", ")
        ));
    }
    told
}

/// The same of a folder. One in which somebody else's files lie too is left as it is, and told.
#[must_use]
pub fn close_folder(path: &Path, shared: bool) -> Option<String> {
    let about = path.metadata().ok()?;
    if is_closed(&about) {
        return None;
    }
    if shared {
        return Some(format!(
            "Others on this computer can look into {}, and it was left so, since files that are not Purfle's lie there \
             too. A folder of its own (--data) is better; `chmod 700` closes this one.",
            path.display()
        ));
    }
    Some(match set(path, mode(&about) & 0o700) {
        Ok(()) => format!(
            "Others on this computer could look into {}; now only the account can that runs Purfle.",
            path.display()
        ),
        Err(problem) => open_still(path, &problem),
    })
}

fn open_still(path: &Path, problem: &std::io::Error) -> String {
    format!(
        "Others on this computer can read {}, and it cannot be closed to them ({problem}). Let its owner do so: chmod go= on it.",
        path.display()
    )
}

/// Nothing is allowed to others, nor to the group.
fn is_closed(about: &Metadata) -> bool {
    mode(about) & 0o700 == mode(about)
}

fn mode(about: &Metadata) -> u32 {
    about.permissions().mode() & 0o777
}

fn set(path: &Path, mode: u32) -> Result<()> {
    std::fs::set_permissions(path, Permissions::from_mode(mode))
}
