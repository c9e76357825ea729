//! The form of a cause: what the owner typed of it, and the cause it describes.

use serde::Deserialize;

use crate::changed::Field;
use crate::db::{Db, Tx};
use crate::error::Result;
use crate::form::{Problems, Typed};

use super::browse::FAMILIES;
use super::cause::{Cause, REGIONS};
use super::entry::{LONG, code_of, same_name};
use super::job::Job;
use super::source;

pub const FIELDS: [Field; 21] = [
    ("name", "Name", false),
    ("region", "Where it sits", true),
    ("families", "Families", true),
    ("how_it_sounds", "How it sounds", false),
    ("common", "How common", true),
    ("look", "How to check", false),
    ("check_minutes", "Minutes", false),
    ("check_place", "Where to check", true),
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

/// How common a cause is, from which share of all confirmed causes on (the trade's bands, a practitioner's guess from
/// memory).
pub const BANDS: [(&str, &str, f64); 4] = [
    ("very_common", "Very common", 0.025),
    ("common", "Common", 0.0095),
    ("occasional", "Now and then", 0.0044),
    ("rare", "Rare", 0.0),
];
pub const SEASONS: [(&str, &str); 4] = [
    ("none", "Any time"),
    ("dry", "Dry months"),
    ("humid", "Humid months"),
    ("change", "When it changes"),
];
pub const AGES: [(&str, &str); 4] = [
    ("any", "Any age"),
    ("new", "New ones"),
    ("student", "Student ones"),
    ("old", "Old ones"),
];

fn band(share: f64) -> &'static str {
    BANDS
        .iter()
        .find(|band| share >= band.2)
        .map_or("rare", |band| band.0)
}

/// The share of a new cause: the middle one of those the catalogue's causes in that band have.
fn share_of(common: &str, all: &[Cause]) -> f64 {
    let mut shares: Vec<f64> = all
        .iter()
        .map(|cause| cause.prior_share)
        .filter(|share| band(*share) == common)
        .collect();
    shares.sort_by(f64::total_cmp);
    shares.get(shares.len() / 2).copied().unwrap_or(0.0)
}

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

/// The catalogue as it stands, which a cause must fit into.
pub struct Beside {
    pub causes: Vec<Cause>,
    pub jobs: Vec<Job>,
}

impl Beside {
    /// # Errors
    /// What the database says.
    pub async fn read(db: &Db) -> Result<Beside> {
        Ok(Beside {
            causes: Cause::all(db).await?,
            jobs: Job::all(db).await?,
        })
    }

    /// # Errors
    /// What the database says.
    pub async fn within(tx: &mut Tx) -> Result<Beside> {
        Ok(Beside {
            causes: Cause::all(&mut *tx).await?,
            jobs: Job::all(&mut *tx).await?,
        })
    }
}

/// One of the values of a choice, or a problem with the words.
fn one_of<'a>(p: &mut Problems, field: &str, typed: &'a str, known: impl Iterator<Item = &'a str>) -> String {
    if !known.into_iter().any(|value| value == typed) {
        p.add(field, "Choose one of these.");
    }
    typed.to_owned()
}

