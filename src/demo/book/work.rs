//! What the acts write from the first step that is planned to the pickup.

use crate::bench::approval::{Approval, CHANNELS};
use crate::bench::play_test::{self, PlayTest};
use crate::bench::step::{Part, Step, all_done};
use crate::counter::pickup::{METHODS, Payment};
use crate::counter::stage::{Move, Stage};
use crate::demo::World;
use crate::demo::deed::{Deed, Done};
use crate::error::{Error, Result};
use crate::money::{Money, Rate};
use crate::words;

use super::{Book, word};

impl Book {
    pub(super) fn plan(&mut self, world: &World, done: &Done) -> Result<()> {
        let Deed::Plan {
            job,
            title,
            finding,
            minutes,
            parts,
            free,
        } = &done.deed
        else {
            return Ok(());
        };
        let job = job.map(|job| &world.trade.jobs[job]);
        let step = Step {
            id: self.ids.at(done.at),
            work_order: self.order.id,
            finding: finding.map(|at| self.findings[at].id),
            job: job.map(|job| job.code.clone()),
            title: job.map_or_else(|| title.clone(), |job| job.name.clone()),
            planned_minutes: *minutes,
            actual_minutes: None,
            rate: world.shop.labour_rate,
            tax: world.shop.tax_labour,
            free: *free,
            position: i64::try_from(self.steps.len()).unwrap_or(0) + 1,
            created_at: done.at,
            done_at: None,
            done_on: None,
            done_by: None,
            declined_at: None,
        };
        for part in parts {
            self.parts.push(Part {
                id: self.ids.at(done.at),
                step: step.id,
                name: part.name.clone(),
                quantity: part.quantity,
                unit_price: Money(part.unit_price),
                tax: Rate(world.shop.tax_parts.0),
            });
        }
        let words = format!(
            "Planned: {}, {}",
            step.title,
            words::minutes(step.planned_minutes)
        );
        self.say(world, done.at, done.by, words);
        self.steps.push(step);
        self.order.estimate = self.bill(false)?.total;
        let within = self.order.estimate <= self.order.agreed();
        self.go(
            world,
            done,
            if within {
                Move::PlanWithin
            } else {
                Move::PlanBeyond
            },
        )?;
        if self.order.stage == Stage::AwaitingApproval {
            let estimate = world.shop.money(&self.order.estimate);
            let words = format!("The estimate is {estimate}, more than was agreed: ask the customer");
            self.say(world, done.at, done.by, words);
        }
        Ok(())
    }

    pub(super) fn work(&mut self, world: &World, done: &Done, step: usize, minutes: i64) -> Result<()> {
        let last = self
            .steps
            .iter()
            .enumerate()
            .all(|(at, other)| at == step || !other.waits());
        self.go(world, done, if last { Move::AllDone } else { Move::Work })?;
        let step = &mut self.steps[step];
        step.actual_minutes = Some(minutes);
        (step.done_at, step.done_on) = (Some(done.at), Some(world.zone.day(done.at)));
        step.done_by = Some(world.hands[done.by].id);
        let words = format!("Done: {}, {}", step.title, words::minutes(minutes));
        self.say(world, done.at, done.by, words);
        Ok(())
    }

    pub(super) fn answer(&mut self, world: &World, done: &Done) -> Result<()> {
        let Deed::Answer {
            yes,
            said_by,
            channel,
            limit,
        } = &done.deed
        else {
            return Ok(());
        };
        let limit = limit.map(Money);
        let told = self.order.estimate;
        if *yes {
            self.go(world, done, Move::Approve)?;
            self.order.approved_up_to = Some(self.order.estimate);
            self.order.authorised_limit = limit.or(self.order.authorised_limit);
        } else if self.steps.iter().any(|step| step.done_at.is_some()) {
            self.go(world, done, Move::DeclineRest)?;
        } else {
            self.go(world, done, Move::Decline)?;
            self.order.returned_why = Some("declined".into());
        }
        if !*yes {
            for step in self.steps.iter_mut().filter(|step| step.waits()) {
                step.declined_at = Some(done.at);
            }
            self.order.estimate = self.bill(false)?.total;
        }
        self.approvals.push(Approval {
            id: self.ids.at(done.at),
            work_order: self.order.id,
            decision: if *yes { "approved" } else { "declined" }.into(),
            said_by: said_by.clone(),
            channel: (*channel).into(),
            estimate: told,
            authorised_limit: limit,
            at: done.at,
            staff: Some(world.hands[done.by].id),
        });
        let what = if *yes { "said yes to" } else { "said no to" };
        let estimate = world.shop.money(&told);
        let words = format!("{said_by} {what} {estimate}, {}", word(&CHANNELS, channel));
        self.say(world, done.at, done.by, words);
        Ok(())
    }

    pub(super) fn play(&mut self, world: &World, done: &Done, result: &str, note: &str) -> Result<()> {
        let quiet = result == "quiet";
        if quiet && self.order.stage == Stage::Inspecting && !all_done(&self.steps) {
            return Err(Error::conflict("There are steps that are not done."));
        }
        self.go(world, done, if quiet { Move::Quiet } else { Move::StillBuzzes })?;
        self.play_tests.push(PlayTest {
            id: self.ids.at(done.at),
            work_order: self.order.id,
            result: result.into(),
            note: note.into(),
            at: done.at,
            staff: Some(world.hands[done.by].id),
        });
        self.say(
            world,
            done.at,
            done.by,
            format!(
                "{}: {}",
                if self.is_bow { "Tried" } else { "Played" },
                play_test::words_of(result, self.is_bow)
            ),
        );
        Ok(())
    }

    pub(super) fn pay(&mut self, world: &World, done: &Done, amount: i64, method: &str) {
        let payment = Payment {
            id: self.ids.at(done.at),
            work_order: self.order.id,
            amount: Money(amount),
            method: method.into(),
            at: done.at,
            paid_on: world.zone.day(done.at),
            staff: Some(world.hands[done.by].id),
        };
        let paid = world.shop.money(&payment.amount);
        if self.order.is_handed_back() {
            self.order.owed = Money(self.order.owed.0 - amount);
        }
        self.payments.push(payment);
        self.say(
            world,
            done.at,
            done.by,
            format!("Paid {paid}, {}", word(&METHODS, method).to_lowercase()),
        );
    }

    pub(super) fn hand_back(&mut self, world: &World, done: &Done) -> Result<()> {
        let Deed::HandBack {
            collected_by,
            paid,
            method,
        } = &done.deed
        else {
            return Ok(());
        };
        self.go(world, done, Move::HandBack)?;
        if *paid > 0 {
            self.pay(world, done, *paid, method.unwrap_or_default());
        }
        let charged = self.bill(true)?;
        let left = self.owed()?;
        self.order.owed = Money(left);
        (self.order.collected_at, self.order.collected_on) = (Some(done.at), Some(world.zone.day(done.at)));
        (self.order.hold_until, self.order.hold_why) = (None, String::new());
        self.order.collected_by.clone_from(collected_by);
        self.charged = Some(charged);
        self.say(world, done.at, done.by, format!("Handed back to {collected_by}"));
        if left > 0 {
            let words = format!("{} is still owed", world.shop.money(&Money(left)));
            self.say(world, done.at, done.by, words);
        } else if left < 0 {
            let words = format!(
                "{} was paid too much: give it back",
                world.shop.money(&Money(-left))
            );
            self.say(world, done.at, done.by, words);
        }
        Ok(())
    }
}
