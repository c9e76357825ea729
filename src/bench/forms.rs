//! The forms of an order's page: what each asks, checked once, done in one act, and given back whole if it cannot be.

use axum::extract::{Extension, Path, State};
use axum::response::Response;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use uuid::Uuid;

use crate::act::{Act, Guard};
use crate::app::App;
use crate::clock::{Day, Moment};
use crate::counter::answers::{self, NewAnswers};
use crate::counter::order;
use crate::counter::order_changes::{self, NewPromise, NewReturn};
use crate::counter::order_page::{self, Refused};
use crate::error::{Error, Result};
use crate::form::{Form, Problems};
use crate::money::{self, Currency};
use crate::staff::Who;

use super::approval::{self, NewApproval};
use super::check::{self, NewCheck};
use super::finding::{self, NewFinding};
use super::hold::{self, NewHold};
use super::play_test::{self, NewPlayTest};
use super::step;

/// A form of the order's page.
pub trait Ask: DeserializeOwned + Send + Sync + 'static {
    /// Which form of the page it is: its fields are named by it, `check-minutes`.
    fn form(&self) -> &'static str;
    /// Checks what was typed and does it; `of` is the finding or step the address names.
    fn keep(&self, act: &mut Act, of: Uuid) -> impl Future<Output = Result<()>> + Send;
}

/// `POST /orders/{tag}/...`
///
/// # Errors
/// Not found, not allowed, or what the database says; the rest comes back as the order's page.
pub async fn ask<F: Ask>(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(tag): Path<String>,
    form: Form<F>,
) -> Result<Response> {
    let name = form.of.form().to_owned();
    let done = done(&app, &who, (&tag, Uuid::nil()), &form).await;
    settle((&app, &who, &tag), name, form, done).await
}

/// `POST /orders/{tag}/findings/{id}/...` and `/orders/{tag}/steps/{id}/...`
///
/// # Errors
/// As [`ask`].
pub async fn ask_of<F: Ask>(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path((tag, id)): Path<(String, String)>,
    form: Form<F>,
) -> Result<Response> {
    let id: Uuid = id.parse().map_err(|_| Error::NotFound)?;
    let name = format!("{}-{id}", form.of.form());
    let done = done(&app, &who, (&tag, id), &form).await;
    settle((&app, &who, &tag), name, form, done).await
}

async fn done<F: Ask>(app: &App, who: &Who, (tag, of): (&str, Uuid), form: &Form<F>) -> Result<Response> {
    let what = format!("{} {tag} {of}", form.of.form());
    let mut act = Act::begin(app, who, tag, Guard::of_form(&form.typed, &what)).await?;
    form.of.keep(&mut act, of).await?;
    let location = format!("/orders/{}", act.order.tag);
    act.then(&location).await
}

async fn settle<F>(
    (app, who, tag): (&App, &Who, &str),
    name: String,
    form: Form<F>,
    done: Result<Response>,
) -> Result<Response> {
    match done {
        Err(error) => order_page::refused(app, who, tag, Refused::new(name, form.typed, error)?).await,
        kept => kept,
    }
}