impl CauseForm {
    /// The cause this describes, in place of `kept` or as a new one, and what wants mending.
    #[must_use]
    pub fn check(&self, kept: Option<&Cause>, beside: &Beside) -> (Cause, Problems) {
        let mut problems = Problems::default();
        let p = &mut problems;
        let name = p.needed("name", &self.name, 120, "Write what it is called.");
        let taken = beside.causes.iter().find(|other| {
            !other.retired && same_name(&other.name, &name) && kept.is_none_or(|kept| kept.code != other.code)
        });
        if taken.is_some() {
            p.add("name", "Another cause has this name already. Tell them apart.");
        }
        let known = |code: &str| beside.causes.iter().any(|cause| cause.code == code);
        let families: Vec<&str> = FAMILIES
            .into_iter()
            .filter(|family| self.families.iter().any(|ticked| ticked == family))
            .collect();
        if families.is_empty() {
            p.add("families", "Tick at least one family that can have it.");
        }
        let common = one_of(p, "common", &self.common, BANDS.iter().map(|band| band.0));
        let share = kept
            .map(|kept| kept.prior_share)
            .filter(|share| band(*share) == common)
            .unwrap_or_else(|| share_of(&common, &beside.causes));
        let cause = Cause {
            code: kept.map_or_else(|| code_of(&name, known), |kept| kept.code.clone()),
            region: one_of(p, "region", &self.region, REGIONS.iter().map(|region| region.0)),
            families: families.join(";"),
            how_it_sounds: p.needed("how_it_sounds", &self.how_it_sounds, LONG, "Write how it sounds."),
            prior_share: share,
            look: p.needed("look", &self.look, LONG, "Write how to check for it."),
            check_minutes: p
                .number("check_minutes", &self.check_minutes, 1..=240)
                .unwrap_or(0),
            check_place: one_of(
                p,
                "check_place",
                &self.check_place,
                ["counter", "bench"].into_iter(),
            ),
            needs_luthier: self.needs_luthier == "yes",
            remedy: p.needed("remedy", &self.remedy, LONG, "Write what mends it."),
            remedy_jobs: self.jobs(p, kept, beside),
            alternate_jobs: self.other_ways(p, kept, beside),
            parts: p.line("parts", &self.parts, 200),
            caution: p.line("caution", &self.caution, LONG),
            season_tie: one_of(p, "season_tie", &self.season_tie, SEASONS.iter().map(|tie| tie.0)),
            age_tie: one_of(p, "age_tie", &self.age_tie, AGES.iter().map(|tie| tie.0)),
            structural: self.structural == "yes",
            source: kept.map_or_else(|| source::OWN.to_owned(), |kept| kept.source.clone()),
            edition: kept.map_or(0, |kept| kept.edition),
            changed: true,
            retired: kept.is_some_and(|kept| kept.retired),
            version: kept.map_or(1, |_| self.version),
            name,
        };
        if self.check_minutes.trim().is_empty() {
            p.add("check_minutes", "Write how many minutes the check takes.");
        }
        (cause, problems)
    }

    /// Jobs of the catalogue, none of them retired unless the cause had it before.
    fn known_job(p: &mut Problems, field: &str, code: &str, before: &str, beside: &Beside) {
        let job = beside.jobs.iter().find(|job| job.code == code);
        let had = before.split([';', '+']).any(|own| own == code);
        if job.is_none_or(|job| job.retired && !had) {
            p.add(field, "Choose a job of the catalogue.");
        }
    }

    fn jobs(&self, p: &mut Problems, kept: Option<&Cause>, beside: &Beside) -> String {
        let before = kept.map_or("", |kept| &kept.remedy_jobs);
        let mut jobs: Vec<&str> = Vec::new();
        for (field, code) in [("job1", &self.job1), ("job2", &self.job2), ("job3", &self.job3)] {
            if !code.is_empty() && !jobs.contains(&code.as_str()) {
                CauseForm::known_job(p, field, code, before, beside);
                jobs.push(code);
            }
        }
        jobs.join("+")
    }

    fn other_ways(&self, p: &mut Problems, kept: Option<&Cause>, beside: &Beside) -> String {
        let before = kept.map_or("", |kept| &kept.alternate_jobs);
        let mut ways: Vec<&str> = Vec::new();
        let typed = [
            ("other1", &self.other1),
            ("other2", &self.other2),
            ("other3", &self.other3),
        ];
        for (field, way) in typed {
            if !way.is_empty() && !ways.contains(&way.as_str()) {
                for code in way.split('+') {
                    CauseForm::known_job(p, field, code, before, beside);
                }
                ways.push(way);
            }
        }
        ways.join(";")
    }
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
