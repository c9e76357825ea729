//! What an invented history has taught: lessons, marks and counts as the acts would have left them.
//!
//! Orders are ranked and learned from in the order of time, each ranked by models that know only what was confirmed
//! before. The acts would bring the models up to date at every lesson; here that is done every [`EVERY`] lessons, later
//! less often, since by then they hardly move. So the marks of the shop's ranking are held out all the same, by models
//! that lag a little.

use std::cmp::{Ordering, Reverse};
use std::collections::{BTreeMap, BinaryHeap};

use uuid::Uuid;

use crate::clock::{Moment, YearMonth};
use crate::counter::instrument::Instrument;
use crate::db::{Db, Tx};
use crate::diagnosis::evidence::Told;
use crate::diagnosis::learn::Counts;
use crate::diagnosis::lesson::{self, Answers, Lesson, Shares};
use crate::diagnosis::models::{Current, Models};
use crate::diagnosis::rank::Evidence;
use crate::diagnosis::score::{self, Key, Looks, Marks, Sum};
use crate::diagnosis::temper::Losses;
use crate::error::Result;

use super::World;
use super::book::Book;
use super::history::{Batch, Brought};

/// The models are brought up to date after so many lessons.
pub const EVERY: i64 = 200;
/// After so many lessons half as often, after twice as many a third as often, and so on.
const SLOWER: i64 = 8000;

pub struct Taught {
    every: i64,
    current: Current,
    counts: Counts,
    /// What will be known later than the last order came in: never more than what is in the shop at once.
    waiting: BinaryHeap<Reverse<Due>>,
    put: u64,
    /// Lessons that the models do not know yet.
    behind: i64,
    sums: Learned,
}

/// The counts at the end; small, however long the history.
#[derive(Default)]
pub struct Learned {
    shares: Shares,
    answers: Answers,
    score: BTreeMap<Key, Sum>,
    lessons: i64,
    behind: i64,
    tempered: i64,
    losses: Losses,
}

/// What is written beside the orders.
#[derive(Default)]
pub struct Rows {
    lessons: Vec<Lesson>,
    scored: Vec<(Uuid, Marks)>,
}

/// Something that becomes known at a moment.
struct Due {
    at: Moment,
    put: u64,
    what: What,
}

enum What {
    Scored(Box<Scoring>),
    /// One act taught this.
    Learned(Lesson),
    /// All that an order taught.
    Whole(Lesson),
}

struct Scoring {
    order: Uuid,
    family: &'static str,
    cause: String,
    month: YearMonth,
    first: Evidence,
    looks: Looks,
}

impl PartialEq for Due {
    fn eq(&self, other: &Due) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Due {}
impl PartialOrd for Due {
    fn partial_cmp(&self, other: &Due) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Due {
    fn cmp(&self, other: &Due) -> Ordering {
        (self.at, self.put).cmp(&(other.at, other.put))
    }
}

impl Taught {
    /// Begins with the catalogue as it stands in the database.
    ///
    /// # Errors
    /// What the database says.
    pub async fn new(db: &Db, world: &World, every: i64) -> Result<Taught> {
        let kept = Models::default().current(db).await?;
        let counts = Counts::default();
        // The shop itself, and so its seasons, is written last.
        let seasons = world.shop.seasons();
        let current = Current::of(kept.figures.clone(), seasons, &counts, kept.stand.clone());
        Ok(Taught {
            every: every.max(1),
            current,
            counts,
            waiting: BinaryHeap::new(),
            put: 0,
            behind: 0,
            sums: Learned::default(),
        })
    }

    /// Goes on by a batch; what became known meanwhile is handed back to be written.
    pub fn add(&mut self, batch: &Batch) -> Rows {
        let mut rows = Rows::default();
        for (book, brought) in batch.books.iter().zip(&batch.of) {
            self.until(book.order.received_at, &mut rows);
            self.meet(book, brought);
        }
        rows
    }

    /// What is still to become known, and the counts.
    #[must_use]
    pub fn end(mut self) -> (Rows, Learned) {
        let mut rows = Rows::default();
        self.until(Moment(i64::MAX), &mut rows);
        (rows, self.sums)
    }

