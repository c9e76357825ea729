//! The desk is where a file of the old book lies while it is gone through, on a thread of its own: whoever handed it over may
//! go away meanwhile.
//!
//! A file, and the list of what is not right in it, lie in the data folder under names of ours. The file is taken away as
//! soon as it is brought in, put away or broken off, and when the program starts.

use std::fs::{File, OpenOptions};
use std::io::Read;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::time::Duration;

use tokio::runtime::Handle;
use uuid::Uuid;

use crate::admin::private;
use crate::app::App;
use crate::error::{Error, Result};
use crate::pieces::Pieces;

use super::amiss::{self, Amiss, AmissFile};
use super::book_file::{BookFile, Stage};
use super::{Book, Brought, News};

/// How the names of what lies here begin.
pub const BEGINS: &str = "old-book-";
/// What came of a file is written down at the latest after so many tries, two seconds apart.
const TRIES: u32 = 30;
const PIECE: usize = 64 * 1024;

pub struct Desk {
    folder: PathBuf,
    /// Of the file that is gone through: how much of it is done, in thousandths.
    done: Mutex<Option<(Uuid, u64)>>,
}

/// A file for the owner of this program alone.
///
/// # Errors
/// When the disk takes no file.
pub fn new_file(path: &Path) -> std::io::Result<File> {
    OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(true)
        .mode(0o600)
        .open(path)
}

impl Desk {
    #[must_use]
    pub fn new(folder: PathBuf) -> Desk {
        Desk {
            folder,
            done: Mutex::new(None),
        }
    }

    /// Where a file lies.
    #[must_use]
    pub fn file(&self, id: Uuid) -> PathBuf {
        self.folder.join(format!("{BEGINS}{id}.csv"))
    }

    /// Where the list lies of what is not right in it.
    #[must_use]
    pub fn amiss(&self, id: Uuid) -> PathBuf {
        self.folder.join(format!("{BEGINS}{id}-amiss.csv"))
    }

    /// # Errors
    /// When there is none and none can be made.
    pub fn make_folder(&self) -> std::io::Result<()> {
        private::folder(&self.folder)
    }

    /// How much of a file is gone through, in thousandths; nothing when it is not under way here.
    #[must_use]
    pub fn done(&self, id: Uuid) -> Option<u64> {
        let done = self.done.lock().ok().and_then(|done| *done);
        done.filter(|done| done.0 == id).map(|done| done.1)
    }

    fn set(&self, done: Option<(Uuid, u64)>) {
        if let Ok(mut kept) = self.done.lock() {
            *kept = done;
        }
    }

    /// The first lines that are not right.
    ///
    /// # Errors
    /// When the list cannot be read.
    pub fn first_amiss(&self, id: Uuid, most: usize) -> Result<Vec<Amiss>> {
        amiss::first(&self.amiss(id), most).map_err(Error::fault)
    }

    /// Takes a file away.
    pub fn clear(&self, id: Uuid) {
        let _ = std::fs::remove_file(self.file(id));
    }

    /// Takes a file away with the list of what is not right in it.
    fn clear_all(&self, id: Uuid) {
        self.clear(id);
        let _ = std::fs::remove_file(self.amiss(id));
    }

    /// Takes away all that an earlier run of the program left.
    fn clear_desk(&self) {
        for entry in std::fs::read_dir(&self.folder).into_iter().flatten().flatten() {
            if entry.file_name().to_string_lossy().starts_with(BEGINS) {
                let _ = std::fs::remove_file(entry.path());
            }
        }
    }

    /// All of the list of what is not right, as it lies here.
    ///
    /// # Errors
    /// Not found, once it is taken away.
    pub fn list(&self, id: Uuid) -> Result<axum::response::Response> {
        let mut file = File::open(self.amiss(id)).map_err(|_| Error::NotFound)?;
        let (pieces, answer) = Pieces::csv("not-brought-in");
        let handle = Handle::current();
        tokio::task::spawn_blocking(move || {
            loop {
                let mut piece = vec![0; PIECE];
                match file.read(&mut piece) {
                    Ok(0) => return,
                    Ok(read) => piece.truncate(read),
                    Err(why) => return handle.block_on(pieces.break_off(Error::fault(why))),
                }
                if handle.block_on(pieces.give(piece)).is_err() {
                    return;
                }
            }
        });
        Ok(answer)
    }
}

