//! How an order is told on its page: its head, its noise, what to take care of, its steps and its money.

use uuid::Uuid;

use crate::bench::finding::Finding;
use crate::bench::next::{self, Next};
use crate::bench::step::{self, Step};
use crate::catalogue::cause::{Cause, REGIONS};
use crate::catalogue::caution;
use crate::catalogue::job::{Job, JobStep};
use crate::clock::{Day, Moment};
use crate::counter::order_changes::REASONS;
use crate::counter::stage::{Move, Stage};
use crate::diagnosis::opinion::Likely;
use crate::diagnosis::rank::Looked;
use crate::money::Money;
use crate::page::Markup;
use crate::printing::drawing;
use crate::reports::repaired::Earlier;
use crate::words;

use super::ears::Ears;
use super::{OrderPage, Pick};

/// So many letters fill two lines of the customer's words on a tablet; so many answers are taken in at one look.
const TWO_LINES: usize = 100;
const AT_ONE_LOOK: usize = 6;

/// A repair of an earlier visit that matters now.
pub(super) struct Back {
    pub words: String,
    /// Of the order then.
    pub tag: Option<String>,
    /// Within the comeback window of the shop.
    pub free: bool,
}

/// "41 days ago", as of today or of the day it came in.
fn ago(days: i64, today: bool) -> String {
    match (days, today) {
        (0, true) => "and went home today".to_owned(),
        (0, false) => "and went home the day it came in again".to_owned(),
        (days, true) => format!("{} ago", words::count(days, "day", "days")),
        (days, false) => format!("{} before it came in", words::count(days, "day", "days")),
    }
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    clippy::ref_option,
    reason = "a template hands everything over by reference"
)]
impl OrderPage {
    // ---- the head ----

    pub(super) fn visits(&self) -> String {
        let earlier = &self.sheet.earlier;
        let Some(last) = earlier.first() else {
            return "first visit with it".to_owned();
        };
        let when = self.day(&last.order.received_on);
        let found = match last.causes.as_slice() {
            [] => last.order.stage_words(self.bow()).to_lowercase(),
            causes => causes.join(", "),
        };
        match earlier.len() {
            1 => format!("1 earlier visit: {when}, {found}."),
            n if n >= super::super::order_sheet::SHOWN => {
                format!("{n} or more earlier visits, last {when}: {found}.")
            }
            n => format!("{n} earlier visits, last {when}: {found}."),
        }
    }

    /// More was said than two lines hold.
    pub(super) fn says_much(&self) -> bool {
        let words = &self.sheet.order.words;
        words.chars().count() > TWO_LINES || words.contains('\n')
    }

    /// The answers that tell most, in short, and how many more there are.
    pub(super) fn in_short(&self) -> (Vec<String>, usize) {
        let words = &self.sheet.current.figures.words;
        let mut answers: Vec<_> = self.sheet.order.answers().into_iter().collect();
        if let Some(ears) = &self.ears {
            answers.sort_by(|a, b| ears.telling(&b.0).total_cmp(&ears.telling(&a.0)));
        }
        let said = answers.iter().map(|(code, answer)| {
            let (asked, said) = (words.asked(code), words.said(code, answer).to_lowercase());
            format!("{asked}: {said}")
        });
        let heard = self.heard_at().map(|heard| format!("heard at {heard}"));
        let mut short: Vec<String> = heard.into_iter().chain(said).collect();
        let more = short.len().saturating_sub(AT_ONE_LOOK);
        short.truncate(AT_ONE_LOOK);
        (short, more)
    }

    pub(super) fn limit(&self) -> String {
        let limit = self.sheet.order.authorised_limit;
        limit.map_or("no limit: ask before work".to_owned(), |limit| {
            format!("limit {}", self.sheet.shop.money(&limit))
        })
    }

    pub(super) fn stage_sign(&self) -> Markup {
        let name = match self.sheet.order.stage {
            Stage::Received => "stage-received",
            Stage::Inspecting => "stage-inspecting",
            Stage::AwaitingApproval => "stage-awaiting_approval",
            Stage::Approved => "stage-approved",
            Stage::InRepair => "stage-in_repair",
            Stage::PlayTest => "stage-play_test",
            Stage::Ready => "stage-ready",
            Stage::Collected => "stage-collected",
            Stage::Returned => "stage-returned",
        };
        self.frame.sign(name)
    }

    pub(super) fn hold_over(&self) -> bool {
        self.sheet
            .order
            .hold_until
            .is_some_and(|until| until <= self.sheet.now)
    }

