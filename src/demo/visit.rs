//! A visit is one order's life: why it came, what was looked at and found, what was done, and how it went home.

mod desk;
mod hunt;
mod repair;

use uuid::Uuid;

use crate::clock::{Day, Moment};
use crate::counter::stage::Stage;
use crate::error::Result;
use crate::staff::Roles;

use self::hunt::is_damage;
pub use self::repair::glue;
use super::World;
use super::book::Book;
use super::chance::{Chance, Ids, whole};
use super::deed::{Deed, Done};
use super::instruments::Piece;
use super::intake;
use super::people::{self, Kind};
use super::trade::On;
use super::words::Truth;

/// Why an instrument comes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    Noise,
    /// The same noise as before.
    Again(usize),
    /// A crack or a knock, seen rather than heard.
    Damage,
    Strings,
    SetUp,
    Yearly,
    Bow,
}

/// Who comes, with what.
#[derive(Clone, Copy, Debug)]
pub struct Guest<'a> {
    pub customer: Uuid,
    pub kind: Kind,
    pub name: &'a str,
    pub piece: &'a Piece,
}

/// The life of one order while it is being invented.
pub struct Visit<'a> {
    pub world: &'a World,
    pub chance: Chance,
    pub guest: Guest<'a>,
    pub caller: String,
    pub book: Book,
    /// Just after intake, to do the same deeds again up to another end.
    pub fresh: Book,
    pub at: Moment,
    /// 1 is the usual pace between deeds; 0 is one after the other.
    pace: f64,
    found: Vec<usize>,
}

impl<'a> Visit<'a> {
    /// Invents the whole of it, from intake to pickup.
    ///
    /// # Errors
    /// When the rules of the shop do not allow what was invented.
    pub fn live(
        world: &'a World,
        mut chance: Chance,
        guest: Guest<'a>,
        why: Why,
        (tag, at): (String, Moment),
        pace: f64,
        mut ids: Ids,
    ) -> Result<Visit<'a>> {
        let day = world.zone.day(at);
        let on = On {
            piece: guest.piece,
            year: day.year(),
            month: usize::from(day.month().month_number() - 1),
        };
        let cause = match why {
            Why::Noise => Some(world.trade.draw(&mut chance, on, |_| true)),
            Why::Again(cause) => Some(cause),
            Why::Damage => Some(world.trade.draw(&mut chance, on, is_damage)),
            _ => None,
        };
        let truth = cause.map(|cause| Truth {
            trade: &world.trade,
            answers: world.trade.truth(&mut chance, cause),
        });
        let caller = people::caller(&mut chance, guest.kind, guest.name);
        let asked = intake::Asked {
            why,
            truth: truth.as_ref(),
            cause: cause.map(|cause| &world.trade.causes[cause]),
            tag,
            at,
            day,
        };
        let (order, answers) = intake::order(world, &mut chance, &mut ids, guest, &asked);
        let by = world.somebody(&mut chance, day, Roles::counter);
        let book = Book::open(
            world,
            order,
            by,
            guest.piece.is_bow(),
            guest.piece.repaired.clone(),
            ids,
        );
        let mut visit = Visit {
            world,
            chance,
            guest,
            caller,
            fresh: book.clone(),
            book,
            at,
            pace,
            found: Vec::new(),
        };
        match cause {
            Some(cause) => visit.hunt(on, cause, &answers, why)?,
            None => visit.wish(why, on)?,
        }
        visit.go_home()?;
        Ok(visit)
    }

    /// Who can do it, of those there that day.
    fn hand(&mut self, may: fn(Roles) -> bool) -> usize {
        let day = self.world.zone.day(self.at);
        self.world.somebody(&mut self.chance, day, may)
    }

    fn act(&mut self, by: usize, deed: Deed) -> Result<()> {
        self.book.act(
            self.world,
            Done {
                at: self.at,
                by,
                deed,
            },
        )
    }

    /// Goes on so many minutes later, within opening hours.
    fn work(&mut self, minutes: i64) {
        self.at = self.world.calendar.after(self.at, minutes);
    }

    /// Goes on when somebody comes to it: about so many open days later.
    fn wait(&mut self, days: f64) {
        let days = whole(days * self.chance.spread(0.7) * self.pace);
        self.at = self.world.calendar.later(self.at, days, &mut self.chance);
    }

    /// What was repaired and may come back: its causes, once it was collected.
    #[must_use]
    pub fn repaired(&self) -> Vec<(usize, Uuid, Day)> {
        let (order, steps) = (&self.book.order, &self.book.steps);
        let Some(day) = order.collected_on.filter(|_| order.stage == Stage::Collected) else {
            return Vec::new();
        };
        let mended = |id: Uuid| {
            steps
                .iter()
                .any(|step| step.done_at.is_some() && step.finding.is_none_or(|of| of == id))
        };
        self.book
            .findings
            .iter()
            .filter(|finding| finding.is_confirmed() && mended(finding.id))
            .filter_map(|finding| Some((self.world.trade.cause(&finding.cause)?, order.id, day)))
            .collect()
    }
}
