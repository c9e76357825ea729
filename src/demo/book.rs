//! The book keeps what the acts would have written, had each deed been done on a page: rows, moves, money and story.
//!
//! Stages follow the one table of moves, prices the one estimate. A test does the same deeds through the real acts and
//! compares every row.

mod work;

use uuid::Uuid;

use crate::bench::approval::Approval;
use crate::bench::check::{self, Check};
use crate::bench::estimate::{self, Bill};
use crate::bench::finding::Finding;
use crate::bench::play_test::PlayTest;
use crate::bench::step::{Part, Step};
use crate::clock::{Day, Moment, Zone};
use crate::counter::order::Order;
use crate::counter::pickup::Payment;
use crate::counter::stage::{self, Move};
use crate::counter::story::Story;
use crate::error::Result;
use crate::money::Money;

use super::World;
use super::chance::Ids;
use super::deed::{Deed, Done};

/// One order with all that stands on it.
#[derive(Clone, Debug)]
pub struct Book {
    pub order: Order,
    pub is_bow: bool,
    /// What was agreed when it came in; an answer may have set another limit since.
    pub limit_at_intake: Option<Money>,
    pub checks: Vec<Check>,
    pub findings: Vec<Finding>,
    pub steps: Vec<Step>,
    pub parts: Vec<Part>,
    pub approvals: Vec<Approval>,
    pub play_tests: Vec<PlayTest>,
    pub payments: Vec<Payment>,
    pub story: Vec<Story>,
    /// What was charged when it was handed back.
    pub charged: Option<Bill>,
    pub deeds: Vec<Done>,
    ids: Ids,
    /// What was repaired on this instrument before.
    earlier: Vec<(usize, Uuid, Day)>,
}

