//! The history is all orders in the order of their intake, invented one after another and handed on in batches.

use crate::clock::Moment;
use crate::counter::customer::Customer;
use crate::counter::instrument::Instrument;
use crate::counter::stage::Stage;
use crate::counter::tag::{self, FIRST_NUMBER};
use crate::error::Result;

use super::World;
use super::book::Book;
use super::chance::{Chance, Ids, real};
use super::deed::{Deed, Done};
use super::people::Kind;
use super::plan::{self, Today};
use super::pool::{Now, Place, Pool};
use super::trade::DRY;
use super::visit::{Guest, Visit, Why, glue};

/// So many orders are handed on at once.
const BATCH: usize = 2000;

/// Orders with the customers and instruments that came with them for the first time.
#[derive(Default)]
pub struct Batch {
    pub customers: Vec<Customer>,
    pub instruments: Vec<Instrument>,
    pub books: Vec<Book>,
    /// What was brought for each order, for the counts.
    pub of: Vec<Brought>,
}

/// As much of an order's instrument and its owner as is counted by.
#[derive(Clone, Copy, Debug)]
pub struct Brought {
    pub family: &'static str,
    pub size: &'static str,
    pub year_made: Option<i64>,
    pub kind: Kind,
}

impl Brought {
    /// As the acts would find it; of label and marks nothing is counted.
    #[must_use]
    pub fn instrument(&self, book: &Book) -> Instrument {
        Instrument {
            id: book.order.instrument,
            customer: book.order.customer,
            family: self.family.to_owned(),
            size: self.size.to_owned(),
            maker: String::new(),
            year_made: self.year_made,
            year_certainty: String::new(),
            serial: String::new(),
            marks: String::new(),
            version: 1,
            created_at: book.order.received_at,
        }
    }
}

pub struct History<'a> {
    world: &'a World,
    pool: Pool,
    number: i64,
    batch: Batch,
}

