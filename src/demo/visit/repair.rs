//! The repair: steps planned with their parts, done one after another, with the glue waited for.

use crate::demo::chance::{real, whole};
use crate::demo::deed::Deed;
use crate::demo::parts;
use crate::demo::trade::On;
use crate::error::Result;
use crate::staff::Roles;

use super::hunt::is_player;
use super::{Visit, Why};

impl Visit<'_> {
    /// The jobs that mend a finding, or now and then another way.
    pub(super) fn plan_for(&mut self, by: usize, finding: usize, free: bool) -> Result<()> {
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

    pub(super) fn plan_job(
        &mut self,
        by: usize,
        code: &str,
        finding: Option<usize>,
        free: bool,
    ) -> Result<()> {
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

    pub(super) fn plan_words(&mut self, by: usize, title: &str, minutes: i64) -> Result<()> {
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
    pub(super) fn extra(&mut self, by: usize) -> Result<()> {
        match self.chance.below(24) {
            0 => self.plan_job(by, "replace_set", None, false),
            1 => self.plan_job(by, "clean_strings", None, false),
            2 => self.plan_words(by, "Clean and polish", 15),
            _ => Ok(()),
        }
    }

    /// Does all steps that are planned, and waits for the glue.
    pub(super) fn mend(&mut self, by: usize, now: bool) -> Result<()> {
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
            if !step.waits() {
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

    /// A wish: jobs go on it straight away.
    pub(super) fn wish(&mut self, why: Why, on: On<'_>) -> Result<()> {
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
}

pub fn glue(job: &str) -> &'static str {
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