fn word(of: &[(&str, &'static str)], code: &str) -> &'static str {
    of.iter().find(|pair| pair.0 == code).map_or("", |pair| pair.1)
}

impl Book {
    /// An order that was just taken in.
    #[must_use]
    pub fn open(
        world: &World,
        order: Order,
        by: usize,
        is_bow: bool,
        earlier: Vec<(usize, Uuid, Day)>,
        ids: Ids,
    ) -> Book {
        let mut book = Book {
            limit_at_intake: order.authorised_limit,
            order,
            is_bow,
            checks: Vec::new(),
            findings: Vec::new(),
            steps: Vec::new(),
            parts: Vec::new(),
            approvals: Vec::new(),
            play_tests: Vec::new(),
            payments: Vec::new(),
            story: Vec::new(),
            charged: None,
            deeds: Vec::new(),
            ids,
            earlier,
        };
        book.order.received_by = Some(world.hands[by].id);
        book.say(world, book.order.received_at, by, "Taken in".into());
        book
    }

    /// The same order with only the first of its deeds done.
    ///
    /// # Errors
    /// As [`Book::act`].
    pub fn until(&self, world: &World, fresh: &Book, deeds: usize) -> Result<Book> {
        let mut book = fresh.clone();
        for done in &self.deeds[..deeds] {
            book.act(world, done.clone())?;
        }
        Ok(book)
    }

    #[must_use]
    pub fn last_moment(&self) -> Moment {
        self.deeds.last().map_or(self.order.received_at, |done| done.at)
    }

    /// When it went back unrepaired, if it did.
    #[must_use]
    pub fn given_back(&self) -> Option<Moment> {
        let back = |done: &&Done| matches!(done.deed, Deed::GiveBack { .. });
        self.deeds.iter().find(back).map(|done| done.at)
    }

    /// What the steps that are done come to, less what was paid.
    ///
    /// # Errors
    /// When an amount is larger than money here can be.
    pub fn owed(&self) -> Result<i64> {
        Ok(self.bill(true)?.total.0 - self.payments.iter().map(|payment| payment.amount.0).sum::<i64>())
    }

    fn bill(&self, done_only: bool) -> Result<Bill> {
        let steps = self
            .steps
            .iter()
            .filter(|step| step.done_at.is_some() || (!done_only && step.declined_at.is_none()));
        estimate::bill(&estimate::lines(steps.cloned().collect(), &self.parts)?)
    }

    fn say(&mut self, world: &World, at: Moment, by: usize, words: String) {
        self.story.push(Story {
            id: self.ids.at(at),
            work_order: self.order.id,
            at,
            by_name: world.hands[by].name.into(),
            words,
        });
    }

    fn go(&mut self, world: &World, done: &Done, act: Move) -> Result<()> {
        let stage = stage::after(self.order.stage, act, world.hands[done.by].roles)?;
        self.order.enter(stage, world.zone.day(done.at));
        Ok(())
    }

    /// Does a deed.
    ///
    /// # Errors
    /// When the shop's rules do not allow it, which is a fault of whoever invented it.
    pub fn act(&mut self, world: &World, done: Done) -> Result<()> {
        match &done.deed {
            Deed::Check { .. } => self.check(world, &done)?,
            Deed::Find { .. } => self.find(world, &done)?,
            Deed::Plan { .. } => self.plan(world, &done)?,
            Deed::Work { step, minutes } => self.work(world, &done, *step, *minutes)?,
            Deed::Hold { until, why } => {
                (self.order.hold_until, self.order.hold_why) = (Some(*until), (*why).into());
                let words = hold_words(&world.zone, *until, why);
                self.say(world, done.at, done.by, words);
            }
            Deed::Answer { .. } => self.answer(world, &done)?,
            Deed::Play { result, note } => self.play(world, &done, result, note)?,
            Deed::Pay { amount, method } => self.pay(world, &done, *amount, method),
            Deed::GiveBack { why } => {
                self.go(world, &done, Move::GiveBack)?;
                if *why == "nothing_found" {
                    self.inspected(world, &done);
                }
                self.order.returned_why = Some((*why).into());
                self.say(world, done.at, done.by, give_back_words(why));
            }
            Deed::HandBack { .. } => self.hand_back(world, &done)?,
        }
        self.order.version += 1;
        self.deeds.push(done);
        Ok(())
    }

    fn inspected(&mut self, world: &World, done: &Done) {
        if self.order.inspected_on.is_none() && !self.is_bow {
            self.order.inspected_on = Some(world.zone.day(done.at));
        }
    }

    fn check(&mut self, world: &World, done: &Done) -> Result<()> {
        let Deed::Check {
            cause,
            result,
            minutes,
            note,
        } = &done.deed
        else {
            return Ok(());
        };
        self.go(world, done, Move::Look)?;
        self.inspected(world, done);
        let cause = &world.trade.causes[*cause];
        self.checks.push(Check {
            id: self.ids.at(done.at),
            work_order: self.order.id,
            cause: cause.code.clone(),
            result: (*result).into(),
            minutes: *minutes,
            note: note.clone(),
            at: done.at,
            staff: Some(world.hands[done.by].id),
        });
        self.say(
            world,
            done.at,
            done.by,
            format!("{}: {}", word(&check::RESULTS, result), cause.name),
        );
        Ok(())
    }

    fn find(&mut self, world: &World, done: &Done) -> Result<()> {
        let Deed::Find {
            cause,
            confirmed,
            place,
            note,
        } = &done.deed
        else {
            return Ok(());
        };
        self.go(world, done, Move::Look)?;
        self.inspected(world, done);
        let earlier = self
            .earlier
            .iter()
            .find(|earlier| *confirmed && earlier.0 == *cause)
            .copied();
        let cause = &world.trade.causes[*cause];
        let days = earlier.map(|earlier| self.order.received_on.0 - earlier.2.0);
        self.findings.push(Finding {
            id: self.ids.at(done.at),
            work_order: self.order.id,
            instrument: self.order.instrument,
            cause: cause.code.clone(),
            certainty: if *confirmed { "confirmed" } else { "suspected" }.into(),
            place: place.clone(),
            note: note.clone(),
            comeback_of: earlier.map(|earlier| earlier.1),
            comeback_days: days,
            withdrawn: false,
            at: done.at,
            found_on: world.zone.day(done.at),
            staff: Some(world.hands[done.by].id),
        });
        let found = if *confirmed { "Found" } else { "Suspected" };
        self.say(world, done.at, done.by, format!("{found}: {}", cause.name));
        if let Some(days) = days {
            let words = format!("This was repaired here and collected {days} days before it came in again");
            self.say(world, done.at, done.by, words);
        }
        Ok(())
    }
}

#[must_use]
pub fn hold_words(zone: &Zone, until: Moment, why: &str) -> String {
    format!("On hold until {}: {why}", zone.words(until))
}

#[must_use]
pub fn give_back_words(why: &str) -> String {
    let why = match why {
        "nothing_found" => "nothing found",
        _ => "not worth the repair",
    };
    format!("Goes back unrepaired: {why}")
}
