//! What an invented history has taught: lessons, marks and counts as the acts would have left them.
//!
//! Orders are ranked and learned from in the order of time, each ranked by models that know only what was confirmed
//! before. The acts would bring the models up to date at every lesson; here that is done every [`EVERY`] lessons, later
//! less often, since by then they hardly move. So the marks of the shop's ranking are held out all the same, by models
//! that lag a little.

use std::cmp::{Ordering, Reverse};
use std::collections::{BTreeMap, BinaryHeap, HashMap};

use uuid::Uuid;

use crate::bench::finding::Finding;
use crate::bench::play_test::PlayTest;
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

/// The lesson that all marks are kept under: the sums begin before the first.
const BY_THE_FIRST: i64 = 1;
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
    /// Scored by a finding that may not be the last word.
    scored: HashMap<Uuid, Marks>,
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
    /// One act taught this.
    Learned(Box<Act>),
    /// All that an order taught.
    Whole(Lesson),
}

/// An act after which an order teaches something else than before.
struct Act {
    order: Uuid,
    before: Option<Lesson>,
    after: Option<Lesson>,
    again: Again,
    last: bool,
}

/// What becomes of its score.
enum Again {
    AsItWas,
    /// No finding settles it any more, or not one that can be scored.
    No,
    By(Box<Scoring>),
}

struct Scoring {
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
            scored: HashMap::new(),
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
        let lesson = |causes: &[String]| Lesson::of(&book.order, &instrument, causes);
        let mut acts: Vec<(Moment, Act)> = Vec::new();
        let (mut before, mut scored) = (None, None);
        for at in settling(book) {
            let settled = settled_by(book, at);
            let mut causes: Vec<String> = settled.iter().map(|finding| finding.cause.clone()).collect();
            causes.sort_unstable();
            causes.dedup();
            let after = if causes.is_empty() { None } else { lesson(&causes) };
            let first = settled.first().map(|finding| finding.cause.clone());
            if after != before {
                let again = if first == scored {
                    Again::AsItWas
                } else {
                    let by = settled.first();
                    let by = by.and_then(|finding| self.scoring(book, brought, &instrument, finding));
                    by.map_or(Again::No, |scoring| Again::By(Box::new(scoring)))
                };
                let order = book.order.id;
                let act = Act {
                    order,
                    before,
                    after: after.clone(),
                    again,
                    last: false,
                };
                acts.push((at, act));
            }
            (before, scored) = (after, first);
        }
        // Given back with nothing found.
        if before.is_none()
            && let Some(nothing) = lesson(&[])
        {
            let at = book.given_back().unwrap_or(book.order.received_at);
            let act = Act {
                order: book.order.id,
                before: None,
                after: Some(nothing.clone()),
                again: Again::AsItWas,
                last: false,
            };
            acts.push((at, act));
            before = Some(nothing);
        }
        let Some(last) = acts.last_mut() else { return };
        last.1.last = true;
        let at = last.0;
        for (at, act) in acts {
            self.wait(at, What::Learned(Box::new(act)));
        }
        if let Some(whole) = before {
            self.wait(at, What::Whole(whole));
        }
    }

    fn scoring(
        &self,
        book: &Book,
        brought: &Brought,
        instrument: &Instrument,
        finding: &Finding,
    ) -> Option<Scoring> {
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
                Some(What::Learned(act)) => self.learn(&act, rows),
                Some(What::Whole(lesson)) => rows.lessons.push(lesson),
                None => break,
            }
        }
    }

    fn score(&mut self, of: &Scoring) -> Option<Marks> {
        let every = self.every * (1 + self.sums.lessons / SLOWER);
        if self.behind >= every {
            self.behind = 0;
            let mut stand = self.current.stand.clone();
            stand.temper = self.sums.losses.text();
            self.current = self.current.taught(&self.counts, stand);
        }
        let first = |_: &_| of.first.clone();
        Marks::of(&self.current, of.family, &of.cause, first, of.month, of.looks)
    }

    fn learn(&mut self, act: &Act, rows: &mut Rows) {
        if !matches!(act.again, Again::AsItWas) {
            let was = self.scored.remove(&act.order);
            let is = match &act.again {
                Again::By(scoring) => self.score(scoring),
                _ => None,
            };
            for (marks, times) in [(&was, -1), (&is, 1)] {
                if let Some(marks) = marks {
                    self.sums.count(marks, times);
                }
            }
            self.scored.extend(is.map(|is| (act.order, is)));
        }
        if act.last {
            rows.scored.extend(self.scored.remove_entry(&act.order));
        }
        self.behind += 1;
        self.sums.lessons += 1;
        for (lesson, orders) in [(&act.before, -1), (&act.after, 1)] {
            if let Some(lesson) = lesson {
                self.counts.learn(&lesson.learned(), orders);
                lesson.counts(orders, &mut self.sums.shares, &mut self.sums.answers);
            }
        }
    }
}

/// The moments after which another finding may settle it: when one was confirmed, and when it still buzzed.
fn settling(book: &Book) -> Vec<Moment> {
    let found = book.findings.iter().filter(|finding| finding.is_confirmed());
    let buzzed = book
        .play_tests
        .iter()
        .filter(|test| test.result == "still_buzzes");
    let mut moments: Vec<Moment> = found
        .map(|finding| finding.at)
        .chain(buzzed.map(|test| test.at))
        .collect();
    moments.sort_unstable();
    moments.dedup();
    moments
}

/// What settled it as far as was known at a moment.
fn settled_by(book: &Book, at: Moment) -> Vec<&Finding> {
    let known: Vec<PlayTest> = book
        .play_tests
        .iter()
        .filter(|test| test.at <= at)
        .cloned()
        .collect();
    let mut settled = lesson::settled(&book.findings, &known);
    settled.retain(|finding| finding.at <= at);
    settled
}

impl Rows {
    /// Writes them; their orders are written already.
    ///
    /// # Errors
    /// What the database says.
    pub async fn write(&self, tx: &mut Tx) -> Result<()> {
        Lesson::insert(tx, &self.lessons).await?;
        score::insert(tx, BY_THE_FIRST, &self.scored).await
    }
}

impl Learned {
    fn count(&mut self, marks: &Marks, times: i64) {
        marks.sums(times, &mut self.score);
        self.losses.add(&marks.losses, times);
        self.behind += times * marks.behind();
        self.tempered += times;
    }

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
