//! An order's page: one look says what came, what was found, and what is next; everything is done from here.

mod ears;
mod told;

use askama::Template;
use axum::extract::{Extension, Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use uuid::Uuid;

use crate::app::App;
use crate::bench::next::Next;
use crate::bench::step_form::part_field;
use crate::bench::{approval, play_test};
use crate::catalogue::cause::Cause;
use crate::diagnosis::checks::Place;
use crate::error::{Error, Result};
use crate::form::{Problems, Typed};
use crate::once;
use crate::page::{Frame, html};
use crate::staff::Who;

use self::ears::Ears;
use super::order;
use super::order_changes::REASONS;
use super::order_sheet::Sheet;
use super::stage::{self, Move, Stage};
use super::story::Story;

/// What was asked and could not be done: it comes back with the page, nothing of it lost.
#[derive(Default)]
pub struct Refused {
    form: String,
    typed: Typed,
    problems: Problems,
    words: String,
    status: StatusCode,
    /// One more line for a part is asked for.
    one_more: bool,
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
    /// What it may be, where that may still be asked.
    ears: Option<Ears>,
    /// What is looked for next.
    look: Option<Cause>,
    chosen: Chosen,
    refused: Refused,
    key: String,
    who: Who,
}

/// A line of the step's form for one part, as it was typed.
struct PartLine {
    name_id: String,
    quantity_id: String,
    price_id: String,
    name: String,
    quantity: String,
    price: String,
}

/// So many parts fit on a step.
const MOST_PARTS: usize = 30;

/// A line of a list of things to look for.
struct Pick<'a> {
    cause: &'a Cause,
    /// What was said of it on this order.
    said: &'static str,
    out: bool,
}

impl Refused {
    /// Nothing was refused: the form of a step stands open with a line for one more part.
    #[must_use]
    pub fn one_more_part(typed: Typed) -> Refused {
        Refused {
            form: "step".into(),
            typed,
            one_more: true,
            ..Refused::default()
        }
    }

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
            one_more: false,
        })
    }
}

