//! The pool is everybody who may come again, with their instruments: never more than fit in a little memory.

use std::collections::BTreeMap;

use uuid::Uuid;

use crate::clock::{Day, Moment};
use crate::counter::customer::Customer;
use crate::counter::instrument::Instrument;

use super::chance::{Chance, Ids};
use super::instruments::{self, Piece};
use super::people::{self, HOUSES, Kind};

/// So many people are remembered at most; when more come, somebody who was here before comes no more.
const MOST_PEOPLE: usize = 10_000;
/// So many instruments of a house.
const MOST_PIECES: usize = 10_000;
/// After so many visits an instrument is sold to far away, and another takes its place.
const MOST_VISITS: u32 = 24;
/// So many are expected back at most.
const MOST_EXPECTED: usize = 20_000;

pub struct Owner {
    pub id: Uuid,
    pub kind: Kind,
    pub name: String,
    pub pieces: Vec<Piece>,
}

/// Where an owner's instrument is: owner, instrument.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    pub owner: usize,
    pub piece: usize,
}

/// Somebody expected back with the same noise.
#[derive(Clone, Copy, Debug)]
struct Expected {
    place: Place,
    instrument: Uuid,
    cause: usize,
}

/// Who stands at the counter, with the rows of whoever or whatever was never here before.
pub struct Arrival {
    pub place: Place,
    pub customer: Option<Customer>,
    pub instrument: Option<Instrument>,
}

pub struct Pool {
    owners: Vec<Owner>,
    /// How many people, and instruments of each house, the shop has at the end of the history.
    people_at_end: usize,
    pieces_at_end: usize,
    expected: BTreeMap<Day, Vec<Expected>>,
    how_many_expected: usize,
}

/// One moment of the history, with what is drawn and named at it.
pub struct Now<'a> {
    pub chance: &'a mut Chance,
    pub ids: &'a mut Ids,
    pub at: Moment,
    pub day: Day,
    /// How much of the history has gone by, from 0 to 1.
    pub gone: f64,
}

impl Pool {
    #[must_use]
    pub fn new(orders: u64) -> Pool {
        let orders = usize::try_from(orders).unwrap_or(usize::MAX);
        Pool {
            owners: Vec::new(),
            people_at_end: (orders / 14 + 60).min(MOST_PEOPLE),
            pieces_at_end: (orders / 50 + 12).min(MOST_PIECES),
            expected: BTreeMap::new(),
            how_many_expected: 0,
        }
    }

    #[must_use]
    pub fn owner(&self, place: Place) -> &Owner {
        &self.owners[place.owner]
    }

    #[must_use]
    pub fn piece(&self, place: Place) -> &Piece {
        &self.owners[place.owner].pieces[place.piece]
    }

    pub fn piece_mut(&mut self, place: Place) -> &mut Piece {
        &mut self.owners[place.owner].pieces[place.piece]
    }

    /// Expects an instrument back on a day, with the same cause.
    pub fn expect(&mut self, day: Day, place: Place, cause: usize) {
        if self.how_many_expected < MOST_EXPECTED {
            let instrument = self.piece(place).id;
            self.expected.entry(day).or_default().push(Expected {
                place,
                instrument,
                cause,
            });
            self.how_many_expected += 1;
        }
    }

    /// The next that was expected by this day and can come, with its cause.
    pub fn back(&mut self, day: Day) -> Option<(Place, usize)> {
        while let Some(mut first) = self.expected.first_entry().filter(|first| *first.key() <= day) {
            let Some(next) = first.get_mut().pop() else {
                first.remove();
                continue;
            };
            self.how_many_expected -= 1;
            // Who has left meanwhile, or is here already, is not expected any more.
            let known = self
                .owners
                .get(next.place.owner)
                .and_then(|owner| owner.pieces.get(next.place.piece))
                .is_some_and(|piece| piece.id == next.instrument && piece.free_from <= day);
            if known {
                return Some((next.place, next.cause));
            }
        }
        None
    }