impl<'a> History<'a> {
    #[must_use]
    pub fn new(world: &'a World) -> History<'a> {
        History {
            world,
            pool: Pool::new(world.wish.orders),
            number: FIRST_NUMBER,
            batch: Batch::default(),
        }
    }

    /// Invents everything, handing on each batch; stops when nobody takes it any more.
    ///
    /// # Errors
    /// When the rules of the shop do not allow what was invented.
    pub fn tell(mut self, mut hand_on: impl FnMut(Batch) -> bool) -> Result<()> {
        let world = self.world;
        let mut chance = Chance::of(world.wish.seed, "plan", 0);
        let end = (world.wish.as_of, world.end);
        for today in plan::days(&world.calendar, &mut chance, world.wish.orders, world.first, end) {
            if !self.day(&today, &mut hand_on)? {
                return Ok(());
            }
        }
        hand_on(self.batch);
        Ok(())
    }

    /// A day at the counter: those still here are mixed among the others. False when nobody takes it any more.
    fn day(&mut self, today: &Today, hand_on: &mut impl FnMut(Batch) -> bool) -> Result<bool> {
        let seed = self.world.wish.seed;
        let mut chance = Chance::of(seed, "day", today.day.0.unsigned_abs());
        let count = today.done + today.open.len();
        let callers = self
            .world
            .calendar
            .callers(today.day, count, self.world.end, &mut chance);
        let mut open = today.open.clone();
        let mut left = count;
        for at in callers {
            let stays = chance
                .yes(real(i64::try_from(open.len()).unwrap_or(0)) / real(i64::try_from(left).unwrap_or(1)));
            left -= 1;
            let stays = if stays { open.pop() } else { None };
            self.caller(at, stays)?;
            if self.batch.books.len() >= BATCH && !hand_on(std::mem::take(&mut self.batch)) {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Somebody comes in; `stays` says where their order stands when the history ends.
    fn caller(&mut self, at: Moment, stays: Option<Stage>) -> Result<()> {
        let world = self.world;
        let which = self.number.unsigned_abs();
        let mut chance = Chance::of(world.wish.seed, "order", which);
        let mut ids = Ids::new(Chance::of(world.wish.seed, "ids", which));
        let day = world.zone.day(at);
        let gone = real(at.0 - world.opened.0) / real((world.end.0 - world.opened.0).max(1));
        let back = if stays.is_none() {
            self.pool.back(day)
        } else {
            None
        };
        let (place, why) = if let Some((place, cause)) = back {
            (place, Why::Again(cause))
        } else {
            let mut now = Now {
                chance: &mut chance,
                ids: &mut ids,
                at,
                day,
                gone,
            };
            let arrival = self.pool.arrive(&mut now);
            self.batch.customers.extend(arrival.customer);
            self.batch.instruments.extend(arrival.instrument);
            let why = match (stays, self.why(&mut chance, arrival.place, at)) {
                // What stays to be looked at is a noise.
                (Some(Stage::Inspecting | Stage::InRepair | Stage::Returned), why) if why != Why::Bow => {
                    Why::Noise
                }
                (_, why) => why,
            };
            (arrival.place, why)
        };
        let owner = self.pool.owner(place);
        let guest = Guest {
            customer: owner.id,
            kind: owner.kind,
            name: &owner.name,
            piece: self.pool.piece(place),
        };
        let tag = tag::from_number(self.number);
        self.number += 1;
        let of = Brought {
            family: guest.piece.family,
            size: guest.piece.size,
            year_made: guest.piece.year_made,
            kind: owner.kind,
        };
        let one = |try_: u64, pace: f64, why: Why| {
            let chance = Chance::of(world.wish.seed ^ (try_ << 40), "visit", which);
            Visit::live(world, chance, guest, why, (tag.clone(), at), pace, ids.clone())
        };
        let visit = match stays {
            None => finished(world, &|try_, pace| one(try_, pace, why))?,
            Some(stage) => staying(world, stage, &|try_, pace| one(try_, pace, why))?,
        };
        let (book, repaired) = visit;
        let mut chance = Chance::of(world.wish.seed, "after", which);
        self.after(&mut chance, place, &book, &repaired);
        self.batch.books.push(book);
        self.batch.of.push(of);
        Ok(())
    }

    /// What brings an instrument in.
    fn why(&self, chance: &mut Chance, place: Place, at: Moment) -> Why {
        let (owner, piece) = (self.pool.owner(place), self.pool.piece(place));
        if piece.is_bow() {
            return Why::Bow;
        }
        let date = self.world.zone.day(at).date();
        let month = u8::from(date.month());
        let term = owner.kind != Kind::Person && matches!((month, date.day()), (9, 1..=16) | (6, 12..=30));
        // Noise, damage, strings, set-up, yearly check. Dry rooms bring more cracks.
        let damage = 4.0 + 4.0 * DRY[usize::from(month - 1)];
        let shares = if term {
            [40.0, damage, 14.0, 4.0, 38.0]
        } else {
            [76.0, damage, 8.0, 5.0, 5.0]
        };
        match chance.weighted(shares.into_iter()) {
            0 => Why::Noise,
            1 => Why::Damage,
            2 => Why::Strings,
            3 => Why::SetUp,
            _ => Why::Yearly,
        }
    }

    /// Remembers what was repaired, and whether it will come back: soon, or when the same season returns.
    fn after(&mut self, chance: &mut Chance, place: Place, book: &Book, repaired: &[Repaired]) {
        let free_from = match book.order.collected_on {
            Some(day) => day.plus(1),
            None => crate::clock::Day(i64::MAX), // still here
        };
        let piece = self.pool.piece_mut(place);
        (piece.free_from, piece.visits) = (free_from, piece.visits + 1);
        for &(cause, order, day) in repaired {
            let earlier = &mut self.pool.piece_mut(place).repaired;
            earlier.retain(|earlier| earlier.0 != cause);
            earlier.push((cause, order, day));
            let (soon, next_year) = returns(&self.world.trade.causes[cause]);
            if chance.yes(soon) {
                self.pool.expect(day.plus(chance.range(4, 84)), place, cause);
            } else if chance.yes(next_year) {
                // Counted from pickup, so that it falls into the same weeks of the next year.
                let since = day.0 - book.order.received_on.0;
                self.pool
                    .expect(day.plus(chance.range(340, 385) - since.min(30)), place, cause);
            }
        }
    }
}

type Repaired = (usize, uuid::Uuid, crate::clock::Day);

/// How often the same cause comes back within the shop's window, and when its season returns: common practice, no
/// source, from memory. Screws turn, glue on old glue lets go, dry rooms come every winter.
fn returns(cause: &crate::catalogue::cause::Cause) -> (f64, f64) {
    let soon = match cause.code.as_str() {
        "tuner_screw_loose" => 0.1,
        "tuner_lock_nut_loose" | "endpin_rattle" => 0.08,
        "seam_open_upper" | "seam_open_lower" | "seam_open_centre" => 0.06,
        "post_loose" | "sleeve_at_bridge" | "bridge_warped" => 0.05,
        "wolf_note" => 0.07,
        _ if cause.region == "player_or_room" => 0.02,
        _ => 0.015,
    };
    let next_year = match (cause.season_tie.as_str(), cause.region.as_str()) {
        ("dry", "edge_seams" | "bridge") => 0.16,
        ("dry", _) => 0.06,
        ("humid" | "change", _) => 0.05,
        _ => 0.0,
    };
    (soon, next_year)
}

/// A visit that is over before the history ends; in the last days it goes at a quicker pace.
fn finished<'a>(
    world: &World,
    live: &dyn Fn(u64, f64) -> Result<Visit<'a>>,
) -> Result<(Book, Vec<Repaired>)> {
    let paces = [1.0, 0.6, 0.3, 0.1]
        .into_iter()
        .chain(std::iter::repeat_n(0.0, 40));
    for (try_, pace) in (0..).zip(paces) {
        let visit = live(try_, pace)?;
        let over = visit.book.order.collected_at.is_some_and(|at| at <= world.end);
        if over {
            // Money that would come later has not come yet.
            let kept = visit
                .book
                .deeds
                .iter()
                .take_while(|done| done.at <= world.end)
                .count();
            let repaired = visit.repaired();
            let book = if kept == visit.book.deeds.len() {
                visit.book
            } else {
                visit.book.until(world, &visit.fresh, kept)?
            };
            return Ok((book, repaired));
        }
    }
    // It came in too late to be done: it is still here.
    staying(world, Stage::Inspecting, live)
}

/// A visit that stands at this stage when the history ends, if one can be invented that does.
fn staying<'a>(
    world: &World,
    stage: Stage,
    live: &dyn Fn(u64, f64) -> Result<Visit<'a>>,
) -> Result<(Book, Vec<Repaired>)> {
    for try_ in 0..60 {
        let visit = live(100 + try_, if try_ < 30 { 1.0 } else { 0.3 })?;
        if stage == Stage::Received {
            return Ok((visit.fresh, Vec::new()));
        }
        let past = visit
            .book
            .deeds
            .iter()
            .take_while(|done| done.at <= world.end)
            .count();
        let mut book = visit.fresh.clone();
        let mut best = None;
        for (at, done) in visit.book.deeds[..past].iter().enumerate() {
            book.act(world, done.clone())?;
            if book.order.stage == stage && book.order.collected_at.is_none() {
                best = Some(at + 1);
            }
        }
        if let Some(deeds) = best {
            let mut book = visit.book.until(world, &visit.fresh, deeds)?;
            // Of those in repair, most that can be shown are shown in clamps.
            if stage == Stage::InRepair && try_ < 12 && clamped(world, &book).is_none() {
                continue;
            }
            hold(
                world,
                &mut book,
                Chance::of(
                    world.wish.seed,
                    "hold",
                    visit.book.order.received_at.0.unsigned_abs(),
                ),
            )?;
            return Ok((book, Vec::new()));
        }
    }
    // Not every stage fits every visit: a bow is never inspected.
    if stage == Stage::Approved {
        return Ok((live(100, 1.0)?.fresh, Vec::new()));
    }
    staying(world, Stage::Approved, live)
}

/// What was done last, if it stands in clamps afterwards.
fn clamped(world: &World, book: &Book) -> Option<&'static str> {
    if !matches!(book.order.stage, Stage::InRepair | Stage::PlayTest) {
        return None;
    }
    let last = book
        .steps
        .iter()
        .filter(|step| step.done_at.is_some())
        .max_by_key(|step| step.done_at)?;
    let job = last.job.as_deref()?;
    let waits = world
        .trade
        .job(job)
        .is_some_and(|at| world.trade.jobs[at].wait_hours >= 2.0);
    waits.then(|| glue(job))
}

/// Whoever stands in clamps when the history ends stands there until later that day.
fn hold(world: &World, book: &mut Book, mut chance: Chance) -> Result<()> {
    let at = world.last_open.plus_ms(-60_000 * chance.range(4, 50));
    let Some(why) = clamped(world, book).filter(|_| at > book.last_moment()) else {
        return Ok(());
    };
    let day = world.wish.as_of;
    let (hour, minute) = chance.pick(&[(11, 30), (14, 0), (15, 15), (16, 30)]);
    let until = world.zone.moment(day, hour, minute);
    let by = world.somebody(&mut chance, day, crate::staff::Roles::bench);
    let deed = Deed::Hold { until, why };
    book.act(world, Done { at, by, deed })
}