    /// An order comes in: what will be known of it waits for its moment.
    fn meet(&mut self, book: &Book, brought: &Brought) {
        let instrument = brought.instrument(book);
        let mut found: Vec<(Moment, String)> = Vec::new();
        for finding in lesson::settled(&book.findings, &book.play_tests) {
            if !found.iter().any(|known| known.1 == finding.cause) {
                found.push((finding.at, finding.cause.clone()));
            }
        }
        if let (Some(first), Some(scoring)) = (found.first(), self.scoring(book, brought, &instrument)) {
            self.wait(first.0, What::Scored(Box::new(scoring)));
        }
        let mut all: Vec<String> = found.iter().map(|found| found.1.clone()).collect();
        all.sort_unstable();
        let Some(lesson) = Lesson::of(&book.order, &instrument, &all) else {
            return;
        };
        if found.is_empty() {
            let at = book.given_back().unwrap_or(book.order.received_at);
            self.wait(at, What::Learned(lesson.clone()));
            self.wait(at, What::Whole(lesson));
            return;
        }
        // A second cause on the same order is one act more, and teaches that cause alone.
        let mut last = book.order.received_at;
        for (at, causes) in found {
            last = at;
            let one = Lesson {
                causes,
                ..lesson.clone()
            };
            self.wait(at, What::Learned(one));
        }
        self.wait(last, What::Whole(lesson));
    }

    fn scoring(&self, book: &Book, brought: &Brought, instrument: &Instrument) -> Option<Scoring> {
        let finding = *lesson::settled(&book.findings, &book.play_tests).first()?;
        let model = self.current.of_shop(brought.family)?;
        let told = Told {
            order: &book.order,
            instrument,
            owner_kind: brought.kind.code(),
            checks: &book.checks,
            findings: &book.findings,
            play_tests: &[],
        };
        let first = told.at_first(model, &self.current.seasons, &book.order.answers());
        let usual = |code: &str| self.current.cause(code).map_or(2, |cause| cause.check_minutes);
        Some(Scoring {
            order: book.order.id,
            family: brought.family,
            cause: finding.cause.clone(),
            month: finding.found_on.month(),
            first,
            looks: Looks::until(&finding.cause, finding.at, &book.checks, usual),
        })
    }

    fn wait(&mut self, at: Moment, what: What) {
        self.put += 1;
        let put = self.put;
        self.waiting.push(Reverse(Due { at, put, what }));
    }

    /// All that becomes known before a moment, in its order.
    fn until(&mut self, moment: Moment, rows: &mut Rows) {
        while self.waiting.peek().is_some_and(|due| due.0.at < moment) {
            match self.waiting.pop().map(|due| due.0.what) {
                Some(What::Scored(scoring)) => self.score(&scoring, rows),
                Some(What::Learned(lesson)) => self.learn(&lesson),
                Some(What::Whole(lesson)) => rows.lessons.push(lesson),
                None => break,
            }
        }
    }

    fn score(&mut self, of: &Scoring, rows: &mut Rows) {
        let every = self.every * (1 + self.sums.lessons / SLOWER);
        if self.behind >= every {
            self.behind = 0;
            let mut stand = self.current.stand.clone();
            stand.temper = self.sums.losses.text();
            self.current = self.current.taught(&self.counts, stand);
        }
        let first = |_: &_| of.first.clone();
        let marks = Marks::of(&self.current, of.family, &of.cause, first, of.month, of.looks);
        if let Some(marks) = marks {
            marks.sums(1, &mut self.sums.score);
            self.sums.losses.add(&marks.losses, 1);
            self.sums.behind += marks.behind();
            self.sums.tempered += 1;
            rows.scored.push((of.order, marks));
        }
    }

    fn learn(&mut self, lesson: &Lesson) {
        self.behind += 1;
        self.sums.lessons += 1;
        self.counts.learn(&lesson.learned(), 1);
        lesson.counts(1, &mut self.sums.shares, &mut self.sums.answers);
    }
}

impl Rows {
    /// Writes them; their orders are written already.
    ///
    /// # Errors
    /// What the database says.
    pub async fn write(&self, tx: &mut Tx) -> Result<()> {
        Lesson::insert(tx, &self.lessons).await?;
        score::insert(tx, &self.scored).await
    }
}

impl Learned {
    /// Writes the counts, under the number of the last lesson.
    ///
    /// # Errors
    /// What the database says.
    pub async fn write(self, tx: &mut Tx) -> Result<()> {
        if self.lessons == 0 {
            return Ok(());
        }
        let (number,): (i64,) = tx
            .query(
                "update diagnosis set lessons = lessons + $1, tempered = tempered + $2, temper = $3, behind = $4 where id = 1
                 returning lessons",
            )
            .bind(self.lessons)
            .bind(self.tempered)
            .bind(self.losses.text())
            .bind(self.behind)
            .one()
            .await?;
        lesson::add(tx, number, self.shares, self.answers).await?;
        let score: Vec<(Key, Sum)> = self.score.into_iter().collect();
        score::add_sums(tx, &score).await
    }
}
