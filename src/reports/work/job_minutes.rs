//! The minutes of a job: what steps of it took, what was planned for them, and what one will typically take.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use crate::reports::counted::Sum;
use crate::reports::figures::of as real;
use crate::reports::figures::spread::{Quartiles, Spread};
use crate::reports::figures::typical::{Group, Typical, common};
use crate::reports::share::{TOO_FEW, TOO_FEW_WORDS};
use crate::reports::tally::What;
use crate::words::minutes;

/// Nobody times a step closer than to five in a hundred.
const CLOSE: f64 = 0.05;

#[derive(Clone, Debug)]
pub struct JobMinutes {
    /// Empty for steps in free words.
    pub job: String,
    pub actual: Spread,
    pub planned: Spread,
    /// Actual against planned; not of steps in free words, of which no two are alike.
    pub typical: Option<Typical>,
    /// Of so many steps.
    pub compared: u64,
    /// All minutes together, as planned and as it was.
    pub sums: (i64, i64),
    /// How often which minutes were planned and taken.
    pub pairs: BTreeMap<(i64, i64), i64>,
}

/// How a job is planned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Plan {
    TooFew,
    Well,
    TooShort,
    TooLong,
}

impl Plan {
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Plan::TooFew => "too_few",
            Plan::Well => "as_planned",
            Plan::TooShort => "too_short",
            Plan::TooLong => "too_long",
        }
    }

    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Plan::TooFew => TOO_FEW_WORDS,
            Plan::Well => "as planned",
            Plan::TooShort => "planned too short",
            Plan::TooLong => "planned too long",
        }
    }
}

/// Each job that was done, what was done most often first; free words last.
#[must_use]
pub fn of(sums: &[Sum]) -> Vec<JobMinutes> {
    let mut jobs = BTreeMap::<&str, BTreeMap<(i64, i64), i64>>::new();
    for sum in sums.iter().filter(|sum| sum.what == What::Minutes) {
        if let Some((job, planned, actual)) = read(&sum.code) {
            // A code may come once for each year.
            *jobs.entry(job).or_default().entry((planned, actual)).or_default() += sum.n;
        }
    }
    let mut jobs: Vec<(JobMinutes, Group)> = jobs
        .into_iter()
        .map(|(job, pairs)| JobMinutes::new(job, pairs))
        .filter(|(job, _)| job.actual.count() > 0)
        .collect();
    let groups: Vec<Group> = jobs.iter().map(|job| job.1).collect();
    if let Some(common) = common(&groups) {
        for (job, group) in jobs.iter_mut().filter(|job| job.1.count > 0) {
            job.typical = Some(common.typical(*group));
        }
    }
    let mut jobs: Vec<JobMinutes> = jobs.into_iter().map(|job| job.0).collect();
    jobs.sort_by_key(|job| (job.job.is_empty(), Reverse(job.actual.count())));
    jobs
}

fn read(code: &str) -> Option<(&str, i64, i64)> {
    let mut parts = code.rsplitn(3, ' ');
    let (actual, planned) = (parts.next()?.parse().ok()?, parts.next()?.parse().ok()?);
    Some((parts.next()?, planned, actual))
}

fn number(minutes: i64) -> f64 {
    real(u64::try_from(minutes).unwrap_or(0))
}

impl JobMinutes {
    /// With the logarithms of actual against planned, but of free words.
    fn new(job: &str, mut pairs: BTreeMap<(i64, i64), i64>) -> (JobMinutes, Group) {
        pairs.retain(|_, times| *times > 0);
        let (mut actual, mut planned, mut group, mut sums) =
            (Spread::default(), Spread::default(), Group::default(), (0, 0));
        for (&(plan, took), &times) in &pairs {
            actual.add(took, times);
            planned.add(plan, times);
            sums = (sums.0 + plan * times, sums.1 + took * times);
            if plan > 0 && !job.is_empty() {
                group.add(number(took) / number(plan), u64::try_from(times).unwrap_or(0));
            }
        }
        let of = JobMinutes {
            job: job.to_owned(),
            actual,
            planned,
            typical: None,
            compared: group.count,
            sums,
            pairs,
        };
        (of, group)
    }

    #[must_use]
    pub fn few(&self) -> bool {
        i64::try_from(self.actual.count()).is_ok_and(|steps| steps < TOO_FEW)
    }

    /// Nothing of fewer than five.
    #[must_use]
    pub fn quartiles(&self) -> Option<Quartiles> {
        self.actual.quartiles().filter(|_| !self.few())
    }

    #[must_use]
    pub fn planned_middle(&self) -> f64 {
        self.planned.quantile(0.5).unwrap_or_default()
    }

    /// Typical minutes with their range, of a step that is planned as usual.
    #[must_use]
    pub fn typical_minutes(&self) -> Option<[f64; 3]> {
        let planned = self.planned_middle();
        let typical = self.typical.filter(|_| planned > 0.0)?;
        Some([typical.ratio, typical.low, typical.high].map(|ratio| ratio * planned))
    }

    #[must_use]
    pub fn plan(&self) -> Plan {
        let Some(typical) = self.typical else {
            return Plan::TooFew;
        };
        if i64::try_from(self.compared).is_ok_and(|steps| steps < TOO_FEW) {
            Plan::TooFew
        } else if typical.low > 1.0 && typical.ratio > 1.0 + CLOSE {
            Plan::TooShort
        } else if typical.high < 1.0 && typical.ratio < 1.0 - CLOSE {
            Plan::TooLong
        } else {
            Plan::Well
        }
    }

    #[must_use]
    pub fn is_off(&self) -> bool {
        matches!(self.plan(), Plan::TooShort | Plan::TooLong)
    }

    /// "48 min", and "40 to 55"; the words when they are few.
    #[must_use]
    pub fn took(&self) -> (String, String) {
        self.quartiles().map_or_else(
            || (TOO_FEW_WORDS.to_owned(), String::new()),
            |of| (said(of.middle), range(of.low, of.high)),
        )
    }

    #[must_use]
    pub fn typically(&self) -> Option<(String, String)> {
        let [typical, low, high] = self.typical_minutes()?;
        Some((said(typical), range(low, high)))
    }

    #[must_use]
    pub fn planned_words(&self) -> String {
        said(self.planned_middle())
    }
}

/// Minutes to the next whole one.
#[must_use]
#[expect(clippy::cast_possible_truncation, reason = "minutes of steps, far below 2^53")]
pub fn said(m: f64) -> String {
    minutes(m.round() as i64)
}

/// "40 to 55", without the word where both are minutes; "55 min" where it is as narrow as that.
fn range(low: f64, high: f64) -> String {
    let (low, high) = (said(low), said(high));
    match (low.strip_suffix(" min"), high.strip_suffix(" min")) {
        _ if low == high => high,
        (Some(low), Some(high)) => format!("{low} to {high}"),
        _ => format!("{low} to {high}"),
    }
}
