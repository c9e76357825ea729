//! The form of a cause: what the owner typed of it, field by field.

use serde::Deserialize;

use crate::changed::Field;
use crate::form::{Problems, Typed, whole};

use super::cause::Cause;
use super::new_cause::{NewCause, band};

pub const FIELDS: [Field; 22] = [
    ("name", "Name", false),
    ("region", "Where it sits", true),
    ("families", "Families", true),
    ("how_it_sounds", "How it sounds", false),
    ("common", "How common", true),
    ("look", "How to check", false),
    ("check_minutes", "Minutes", false),
    ("check_place", "Where to check", true),
    ("check_misses", "How often looking misses it", false),
    ("needs_luthier", "Luthier", true),
    ("remedy", "Remedy", false),
    ("job1", "Job", true),
    ("job2", "Second job", true),
    ("job3", "Third job", true),
    ("other1", "Another way", true),
    ("other2", "Second other way", true),
    ("other3", "Third other way", true),
    ("parts", "Parts", false),
    ("caution", "Caution", false),
    ("season_tie", "Season", true),
    ("age_tie", "Age", true),
    ("structural", "Structural", true),
];

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct CauseForm {
    pub name: String,
    region: String,
    families: Vec<String>,
    how_it_sounds: String,
    common: String,
    look: String,
    check_minutes: String,
    check_place: String,
    check_misses: String,
    needs_luthier: String,
    remedy: String,
    job1: String,
    job2: String,
    job3: String,
    other1: String,
    other2: String,
    other3: String,
    parts: String,
    caution: String,
    season_tie: String,
    age_tie: String,
    structural: String,
    pub version: i64,
    pub once: String,
}

impl CauseForm {
    /// The cause this describes.
    #[must_use]
    pub fn read(&self) -> NewCause {
        let ways = [&self.other1, &self.other2, &self.other3];
        let jobs = |way: &String| -> Vec<String> {
            let jobs = way.split('+').filter(|job| !job.is_empty());
            jobs.map(str::to_owned).collect()
        };
        NewCause {
            name: self.name.clone(),
            region: self.region.clone(),
            families: self.families.clone(),
            how_it_sounds: self.how_it_sounds.clone(),
            common: self.common.clone(),
            look: self.look.clone(),
            check_minutes: whole(&self.check_minutes),
            check_place: self.check_place.clone(),
            check_misses: whole(&self.check_misses),
            needs_luthier: self.needs_luthier == "yes",
            remedy: self.remedy.clone(),
            remedy_jobs: vec![self.job1.clone(), self.job2.clone(), self.job3.clone()],
            other_ways: ways.map(jobs).into(),
            parts: self.parts.clone(),
            caution: self.caution.clone(),
            season_tie: self.season_tie.clone(),
            age_tie: self.age_tie.clone(),
            structural: self.structural == "yes",
        }
    }
}

/// The same problems at the fields of the form.
#[must_use]
pub fn on_form(problems: &Problems) -> Problems {
    let mut told = Problems::default();
    for problem in problems {
        let (list, at) = problem.field.split_once('.').unwrap_or((&problem.field, ""));
        let row = at.parse().map_or(1, |at: usize| at + 1);
        let field = match list {
            "remedy_jobs" => format!("job{row}"),
            "other_ways" => format!("other{row}"),
            other => other.to_owned(),
        };
        told.add(field, problem.words.clone());
    }
    told
}

/// The form as it stands for a cause.
#[must_use]
pub fn typed_of(cause: &Cause) -> Typed {
    let yes = |so: bool| if so { "yes" } else { "" };
    let mut typed = Typed::default()
        .with("name", &*cause.name)
        .with("region", &*cause.region)
        .with("how_it_sounds", &*cause.how_it_sounds)
        .with("common", band(cause.prior_share))
        .with("look", &*cause.look)
        .with("check_minutes", cause.check_minutes.to_string())
        .with("check_place", &*cause.check_place)
        .with(
            "check_misses",
            cause
                .check_misses
                .map_or_else(String::new, |misses| misses.to_string()),
        )
        .with("needs_luthier", yes(cause.needs_luthier))
        .with("remedy", &*cause.remedy)
        .with("parts", &*cause.parts)
        .with("caution", &*cause.caution)
        .with("season_tie", &*cause.season_tie)
        .with("age_tie", &*cause.age_tie)
        .with("structural", yes(cause.structural));
    for family in cause.families.split(';') {
        typed = typed.with("families", family);
    }
    for (field, job) in ["job1", "job2", "job3"].into_iter().zip(cause.jobs()) {
        typed = typed.with(field, job);
    }
    for (field, way) in ["other1", "other2", "other3"].into_iter().zip(cause.other_ways()) {
        typed = typed.with(field, way);
    }
    typed
}
