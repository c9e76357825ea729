//! A cause as the owner describes it, on a page or in a call: checked against the catalogue, added or kept in its place.

use serde::{Deserialize, Serialize};

use crate::db::{Db, Tx};
use crate::error::{Error, Result};
use crate::form::Problems;

use super::browse::FAMILIES;
use super::cause::{Cause, REGIONS};
use super::entry::{self, LONG, code_of, same_name};
use super::job::Job;
use super::source;

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
/// So many jobs together, and so many other ways, a cause has at most.
pub const WAYS: usize = 3;

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct NewCause {
    pub name: String,
    pub region: String,
    /// Of `violin`, `viola`, `cello` and `bass`.
    pub families: Vec<String>,
    pub how_it_sounds: String,
    /// `very_common`, `common`, `occasional` or `rare`.
    pub common: String,
    /// How to check for it.
    pub look: String,
    pub check_minutes: Option<i64>,
    /// `counter` or `bench`.
    pub check_place: String,
    /// Of a hundred looks at one that is there, so many miss it; null: as usual for where it is looked for.
    pub check_misses: Option<i64>,
    pub needs_luthier: bool,
    pub remedy: String,
    /// The jobs that mend it, needed together: three at most.
    pub remedy_jobs: Vec<String>,
    /// Three other ways at most, each one job or several together.
    pub other_ways: Vec<Vec<String>>,
    pub parts: String,
    pub caution: String,
    /// `none`, `dry`, `humid` or `change`.
    pub season_tie: String,
    /// `any`, `new`, `student` or `old`.
    pub age_tie: String,
    pub structural: bool,
}

/// The catalogue as it stands, which a cause must fit into.
pub struct Beside {
    pub causes: Vec<Cause>,
    pub jobs: Vec<Job>,
}

#[must_use]
pub fn band(share: f64) -> &'static str {
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

impl Beside {
    /// # Errors
    /// What the database says.
    pub async fn read(db: &Db) -> Result<Beside> {
        Ok(Beside {
            causes: Cause::all(db).await?,
            jobs: Job::all(db).await?,
        })
    }

    async fn within(tx: &mut Tx) -> Result<Beside> {
        Ok(Beside {
            causes: Cause::all(&mut *tx).await?,
            jobs: Job::all(&mut *tx).await?,
        })
    }
}

/// One of the values of a choice, or a problem with the words.
fn one_of<'a>(p: &mut Problems, field: &str, said: &'a str, known: impl Iterator<Item = &'a str>) -> String {
    if !known.into_iter().any(|value| value == said) {
        p.add(field, "Choose one of these.");
    }
    said.to_owned()
}

/// Adds one of the shop's own.
///
/// # Errors
/// Problems, `problems` among them, or what the database says.
pub async fn add(tx: &mut Tx, mut problems: Problems, new: &NewCause) -> Result<Cause> {
    let beside = Beside::within(tx).await?;
    let cause = new.check(&mut problems, None, &beside);
    if problems.is_empty() && !cause.insert(tx).await? {
        problems.add("name", entry::TAKEN);
    }
    problems.settle()?;
    Ok(cause)
}

/// Keeps it in the place of the one with this code, unless somebody else changed that since `version`.
///
/// # Errors
/// Not found, problems, stale, or what the database says.
pub async fn change(
    tx: &mut Tx,
    mut problems: Problems,
    (code, version): (&str, i64),
    new: &NewCause,
) -> Result<Cause> {
    let kept = Cause::get(&mut *tx, code).await?;
    let beside = Beside::within(tx).await?;
    let mut cause = new.check(&mut problems, Some(&kept), &beside);
    problems.settle()?;
    cause.version = version;
    if !cause.update(tx).await? {
        return Err(Error::Stale(entry::stale(&kept.name)));
    }
    cause.version += 1;
    Ok(cause)
}

impl NewCause {
    /// As it stands.
    #[must_use]
    pub fn of(kept: &Cause) -> NewCause {
        let parts = |text: &str, by: char| -> Vec<String> {
            let parts = text.split(by).filter(|part| !part.is_empty());
            parts.map(str::to_owned).collect()
        };
        let kept = kept.clone();
        NewCause {
            families: parts(&kept.families, ';'),
            common: band(kept.prior_share).to_owned(),
            remedy_jobs: parts(&kept.remedy_jobs, '+'),
            other_ways: kept.other_ways().map(|way| parts(way, '+')).collect(),
            name: kept.name,
            region: kept.region,
            how_it_sounds: kept.how_it_sounds,
            look: kept.look,
            check_minutes: Some(kept.check_minutes),
            check_place: kept.check_place,
            check_misses: kept.check_misses,
            needs_luthier: kept.needs_luthier,
            remedy: kept.remedy,
            parts: kept.parts,
            caution: kept.caution,
            season_tie: kept.season_tie,
            age_tie: kept.age_tie,
            structural: kept.structural,
        }
    }

