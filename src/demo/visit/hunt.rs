//! The hunt: one look after another for what buzzes, and whether it still does when it was mended.

use crate::catalogue::cause::Cause;
use crate::counter::stage::Stage;
use crate::demo::chance::{real, whole};
use crate::demo::deed::Deed;
use crate::demo::found;
use crate::demo::trade::On;
use crate::error::Result;
use crate::staff::Roles;

use super::{Visit, Why};

impl Visit<'_> {
    /// Looks for a noise or at a damage, mends it, and plays it.
    pub(super) fn hunt(
        &mut self,
        on: On<'_>,
        cause: usize,
        answers: &[(usize, usize)],
        why: Why,
    ) -> Result<()> {
        let quick = &self.world.trade.causes[cause];
        let waits = quick.check_place == "counter"
            && !quick.needs_luthier
            && why != Why::Damage
            && self.chance.yes(0.45);
        let by = if waits {
            self.work(4);
            self.hand(|roles| roles.bench() && roles.counter())
        } else {
            self.wait(1.6);
            self.hand(Roles::bench)
        };
        let found = why == Why::Damage || self.look(by, on, cause, answers)?;
        if !found {
            return self.nothing(by);
        }
        self.confirm(by, cause)?;
        if self.chance.yes(0.06) {
            let second = self.world.trade.draw(&mut self.chance, on, |_| true);
            if !self.found.contains(&second) && !is_player(&self.world.trade.causes[second]) {
                self.work(5);
                self.confirm(by, second)?;
            }
        }
        let free = self.book.findings.iter().any(|finding| {
            finding
                .comeback_days
                .is_some_and(|days| days <= self.world.shop.comeback_days)
        }) && self.chance.yes(0.8);
        for at in 0..self.book.findings.len() {
            self.plan_for(by, at, free)?;
        }
        self.extra(by)?;
        if self.agree(waits)? {
            self.mend(by, waits)?;
            self.play(by, on)?;
        }
        Ok(())
    }

    /// One look after another until it is found, or nobody knows where to look any more.
    pub(super) fn look(
        &mut self,
        by: usize,
        on: On<'_>,
        cause: usize,
        answers: &[(usize, usize)],
    ) -> Result<bool> {
        let order = self.world.trade.order_of_looks(&mut self.chance, on, answers);
        let patience = 3 + self.chance.below(4);
        let place = order.iter().position(|look| *look == cause).unwrap_or(patience);
        let mut missed = false;
        for look in order.into_iter().take(place.min(patience)) {
            // Not every glance is written down.
            if self.chance.yes(0.7) {
                let unclear = self.chance.yes(0.08);
                self.check(by, look, if unclear { "unclear" } else { "not_found" }, "")?;
            }
            // The right place, looked at too quickly.
            if !missed && self.chance.yes(0.02) {
                missed = true;
                self.check(by, cause, "not_found", "")?;
            }
        }
        let found = if place <= patience {
            self.chance.yes(0.985)
        } else {
            self.chance.yes(0.88)
        };
        if found {
            self.check(by, cause, "found", "")?;
        } else if self.chance.yes(0.5) {
            let suspect = self.world.trade.draw(&mut self.chance, on, |_| true);
            self.act(
                by,
                Deed::Find {
                    cause: suspect,
                    confirmed: false,
                    place: String::new(),
                    note: "Not to be heard here".into(),
                },
            )?;
        }
        Ok(found)
    }

    pub(super) fn check(&mut self, by: usize, cause: usize, result: &'static str, note: &str) -> Result<()> {
        let usual = real(self.world.trade.causes[cause].check_minutes);
        let minutes = whole(usual * self.chance.spread(0.4)).max(1);
        self.work(minutes + 1);
        let kept = self.chance.yes(0.8).then_some(minutes);
        self.act(
            by,
            Deed::Check {
                cause,
                result,
                minutes: kept,
                note: note.into(),
            },
        )
    }

    pub(super) fn nothing(&mut self, by: usize) -> Result<()> {
        self.work(8);
        self.act(by, Deed::GiveBack { why: "nothing_found" })
    }

    pub(super) fn confirm(&mut self, by: usize, cause: usize) -> Result<()> {
        let known = &self.world.trade.causes[cause];
        let place = found::found_at(&mut self.chance, known);
        let note = found::noted(&mut self.chance, known);
        self.found.push(cause);
        self.act(
            by,
            Deed::Find {
                cause,
                confirmed: true,
                place,
                note,
            },
        )
    }

    /// Plays it; now and then it still buzzes, and there was a second cause.
    pub(super) fn play(&mut self, by: usize, on: On<'_>) -> Result<()> {
        for round in 0..3 {
            self.work(6);
            let heard = self.chance.unit();
            if round == 2 || heard > 0.05 {
                let note = if self.chance.yes(0.15) {
                    "Played through with the tuner"
                } else {
                    ""
                };
                return self.act(
                    by,
                    Deed::Play {
                        result: "quiet",
                        note: note.into(),
                    },
                );
            }
            let result = if heard < 0.038 { "still_buzzes" } else { "changed" };
            self.act(
                by,
                Deed::Play {
                    result,
                    note: String::new(),
                },
            )?;
            let second = self.world.trade.draw(&mut self.chance, on, |_| true);
            if self.found.contains(&second) || is_player(&self.world.trade.causes[second]) {
                continue;
            }
            self.wait(0.4);
            self.check(by, second, "found", "")?;
            self.confirm(by, second)?;
            self.plan_for(by, self.book.findings.len() - 1, false)?;
            if !self.agree(false)? {
                if self.book.order.stage == Stage::PlayTest {
                    self.work(6);
                    self.act(
                        by,
                        Deed::Play {
                            result: "quiet",
                            note: "As far as agreed".into(),
                        },
                    )?;
                }
                return Ok(());
            }
            self.mend(by, false)?;
        }
        Ok(())
    }
}

/// Seen rather than heard: cracks, broken and fallen things.
pub(super) fn is_damage(cause: &Cause) -> bool {
    cause.code.contains("crack")
        || matches!(
            cause.code.as_str(),
            "edge_splinter" | "post_down" | "saddle_loose"
        )
}

/// Not of the instrument at all.
pub(super) fn is_player(cause: &Cause) -> bool {
    cause.region == "player_or_room"
}
