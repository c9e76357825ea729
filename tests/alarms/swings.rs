//! Swings over the year, in ten thousand shops that have none.

use purfle::demo::chance::Chance;
use purfle::reports::calendar::FEW_CONFIRMED;
use purfle::reports::figures::chi_square_2;
use purfle::reports::figures::discovery::q_values;
use purfle::reports::figures::regression::Family;
use purfle::reports::figures::season::{Swing, swing};
use purfle::reports::weigh::MARKED;

use super::at_most;

const SHOPS: u64 = 10_000;
/// Inspected in each month, and the shares of the causes: of a small shop, most of whose causes have few confirmed, where a
/// test is hardest to keep honest.
const INSPECTED: [u64; 12] = [27, 24, 25, 21, 19, 17, 12, 18, 24, 25, 26, 27];
const SHARES: [f64; 6] = [0.14, 0.1, 0.08, 0.06, 0.05, 0.04];

/// A count of so many with this share each, by inversion: one number drawn for all of them.
fn drawn(chance: &mut Chance, share: f64, of: u64) -> u64 {
    let mut left = chance.unit();
    let odds = share / (1.0 - share);
    let real = |n: u64| f64::from(u32::try_from(n).expect("few"));
    let (mut p, mut n) = ((1.0 - share).powi(i32::try_from(of).expect("few")), 0);
    while left >= p && n < of {
        left -= p;
        p *= odds * real(of - n) / real(n + 1);
        n += 1;
    }
    n
}

fn shop(seed: u64) -> Vec<Swing> {
    let mut chance = Chance::of(seed, "no swing", 0);
    let causes = SHARES.iter().filter_map(|share| {
        let months = INSPECTED.map(|of| (drawn(&mut chance, *share, of), of));
        let confirmed: u64 = months.iter().map(|month| month.0).sum();
        (confirmed >= FEW_CONFIRMED.unsigned_abs())
            .then(|| swing(Family::Binomial, &months))
            .flatten()
    });
    causes.collect()
}

/// One shop in twenty may be told of a swing. Without Bartlett's correction it would be more: the likelihood ratio of few is
/// too large, on average by as much as the correction says.
#[test]
fn ten_thousand_shops_without_a_swing_are_told_of_none_more_than_one_in_twenty_times() {
    let (mut told, mut uncorrected) = (0_u32, 0_u32);
    let (mut tests, mut ratios, mut corrections) = (0.0, 0.0, 0.0);
    for seed in 0..SHOPS {
        let swings = shop(seed);
        let any = |p_value: fn(&Swing) -> f64| {
            let p_values: Vec<f64> = swings.iter().map(p_value).collect();
            u32::from(q_values(&p_values).iter().any(|q| *q <= MARKED))
        };
        told += any(|swing| swing.p_value);
        uncorrected += any(|swing| chi_square_2(swing.chi_square));
        for swing in &swings {
            tests += 1.0;
            ratios += swing.chi_square;
            corrections += swing.correction;
        }
    }
    println!("told of a swing: {told} of {SHOPS} shops; without the correction {uncorrected}");
    assert!(f64::from(told) <= at_most(MARKED, SHOPS), "{told} of {SHOPS}");
    let (ratio, expected) = (ratios / tests, 2.0 * corrections / tests);
    println!("likelihood ratio on average {ratio:.4}, by the correction {expected:.4}");
    // The deviation of a chi-square of two degrees of freedom is 2: three of them over the root of the tests.
    let margin = 6.0 / f64::sqrt(tests);
    assert!((ratio - expected).abs() < margin, "{ratio} {expected}");
    let needed = ratio > 2.0 + margin && f64::from(uncorrected) > at_most(MARKED, SHOPS);
    assert!(needed, "there would be nothing to correct");
}
