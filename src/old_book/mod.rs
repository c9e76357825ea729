//! The old book is the history that a shop brings with it, on paper or in a spreadsheet: a line for each visit.
//!
//! The book is gone through four times, so that it never has to be kept: who is named, what they brought, what is right,
//! and then all that is right is written, in one transaction.

pub mod amiss;
pub mod book_file;
pub mod book_file_page;
mod codes;
mod comebacks;
pub mod desk;
mod entry;
mod header;
mod known;
mod nearest;
mod rows;
mod table;
mod thing;
pub mod upload;

use std::io::Read;

use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::bulk::{Lot, Sums};
use crate::catalogue::cause::Cause;
use crate::catalogue::descriptor::Descriptor;
use crate::clock::Moment;
use crate::db::{Db, Tx, insert_rows};
use crate::diagnosis::lesson::{self, Lesson};
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::reports::rules::Rules;
use crate::reports::tally;

use self::entry::{Against, Entry};
use self::header::Header;
use self::known::{Known, Seen, Verdict};
use self::rows::Writing;
use self::table::Table;

pub use self::header::{COLUMNS, Explained, explained};
pub use self::rows::{CHARGED, STORY};

/// So many orders are written at once.
const BATCH: usize = 1000;
/// After so many the database looks at its tables again.
const MANY: i64 = 10_000;
/// Writing takes so much longer than going through, for whoever waits.
const WRITING: u64 = 20;

/// A book to be brought in.
pub struct Book<'a, F> {
    /// Opens the file anew; it is read four times.
    pub open: F,
    /// Its length.
    pub bytes: u64,
    /// Who brings it, for the story.
    pub by: &'a str,
    pub now: Moment,
    /// Takes what is right even if something else is not.
    pub keep_good: bool,
    /// Only says what is right and what is not.
    pub dry: bool,
}

/// What is told while it is brought in.
pub enum News {
    /// Why a line is not taken. `column` is empty when it is the line as a whole.
    Amiss {
        line: u64,
        column: String,
        words: String,
    },
    /// So much of all is done.
    Done { part: u64, of: u64 },
}

/// What came of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Brought {
    /// Visits that were stored.
    pub taken: i64,
    /// With customers and instruments that were not known before.
    pub customers: i64,
    pub instruments: i64,
    /// Lines that were brought in before.
    pub there: i64,
    /// Lines that say the same as an earlier one.
    pub twice: i64,
    /// Lines that are not right.
    pub amiss: i64,
    /// Lines that are right, taken or not.
    pub right: i64,
}

/// Whether an order was brought in from the old book.
///
/// # Errors
/// What the database says.
pub async fn brought(tx: &mut Tx, order: Uuid) -> Result<bool> {
    let row: Option<(Uuid,)> = tx
        .query("select work_order from old_book where work_order = $1")
        .bind(order)
        .optional()
        .await?;
    Ok(row.is_some())
}

