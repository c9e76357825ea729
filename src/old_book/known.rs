//! The known are the customers, instruments and visits that the shop has and the old book names, each with its place.
//!
//! - A customer is known by the name, however it is spelled in capitals, accents and blanks, and by the digits of the
//!   phone number where one is given. A line without one means the only customer of that name; of several, none.
//! - An instrument is known by whose it is and by the text that tells it from others. What one line leaves out
//!   another may say, and none may say otherwise.
//! - A visit is known by the whole of its line; and no instrument comes in twice on one day.
//!
//! A few hundred bytes are kept for each customer, instrument and visit that the book names, and nothing of the lines.

use std::collections::{HashMap, HashSet};

use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::Day;
use crate::counter::customer::{Customer, KINDS};
use crate::counter::instrument::Instrument;
use crate::counter::tag;
use crate::db::{Db, Record};
use crate::error::Result;
use crate::form::Problems;

use super::entry::{Entry, phone_key, plain, short};
use super::thing::Thing;

/// So many rows of the shop are read at once.
const PAGE: i64 = 2000;
const PERSON: &str = "person";

#[derive(Default)]
pub struct Known {
    marks: HashSet<Uuid>,
    names: HashMap<u128, Called>,
    pub people: Vec<Person>,
    labels: HashMap<(usize, u128), usize>,
    pub things: Vec<Thing>,
    visits: HashMap<(usize, Day), String>,
}

/// All who are called alike.
#[derive(Default)]
struct Called {
    with_phone: Vec<usize>,
    without: Option<usize>,
    /// A line names them without a phone number.
    named_without: bool,
}

pub struct Person {
    pub id: Uuid,
    /// Who is new is taken for a person.
    pub kind: &'static str,
    phone: u128,
    pub is_written: bool,
}

/// What becomes of a line that is right in itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Of this instrument.
    Take(usize),
    /// It was brought in before.
    There,
    /// The same stands in an earlier line.
    Twice,
    Amiss,
}

/// The visits of the book so far, while it is gone through.
#[derive(Default)]
pub struct Seen {
    marks: HashSet<Uuid>,
    days: HashMap<(usize, Day), u64>,
}

#[derive(FromRow)]
struct VisitRow {
    id: Uuid,
    instrument: Uuid,
    received_on: Day,
    tag: String,
}

/// The next rows of a statement that reads on after an id, so many at once.
async fn page<T: Record>(db: &Db, sql: &'static str, after: Uuid) -> Result<Vec<T>> {
    Ok(db.read(sql).bind(after).bind(PAGE).all().await?)
}

impl Known {
    /// Begins with the lines that were brought in before.
    ///
    /// # Errors
    /// What the database says.
    pub async fn new(db: &Db) -> Result<Known> {
        let mut known = Known::default();
        let mut after = Uuid::nil();
        loop {
            let page: Vec<(Uuid, Uuid)> = page(
                db,
                "select work_order, line from old_book where work_order > $1 order by work_order limit $2",
                after,
            )
            .await?;
            let Some(last) = page.last() else {
                return Ok(known);
            };
            after = last.0;
            known.marks.extend(page.iter().map(|row| row.1));
        }
    }

    fn was_brought(&self, entry: &Entry) -> bool {
        !self.marks.is_empty() && self.marks.contains(&entry.mark())
    }

    /// First time through the book: who is named.
    pub fn meet(&mut self, entry: &Entry) {
        if self.was_brought(entry) {
            return;
        }
        let phone = entry.phone_key();
        let called = self.names.entry(entry.customer_key()).or_default();
        if phone == 0 {
            called.named_without = true;
        } else if !called.with_phone.iter().any(|at| self.people[*at].phone == phone) {
            called.with_phone.push(self.people.len());
            self.people.push(Person {
                id: Uuid::nil(),
                kind: PERSON,
                phone,
                is_written: false,
            });
        }
    }

    /// Then: which of them the shop knows.
    ///
    /// # Errors
    /// What the database says.
    pub async fn find_people(&mut self, db: &Db) -> Result<()> {
        let mut after = None;
        loop {
            let page = Customer::page(db, after, PAGE).await?;
            let Some(last) = page.last() else {
                break;
            };
            after = Some(last.id);
            for customer in &page {
                self.recognise(customer);
            }
        }
        for called in self.names.values_mut() {
            if let (Some(bare), [only]) = (called.without, called.with_phone.as_slice()) {
                // Of one without a number, and one new number, both are the same.
                if !self.people[*only].is_written {
                    self.people[*only].id = std::mem::take(&mut self.people[bare].id);
                    self.people[*only].kind = self.people[bare].kind;
                    self.people[*only].is_written = std::mem::take(&mut self.people[bare].is_written);
                    called.without = None;
                }
            }
            if called.named_without && called.without.is_none() && called.with_phone.is_empty() {
                called.without = Some(self.people.len());
                self.people.push(Person {
                    id: Uuid::nil(),
                    kind: PERSON,
                    phone: 0,
                    is_written: false,
                });
            }
        }
        Ok(())
    }

