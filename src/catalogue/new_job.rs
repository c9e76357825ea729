//! A job as the owner describes it with its steps, on a page or in a call: checked, added or kept in its place.

use serde::{Deserialize, Serialize};

use crate::db::Tx;
use crate::error::{Error, Result};
use crate::form::Problems;

use super::caution::{self, CAUTIONS, Caution};
use super::entry::{self, code_of, same_name, within};
use super::job::{self, Job, JobStep};
use super::source;

/// More steps than this are several jobs.
pub const MOST_STEPS: usize = 40;
pub const WHO: [(&str, &str); 3] = [
    ("counter", "Counter"),
    ("bench_technician", "Bench"),
    ("senior_luthier", "Luthier"),
];
pub const MATERIALS: [&str; 4] = ["none", "low", "medium", "high"];

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct NewJob {
    pub name: String,
    /// `counter`, `bench_technician` or `senior_luthier`.
    pub who: String,
    /// At least, on a violin; the usual minutes are those of the steps.
    pub minutes_low: Option<i64>,
    pub minutes_high: Option<i64>,
    /// So many times the minutes on a cello; 1 if left out.
    pub factor_cello: Option<f64>,
    /// So many times the minutes on a bass; 1 if left out.
    pub factor_bass: Option<f64>,
    /// `none`, `low`, `medium` or `high`.
    pub materials: String,
    /// The codes of the cautions that hold for it.
    pub hazards: Vec<String>,
    /// In the order in which they are done.
    pub steps: Vec<NewJobStep>,
}

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct NewJobStep {
    pub step: String,
    pub minutes: Option<i64>,
    /// For glue or varnish; not labour.
    pub wait_hours: f64,
    pub caution: String,
    pub materials: String,
}

/// Adds one of the shop's own.
///
/// # Errors
/// Problems, `problems` among them, or what the database says.
pub async fn add(tx: &mut Tx, mut problems: Problems, new: &NewJob) -> Result<(Job, Vec<JobStep>)> {
    let all = Job::all(&mut *tx).await?;
    let (job, steps) = new.check(&mut problems, None, &all);
    if problems.is_empty() && !job.insert(tx).await? {
        problems.add("name", entry::TAKEN);
    }
    problems.settle()?;
    JobStep::replace(tx, &job.code, &steps).await?;
    Ok((job, steps))
}

/// Keeps it in the place of the one with this code, unless somebody else changed that since `version`.
///
/// # Errors
/// Not found, problems, stale, or what the database says.
pub async fn change(
    tx: &mut Tx,
    mut problems: Problems,
    (code, version): (&str, i64),
    new: &NewJob,
) -> Result<(Job, Vec<JobStep>)> {
    let kept = Job::get(&mut *tx, code).await?;
    let all = Job::all(&mut *tx).await?;
    let (mut job, steps) = new.check(&mut problems, Some(&kept), &all);
    problems.settle()?;
    job.version = version;
    if !job.update(tx).await? {
        return Err(Error::Stale(entry::stale(&kept.name)));
    }
    job.version += 1;
    JobStep::replace(tx, code, &steps).await?;
    Ok((job, steps))
}

impl NewJob {
    /// As it stands.
    #[must_use]
    pub fn of(kept: &Job, steps: &[JobStep]) -> NewJob {
        let step = |step: &JobStep| NewJobStep {
            step: step.step.clone(),
            minutes: Some(step.minutes_typical),
            wait_hours: step.wait_hours,
            caution: step.caution.clone(),
            materials: step.materials.clone(),
        };
        NewJob {
            name: kept.name.clone(),
            who: kept.who.clone(),
            minutes_low: Some(kept.minutes_low),
            minutes_high: Some(kept.minutes_high),
            factor_cello: Some(kept.factor_cello),
            factor_bass: Some(kept.factor_bass),
            materials: kept.materials.clone(),
            hazards: caution::codes_of(kept).into_iter().map(str::to_owned).collect(),
            steps: steps.iter().map(step).collect(),
        }
    }

