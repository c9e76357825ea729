//! The form of a job: what the owner typed of it and its steps, and the job it describes.

use serde::Deserialize;

use crate::changed::Field;
use crate::form::{Problems, Typed};

use super::caution::{self, CAUTIONS};
use super::entry::{code_of, decimal, same_name};
use super::job::{Job, JobStep};
use super::source;

/// More steps than this are several jobs.
const MOST_STEPS: usize = 40;
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
pub const WHO: [(&str, &str); 3] = [
    ("counter", "Counter"),
    ("bench_technician", "Bench"),
    ("senior_luthier", "Luthier"),
];
pub const MATERIALS: [&str; 4] = ["none", "low", "medium", "high"];

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
    /// The job this describes with its steps, in place of `kept` or as a new one, and what wants mending.
    #[must_use]
    pub fn check(&self, kept: Option<&Job>, all: &[Job]) -> (Job, Vec<JobStep>, Problems) {
        let mut problems = Problems::default();
        let p = &mut problems;
        let name = p.needed("name", &self.name, 120, "Write what the job is called.");
        let taken = all.iter().any(|other| {
            !other.retired && same_name(&other.name, &name) && kept.is_none_or(|kept| kept.code != other.code)
        });
        if taken {
            p.add("name", "Another job has this name already. Tell them apart.");
        }
        let code = kept.map_or_else(
            || code_of(&name, |code| all.iter().any(|job| job.code == code)),
            |kept| kept.code.clone(),
        );
        let steps = self.steps(p, &code);
        let typical: i64 = steps.iter().map(|step| step.minutes_typical).sum();
        let mut range = |field: &str, text: &str, words: &str, range| {
            let number = p.number(field, text, range);
            if text.trim().is_empty() {
                p.add(field, words);
            }
            number.unwrap_or(0)
        };
        let low = range(
            "minutes_low",
            &self.minutes_low,
            "Write the least minutes it takes.",
            0..=typical.max(0),
        );
        let high = range(
            "minutes_high",
            &self.minutes_high,
            "Write the most minutes it takes.",
            typical.max(0)..=6000,
        );
        if !WHO.iter().any(|who| who.0 == self.who) {
            p.add("who", "Say who may do it.");
        }
        if !MATERIALS.contains(&self.materials.as_str()) {
            p.add("materials", "Say how much material it takes.");
        }
        let job = Job {
            hazards: self.hazards(kept),
            code,
            who: self.who.clone(),
            minutes_low: low,
            minutes_typical: typical,
            minutes_high: high,
            wait_hours: steps.iter().map(|step| step.wait_hours).sum(),
            factor_cello: decimal(p, "factor_cello", &self.factor_cello, &(0.5..=5.0)),
            factor_bass: decimal(p, "factor_bass", &self.factor_bass, &(0.5..=5.0)),
            materials: self.materials.clone(),
            source: kept.map_or_else(|| source::OWN.to_owned(), |kept| kept.source.clone()),
            edition: kept.map_or(0, |kept| kept.edition),
            changed: true,
            retired: kept.is_some_and(|kept| kept.retired),
            version: kept.map_or(1, |_| self.version),
            name,
        };
        (job, steps, problems)
    }

    /// The cautions that were ticked; none of its own when they are as the program has them.
    fn hazards(&self, kept: Option<&Job>) -> Option<String> {
        let known = CAUTIONS.iter().map(|own| own.code.as_str());
        let ticked: Vec<&str> = known
            .filter(|code| self.hazards.iter().any(|own| own == code))
            .collect();
        let of_program = kept.filter(|kept| kept.edition > 0).map(|kept| Job {
            hazards: None,
            ..kept.clone()
        });
        let as_program = of_program.is_some_and(|job| {
            let codes: Vec<&str> = caution::of_job(&job)
                .iter()
                .map(|own| own.code.as_str())
                .collect();
            codes == ticked
        });
        (!as_program).then(|| ticked.join(";"))
    }

    /// The rows that say something, in the order of their places.
    fn steps(&self, p: &mut Problems, job: &str) -> Vec<JobStep> {
        let mut steps = Vec::new();
        for row in 0..self.step.len().min(MOST_STEPS) {
            let at = |column: &'_ [String]| column.get(row).cloned().unwrap_or_default();
            let (text, minutes) = (at(&self.step), at(&self.step_minutes));
            if text.trim().is_empty() && minutes.trim().is_empty() {
                continue;
            }
            let field = |name: &str| format!("{name}-{}", row + 1);
            let typical = p.number(&field("minutes"), &minutes, 0..=1440);
            if minutes.trim().is_empty() {
                p.add(field("minutes"), "Write its usual minutes.");
            }
            let place = p.number(&field("place"), &at(&self.place), 1..=999);
            let step = JobStep {
                job: job.to_owned(),
                position: place.unwrap_or(999),
                step: p.needed(
                    &field("step"),
                    &text,
                    300,
                    "Write what is done, or empty the whole row.",
                ),
                minutes_typical: typical.unwrap_or(0),
                wait_hours: decimal(p, &field("wait"), &at(&self.step_wait), &(0.0..=2000.0)),
                materials: p.line(&field("material"), &at(&self.step_materials), 200),
                caution: p.line(&field("caution"), &at(&self.step_caution), 300),
            };
            steps.push(step);
        }
        if self.step.len() > MOST_STEPS {
            p.add(
                "step-1",
                format!("Keep this to {MOST_STEPS} steps, or make two jobs of it."),
            );
        }
        if steps.is_empty() {
            p.add("step-1", "Write at least one step with its minutes.");
        }
        steps.sort_by_key(|step| step.position);
        for (position, step) in (1..).zip(&mut steps) {
            step.position = position;
        }
        steps
    }
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