    pub(super) fn is_late(&self) -> bool {
        self.sheet.order.is_late(self.sheet.today)
    }

    // ---- what was not done ----

    /// Why a step is not done and will not be.
    pub(super) fn not_done(&self, step: &Step) -> Option<&'static str> {
        step::not_done(&self.sheet.order, step)
    }

    // ---- what is owed ----

    /// "Still owed" of what went home, "To pay" of what is about to go, or what the shop has to give back; with how much.
    pub(super) fn owed(&self) -> Option<(&'static str, String)> {
        let (order, owed) = (&self.sheet.order, self.sheet.account.owed);
        let goes = matches!(order.stage, Stage::Ready | Stage::Returned);
        let words = match owed.0.signum() {
            1 if order.is_handed_back() => "Still owed",
            1 if goes => "To pay",
            -1 if order.is_handed_back() || goes => "To be given back",
            _ => return None,
        };
        Some((words, self.sheet.shop.money(&Money(owed.0.abs()))))
    }

    /// It went home, and something can still be paid.
    pub(super) fn still_owed(&self) -> bool {
        self.sheet.order.is_handed_back() && self.sheet.account.owed.0 > 0
    }

    // ---- times ----

    pub(super) fn minutes(&self, minutes: &i64) -> String {
        words::minutes(*minutes)
    }

    /// "today 11:02", or the day and the time; the year when it is another.
    pub(super) fn at(&self, at: &Moment) -> String {
        let zone = self.sheet.shop.zone();
        let (day, hour, minute) = zone.local(*at);
        if day == self.sheet.today {
            format!("today {hour}:{minute:02}")
        } else if day.year() == self.sheet.today.year() {
            zone.words(*at)
        } else {
            zone.words_with_year(*at)
        }
    }

    pub(super) fn day(&self, day: &Day) -> String {
        if *day == self.sheet.today {
            "today".to_owned()
        } else if day.year() == self.sheet.today.year() {
            day.to_string()
        } else {
            day.with_year()
        }
    }

    // ---- the noise ----

    pub(super) fn heard_at(&self) -> Option<String> {
        next::heard_at(&self.sheet.order)
    }

    /// The questions in short, by what the catalogue calls them, with their answers.
    pub(super) fn answers(&self) -> Vec<(String, String)> {
        let words = &self.sheet.current.figures.words;
        let answers = self.sheet.order.answers().into_iter();
        answers
            .map(|(code, answer)| (words.asked(&code), words.said(&code, &answer)))
            .collect()
    }

    pub(super) fn drawing(&self) -> Option<Markup> {
        let pins = self.sheet.standing().map(|finding| {
            let cause = self.sheet.cause(&finding.cause);
            (
                cause.map_or("", |cause| cause.region.as_str()),
                finding.cause.as_str(),
            )
        });
        let spots = self.ears.as_ref().map_or(Vec::new(), Ears::spots);
        let pins: Vec<drawing::Pin<'_>> = pins.collect();
        drawing::whole(
            &self.sheet.instrument.family,
            "Where it may come from",
            &spots,
            &pins,
        )
    }

    pub(super) fn cause_name(&self, code: &str) -> String {
        self.sheet
            .cause(code)
            .map_or(code.to_owned(), |cause| cause.name.clone())
    }

    /// What can be looked for, region by region.
    pub(super) fn picks(&self) -> Vec<(&'static str, Vec<Pick<'_>>)> {
        let mut picks: Vec<(&'static str, Vec<Pick<'_>>)> = Vec::new();
        for (region, words) in REGIONS {
            let here = self.sheet.usable().filter(|cause| cause.region == region);
            let here: Vec<Pick<'_>> = here.map(|cause| self.pick(cause)).collect();
            if !here.is_empty() {
                picks.push((words, here));
            }
        }
        picks
    }

    pub(super) fn pick<'a>(&'a self, cause: &'a Cause) -> Pick<'a> {
        let last = self
            .sheet
            .checks
            .iter()
            .rev()
            .find(|check| check.cause == cause.code);
        Pick {
            cause,
            said: last.map_or("", |check| check.result_words()),
            out: last.is_some_and(|check| check.result == "not_found"),
        }
    }

    /// What came back: a confirmed cause that was repaired here before.
    pub(super) fn comebacks(&self) -> Vec<Back> {
        let standing = self.sheet.standing().filter(|finding| finding.is_confirmed());
        standing.filter_map(|finding| self.comeback(finding)).collect()
    }

    pub(super) fn comeback(&self, finding: &Finding) -> Option<Back> {
        let days = finding.comeback_days?;
        let shop = &self.sheet.shop;
        let name = self.cause_name(&finding.cause);
        let ago = words::count(days, "day", "days");
        let within = if days <= shop.comeback_days {
            "within"
        } else {
            "after"
        };
        let mut words = format!(
            "{name}: this was repaired here and went home {ago} before it came in again, {within} the comeback window \
             of {} days.",
            shop.comeback_days
        );
        let before = self
            .sheet
            .earlier
            .iter()
            .find(|visit| Some(visit.order.id) == finding.comeback_of);
        let season = shop.season(self.sheet.order.received_on);
        let same = before.is_some_and(|visit| shop.season(visit.order.received_on) == season);
        if same && shop.seasons().are_several() {
            words.push_str(" It came in the ");
            words.push_str(season.words());
            words.push_str(" both times.");
        }
        let then = self
            .sheet
            .repaired
            .iter()
            .find(|earlier| Some(earlier.work_order) == finding.comeback_of);
        Some(Back {
            words,
            tag: then.map(|then| then.tag.clone()),
            free: self.sheet.is_free(finding),
        })
    }

    /// What was repaired here before, as soon as it is known which instrument this is: it may be that again.
    pub(super) fn repaired_here(&self) -> Vec<Back> {
        let window = self.sheet.shop.comeback_days;
        let told = |earlier: &Earlier| {
            let days = self.sheet.days_since(earlier);
            Back {
                words: format!(
                    "{}: this was repaired here {}.",
                    self.cause_name(&earlier.cause),
                    ago(days, self.sheet.order.received_on == self.sheet.today)
                ),
                tag: Some(earlier.tag.clone()),
                free: days <= window,
            }
        };
        self.sheet.watched().map(told).collect()
    }

    /// Whether the next step is put right without charge, unless somebody says otherwise.
    pub(super) fn free(&self) -> &'static str {
        let free = self
            .sheet
            .unmended()
            .is_some_and(|finding| self.sheet.is_free(finding));
        if free { "yes" } else { "" }
    }

    // ---- cautions ----

    pub(super) fn caution_of(cause: &Cause) -> Option<String> {
        match (cause.caution.as_str(), cause.structural) {
            ("", false) => None,
            ("", true) => Some(format!("{}: this is structural work.", cause.name)),
            (caution, _) => Some(format!("{}: {caution}", cause.name)),
        }
    }

    /// What to take care of while looking for it.
    pub(super) fn cautions_of(&self, cause: &Cause) -> Vec<String> {
        let care = caution::of_look(cause);
        if care.is_empty() { Vec::new() } else { vec![care] }
    }

    pub(super) fn is_out(&self, likely: &Likely) -> bool {
        likely.looked == Some(Looked::NotFound)
    }

    /// Of what is next: the cause that is looked for, or the job that is done.
    pub(super) fn next_cautions(&self) -> Vec<String> {
        match (&self.look, &self.next) {
            (Some(cause), _) => self.cautions_of(cause),
            (None, Next::Do(step)) => self.job_cautions(step.job.as_deref().unwrap_or_default()),
            _ => Vec::new(),
        }
    }

    pub(super) fn job_cautions(&self, job: &str) -> Vec<String> {
        let hows = self
            .sheet
            .hows
            .iter()
            .filter(|how| how.job == job && !how.caution.is_empty());
        hows.map(|how| format!("{}: {}", how.step, how.caution)).collect()
    }

    pub(super) fn found_cautions(&self) -> Vec<String> {
        let causes = self
            .sheet
            .standing()
            .filter_map(|finding| self.sheet.cause(&finding.cause));
        let mut cautions: Vec<String> = causes.filter_map(OrderPage::caution_of).collect();
        cautions.dedup();
        cautions
    }

    pub(super) fn hows(&self, job: &str) -> Vec<&JobStep> {
        self.sheet.hows.iter().filter(|how| how.job == job).collect()
    }

    // ---- steps ----

    pub(super) fn is_next(&self, id: &Uuid) -> bool {
        self.look.is_none() && matches!(&self.next, Next::Do(step) if step.id == *id)
    }
    pub(super) fn plans_next(&self) -> bool {
        self.look.is_none() && self.next == Next::Plan
    }
    pub(super) fn asks_next(&self) -> bool {
        self.look.is_none() && self.next == Next::Answer
    }
    pub(super) fn plays_next(&self) -> bool {
        self.look.is_none() && self.next == Next::Play
    }

    pub(super) fn may_return(&self) -> bool {
        [Move::GiveBack, Move::Decline, Move::DeclineRest]
            .into_iter()
            .any(|act| self.may(act))
    }

    pub(super) fn returned_why(&self) -> Option<String> {
        let why = self.sheet.order.returned_why.as_deref()?;
        let reason = REASONS.iter().find(|reason| reason.0 == why)?;
        Some(reason.1.to_lowercase())
    }

    /// What a hold may wait for.
    pub(super) fn hold_hint(&self) -> &'static str {
        if self.bow() {
            "e.g. the knot dries"
        } else {
            "e.g. clamp on the upper bout"
        }
    }

    pub(super) fn promised_typed(&self) -> String {
        self.sheet.order.promised_on.map_or(String::new(), Day::iso)
    }

    /// The wait of the job, if it has one, stands chosen.
    pub(super) fn usual_hold(&self) -> String {
        self.job_wait().map_or(String::new(), |wait| wait.to_string())
    }

    /// The jobs to choose from, those that mend what was found first.
    pub(super) fn jobs(&self) -> Vec<(&Job, i64)> {
        let family = &self.sheet.instrument.family;
        let wanted = self.remedies();
        let jobs = self.sheet.jobs.iter();
        let mut jobs: Vec<_> = jobs.filter(|job| !job.retired && job.is_for(family)).collect();
        jobs.sort_by_key(|job| {
            let wanted = !wanted.iter().any(|code| *code == job.code);
            (wanted, job.name.clone())
        });
        jobs.into_iter()
            .map(|job| (job, job.minutes_for(family)))
            .collect()
    }

    /// The jobs of the catalogue that mend what was found and wait for a step.
    pub(super) fn remedies(&self) -> Vec<&str> {
        let cause = self
            .sheet
            .unmended()
            .and_then(|finding| self.sheet.cause(&finding.cause));
        cause.map_or(Vec::new(), |cause| cause.jobs().collect())
    }

    pub(super) fn remedy(&self) -> String {
        self.remedies()
            .first()
            .map_or(String::new(), |job| (*job).to_owned())
    }

    /// The job that mends what was found, where the catalogue knows one for this instrument, with its usual minutes.
    pub(super) fn remedy_job(&self) -> Option<(&Job, i64)> {
        let family = &self.sheet.instrument.family;
        let job = self.sheet.job(self.remedies().first()?)?;
        (!job.retired && job.is_for(family)).then(|| (job, job.minutes_for(family)))
    }

    pub(super) fn unmended(&self) -> String {
        self.sheet
            .unmended()
            .map_or(String::new(), |finding| finding.id.to_string())
    }

    /// The hours after which a hold may end, with the time that makes: the usual ones and what the last job needs.
    pub(super) fn holds(&self) -> Vec<(i64, String, String)> {
        let mut minutes = vec![120, 240, 720];
        if let Some(wait) = self.job_wait().filter(|wait| !minutes.contains(wait)) {
            minutes.push(wait);
        }
        minutes.sort_unstable();
        let hold = |minutes: i64| {
            let until = self.at(&self.sheet.now.plus_ms(minutes * 60_000));
            (minutes, until, words::minutes(minutes))
        };
        minutes.into_iter().map(hold).collect()
    }

    /// How long the job that was done last, or else the next, has to rest.
    #[expect(clippy::cast_possible_truncation, reason = "hours of a job fit many times")]
    pub(super) fn job_wait(&self) -> Option<i64> {
        let lines = self.sheet.account.lines.iter();
        let last = lines
            .filter(|line| line.step.done_at.is_some())
            .max_by_key(|line| line.step.done_at);
        let step = last.map(|line| &line.step).or(self.sheet.undone())?;
        let job = self.sheet.job(step.job.as_deref()?)?;
        let wait = (job.wait_hours * 60.0).round() as i64;
        (wait > 0).then_some(wait)
    }

    // ---- money ----

    pub(super) fn agreed(&self) -> String {
        self.money(&self.sheet.order.agreed())
    }

    pub(super) fn money(&self, amount: &Money) -> String {
        self.sheet.shop.money(amount)
    }

    pub(super) fn money_typed(&self, amount: &Option<Money>) -> String {
        amount.map_or(String::new(), |amount| amount.typed(&self.sheet.shop.currency()))
    }

    pub(super) fn unit(&self) -> String {
        self.sheet.shop.currency().sign().to_owned()
    }

    pub(super) fn within(&self) -> bool {
        self.sheet.order.estimate <= self.sheet.order.agreed()
    }
}