/// Names the fields as the page does: by their form, since the page has several.
fn on_page(form: &str, problems: &Problems) -> Problems {
    let mut named = Problems::default();
    for problem in problems {
        let field = match problem.field.as_str() {
            "answers" => "answer",
            other if other.starts_with("answers.") => &other["answers.".len()..],
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

/// The check to do next; the counter looks where it may. Where no noise is spoken of, the commonest cause.
fn suggested<'a>(sheet: &'a Sheet, ears: Option<&'a Ears>, who: &Who) -> Option<&'a Cause> {
    match ears {
        Some(ears) => ears.next(who.roles.bench(), place(sheet, who)),
        None => sheet.commonest(who.roles.bench()),
    }
}

/// Where the instrument is, as far as the order says: just taken in it lies on the counter and the customer stands there,
/// for whoever is of the counter, be they of the bench too.
fn place(sheet: &Sheet, who: &Who) -> Place {
    let just_in = sheet.order.stage == Stage::Received && who.roles.counter();
    if just_in || !who.roles.bench() {
        Place::Counter
    } else {
        Place::Bench
    }
}

impl OrderPage {
    fn new(sheet: Sheet, who: &Who, chosen: Chosen, refused: Refused) -> Result<OrderPage> {
        let area = if who.roles.bench() { "bench" } else { "today" };
        let next = sheet.next();
        let may_look = !sheet.instrument.is_bow()
            && stage::after(sheet.order.stage, Move::Look, who.roles).is_ok()
            && !sheet.order.is_handed_back();
        let ears = if may_look {
            let opinion = sheet.opinion(place(&sheet, who));
            opinion.map(|opinion| Ears::new(&sheet, opinion))
        } else {
            None
        };
        let picked = sheet.usable().find(|cause| cause.code == chosen.cause);
        let look = match (&next, picked) {
            (_, Some(cause)) if may_look => Some(cause.clone()),
            (Next::Look, None) if sheet.order.stage != Stage::Received => {
                suggested(&sheet, ears.as_ref(), who).cloned()
            }
            _ => None,
        };
        Ok(OrderPage {
            frame: Frame::new(sheet.order.spoken(), &*sheet.shop.name, who, area),
            key: once::fresh()?,
            next,
            ears,
            look,
            chosen,
            refused,
            sheet,
            who: who.clone(),
        })
    }

    /// What to look for next, if somebody looks.
    fn suggested(&self) -> Option<&Cause> {
        suggested(&self.sheet, self.ears.as_ref(), &self.who)
    }

    fn is_suggested(&self, code: &str) -> bool {
        self.suggested().is_some_and(|cause| cause.code == code)
    }

    // ---- the forms: what stands in them ----

    #[expect(
        clippy::needless_pass_by_value,
        reason = "a template hands over what it has, by value or not"
    )]
    fn typed(&self, form: &str, field: &str, otherwise: impl ToString) -> String {
        if self.refused.form == form {
            self.refused.typed.at(field).to_owned()
        } else {
            otherwise.to_string()
        }
    }

    /// The lines for parts: those that were typed, and at least one.
    fn part_lines(&self) -> Vec<PartLine> {
        let typed = |field: &'static str| -> Vec<&str> {
            let own = self.refused.typed.under(field);
            let own = own.filter(|(rest, _)| self.refused.form == "step" && rest.is_empty());
            own.map(|(_, value)| value).collect()
        };
        let (names, quantities, prices) = (typed("part_name"), typed("part_quantity"), typed("part_price"));
        let lines = names.len().max(prices.len()) + usize::from(self.refused.one_more);
        let at = |fields: &[&str], line: usize| fields.get(line).map(|text| (*text).to_owned());
        (0..lines.clamp(1, MOST_PARTS))
            .map(|line| PartLine {
                name_id: format!("step-{}", part_field("part_name", line)),
                quantity_id: format!("step-{}", part_field("part_quantity", line)),
                price_id: format!("step-{}", part_field("part_price", line)),
                name: at(&names, line).unwrap_or_default(),
                quantity: at(&quantities, line).unwrap_or_else(|| "1".into()),
                price: at(&prices, line).unwrap_or_default(),
            })
            .collect()
    }

    /// Where one more line would begin, if there is room for it.
    fn one_more_part(&self) -> Option<String> {
        let lines = self.part_lines().len();
        (lines < MOST_PARTS).then(|| format!("step-{}", part_field("part_name", lines)))
    }

    fn amiss_at(&self, id: &str) -> &str {
        self.refused.problems.at(id)
    }

    fn amiss(&self, form: &str, field: &str) -> &str {
        self.refused.problems.at(&format!("{form}-{field}"))
    }

    fn is_refused(&self, form: &str) -> bool {
        self.refused.form == form
    }

    fn open(&self, form: &str) -> bool {
        self.chosen.open == form
    }

    fn bow(&self) -> bool {
        self.sheet.instrument.is_bow()
    }

    fn result(&self, code: &str) -> &'static str {
        play_test::words_of(code, self.bow())
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
            && stage::after(self.sheet.order.stage, act, self.who.roles).is_ok()
    }

    fn looks(&self) -> bool {
        self.look.is_some() || self.next == Next::Look
    }

    /// The one act at the counter, where what was found can be mended while the customer waits.
    fn may_put_right(&self) -> bool {
        self.who.roles.counter() && self.sheet.put_right_here(self.who.roles.bench())
    }

    fn may_look(&self) -> bool {
        self.may(Move::Look) && !self.sheet.instrument.is_bow()
    }

    /// The catalogue has nothing left that such an instrument can have.
    fn nothing_to_look_for(&self) -> bool {
        self.may_look() && self.sheet.usable().next().is_none()
    }

    // ---- what was refused ----

    fn stale(&self) -> bool {
        self.refused.words == order::STALE
    }

    fn changed_by(&self) -> String {
        let others = self.news().into_iter().map(|line| line.by_name.as_str());
        let other = others.into_iter().find(|name| *name != self.who.name);
        let who = other.map_or("This order was changed".to_owned(), |name| {
            format!("{name} changed this order")
        });
        format!("{who} while you were writing")
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
            .chain(if self.bow() {
                &play_test::RESULTS_OF_A_BOW
            } else {
                &play_test::RESULTS
            })
            .chain(&approval::CHANNELS)
            .chain(&REASONS);
        codes
            .find(|code| code.0 == value)
            .map_or(value.to_owned(), |code| code.1.to_owned())
    }
}
