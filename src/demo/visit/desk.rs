//! At the desk: the customer is asked, says yes or no, takes it home and pays.

use crate::counter::stage::Stage;
use crate::demo::deed::Deed;
use crate::demo::people::Kind;
use crate::error::Result;
use crate::staff::Roles;

use super::Visit;

impl Visit<'_> {
    /// Asks the customer when it costs more than was agreed; true if the work may go on.
    pub(super) fn agree(&mut self, present: bool) -> Result<bool> {
        if self.book.order.stage != Stage::AwaitingApproval {
            return Ok(true);
        }
        let channel = if present {
            self.work(3);
            "in_person"
        } else {
            self.wait(0.9);
            self.chance
                .pick(&["phone", "phone", "phone", "phone", "email", "in_person"])
        };
        let estimate = self.book.order.estimate.0;
        let value = self.book.order.declared_value.map_or(i64::MAX, |value| value.0);
        let no = match estimate {
            ..12_000 => 0.03,
            12_000..35_000 => 0.08,
            _ => 0.16,
        };
        let no = if estimate > value / 2 { 0.5 } else { no };
        let by = self.hand(Roles::counter);
        let yes = !self.chance.yes(if self.guest.kind == Kind::Person {
            no
        } else {
            no / 2.0
        });
        let worked = self.book.steps.iter().any(|step| step.done_at.is_some());
        if !yes && !worked && estimate > value / 2 && self.chance.yes(0.4) {
            let by = self.hand(Roles::bench);
            self.act(by, Deed::GiveBack { why: "beyond_repair" })?;
            return Ok(false);
        }
        let limit = (yes && self.chance.yes(0.12)).then(|| (estimate / 5000 + 2) * 5000);
        let said_by = if channel == "in_person" {
            self.caller.clone()
        } else {
            self.said_by()
        };
        self.act(
            by,
            Deed::Answer {
                yes,
                said_by,
                channel,
                limit,
            },
        )?;
        if yes && estimate > 40_000 && self.chance.yes(0.6) {
            self.work(2);
            let amount = self.chance.pick(&[10_000, 15_000, 20_000]);
            self.act(
                by,
                Deed::Pay {
                    amount,
                    method: "card",
                },
            )?;
        }
        Ok(yes)
    }

    pub(super) fn said_by(&self) -> String {
        if self.guest.kind == Kind::Person {
            self.guest.name.to_owned()
        } else {
            self.caller.clone()
        }
    }

    /// Handed back, repaired or not, and paid for sooner or later.
    pub(super) fn go_home(&mut self) -> Result<()> {
        let waited =
            self.book.deeds.len() < 12 && self.world.zone.day(self.at) == self.book.order.received_on;
        if waited && self.chance.yes(0.8) {
            self.work(5);
        } else {
            self.wait(if self.guest.kind == Kind::Person { 2.5 } else { 1.5 });
        }
        let by = self.hand(Roles::counter);
        let owed = self.book.owed()?;
        let many = self.guest.kind != Kind::Person;
        let (paid, method) = if owed <= 0 {
            (0, None)
        } else if many {
            if self.chance.yes(0.4) {
                (owed, Some("account"))
            } else {
                (0, None)
            }
        } else if self.chance.yes(0.03) {
            (owed / 2, Some("cash"))
        } else {
            (
                owed,
                Some(
                    self.chance
                        .pick(&["card", "card", "card", "cash", "cash", "transfer"]),
                ),
            )
        };
        let collected_by = if self.chance.yes(0.9) {
            self.caller.clone()
        } else {
            self.said_by()
        };
        self.act(
            by,
            Deed::HandBack {
                collected_by,
                paid,
                method: method.filter(|_| paid > 0),
            },
        )?;
        let left = self.book.owed()?;
        if left > 0 && self.chance.yes(if many { 0.96 } else { 0.6 }) {
            let days = self.chance.range(6, 26);
            self.at = self.world.calendar.later(self.at, days, &mut self.chance);
            let by = self.hand(Roles::counter);
            self.act(
                by,
                Deed::Pay {
                    amount: left,
                    method: "transfer",
                },
            )?;
        }
        Ok(())
    }
}
