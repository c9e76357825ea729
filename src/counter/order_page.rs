//! An order's page: one look says what came, what was found, and what is next; everything is done from here.

use askama::Template;
use axum::extract::{Extension, Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use uuid::Uuid;

use crate::app::App;
use crate::bench::next::{self, Next};
use crate::bench::{approval, pins, play_test};
use crate::catalogue::cause::{Cause, REGIONS};
use crate::catalogue::descriptor::Descriptor;
use crate::clock::{Day, Moment};
use crate::error::{Error, Result};
use crate::form::{Problems, Typed};
use crate::once;
use crate::page::{Frame, Markup, html};
use crate::staff::Who;
use crate::words;

use super::order::{self, Move, Stage};
use super::order_changes::REASONS;
use super::order_sheet::Sheet;
use super::story::Story;

/// What was asked and could not be done: it comes back with the page, nothing of it lost.
#[derive(Default)]
pub struct Refused {
    form: String,
    typed: Typed,
    problems: Problems,
    words: String,
    status: StatusCode,
}

/// What the address adds: a cause to look for, a form to stand open.
#[derive(Default, Deserialize)]
#[serde(default)]
pub struct Chosen {
    cause: String,
    open: String,
}

#[derive(Template)]
#[template(path = "counter/order_page.html")]
struct OrderPage {
    frame: Frame,
    sheet: Sheet,
    next: Next,
    /// What is looked for next.
    look: Option<Cause>,
    chosen: Chosen,
    refused: Refused,
    key: String,
    who: Who,
}

/// A line of a list of things to look for.
struct Pick<'a> {
    cause: &'a Cause,
    /// What was said of it on this order.
    said: &'static str,
    out: bool,
}

impl Refused {
    /// # Errors
    /// What is not the asker's to mend: it is not told on the page.
    pub fn new(form: String, typed: Typed, error: Error) -> Result<Refused> {
        let status = error.status();
        let (problems, words) = match error {
            Error::Problems(problems) if problems.at("Idempotency-Key").is_empty() => {
                (on_page(&form, &problems), String::new())
            }
            // The form was sent before, with something else in it: the page it stood on is an old one.
            Error::Problems(_) => (Problems::default(), order::STALE.to_owned()),
            Error::Conflict(words) | Error::Stale(words) => (Problems::default(), words),
            other => return Err(other),
        };
        Ok(Refused {
            form,
            typed,
            problems,
            words,
            status,
        })
    }
}

/// Names the fields as the page does: by their form, since the page has several.
fn on_page(form: &str, problems: &Problems) -> Problems {
    let mut named = Problems::default();
    for problem in problems {
        let field = match problem.field.as_str() {
            "parts.0.name" => "part_name",
            "parts.0.quantity" => "part_quantity",
            "parts.0.unit_price" => "part_price",
            other => other,
        };
        named.add(format!("{form}-{field}"), problem.words.clone());
    }
    named
}

/// `GET /orders/{tag}`
///
/// # Errors
/// Not found, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(tag): Path<String>,
    Query(chosen): Query<Chosen>,
) -> Result<Response> {
    let sheet = Sheet::of(&app, &tag).await?;
    html(OrderPage::new(sheet, &who, chosen, Refused::default())?)
}

/// The page again, with what was typed and why it was not done.
///
/// # Errors
/// Not found, or what the database says.
pub async fn refused(app: &App, who: &Who, tag: &str, refused: Refused) -> Result<Response> {
    let sheet = Sheet::of(app, tag).await?;
    let status = refused.status;
    let chosen = Chosen {
        cause: if refused.form == "look" {
            refused.typed.at("cause").to_owned()
        } else {
            String::new()
        },
        open: refused.form.clone(),
    };
    let page = OrderPage::new(sheet, who, chosen, refused)?;
    Ok((status, html(page)?).into_response())
}