/// Puts the desk in order when the program starts: nothing is under way, and no file lies here.
///
/// # Errors
/// What the database says.
pub async fn tidy(app: &App) -> Result<()> {
    app.desk.clear_desk();
    BookFile::sweep(&app.db, app.clock.now()).await
}

/// Goes through a file, and brings it in unless it is only tried; answers at once.
pub fn start(app: &App, file: BookFile, dry: bool) {
    let (app, handle) = (app.clone(), Handle::current());
    app.desk.set(Some((file.id, 0)));
    tokio::spawn(async move {
        let (own, mut fallen) = (app.clone(), file.clone());
        // It reckons for seconds on end, so not where requests are answered.
        let went = tokio::task::spawn_blocking(move || handle.block_on(go(&own, file, dry))).await;
        if let Err(why) = went {
            tracing::error!(
                fault = crate::log::quoted(why),
                "a file of the old book broke off"
            );
            let words = "Something broke on our side. Nothing was stored; bring it in once more.";
            settle(&app, &mut fallen, Stage::Broken, words).await;
        }
    });
}

async fn go(app: &App, mut file: BookFile, dry: bool) {
    // Only one lies here at a time.
    match BookFile::put_away_others(&app.db, file.id).await {
        Ok(others) => others.into_iter().for_each(|other| app.desk.clear_all(other)),
        Err(why) => tracing::warn!(fault = crate::log::quoted(&why), "earlier files stay"),
    }
    match bring(app, &file, dry).await {
        Ok(brought) => {
            file.came_to(&brought);
            let taken = !dry && (brought.taken > 0 || brought.amiss == 0);
            let stage = if taken { Stage::Taken } else { Stage::Tried };
            settle(app, &mut file, stage, "").await;
        }
        Err(why) => {
            tracing::warn!(
                fault = crate::log::quoted(&why),
                "a file of the old book broke off"
            );
            let words = format!("It broke off, and nothing was stored. {why}");
            settle(app, &mut file, Stage::Broken, &words).await;
        }
    }
}

async fn settle(app: &App, file: &mut BookFile, stage: Stage, words: &str) {
    if stage != Stage::Tried {
        app.desk.clear(file.id);
    }
    app.desk.set(None);
    for _ in 0..TRIES {
        match file.settle(&app.db, stage, words, app.clock.now()).await {
            Ok(()) => return,
            Err(why) => tracing::warn!(fault = crate::log::quoted(why), "not noted yet"),
        }
        tokio::time::sleep(Duration::from_secs(2)).await;
    }
}

async fn bring(app: &App, file: &BookFile, dry: bool) -> Result<Brought> {
    let path = app.desk.file(file.id);
    let book = Book {
        open: || File::open(&path),
        bytes: u64::try_from(file.bytes).unwrap_or(0),
        by: &file.by_name,
        now: app.clock.now(),
        keep_good: file.keep_good,
        dry,
    };
    let mut list = AmissFile::begin(&app.desk.amiss(file.id)).map_err(Error::fault)?;
    let brought = super::bring(&app.db, &book, |news| match news {
        News::Amiss { line, column, words } => list.add(&Amiss { line, column, words }),
        News::Done { part, of } => app.desk.set(Some((file.id, part * 1000 / of.max(1)))),
    })
    .await?;
    list.end().map_err(Error::fault)?;
    Ok(brought)
}

/// Takes away what lies here of a file that was put away.
pub fn put_away(app: &App, file: &BookFile) {
    if file.stage == Stage::Withdrawn {
        app.desk.clear_all(file.id);
    }
}
