//! Minutes of jobs that are planned right, and of one that is not.

use purfle::demo::chance::{Chance, real, whole};
use purfle::reports::counted::Sum;
use purfle::reports::tally::What;
use purfle::reports::work::job_minutes::{self, JobMinutes, Plan};

use super::{at_least, at_most};

const SHOPS: u64 = 1000;
/// So many of twenty ranges do not hold the truth: the page states 95 times in 100.
const MISSED: f64 = 0.05;
/// Steps done of each job.
const STEPS: [i64; 12] = [300, 150, 80, 40, 20, 12, 8, 6, 5, 5, 5, 5];
const PLANNED: [i64; 6] = [20, 30, 45, 60, 90, 120];

/// A shop in which steps take longer or shorter by chance, and those of each job `times` as long as planned.
fn shop(seed: u64, steps: &[i64], spread: f64, times: impl Fn(usize) -> f64) -> Vec<JobMinutes> {
    let mut chance = Chance::of(seed, "minutes", 0);
    let mut sums = Vec::new();
    for (job, &steps) in steps.iter().enumerate() {
        for _ in 0..steps {
            let planned = PLANNED[chance.below(PLANNED.len())];
            let took = whole(real(planned) * times(job) * chance.spread(spread)).max(1);
            sums.push(Sum {
                what: What::Minutes,
                code: format!("{job} {planned} {took}"),
                n: 1,
            });
        }
    }
    job_minutes::of(&sums)
}

fn plan(jobs: &[JobMinutes], job: usize) -> Plan {
    let code = job.to_string();
    let found = jobs.iter().find(|of| of.job == code);
    found.expect("a job").plan()
}

fn is_off(jobs: &[JobMinutes], job: usize) -> bool {
    matches!(plan(jobs, job), Plan::TooShort | Plan::TooLong)
}

/// The job that is done most, the one done least, and whether any is told at all.
#[test]
fn a_thousand_shops_that_plan_right_are_told_otherwise_of_a_job_one_in_twenty_times() {
    for (what, steps, spread) in [
        ("many jobs", &STEPS[..], 0.35),
        ("many jobs, minutes far apart", &STEPS, 0.6),
        ("few jobs", &STEPS[6..11], 0.4),
    ] {
        let (mut most, mut least, mut any) = (0_u32, 0_u32, 0_u32);
        for seed in 0..SHOPS {
            let jobs = shop(seed, steps, spread, |_| 1.0);
            most += u32::from(is_off(&jobs, 0));
            least += u32::from(is_off(&jobs, steps.len() - 1));
            any += u32::from(jobs.iter().any(JobMinutes::is_off));
        }
        println!(
            "{what}: told of the commonest job {most}, the rarest {least}, of any {any}, of {SHOPS} shops"
        );
        for alarms in [most, least] {
            assert!(f64::from(alarms) <= at_most(MISSED, SHOPS), "{what}: {alarms}");
        }
    }
}

/// A job of forty steps takes half as long again as planned, one of twenty a third less.
#[test]
fn a_job_that_is_planned_too_short_or_too_long_is_found() {
    let (mut short, mut long) = (0_u32, 0_u32);
    for seed in 0..SHOPS {
        let jobs = shop(seed, &STEPS, 0.35, |job| match job {
            3 => 1.5,
            4 => 0.67,
            _ => 1.0,
        });
        short += u32::from(plan(&jobs, 3) == Plan::TooShort);
        long += u32::from(plan(&jobs, 4) == Plan::TooLong);
    }
    println!("too short found in {short}, too long in {long} of {SHOPS} shops");
    for found in [short, long] {
        assert!(f64::from(found) >= at_least(0.95, SHOPS), "{found}");
    }
}
