//! The form of a job: what the owner typed of it, and of its steps row by row.

use serde::Deserialize;

use crate::changed::Field;
use crate::form::{Problems, Typed, whole};

use super::caution;
use super::entry::decimal;
use super::job::{Job, JobStep};
use super::new_job::{MOST_STEPS, NewJob, NewJobStep};

/// Empty rows behind those that are filled.
const SPARE: usize = 3;

pub const FIELDS: [Field; 13] = [
    ("name", "Name", false),
    ("who", "Who", true),
    ("minutes_low", "At least", false),
    ("minutes_high", "At most", false),
    ("factor_cello", "On a cello", false),
    ("factor_bass", "On a bass", false),
    ("materials", "Materials", true),
    ("hazards", "Take care", true),
    ("step", "Steps", false),
    ("step_minutes", "Minutes of the steps", false),
    ("step_wait", "Waits of the steps", false),
    ("step_caution", "Cautions of the steps", false),
    ("step_materials", "Materials of the steps", false),
];
/// A step is typed in a row; the rows come in the order of the page, and `place` says in which they are done.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct JobForm {
    pub name: String,
    who: String,
    minutes_low: String,
    minutes_high: String,
    factor_cello: String,
    factor_bass: String,
    materials: String,
    /// The codes of the cautions that were ticked.
    hazards: Vec<String>,
    place: Vec<String>,
    step: Vec<String>,
    step_minutes: Vec<String>,
    step_wait: Vec<String>,
    step_caution: Vec<String>,
    step_materials: Vec<String>,
    pub version: i64,
    pub once: String,
}

/// One row of the form as it was typed.
#[derive(Clone, Debug, Default)]
pub struct Row {
    pub place: String,
    pub step: String,
    pub minutes: String,
    pub wait: String,
    pub caution: String,
    pub materials: String,
}

/// The rows of a form as they were typed, and some empty ones to go on with.
#[must_use]
pub fn rows(typed: &Typed) -> Vec<Row> {
    let column = |name: &'static str| -> Vec<String> {
        let own = typed.under(name).filter(|(rest, _)| rest.is_empty());
        own.map(|(_, value)| value.to_owned()).collect()
    };
    let (places, steps, minutes) = (column("place"), column("step"), column("step_minutes"));
    let (waits, cautions, materials) = (
        column("step_wait"),
        column("step_caution"),
        column("step_materials"),
    );
    let at = |column: &[String], row: usize| column.get(row).cloned().unwrap_or_default();
    let mut rows: Vec<Row> = (0..steps.len().min(MOST_STEPS))
        .map(|row| Row {
            place: at(&places, row),
            step: at(&steps, row),
            minutes: at(&minutes, row),
            wait: at(&waits, row),
            caution: at(&cautions, row),
            materials: at(&materials, row),
        })
        .collect();
    while rows
        .last()
        .is_some_and(|row| row.step.is_empty() && row.minutes.is_empty())
    {
        rows.pop();
    }
    let filled = rows.len();
    rows.extend((1..=SPARE).map(|spare| Row {
        place: (filled + spare).to_string(),
        ..Row::default()
    }));
    rows
}

impl JobForm {
    /// The job this describes, what is amiss with the places, and in which row each of its steps was typed.
    #[must_use]
    pub fn read(&self) -> (NewJob, Problems, Vec<usize>) {
        let mut problems = Problems::default();
        let mut rows = self.filled(&mut problems);
        rows.sort_by_key(|row| row.1);
        let job = NewJob {
            name: self.name.clone(),
            who: self.who.clone(),
            minutes_low: whole(&self.minutes_low),
            minutes_high: whole(&self.minutes_high),
            factor_cello: Some(decimal(&self.factor_cello)),
            factor_bass: Some(decimal(&self.factor_bass)),
            materials: self.materials.clone(),
            hazards: self.hazards.clone(),
            steps: rows.iter().map(|row| row.2.clone()).collect(),
        };
        (job, problems, rows.into_iter().map(|row| row.0).collect())
    }

    /// The rows that say something, each with its number and its place.
    fn filled(&self, p: &mut Problems) -> Vec<(usize, i64, NewJobStep)> {
        let mut rows = Vec::new();
        for row in 0..self.step.len() {
            let at = |column: &'_ [String]| column.get(row).cloned().unwrap_or_default();
            let (step, minutes) = (at(&self.step), at(&self.step_minutes));
            if step.trim().is_empty() && minutes.trim().is_empty() {
                continue;
            }
            let place = p.number(&format!("place-{}", row + 1), &at(&self.place), 1..=999);
            let step = NewJobStep {
                step,
                minutes: whole(&minutes),
                wait_hours: decimal(&at(&self.step_wait)),
                caution: at(&self.step_caution),
                materials: at(&self.step_materials),
            };
            rows.push((row + 1, place.unwrap_or(999), step));
        }
        rows
    }
}

/// The same problems at the fields of the form: those of a step in the row in which it was typed.
#[must_use]
pub fn on_form(problems: &Problems, rows: &[usize]) -> Problems {
    let mut told = Problems::default();
    for problem in problems {
        let parts: Vec<&str> = problem.field.split('.').collect();
        let field = match parts[..] {
            ["steps"] => "step-1".to_owned(),
            ["hazards", _] => "hazards".to_owned(),
            ["steps", at, name] => {
                let row = at.parse().ok().and_then(|at: usize| rows.get(at));
                let name = match name {
                    "wait_hours" => "wait",
                    "materials" => "material",
                    other => other,
                };
                format!("{name}-{}", row.unwrap_or(&1))
            }
            _ => problem.field.clone(),
        };
        told.add(field, problem.words.clone());
    }
    told
}

/// The form as it stands for a job.
#[must_use]
pub fn typed_of(job: &Job, steps: &[JobStep]) -> Typed {
    let mut typed = Typed::default()
        .with("name", &*job.name)
        .with("who", &*job.who)
        .with("minutes_low", job.minutes_low.to_string())
        .with("minutes_high", job.minutes_high.to_string())
        .with("factor_cello", job.factor_cello.to_string())
        .with("factor_bass", job.factor_bass.to_string())
        .with("materials", &*job.materials);
    for code in caution::codes_of(job) {
        typed = typed.with("hazards", code);
    }
    for step in steps {
        let wait = if step.wait_hours > 0.0 {
            step.wait_hours.to_string()
        } else {
            String::new()
        };
        typed = typed
            .with("place", step.position.to_string())
            .with("step", &*step.step)
            .with("step_minutes", step.minutes_typical.to_string())
            .with("step_wait", wait)
            .with("step_caution", &*step.caution)
            .with("step_materials", &*step.materials);
    }
    typed
}