/// Brings a book in: every line is taken or told why not; all or nothing, unless what is right is to be kept.
///
/// # Errors
/// When the file cannot be read, changes while it is read, or what the database says; then nothing is stored.
pub async fn bring<R: Read, F: Fn() -> std::io::Result<R>>(
    db: &Db,
    book: &Book<'_, F>,
    mut tell: impl FnMut(News),
) -> Result<Brought> {
    let shop = Shop::get(db).await?;
    let causes = Cause::all(db).await?;
    let against = Against {
        today: shop.today(book.now),
        currency: shop.currency(),
        causes: causes
            .into_iter()
            .map(|cause| (cause.code.clone(), cause))
            .collect(),
        descriptors: Descriptor::all(db).await?,
    };
    let mut done = Brought::default();
    let mut known = Known::new(db).await?;
    let through = Through {
        book,
        against: &against,
    };
    if !through.header(&mut tell)? {
        done.amiss = 1;
        return Ok(done);
    }
    through.each(0, &mut tell, |_, entry, _, _| {
        if let Some(entry) = entry {
            known.meet(entry);
        }
        Ok(())
    })?;
    known.find_people(db).await?;
    through.each(1, &mut tell, |line, entry, _, _| {
        if let Some(entry) = entry {
            known.gather(line, entry);
        }
        Ok(())
    })?;
    known.find_things(db).await?;
    let mut seen = Seen::default();
    through.each(2, &mut tell, |line, entry, mut problems, tell| {
        match entry.map_or(Verdict::Amiss, |entry| {
            known.judge(line, entry, &mut seen, &mut problems)
        }) {
            Verdict::Take(_) => done.right += 1,
            Verdict::There => done.there += 1,
            Verdict::Twice => done.twice += 1,
            Verdict::Amiss => done.amiss += 1,
        }
        for problem in &problems {
            let (column, words) = (problem.field.clone(), problem.words.clone());
            tell(News::Amiss { line, column, words });
        }
        Ok(())
    })?;
    drop(seen); // writing goes through it anew
    if !book.dry && done.right > 0 && (done.amiss == 0 || book.keep_good) {
        write(db, &through, (&shop, &mut known), &mut done, &mut tell).await?;
    }
    Ok(done)
}

/// The book, gone through once more.
struct Through<'a, 'b, F> {
    book: &'a Book<'b, F>,
    against: &'a Against,
}

fn unreadable(why: &std::io::Error) -> Error {
    Error::Conflict(format!("The file cannot be read: {why}."))
}

/// A table of which the header was read, line by line.
struct Lines<R> {
    table: Table<R>,
    header: Header,
}

impl<R: Read, F: Fn() -> std::io::Result<R>> Through<'_, '_, F> {
    fn open(&self) -> Result<Result<Lines<R>, Vec<String>>> {
        let file = (self.book.open)().map_err(|why| unreadable(&why))?;
        let mut table = Table::open(file, &header::names()).map_err(|why| unreadable(&why))?;
        if table.is_wide() {
            let words = "This is not text in UTF-8. Save the table as CSV in UTF-8.";
            return Ok(Err(vec![words.into()]));
        }
        let first = table.next_row().map_err(|why| unreadable(&why))?;
        Ok(Header::read(first.as_ref()).map(|header| Lines { table, header }))
    }

    /// Whether the first line is right; what is not is told.
    fn header(&self, tell: &mut impl FnMut(News)) -> Result<bool> {
        let amiss = self.open()?.err().unwrap_or_default();
        let right = amiss.is_empty();
        for words in amiss {
            tell(News::Amiss {
                line: 1,
                column: String::new(),
                words,
            });
        }
        Ok(right)
    }

    /// Each line with what it says, or what is wrong with it.
    fn each<T: FnMut(News)>(
        &self,
        pass: u64,
        tell: &mut T,
        mut with: impl FnMut(u64, Option<&Entry>, Problems, &mut T) -> Result<()>,
    ) -> Result<()> {
        let mut lines = self.lines()?;
        while let Some((line, entry, problems)) = self.next(&mut lines)? {
            with(line, entry.as_ref(), problems, tell)?;
            if line % 1000 == 0 {
                self.tell_done(pass * self.book.bytes + lines.table.position(), tell);
            }
        }
        Ok(())
    }

    fn lines(&self) -> Result<Lines<R>> {
        self.open()?.map_err(|_| changed())
    }

    fn next(&self, lines: &mut Lines<R>) -> Result<Option<(u64, Option<Entry>, Problems)>> {
        let Some(row) = lines.table.next_row().map_err(|why| unreadable(&why))? else {
            return Ok(None);
        };
        let mut problems = Problems::default();
        let cells = row.cells.as_ref().map_err(|broken| broken.words().to_owned());
        let entry = match cells.and_then(|cells| lines.header.cells(cells)) {
            Ok(cells) => Entry::read(cells, self.against, &mut problems),
            Err(words) => {
                problems.add("", words);
                None
            }
        };
        Ok(Some((row.line, entry, problems)))
    }

