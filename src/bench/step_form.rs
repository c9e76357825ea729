//! The form of a step is what will be done, how long it takes, and a line for each part it needs.

use axum::extract::{Extension, Path, State};
use axum::response::Response;
use serde::Deserialize;
use uuid::Uuid;

use crate::act::Act;
use crate::app::App;
use crate::counter::order_page::{self, Refused};
use crate::error::{Error, Result};
use crate::form::{Form, Problems};
use crate::money::Currency;
use crate::staff::Who;

use super::forms::{Ask, amount};
use super::step::{self, NewPart, NewStep};

/// A step with its parts; the fields of a part stand once for each, in the order of the lines.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct StepForm {
    pub version: String,
    pub once: String,
    pub seen: String,
    pub job: String,
    pub title: String,
    pub planned_minutes: String,
    pub finding: String,
    pub free: String,
    pub part_name: Vec<String>,
    pub part_quantity: Vec<String>,
    pub part_price: Vec<String>,
}

impl StepForm {
    fn check(&self, currency: &Currency) -> Result<NewStep, Problems> {
        let mut problems = Problems::default();
        let said = |text: &str| (!text.trim().is_empty()).then(|| text.to_owned());
        let finding = said(&self.finding).map(|id| id.parse::<Uuid>());
        if matches!(finding, Some(Err(_))) {
            problems.add("finding", "This finding is not on this order.");
        }
        let new = NewStep {
            job: said(&self.job),
            title: said(&self.title),
            finding: finding.and_then(Result::ok),
            planned_minutes: problems.number("planned_minutes", &self.planned_minutes, 0..=10_000),
            parts: self.parts(&mut problems, currency),
            free: self.free == "yes",
        };
        if problems.is_empty() {
            Ok(new)
        } else {
            Err(problems)
        }
    }

    /// The lines of parts that say something; an empty one is left alone.
    fn parts(&self, problems: &mut Problems, currency: &Currency) -> Vec<NewPart> {
        self.said()
            .map(|line| {
                let typed = |fields: &[String]| fields.get(line).cloned().unwrap_or_default();
                let at = |field: &str| part_field(field, line);
                let (quantity_at, price_at) = (at("part_quantity"), at("part_price"));
                let quantity = problems.number(&quantity_at, &typed(&self.part_quantity), 1..=9999);
                let price = typed(&self.part_price);
                let unit_price = amount(problems, &price_at, &price, currency);
                if price.trim().is_empty() {
                    problems.add(price_at, "Write what one costs; 0 if nothing.");
                }
                NewPart {
                    name: typed(&self.part_name),
                    quantity: quantity.unwrap_or(1),
                    unit_price: unit_price.unwrap_or(0),
                }
            })
            .collect()
    }

    /// Which lines say something: a name, or a price.
    fn said(&self) -> impl Iterator<Item = usize> {
        let says = |fields: &[String], line| {
            fields
                .get(line)
                .is_some_and(|typed: &String| !typed.trim().is_empty())
        };
        let lines = self.part_name.len().max(self.part_price.len());
        (0..lines).filter(move |line| says(&self.part_name, *line) || says(&self.part_price, *line))
    }

    /// Problems with parts are named by the lines they were typed in.
    fn on_lines(&self, problems: &Problems) -> Problems {
        let mut named = Problems::default();
        for problem in problems {
            let part = problem
                .field
                .strip_prefix("parts.")
                .and_then(|rest| rest.split_once('.'));
            let line = part.and_then(|(at, _)| self.said().nth(at.parse().ok()?));
            let field = match (line, part) {
                (Some(line), Some((_, "unit_price"))) => part_field("part_price", line),
                (Some(line), Some((_, field))) => part_field(&format!("part_{field}"), line),
                _ => problem.field.clone(),
            };
            named.add(field, problem.words.clone());
        }
        named
    }
}

/// How a field of a part is named on the page: `part_name`, then `part_name_1`.
#[must_use]
pub fn part_field(field: &str, line: usize) -> String {
    if line == 0 {
        field.to_owned()
    } else {
        format!("{field}_{line}")
    }
}

impl Ask for StepForm {
    fn form(&self) -> &'static str {
        "step"
    }

    async fn keep(&self, act: &mut Act, _: Uuid) -> Result<()> {
        let new = self.check(&act.shop.currency())?;
        match step::plan(act, &new).await {
            Err(Error::Problems(problems)) => Err(self.on_lines(&problems).into()),
            other => other.map(drop),
        }
    }
}

/// `POST /orders/{tag}/steps/more`: the page again, with a line for one more part and all that was typed.
///
/// # Errors
/// Not found, or what the database says.
pub async fn one_more_part(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(tag): Path<String>,
    form: Form<StepForm>,
) -> Result<Response> {
    order_page::refused(&app, &who, &tag, Refused::one_more_part(form.typed)).await
}