    /// Somebody comes in, for the first time or again.
    pub fn arrive(&mut self, now: &mut Now<'_>) -> Arrival {
        let mut customer = None;
        let owner = self.who(now).unwrap_or_else(|| {
            let row = self.somebody_new(now);
            let owner = self.take(&row, now.chance);
            customer = Some(row);
            owner
        });
        let kind = self.owners[owner].kind;
        let bow = now.chance.yes(if kind == Kind::Person { 0.1 } else { 0.04 });
        if let Some(piece) = self.again(owner, now, bow).filter(|_| customer.is_none()) {
            return Arrival {
                place: Place { owner, piece },
                customer,
                instrument: None,
            };
        }
        let id = now.ids.at(now.at);
        let from = self.owners[owner].id;
        let (piece, row) = instruments::new(now.chance, id, from, kind, bow, now.at, now.day.year());
        let pieces = &mut self.owners[owner].pieces;
        let sold = pieces.iter().position(|piece| piece.visits >= MOST_VISITS);
        let at = sold.unwrap_or(pieces.len());
        pieces.splice(at..pieces.len().min(at + 1), [piece]);
        let place = Place { owner, piece: at };
        Arrival {
            place,
            customer,
            instrument: Some(row),
        }
    }

    /// Which kind comes is of the calendar: houses before term and after it, people all year.
    fn kind(now: &mut Now<'_>) -> Kind {
        let date = now.day.date();
        let (fleet, school) = match (u8::from(date.month()), date.day()) {
            (9, 1..=16) => (0.42, 0.14),
            (6, 12..=30) => (0.3, 0.2),
            _ => (0.09, 0.07),
        };
        let drawn = now.chance.unit();
        if drawn < fleet {
            Kind::Fleet
        } else if drawn < fleet + school {
            Kind::School
        } else {
            Kind::Person
        }
    }

    /// An owner known already, or nobody: then somebody new comes.
    fn who(&self, now: &mut Now<'_>) -> Option<usize> {
        let kind = Pool::kind(now);
        let known = self.owners.len().min(HOUSES.len());
        if kind != Kind::Person {
            // Until all houses have come, a house's turn brings the next of them.
            let of_kind: Vec<usize> = (0..known).filter(|at| HOUSES[*at].0 == kind).collect();
            return (known == HOUSES.len()).then(|| now.chance.pick(&of_kind));
        }
        if known < HOUSES.len() {
            return None;
        }
        let people = self.owners.len() - HOUSES.len();
        let wanted = grown(self.people_at_end, now.gone);
        if people == 0 || (people < wanted && now.chance.yes(0.85)) || now.chance.yes(0.01) {
            return None;
        }
        Some(HOUSES.len() + now.chance.below(people))
    }

    /// The first three who come are the houses.
    fn somebody_new(&self, now: &mut Now<'_>) -> Customer {
        let id = now.ids.at(now.at);
        if self.owners.len() < HOUSES.len() {
            people::house(now.chance, self.owners.len(), id, now.at)
        } else {
            people::person(now.chance, id, now.at)
        }
    }

    /// Puts a new customer where there is room, or in the place of somebody who comes no more.
    fn take(&mut self, row: &Customer, chance: &mut Chance) -> usize {
        let kind = HOUSES
            .get(self.owners.len())
            .map_or(Kind::Person, |house| house.0);
        let owner = Owner {
            id: row.id,
            kind,
            name: row.name.clone(),
            pieces: Vec::new(),
        };
        let people = self.owners.len().saturating_sub(HOUSES.len());
        if people < MOST_PEOPLE {
            self.owners.push(owner);
            return self.owners.len() - 1;
        }
        let at = HOUSES.len() + chance.below(people);
        self.owners[at] = owner;
        at
    }

    /// One of an owner's instruments that is not in the shop just now; none if it is a new one this time.
    fn again(&self, owner: usize, now: &mut Now<'_>, bow: bool) -> Option<usize> {
        let owner = &self.owners[owner];
        let many = owner.kind != Kind::Person;
        let new = if many {
            let wanted = grown(self.pieces_at_end, now.gone);
            if owner.pieces.len() < wanted { 0.8 } else { 0.003 }
        } else if owner.pieces.len() > 5 {
            0.0
        } else {
            0.05
        };
        if owner.pieces.len() < MOST_PIECES && now.chance.yes(new) {
            return None;
        }
        for _ in 0..12 {
            let at = now.chance.below(owner.pieces.len());
            let piece = owner.pieces.get(at)?;
            if piece.is_bow() == bow && piece.free_from <= now.day && piece.visits < MOST_VISITS {
                return Some(at);
            }
        }
        None
    }
}

/// Half of them come in the first year or so, the rest over the years.
fn grown(at_end: usize, gone: f64) -> usize {
    let share = (0.25 + 0.75 * gone) * (gone * 8.0).min(1.0);
    let all = super::chance::real(i64::try_from(at_end).unwrap_or(i64::MAX));
    usize::try_from(super::chance::whole(all * share))
        .unwrap_or(1)
        .max(1)
}