/// A form is its fields and the three that all of them carry: the version it was made on, the key under which it is
/// done once, and the newest line of the story that was on the page.
macro_rules! form {
    ($(#[$about:meta])* $name:ident { $($field:ident),* }) => {
        $(#[$about])*
        #[derive(Clone, Debug, Default, Deserialize)]
        #[serde(deny_unknown_fields, default)]
        pub struct $name {
            pub version: String,
            pub once: String,
            pub seen: String,
            $(pub $field: String,)*
        }
    };
}

form!(
    /// A check; `place` says from which of its two forms it comes.
    CheckForm { place, cause, result, minutes, note }
);
form!(FindingForm {
    cause,
    certainty,
    place,
    note
});
form!(WithdrawForm {});
form!(DoneForm { actual_minutes });
form!(DropForm {});
form!(HoldForm {
    until,
    date,
    time,
    why
});
form!(HoldOffForm {});
form!(ApprovalForm {
    decision,
    channel,
    by,
    limit
});
form!(PlayTestForm { result, note });
form!(ReturnForm { why, note });
form!(ReopenForm {});
form!(PromiseForm {
    promised_on,
    authorised_limit
});
form!(
    /// One tap on an answer: `onset=sudden`.
    AnswerForm { answer }
);

/// An amount in minor units; empty is none.
pub fn amount(problems: &mut Problems, field: &str, typed: &str, currency: &Currency) -> Option<i64> {
    if typed.trim().is_empty() {
        return None;
    }
    match money::parse(typed, currency) {
        Ok(amount) => Some(amount.0),
        Err(problem) => {
            problems.add(field, problem.to_string());
            None
        }
    }
}

impl CheckForm {
    fn check(&self) -> Result<NewCheck, Problems> {
        let mut problems = Problems::default();
        let new = NewCheck {
            cause: self.cause.clone(),
            result: self.result.clone(),
            minutes: problems.number("minutes", &self.minutes, 0..=1440),
            note: self.note.clone(),
        };
        if problems.is_empty() {
            Ok(new)
        } else {
            Err(problems)
        }
    }
}

impl Ask for CheckForm {
    fn form(&self) -> &'static str {
        if self.place == "next" { "look" } else { "check" }
    }

    /// "Found it", said by somebody who may confirm it, is the check and the finding in one tap; "None of these" is a
    /// check of each, their codes joined by `;`.
    async fn keep(&self, act: &mut Act, _: Uuid) -> Result<()> {
        let new = self.check()?;
        let mut causes: Vec<&str> = new.cause.split(';').collect();
        if causes.len() > 1 && new.result == "not_found" {
            causes.sort_unstable();
            causes.dedup();
            return check::none_of(act, &causes).await;
        }
        check::look(act, &new).await.map(drop)
    }
}

impl Ask for AnswerForm {
    fn form(&self) -> &'static str {
        "answers"
    }

    async fn keep(&self, act: &mut Act, _: Uuid) -> Result<()> {
        let answers = order::answers_of(&self.answer);
        answers::answer(act, &NewAnswers { answers }).await
    }
}

impl Ask for FindingForm {
    fn form(&self) -> &'static str {
        "finding"
    }

    async fn keep(&self, act: &mut Act, _: Uuid) -> Result<()> {
        let new = NewFinding {
            cause: self.cause.clone(),
            certainty: self.certainty.clone(),
            place: self.place.clone(),
            note: self.note.clone(),
        };
        finding::log(act, &new).await.map(drop)
    }
}

impl Ask for WithdrawForm {
    fn form(&self) -> &'static str {
        "withdraw"
    }

    async fn keep(&self, act: &mut Act, of: Uuid) -> Result<()> {
        finding::withdraw(act, of).await
    }
}

impl DoneForm {
    fn check(&self) -> Result<i64, Problems> {
        let mut problems = Problems::default();
        let minutes = problems.number("actual_minutes", &self.actual_minutes, 0..=10_000);
        if minutes.is_none() && problems.is_empty() {
            problems.add("actual_minutes", "Write the minutes it took, from 0 to 10000.");
        }
        minutes.ok_or(problems)
    }
}

impl Ask for DoneForm {
    fn form(&self) -> &'static str {
        "done"
    }

    async fn keep(&self, act: &mut Act, of: Uuid) -> Result<()> {
        step::done(act, of, self.check()?).await
    }
}

impl Ask for DropForm {
    fn form(&self) -> &'static str {
        "drop"
    }

    async fn keep(&self, act: &mut Act, of: Uuid) -> Result<()> {
        step::drop_step(act, of).await
    }
}

impl HoldForm {
    /// `until` is so many minutes from now, `tomorrow` at nine, or `other`: the day and time beside it.
    fn check(&self, act: &Act) -> Result<NewHold, Problems> {
        let mut problems = Problems::default();
        let zone = act.shop.zone();
        let until = match self.until.as_str() {
            "tomorrow" => Some(zone.moment(act.today.plus(1), 9, 0)),
            "other" => {
                let day = Day::parse(&self.date);
                if day.is_none() {
                    problems.add("date", "Choose the day.");
                }
                let time = hour_and_minute(&self.time);
                if time.is_none() {
                    problems.add("time", "Write the time like 16:30.");
                }
                let at = |(day, (hour, minute))| (zone.moment(day, hour, minute), (day, hour, minute));
                let at = day.zip(time).map(at);
                if let Some((moved, _)) = at.filter(|(at, typed)| zone.local(*at) != *typed) {
                    let (_, hour, minute) = zone.local(moved);
                    let words = format!(
                        "The clocks go forward then and this time is left out. Write {hour}:{minute:02} or another."
                    );
                    problems.add("time", words);
                }
                at.map(|(at, _)| at)
            }
            minutes => {
                let minutes = minutes
                    .parse::<i64>()
                    .ok()
                    .filter(|all| (1..=527_040).contains(all));
                if minutes.is_none() {
                    problems.add("until", "Say until when.");
                }
                minutes.map(|minutes| act.now.plus_ms(minutes * 60_000))
            }
        };
        let why = self.why.clone();
        if !problems.is_empty() {
            return Err(problems);
        }
        until.map(|until: Moment| NewHold { until, why }).ok_or(problems)
    }
}