    fn tell_done(&self, part: u64, tell: &mut impl FnMut(News)) {
        let of = self.book.bytes * if self.book.dry { 3 } else { 3 + WRITING };
        tell(News::Done { part, of });
    }
}

fn changed() -> Error {
    Error::conflict("The file was changed while it was read. Nothing was stored: bring it in once more.")
}

/// Writes all that is right, wholly or not at all.
async fn write<R: Read, F: Fn() -> std::io::Result<R>>(
    db: &Db,
    through: &Through<'_, '_, F>,
    (shop, known): (&Shop, &mut Known),
    done: &mut Brought,
    tell: &mut impl FnMut(News),
) -> Result<()> {
    let book = through.book;
    let mut tx = db.begin().await?;
    // What is being counted by other rules waits until the book is in, so that all of it is counted by the same.
    tx.write_beside(tally::TABLE).await?;
    let rules = Rules::read(&mut tx).await?;
    let (number,): (i64,) = tx
        .query("update tag_counter set next = next + $1 where id = 1 returning next - $1")
        .bind(done.right)
        .one()
        .await?;
    let mut writing = Writing {
        against: through.against,
        zone: shop.zone(),
        now: book.now,
        by: book.by,
        number,
        lot: Lot::default(),
        lessons: Vec::new(),
        marks: Vec::new(),
        sums: Sums::new(rules),
        shares: lesson::Shares::new(),
        answers: lesson::Answers::new(),
        taught: 0,
        customers: 0,
        instruments: 0,
    };
    let (mut seen, mut lines) = (Seen::default(), through.lines()?);
    while let Some((line, entry, mut problems)) = through.next(&mut lines)? {
        let Some(entry) = entry else { continue };
        if let Verdict::Take(thing) = known.judge(line, &entry, &mut seen, &mut problems) {
            writing.add(known, thing, &entry)?;
            done.taken += 1;
        }
        if writing.marks.len() >= BATCH {
            writing.flush(&mut tx).await?;
            let part = 3 * book.bytes + WRITING * lines.table.position();
            through.tell_done(part, tell);
        }
    }
    if done.taken != done.right {
        return Err(changed());
    }
    writing.flush(&mut tx).await?;
    (done.customers, done.instruments) = (writing.customers, writing.instruments);
    let many = done.taken >= MANY;
    writing.end(&mut tx, many).await?;
    tx.commit().await?;
    if many {
        db.analyze().await?;
    }
    Ok(())
}

impl Writing<'_> {
    async fn flush(&mut self, tx: &mut Tx) -> Result<()> {
        std::mem::take(&mut self.lot).write(tx).await?;
        Lesson::insert(tx, &std::mem::take(&mut self.lessons)).await?;
        let (marks, now) = (std::mem::take(&mut self.marks), self.now);
        let into = "insert into old_book (work_order, line, brought_at) values";
        insert_rows(tx, into, 3, &marks, |query, mark| {
            query.bind(mark.0).bind(mark.1).bind(now)
        })
        .await?;
        Ok(())
    }

    /// The counts: comebacks, what was taught, and all that the reports keep.
    async fn end(self, tx: &mut Tx, many: bool) -> Result<()> {
        let mut counts = self.sums.counts();
        let window = self.sums.rules.window();
        comebacks::find(tx, self.now, window, many, &mut counts).await?;
        if self.taught > 0 {
            // None of these is scored: nothing was ranked when it came in.
            let (lessons,): (i64,) = tx
                .query("update diagnosis set lessons = lessons + $1 where id = 1 returning lessons")
                .bind(self.taught)
                .one()
                .await?;
            lesson::add(tx, lessons, self.shares, self.answers).await?;
        }
        counts.keep(tx).await
    }
}
