//! A visit is one order's life: why it came, what was looked at and found, what was done, and how it went home.

use uuid::Uuid;

use crate::catalogue::cause::Cause;
use crate::clock::{Day, Moment};
use crate::counter::order::Stage;
use crate::error::Result;
use crate::staff::Roles;

use super::World;
use super::book::Book;
use super::chance::{Chance, Ids, real, whole};
use super::deed::{Deed, Done};
use super::instruments::Piece;
use super::people::{self, Kind};
use super::trade::On;
use super::words::{self, Truth};
use super::{intake, parts};

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

    /// Looks for a noise or at a damage, mends it, and plays it.
    fn hunt(&mut self, on: On<'_>, cause: usize, answers: &[(usize, usize)], why: Why) -> Result<()> {
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
    fn look(&mut self, by: usize, on: On<'_>, cause: usize, answers: &[(usize, usize)]) -> Result<bool> {
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

    fn check(&mut self, by: usize, cause: usize, result: &'static str, note: &str) -> Result<()> {
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

    fn nothing(&mut self, by: usize) -> Result<()> {
        self.work(8);
        self.act(by, Deed::GiveBack { why: "nothing_found" })
    }

    fn confirm(&mut self, by: usize, cause: usize) -> Result<()> {
        let known = &self.world.trade.causes[cause];
        let place = words::found_at(&mut self.chance, known);
        let note = words::noted(&mut self.chance, known);
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

    /// The jobs that mend a finding, or now and then another way.
    fn plan_for(&mut self, by: usize, finding: usize, free: bool) -> Result<()> {
        let known = self.world.trade.cause(&self.book.findings[finding].cause);
        let Some(cause) = known.map(|at| &self.world.trade.causes[at]) else {
            return Ok(());
        };
        let others: Vec<&str> = cause
            .alternate_jobs
            .split(';')
            .filter(|way| !way.is_empty())
            .collect();
        let way = if !others.is_empty() && self.chance.yes(0.14) {
            self.chance.one(&others)
        } else {
            &cause.remedy_jobs
        };
        for code in way.split('+').filter(|code| !code.is_empty()) {
            self.plan_job(by, code, Some(finding), free)?;
        }
        Ok(())
    }

    fn plan_job(&mut self, by: usize, code: &str, finding: Option<usize>, free: bool) -> Result<()> {
        let Some(at) = self.world.trade.job(code) else {
            return Ok(());
        };
        let job = &self.world.trade.jobs[at];
        let family = self.guest.piece.family;
        let usual = job.minutes_for(family);
        let minutes = if self.chance.yes(0.12) {
            whole(real(usual) * self.chance.spread(0.2)).max(2)
        } else {
            usual
        };
        let parts = parts::of(&mut self.chance, code, family);
        self.work(2);
        self.act(
            by,
            Deed::Plan {
                job: Some(at),
                title: String::new(),
                finding,
                minutes,
                parts,
                free,
            },
        )
    }

    fn plan_words(&mut self, by: usize, title: &str, minutes: i64) -> Result<()> {
        let deed = Deed::Plan {
            job: None,
            title: title.into(),
            finding: None,
            minutes,
            parts: Vec::new(),
            free: false,
        };
        self.act(by, deed)
    }

    /// What is done at the same time, since it is here.
    fn extra(&mut self, by: usize) -> Result<()> {
        match self.chance.below(24) {
            0 => self.plan_job(by, "replace_set", None, false),
            1 => self.plan_job(by, "clean_strings", None, false),
            2 => self.plan_words(by, "Clean and polish", 15),
            _ => Ok(()),
        }
    }

    /// Asks the customer when it costs more than was agreed; true if the work may go on.
    fn agree(&mut self, present: bool) -> Result<bool> {
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
            ..35_000 => 0.08,
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

    fn said_by(&self) -> String {
        if self.guest.kind == Kind::Person {
            self.guest.name.to_owned()
        } else {
            self.caller.clone()
        }
    }

    /// Does all steps that are planned, and waits for the glue.
    fn mend(&mut self, by: usize, now: bool) -> Result<()> {
        if !now {
            if self.chance.yes(0.05) {
                self.at = self.world.calendar.after(self.at, 20);
                let days = self.chance.range(2, 6);
                let until = self.world.calendar.later(self.at, days, &mut self.chance);
                self.act(
                    by,
                    Deed::Hold {
                        until,
                        why: "waits for a part",
                    },
                )?;
                self.at = until;
            }
            self.wait(1.4);
        }
        for at in 0..self.book.steps.len() {
            let step = &self.book.steps[at];
            if step.done_at.is_some() {
                continue;
            }
            let job = step.job.clone().unwrap_or_default();
            let planned = real(step.planned_minutes);
            let minutes = whole(planned * parts::pace(&job) * self.chance.spread(0.22)).max(1);
            let minutes = if minutes > 30 {
                (minutes + 2) / 5 * 5
            } else {
                minutes
            };
            self.work(minutes);
            let by = if now { by } else { self.hand(Roles::bench) };
            self.act(by, Deed::Work { step: at, minutes })?;
            let known = self.world.trade.job(&job).map(|job| &self.world.trade.jobs[job]);
            if let Some(wait) = known.map(|job| job.wait_hours).filter(|wait| *wait >= 2.0) {
                self.work(3);
                let until = self.at.plus_ms(whole(wait * 60.0) * 60_000);
                let why = glue(&job);
                self.act(by, Deed::Hold { until, why })?;
                self.at = self.world.calendar.after(until, 10);
            }
        }
        Ok(())
    }

    /// Plays it; now and then it still buzzes, and there was a second cause.
    fn play(&mut self, by: usize, on: On<'_>) -> Result<()> {
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

    /// A wish: jobs go on it straight away.
    fn wish(&mut self, why: Why, on: On<'_>) -> Result<()> {
        let by = self.hand(Roles::counter);
        self.work(4);
        match why {
            Why::Strings => self.plan_job(by, "replace_set", None, false)?,
            Why::Bow if self.chance.yes(0.85) => self.plan_job(by, "rehair", None, false)?,
            Why::Bow => self.plan_job(by, "bow_service", None, false)?,
            Why::SetUp => {
                let job = self.chance.pick(&[
                    "adjust_post",
                    "adjust_post",
                    "new_bridge",
                    "dress_board",
                    "new_post",
                    "raise_bridge",
                ]);
                self.plan_job(by, job, None, false)?;
            }
            _ => self.plan_words(by, "Yearly check and clean", 30)?,
        }
        if !self.agree(true)? {
            return Ok(());
        }
        let by = self.hand(Roles::bench);
        if why == Why::Yearly && self.chance.yes(0.3) {
            // Something turns up at the yearly check more often than not heard by anybody.
            self.wait(1.5);
            let cause = self
                .world
                .trade
                .draw(&mut self.chance, on, |cause| !is_player(cause));
            self.check(by, cause, "found", "")?;
            self.confirm(by, cause)?;
            self.plan_for(by, 0, false)?;
            if !self.agree(false)? {
                return Ok(());
            }
        }
        self.mend(by, false)?;
        self.work(5);
        self.act(
            by,
            Deed::Play {
                result: "quiet",
                note: String::new(),
            },
        )
    }

    /// Handed back, repaired or not, and paid for sooner or later.
    fn go_home(&mut self) -> Result<()> {
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

pub(super) fn glue(job: &str) -> &'static str {
    match job {
        "reglue_seam" => "clamp on the seam",
        "rehair" => "the knot dries",
        "new_bridge" | "raise_bridge" | "straighten_bridge" => "the bridge settles",
        "glue_crack_outside" | "cleat_crack" | "repair_wing" | "repair_rib" | "repair_back_joint" => {
            "glue cures, crack"
        }
        "open_close_top" => "clamps round the top",
        _ => "glue cures",
    }
}

/// Seen rather than heard: cracks, broken and fallen things.
fn is_damage(cause: &Cause) -> bool {
    cause.code.contains("crack")
        || matches!(
            cause.code.as_str(),
            "edge_splinter" | "post_down" | "saddle_loose"
        )
}

/// Not of the instrument at all.
fn is_player(cause: &Cause) -> bool {
    cause.region == "player_or_room"
}
