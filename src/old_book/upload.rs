//! An upload is a file of the old book on its way here: it goes to the disk piece by piece, and never wholly into memory.

use std::fs::{File, OpenOptions};
use std::io::Write;
use std::os::unix::fs::OpenOptionsExt;
use std::path::PathBuf;

use sha2::{Digest, Sha256};
use uuid::Uuid;

use crate::error::{Error, Result};

use super::desk::Desk;

/// The longest file: several hundred thousand visits.
pub const LONGEST: u64 = 64 * 1024 * 1024;
/// So many times as much is still read and thrown away, since whoever sends hears nothing before all is sent.
const PATIENCE: u64 = 8;

/// What is said of a longer one.
pub const TOO_LONG: &str = "a file of the old book (64 MB)";

/// A file that is being sent. Unless it is kept it leaves nothing behind.
pub struct Upload {
    pub id: Uuid,
    path: PathBuf,
    file: File,
    hash: Sha256,
    bytes: u64,
    kept: bool,
}

/// A file that has come whole.
pub struct Sent {
    pub id: Uuid,
    pub bytes: u64,
    /// The SHA-256 of all of it.
    pub mark: String,
    upload: Upload,
}

fn unkept(why: &std::io::Error) -> Error {
    tracing::error!(
        fault = crate::log::quoted(why),
        "a file of the old book cannot be kept"
    );
    Error::conflict(
        "The file cannot be kept here just now. Look whether the disk is full, then send it again.",
    )
}

impl Upload {
    /// # Errors
    /// When the disk takes no file.
    pub fn begin(desk: &Desk) -> Result<Upload> {
        let id = Uuid::now_v7();
        // Named by us, never by whoever sends it.
        let path = desk.file(id);
        let file = desk
            .make_folder()
            .and_then(|()| {
                OpenOptions::new()
                    .write(true)
                    .create_new(true)
                    .mode(0o600)
                    .open(&path)
            })
            .map_err(|why| unkept(&why))?;
        Ok(Upload {
            id,
            path,
            file,
            hash: Sha256::new(),
            bytes: 0,
            kept: false,
        })
    }

    /// Takes the next piece.
    ///
    /// # Errors
    /// When the disk is full, or far too much was sent.
    pub fn take(&mut self, piece: &[u8]) -> Result<()> {
        self.bytes += piece.len() as u64;
        if self.bytes > LONGEST * PATIENCE {
            return Err(Error::TooLarge(TOO_LONG));
        }
        if self.bytes <= LONGEST {
            self.hash.update(piece);
            self.file.write_all(piece).map_err(|why| unkept(&why))?;
        }
        Ok(())
    }

    /// All has come.
    ///
    /// # Errors
    /// When it was too long.
    pub fn end(self) -> Result<Sent> {
        if self.bytes > LONGEST {
            return Err(Error::TooLarge(TOO_LONG));
        }
        let mark = self.hash.clone().finalize();
        let mark = mark
            .iter()
            .fold(String::new(), |text, byte| format!("{text}{byte:02x}"));
        Ok(Sent {
            id: self.id,
            bytes: self.bytes,
            mark,
            upload: self,
        })
    }
}

impl Sent {
    /// From now on whoever reads it takes it away.
    pub fn keep(mut self) {
        self.upload.kept = true;
    }
}

impl Drop for Upload {
    fn drop(&mut self) {
        if !self.kept {
            let _ = std::fs::remove_file(&self.path);
        }
    }
}