    fn recognise(&mut self, customer: &Customer) {
        let Some(called) = self.names.get_mut(&short(&plain(&customer.name))) else {
            return;
        };
        let phone = phone_key(&customer.phone);
        let known = Person {
            id: customer.id,
            kind: KINDS
                .iter()
                .find(|kind| kind.0 == customer.kind)
                .map_or(PERSON, |kind| kind.0),
            phone,
            is_written: true,
        };
        let at = called
            .with_phone
            .iter()
            .find(|at| self.people[**at].phone == phone)
            .copied();
        match at {
            Some(at) if !self.people[at].is_written => self.people[at] = known,
            Some(_) => {} // two that cannot be told apart: the one who came first
            None if phone == 0 && called.without.is_some() => {}
            None => {
                if phone == 0 {
                    called.without = Some(self.people.len());
                } else {
                    called.with_phone.push(self.people.len());
                }
                self.people.push(known);
            }
        }
    }

    /// Whose it is; nobody when several are called so.
    fn owner(&self, entry: &Entry) -> Option<usize> {
        let called = self.names.get(&entry.customer_key())?;
        let phone = entry.phone_key();
        if phone != 0 {
            return called
                .with_phone
                .iter()
                .find(|at| self.people[**at].phone == phone)
                .copied();
        }
        called.without.or(match called.with_phone.as_slice() {
            [only] => Some(*only),
            _ => None,
        })
    }

    /// Second time through the book: what they brought, and all that is said of it.
    pub fn gather(&mut self, line: u64, entry: &Entry) {
        if self.was_brought(entry) {
            return;
        }
        let Some(owner) = self.owner(entry) else {
            return;
        };
        let at = *self.labels.entry((owner, entry.label_key())).or_insert_with(|| {
            self.things.push(Thing::new(owner, line, entry));
            self.things.len() - 1
        });
        self.things[at].learn(line, entry);
    }

    /// Then: which of these the shop has, and when they were here.
    ///
    /// # Errors
    /// What the database says.
    pub async fn find_things(&mut self, db: &Db) -> Result<()> {
        let of = |(at, person): (usize, &Person)| (person.id, at);
        let known = |person: &(usize, &Person)| person.1.is_written;
        let people: HashMap<Uuid, usize> = self.people.iter().enumerate().filter(known).map(of).collect();
        let mut after = Uuid::nil();
        let mut things: HashMap<Uuid, usize> = HashMap::new();
        while !people.is_empty() {
            let page: Vec<Instrument> = page(
                db,
                "select * from instrument where id > $1 order by id limit $2",
                after,
            )
            .await?;
            let Some(last) = page.last() else {
                break;
            };
            after = last.id;
            for instrument in page {
                let owner = people.get(&instrument.customer);
                let label = short(&plain(&instrument.maker));
                let at = owner.and_then(|owner| self.labels.get(&(*owner, label)).copied());
                if let Some(at) = at.filter(|at| !self.things[*at].is_written) {
                    things.insert(instrument.id, at);
                    self.things[at].is_the(instrument);
                }
            }
        }
        self.find_visits(db, &things).await
    }

    async fn find_visits(&mut self, db: &Db, things: &HashMap<Uuid, usize>) -> Result<()> {
        let mut after = Uuid::nil();
        while !things.is_empty() {
            let page: Vec<VisitRow> = page(
                db,
                "select id, instrument, received_on, tag from work_order where id > $1 order by id limit $2",
                after,
            )
            .await?;
            let Some(last) = page.last() else {
                break;
            };
            after = last.id;
            for visit in page {
                if let Some(thing) = things.get(&visit.instrument) {
                    self.visits.insert((*thing, visit.received_on), visit.tag);
                }
            }
        }
        Ok(())
    }

    /// Third time through the book: what becomes of a line.
    pub fn judge(&self, line: u64, entry: &Entry, seen: &mut Seen, problems: &mut Problems) -> Verdict {
        let mark = entry.mark();
        if self.marks.contains(&mark) {
            return Verdict::There;
        }
        if !seen.marks.insert(mark) {
            return Verdict::Twice;
        }
        let Some(owner) = self.owner(entry) else {
            problems.add(
                "phone",
                "Several customers have this name: write the phone number, so that it is clear whose it is.",
            );
            return Verdict::Amiss;
        };
        let Some(&at) = self.labels.get(&(owner, entry.label_key())) else {
            problems.add("instrument", "The file was changed while it was read.");
            return Verdict::Amiss;
        };
        self.things[at].agrees(entry, problems);
        if let Some(tag) = self.visits.get(&(at, entry.received_on)) {
            let words = format!(
                "It came in that day already, as {}. Look at that order; then take this line out, or set its day right.",
                tag::spoken(tag)
            );
            problems.add("received_on", words);
        }
        let first = *seen.days.entry((at, entry.received_on)).or_insert(line);
        if first != line {
            let words = format!("It came in that day in line {first} already. Make one line of both.");
            problems.add("received_on", words);
        }
        if problems.is_empty() {
            Verdict::Take(at)
        } else {
            Verdict::Amiss
        }
    }
}