impl OrderPage {
    fn new(sheet: Sheet, who: &Who, chosen: Chosen, refused: Refused) -> Result<OrderPage> {
        let place = if who.roles.bench() { "bench" } else { "today" };
        let next = sheet.next();
        let may_look = !sheet.instrument.is_bow()
            && order::after(sheet.order.stage, Move::Look, who.roles).is_ok()
            && !sheet.order.is_handed_back();
        let picked = sheet.usable().find(|cause| cause.code == chosen.cause);
        let look = match (&next, picked) {
            (_, Some(cause)) if may_look => Some(cause.clone()),
            (Next::Look, None) if sheet.order.stage != Stage::Received => {
                sheet.commonest(who.roles.bench()).cloned()
            }
            _ => None,
        };
        Ok(OrderPage {
            frame: Frame::new(sheet.order.spoken(), &*sheet.shop.name, who, place),
            key: once::fresh()?,
            next,
            look,
            chosen,
            refused,
            sheet,
            who: who.clone(),
        })
    }

    // ---- the forms: what stands in them ----

    fn typed(&self, form: &str, field: &str, otherwise: impl ToString) -> String {
        if self.refused.form == form {
            self.refused.typed.at(field).to_owned()
        } else {
            otherwise.to_string()
        }
    }

    fn amiss(&self, form: &str, field: &str) -> &str {
        self.refused.problems.at(&format!("{form}-{field}"))
    }

    fn open(&self, form: &str) -> bool {
        self.chosen.open == form
    }

    fn id(&self, form: &str, field: &str) -> String {
        format!("{form}-{field}")
    }

    fn done(&self, step: &Uuid) -> String {
        format!("done-{step}")
    }
    fn drop(&self, step: &Uuid) -> String {
        format!("drop-{step}")
    }
    fn withdraw(&self, finding: &Uuid) -> String {
        format!("withdraw-{finding}")
    }

    fn once(&self, form: &str) -> String {
        format!("{}-{form}", self.key)
    }

    /// The newest line of the story on this page: what comes after it is news to whoever sends a form from here.
    fn seen(&self) -> String {
        self.sheet
            .story
            .first()
            .map_or(String::new(), |line| line.id.to_string())
    }

    fn may(&self, act: Move) -> bool {
        !self.sheet.order.is_handed_back()
            && order::after(self.sheet.order.stage, act, self.who.roles).is_ok()
    }

    fn looks(&self) -> bool {
        self.look.is_some() || self.next == Next::Look
    }

    fn may_look(&self) -> bool {
        self.may(Move::Look) && !self.sheet.instrument.is_bow()
    }

    // ---- what was refused ----

    fn stale(&self) -> bool {
        self.refused.words == order::STALE
    }

    /// What happened since the page that was sent had been opened.
    fn news(&self) -> Vec<&Story> {
        let seen = self.refused.typed.at("seen");
        let story = self.sheet.story.iter();
        story.take_while(|line| line.id.to_string() != seen).collect()
    }

    /// What was typed, as it was said on the page.
    fn said(&self) -> Vec<(String, String)> {
        let hidden = ["version", "once", "seen", "place"];
        let fields = self.refused.typed.under("");
        let fields = fields.filter(|(name, value)| {
            !value.is_empty()
                && (!hidden.contains(name) || (*name == "place" && self.refused.form == "finding"))
        });
        fields
            .map(|(name, value)| {
                let name = name.trim_start_matches("actual_").replace('_', " ");
                (name, self.as_said(value))
            })
            .collect()
    }

    fn as_said(&self, value: &str) -> String {
        if let Some(cause) = self.sheet.cause(value) {
            return cause.name.clone();
        }
        if let Some(job) = self.sheet.job(value) {
            return job.name.clone();
        }
        let finding = self.sheet.findings.iter().find(|it| it.id.to_string() == value);
        if let Some(finding) = finding {
            return self.cause_name(&finding.cause);
        }
        let codes = crate::bench::check::RESULTS.iter();
        let mut codes = codes
            .chain(&play_test::RESULTS)
            .chain(&approval::CHANNELS)
            .chain(&REASONS);
        codes
            .find(|code| code.0 == value)
            .map_or(value.to_owned(), |code| code.1.to_owned())
    }