fn hour_and_minute(text: &str) -> Option<(u8, u8)> {
    let (hour, minute) = text.trim().split_once(':')?;
    let two = |part: &str| part.len() <= 2 && part.bytes().all(|b| b.is_ascii_digit());
    if !(two(hour) && two(minute)) {
        return None;
    }
    let (hour, minute) = (hour.parse().ok()?, minute.parse().ok()?);
    (hour < 24 && minute < 60).then_some((hour, minute))
}

impl Ask for HoldForm {
    fn form(&self) -> &'static str {
        "hold"
    }

    async fn keep(&self, act: &mut Act, _: Uuid) -> Result<()> {
        let new = self.check(act)?;
        hold::put_on(act, &new)
    }
}

impl Ask for HoldOffForm {
    fn form(&self) -> &'static str {
        "hold-off"
    }

    async fn keep(&self, act: &mut Act, _: Uuid) -> Result<()> {
        hold::take_off(act)
    }
}

impl ApprovalForm {
    fn check(&self, currency: &Currency) -> Result<NewApproval, Problems> {
        let mut problems = Problems::default();
        let new = NewApproval {
            decision: self.decision.clone(),
            by: self.by.clone(),
            channel: self.channel.clone(),
            limit: amount(&mut problems, "limit", &self.limit, currency),
        };
        if problems.is_empty() {
            Ok(new)
        } else {
            Err(problems)
        }
    }
}

impl Ask for ApprovalForm {
    fn form(&self) -> &'static str {
        "approval"
    }

    async fn keep(&self, act: &mut Act, _: Uuid) -> Result<()> {
        let new = self.check(&act.shop.currency())?;
        approval::answer(act, &new).await.map(drop)
    }
}

impl Ask for PlayTestForm {
    fn form(&self) -> &'static str {
        "play"
    }

    async fn keep(&self, act: &mut Act, _: Uuid) -> Result<()> {
        let new = NewPlayTest {
            result: self.result.clone(),
            note: self.note.clone(),
        };
        play_test::log(act, &new).await.map(drop)
    }
}

impl Ask for ReturnForm {
    fn form(&self) -> &'static str {
        "return"
    }

    async fn keep(&self, act: &mut Act, _: Uuid) -> Result<()> {
        let new = NewReturn {
            why: self.why.clone(),
            note: self.note.clone(),
        };
        order_changes::give_back(act, &new).await
    }
}

impl Ask for ReopenForm {
    fn form(&self) -> &'static str {
        "reopen"
    }

    async fn keep(&self, act: &mut Act, _: Uuid) -> Result<()> {
        order_changes::reopen(act).await
    }
}

impl PromiseForm {
    fn check(&self, currency: &Currency) -> Result<NewPromise, Problems> {
        let mut problems = Problems::default();
        let promised_on = Day::parse(self.promised_on.trim());
        if promised_on.is_none() && !self.promised_on.trim().is_empty() {
            problems.add("promised_on", "Write the day like 2026-03-14.");
        }
        let limit = amount(
            &mut problems,
            "authorised_limit",
            &self.authorised_limit,
            currency,
        );
        let new = NewPromise {
            promised_on,
            authorised_limit: limit,
        };
        if problems.is_empty() {
            Ok(new)
        } else {
            Err(problems)
        }
    }
}

impl Ask for PromiseForm {
    fn form(&self) -> &'static str {
        "promise"
    }

    async fn keep(&self, act: &mut Act, _: Uuid) -> Result<()> {
        let new = self.check(&act.shop.currency())?;
        order_changes::promise(act, &new).await
    }
}