    /// The cause this describes, in place of `kept` or as a new one.
    fn check(&self, p: &mut Problems, kept: Option<&Cause>, beside: &Beside) -> Cause {
        let name = p.needed("name", &self.name, 120, "Write what it is called.");
        let taken = beside.causes.iter().find(|other| {
            !other.retired && same_name(&other.name, &name) && kept.is_none_or(|kept| kept.code != other.code)
        });
        if taken.is_some() {
            p.add("name", "Another cause has this name already. Tell them apart.");
        }
        let known = |code: &str| beside.causes.iter().any(|cause| cause.code == code);
        let common = one_of(p, "common", &self.common, BANDS.iter().map(|band| band.0));
        let share = kept
            .map(|kept| kept.prior_share)
            .filter(|share| band(*share) == common)
            .unwrap_or_else(|| share_of(&common, &beside.causes));
        if self.check_minutes.is_none() {
            p.add("check_minutes", "Write how many minutes the check takes.");
        }
        Cause {
            code: kept.map_or_else(|| code_of(&name, known), |kept| kept.code.clone()),
            region: one_of(p, "region", &self.region, REGIONS.iter().map(|region| region.0)),
            families: self.families(p),
            how_it_sounds: p.needed("how_it_sounds", &self.how_it_sounds, LONG, "Write how it sounds."),
            prior_share: share,
            look: p.needed("look", &self.look, LONG, "Write how to check for it."),
            check_minutes: p.whole("check_minutes", self.check_minutes, 1..=240).unwrap_or(0),
            check_place: one_of(
                p,
                "check_place",
                &self.check_place,
                ["counter", "bench"].into_iter(),
            ),
            check_misses: p.whole("check_misses", self.check_misses, 1..=90),
            needs_luthier: self.needs_luthier,
            remedy: p.needed("remedy", &self.remedy, LONG, "Write what mends it."),
            remedy_jobs: self.jobs(p, kept, beside),
            alternate_jobs: self.ways(p, kept, beside),
            parts: p.line("parts", &self.parts, 200),
            caution: p.line("caution", &self.caution, LONG),
            season_tie: one_of(p, "season_tie", &self.season_tie, SEASONS.iter().map(|tie| tie.0)),
            age_tie: one_of(p, "age_tie", &self.age_tie, AGES.iter().map(|tie| tie.0)),
            structural: self.structural,
            source: kept.map_or_else(|| source::OWN.to_owned(), |kept| kept.source.clone()),
            edition: kept.map_or(0, |kept| kept.edition),
            changed: true,
            retired: kept.is_some_and(|kept| kept.retired),
            version: 1,
            name,
        }
    }

    fn families(&self, p: &mut Problems) -> String {
        let known = |family: &String| FAMILIES.contains(&family.as_str());
        if let Some(at) = self.families.iter().position(|family| !known(family)) {
            p.add(
                format!("families.{at}"),
                "Choose among violin, viola, cello and bass.",
            );
        }
        let families = FAMILIES.map(|family| self.families.iter().any(|own| own == family).then_some(family));
        let families: Vec<&str> = families.into_iter().flatten().collect();
        if self.families.is_empty() {
            p.add("families", "Tick at least one family that can have it.");
        }
        families.join(";")
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
        if self.remedy_jobs.len() > WAYS {
            p.add("remedy_jobs", "Choose three jobs at most.");
        }
        let mut jobs: Vec<&str> = Vec::new();
        for (at, code) in self.remedy_jobs.iter().enumerate().take(WAYS) {
            if !code.is_empty() && !jobs.contains(&code.as_str()) {
                NewCause::known_job(p, &format!("remedy_jobs.{at}"), code, before, beside);
                jobs.push(code);
            }
        }
        jobs.join("+")
    }

    fn ways(&self, p: &mut Problems, kept: Option<&Cause>, beside: &Beside) -> String {
        let before = kept.map_or("", |kept| &kept.alternate_jobs);
        if self.other_ways.len() > WAYS || self.other_ways.iter().any(|way| way.len() > WAYS) {
            p.add(
                "other_ways",
                "Give three other ways at most, of three jobs at most.",
            );
        }
        let mut ways: Vec<String> = Vec::new();
        for (at, way) in self.other_ways.iter().enumerate().take(WAYS) {
            for code in way.iter().take(WAYS) {
                NewCause::known_job(p, &format!("other_ways.{at}"), code, before, beside);
            }
            let way = way.join("+");
            if !way.is_empty() && !ways.contains(&way) {
                ways.push(way);
            }
        }
        ways.join(";")
    }
}