    // ---- the head ----

    fn visits(&self) -> String {
        match self.sheet.earlier.len() {
            0 => "first visit with it".to_owned(),
            1 => "here once before".to_owned(),
            n => format!("here {n} times before"),
        }
    }

    fn limit(&self) -> String {
        let limit = self.sheet.order.authorised_limit;
        limit.map_or("no limit: ask before work".to_owned(), |limit| {
            format!("limit {}", self.sheet.shop.money(&limit))
        })
    }

    fn stage_sign(&self) -> Markup {
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

    fn hold_over(&self) -> bool {
        self.sheet
            .order
            .hold_until
            .is_some_and(|until| until <= self.sheet.now)
    }

    fn is_late(&self) -> bool {
        self.sheet.order.is_late(self.sheet.today)
    }

    // ---- times ----

    fn minutes(&self, minutes: &i64) -> String {
        words::minutes(*minutes)
    }

    /// "today 11:02", or the day and the time; the year when it is another.
    fn at(&self, at: &Moment) -> String {
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

    fn day(&self, day: &Day) -> String {
        if *day == self.sheet.today {
            "today".to_owned()
        } else if day.year() == self.sheet.today.year() {
            day.to_string()
        } else {
            day.with_year()
        }
    }

    // ---- the noise ----

    fn heard_at(&self) -> Option<String> {
        next::heard_at(&self.sheet.order)
    }

    /// The questions in short, by what the catalogue calls them, with their answers.
    fn answers(&self) -> Vec<(String, String)> {
        let answers = self.sheet.order.answers().into_iter();
        answers
            .map(|(code, answer)| (code.replace('_', " "), Descriptor::answer_words(&answer)))
            .collect()
    }

    fn drawing(&self) -> Option<Markup> {
        let regions = self.sheet.standing().map(|finding| {
            let cause = self.sheet.cause(&finding.cause);
            cause.map_or("", |cause| cause.region.as_str())
        });
        pins::drawing(&self.sheet.instrument.family, &regions.collect::<Vec<_>>())
    }

    fn cause_name(&self, code: &str) -> String {
        self.sheet
            .cause(code)
            .map_or(code.to_owned(), |cause| cause.name.clone())
    }

    /// What can be looked for, region by region.
    fn picks(&self) -> Vec<(&'static str, Vec<Pick<'_>>)> {
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

    fn pick<'a>(&'a self, cause: &'a Cause) -> Pick<'a> {
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
    fn comebacks(&self) -> Vec<String> {
        let standing = self.sheet.standing().filter(|finding| finding.is_confirmed());
        standing.filter_map(|finding| self.comeback(finding)).collect()
    }

    fn comeback(&self, finding: &crate::bench::finding::Finding) -> Option<String> {
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
        if before.is_some_and(|visit| shop.season(visit.order.received_on) == season) {
            words.push_str(" It came in the ");
            words.push_str(season.words());
            words.push_str(" both times.");
        }
        Some(words)
    }

    // ---- cautions ----

    fn caution_of(cause: &Cause) -> Option<String> {
        match (cause.caution.as_str(), cause.structural) {
            ("", false) => None,
            ("", true) => Some(format!("{}: this is structural work.", cause.name)),
            (caution, _) => Some(format!("{}: {caution}", cause.name)),
        }
    }

    /// Of what is next: the cause that is looked for, or the job that is done.
    fn next_cautions(&self) -> Vec<String> {
        match (&self.look, &self.next) {
            (Some(cause), _) => OrderPage::caution_of(cause).into_iter().collect(),
            (None, Next::Do(step)) => self.job_cautions(step.job.as_deref().unwrap_or_default()),
            _ => Vec::new(),
        }
    }

    fn job_cautions(&self, job: &str) -> Vec<String> {
        let hows = self
            .sheet
            .hows
            .iter()
            .filter(|how| how.job == job && !how.caution.is_empty());
        hows.map(|how| format!("{}: {}", how.step, how.caution)).collect()
    }

    fn found_cautions(&self) -> Vec<String> {
        let causes = self
            .sheet
            .standing()
            .filter_map(|finding| self.sheet.cause(&finding.cause));
        let mut cautions: Vec<String> = causes.filter_map(OrderPage::caution_of).collect();
        cautions.dedup();
        cautions
    }

    fn hows(&self, job: &str) -> Vec<&crate::catalogue::job::JobStep> {
        self.sheet.hows.iter().filter(|how| how.job == job).collect()
    }

    // ---- steps ----

    fn is_next(&self, id: &Uuid) -> bool {
        self.look.is_none() && matches!(&self.next, Next::Do(step) if step.id == *id)
    }
    fn plans_next(&self) -> bool {
        self.look.is_none() && self.next == Next::Plan
    }
    fn asks_next(&self) -> bool {
        self.look.is_none() && self.next == Next::Answer
    }
    fn plays_next(&self) -> bool {
        self.look.is_none() && self.next == Next::Play
    }

    fn may_return(&self) -> bool {
        [Move::GiveBack, Move::Decline, Move::DeclineRest]
            .into_iter()
            .any(|act| self.may(act))
    }

    fn returned_why(&self) -> Option<String> {
        let why = self.sheet.order.returned_why.as_deref()?;
        let reason = REASONS.iter().find(|reason| reason.0 == why)?;
        Some(reason.1.to_lowercase())
    }

    fn promised_typed(&self) -> String {
        self.sheet.order.promised_on.map_or(String::new(), Day::iso)
    }

    /// The wait of the job, if it has one, stands chosen.
    fn usual_hold(&self) -> String {
        self.job_wait().map_or(String::new(), |wait| wait.to_string())
    }

    /// The jobs to choose from, those that mend what was found first.
    fn jobs(&self) -> Vec<(&crate::catalogue::job::Job, i64)> {
        let family = &self.sheet.instrument.family;
        let wanted = self.remedies();
        let mut jobs: Vec<_> = self.sheet.jobs.iter().filter(|job| !job.retired).collect();
        let bow_work = |code: &str| matches!(code, "rehair" | "bow_service");
        jobs.sort_by_key(|job| {
            let wanted = !wanted.iter().any(|code| *code == job.code);
            (wanted, bow_work(&job.code) != (family == "bow"), job.name.clone())
        });
        jobs.into_iter()
            .map(|job| (job, job.minutes_for(family)))
            .collect()
    }

    /// The jobs of the catalogue that mend what was found and wait for a step.
    fn remedies(&self) -> Vec<&str> {
        let cause = self
            .sheet
            .unmended()
            .and_then(|finding| self.sheet.cause(&finding.cause));
        cause.map_or(Vec::new(), |cause| cause.jobs().collect())
    }

    fn remedy(&self) -> String {
        self.remedies()
            .first()
            .map_or(String::new(), |job| (*job).to_owned())
    }

    fn unmended(&self) -> String {
        self.sheet
            .unmended()
            .map_or(String::new(), |finding| finding.id.to_string())
    }

    /// The hours after which a hold may end, with the time that makes: the usual ones and what the last job needs.
    fn holds(&self) -> Vec<(i64, String, String)> {
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
    fn job_wait(&self) -> Option<i64> {
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

    fn agreed(&self) -> String {
        self.money(&self.sheet.order.agreed())
    }

    fn money(&self, amount: &crate::money::Money) -> String {
        self.sheet.shop.money(amount)
    }

    fn money_typed(&self, amount: &Option<crate::money::Money>) -> String {
        amount.map_or(String::new(), |amount| amount.typed(&self.sheet.shop.currency()))
    }

    fn unit(&self) -> String {
        self.sheet.shop.currency().sign().to_owned()
    }

    fn within(&self) -> bool {
        self.sheet.order.estimate <= self.sheet.order.agreed()
    }
}