    /// The job this describes with its steps, in place of `kept` or as a new one.
    fn check(&self, p: &mut Problems, kept: Option<&Job>, all: &[Job]) -> (Job, Vec<JobStep>) {
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
        let mut minutes = |field: &str, given: Option<i64>, words: &str, range| {
            if given.is_none() {
                p.add(field, words);
            }
            p.whole(field, given, range).unwrap_or(0)
        };
        let low = minutes(
            "minutes_low",
            self.minutes_low,
            "Write the least minutes it takes.",
            0..=typical,
        );
        let high = minutes(
            "minutes_high",
            self.minutes_high,
            "Write the most minutes it takes.",
            typical..=6000,
        );
        if !WHO.iter().any(|who| who.0 == self.who) {
            p.add("who", "Say who may do it.");
        }
        if !MATERIALS.contains(&self.materials.as_str()) {
            p.add("materials", "Say how much material it takes.");
        }
        let hazards = self.hazards(p, kept);
        let mut factor =
            |field: &str, given: Option<f64>| within(p, field, given.unwrap_or(1.0), &(0.5..=5.0));
        let job = Job {
            code,
            who: self.who.clone(),
            minutes_low: low,
            minutes_typical: typical,
            minutes_high: high,
            wait_hours: steps.iter().map(|step| step.wait_hours).sum(),
            factor_cello: factor("factor_cello", self.factor_cello),
            factor_bass: factor("factor_bass", self.factor_bass),
            materials: self.materials.clone(),
            hazards,
            families: kept.map_or_else(|| job::FOR_ANY.to_owned(), |kept| kept.families.clone()),
            source: kept.map_or_else(|| source::OWN.to_owned(), |kept| kept.source.clone()),
            edition: kept.map_or(0, |kept| kept.edition),
            changed: true,
            retired: kept.is_some_and(|kept| kept.retired),
            version: 1,
            name,
        };
        (job, steps)
    }

    /// The cautions of its own; none when they are as the program has them, whose editions it then follows.
    fn hazards(&self, p: &mut Problems, kept: Option<&Job>) -> Option<String> {
        let known = |code: &String| CAUTIONS.iter().any(|own| own.code == *code);
        if let Some(at) = self.hazards.iter().position(|code| !known(code)) {
            p.add(format!("hazards.{at}"), "Choose a caution of the catalogue.");
        }
        let codes = |hazards: Vec<&'static Caution>| -> Vec<&str> {
            hazards.into_iter().map(|own| own.code.as_str()).collect()
        };
        let ticked = codes(caution::gathered(&self.hazards));
        let of_program = kept.filter(|kept| kept.edition > 0).map(|kept| Job {
            hazards: None,
            ..kept.clone()
        });
        let as_program = of_program.is_some_and(|job| codes(caution::of_job(&job)) == ticked);
        (!as_program).then(|| ticked.join(";"))
    }

    fn steps(&self, p: &mut Problems, job: &str) -> Vec<JobStep> {
        if self.steps.len() > MOST_STEPS {
            let words = format!("Keep this to {MOST_STEPS} steps, or make two jobs of it.");
            p.add("steps", words);
        }
        if self.steps.is_empty() {
            p.add("steps", "Write at least one step with its minutes.");
        }
        let numbered = (0..).zip(self.steps.iter().take(MOST_STEPS));
        numbered.map(|(at, step)| step.check(p, at, job)).collect()
    }
}

impl NewJobStep {
    fn check(&self, p: &mut Problems, at: i64, job: &str) -> JobStep {
        let field = |name: &str| format!("steps.{at}.{name}");
        if self.minutes.is_none() {
            p.add(field("minutes"), "Write its usual minutes.");
        }
        let words = "Write what is done, or empty the whole row.";
        JobStep {
            job: job.to_owned(),
            position: at + 1,
            step: p.needed(&field("step"), &self.step, 300, words),
            minutes_typical: p.whole(&field("minutes"), self.minutes, 0..=1440).unwrap_or(0),
            wait_hours: within(p, &field("wait_hours"), self.wait_hours, &(0.0..=2000.0)),
            materials: p.line(&field("materials"), &self.materials, 200),
            caution: p.line(&field("caution"), &self.caution, 300),
        }
    }
}
