//! Comebacks of groups that come back alike, and of one that does not.

use purfle::demo::chance::{Chance, whole};
use purfle::reports::comebacks::{Group, compared};
use purfle::reports::comebacks_told::LEVEL;
use purfle::reports::figures::survival::Watched;
use purfle::reports::unlike::unlike;

use super::{at_least, at_most};

const SHOPS: u64 = 1000;
/// How many were repaired of each cause: a few often, many seldom, as shops have it.
const CAUSES: [u64; 16] = [400, 250, 180, 120, 90, 60, 40, 30, 20, 15, 10, 8, 5, 4, 3, 2];
/// And by each technician.
const TECHNICIANS: [u64; 4] = [600, 300, 150, 80];
/// How many of a hundred come back if they are watched for ever, and after how many days on average.
const BACK: f64 = 0.1;
const AFTER: f64 = 200.0;

/// A shop in which the second group comes back `times` as often.
fn shop(seed: u64, what: &str, repaired: &[u64], times: f64) -> Vec<Group> {
    let mut chance = Chance::of(seed, what, 0);
    let group = |(at, &repaired): (usize, &u64)| {
        let mut watched = Watched::default();
        let share = if at == 1 { BACK * times } else { BACK };
        for _ in 0..repaired {
            let seen = chance.range(10, 2000);
            let back = whole(-chance.unit().max(1e-12).ln() * AFTER);
            if chance.yes(share) && back < seen {
                watched.add(back, 1, 0);
            } else {
                watched.add(seen, 0, 1);
            }
        }
        let key = at.to_string();
        Group {
            key,
            watched,
            seasonal: 0,
        }
    };
    repaired.iter().enumerate().map(group).collect()
}

fn told(what: &str, repaired: &[u64], times: f64) -> f64 {
    let told =
        |seed: &u64| unlike(&shop(*seed, what, repaired, times)).is_some_and(|test| test.p_value < LEVEL);
    f64::from(u32::try_from((0..SHOPS).filter(told).count()).expect("few"))
}

#[test]
fn a_thousand_shops_whose_groups_come_back_alike_are_told_otherwise_one_in_twenty_times() {
    for (what, repaired) in [
        ("causes", &CAUSES[..]),
        ("technicians", &TECHNICIANS),
        ("few causes", &CAUSES[6..]),
        ("two technicians", &[60, 40]),
    ] {
        let alarms = told(what, repaired, 1.0);
        println!("{what}: told of a difference: {alarms} of {SHOPS} shops");
        assert!(alarms <= at_most(LEVEL, SHOPS), "{what}: {alarms} of {SHOPS}");
    }
}

/// Two and a half times as many of the second come back: nineteen in twenty shops hear of it.
#[test]
fn a_group_that_comes_back_far_more_often_is_found() {
    for (what, repaired) in [("causes", &CAUSES[..]), ("technicians", &TECHNICIANS)] {
        let found = told(what, repaired, 2.5);
        println!("{what}: a group that comes back 2.5 times as often is found in {found} of {SHOPS} shops");
        assert!(found >= at_least(0.95, SHOPS), "{what}: {found} of {SHOPS}");
    }
}

/// Why small groups are taken together: each for itself, chance alone would be told far more often than stated.
#[test]
fn groups_too_small_for_the_test_are_taken_together() {
    let alarm =
        |seed: &u64| compared(&shop(*seed, "causes", &CAUSES, 1.0)).is_some_and(|test| test.p_value < LEVEL);
    let alarms = (0..SHOPS).filter(alarm).count();
    assert!(
        alarms > 90,
        "{alarms} of {SHOPS}: they need not be taken together"
    );
    let groups = shop(1, "causes", &CAUSES, 1.0);
    let (each, told) = (
        compared(&groups).expect("a test"),
        unlike(&groups).expect("a test"),
    );
    assert!(told.df < each.df && told.expected.iter().all(|expected| *expected >= 5.0));
    assert_eq!(
        told.observed.iter().sum::<u64>(),
        each.observed.iter().sum::<u64>(),
        "nobody is left out"
    );
    // Two groups are always left.
    let two = shop(1, "two", &[30, 12], 1.0);
    assert_eq!(unlike(&two).map(|test| test.df), Some(1));
    assert_eq!(unlike(&two[..1]), None);
    assert_eq!(unlike(&[]), None);
}
