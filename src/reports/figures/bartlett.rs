//! Bartlett's correction takes from a likelihood ratio what it is too large by where little was counted.

use super::regression::{Family, Fit, Group, Row, WIDEST, inverse, rate, times};

type Cube = [[[f64; WIDEST]; WIDEST]; WIDEST];

/// The second, third and fourth cumulant of a group's count: where these are large beside its square, what is known of a
/// likelihood ratio of many counts is not yet true.
struct Cumulants([f64; 3]);

impl Cumulants {
    fn of(family: Family, narrow: &Fit, group: &Group) -> Cumulants {
        let rate = rate(family, narrow, group);
        Cumulants(match family {
            Family::Binomial => {
                let spread = rate * (1.0 - rate);
                let second = group.size * spread;
                [second, second * (1.0 - 2.0 * rate), second * (1.0 - 6.0 * spread)]
            }
            Family::Poisson => [group.size * rate; 3],
        })
    }
}

/// How many times as large as chi-square a likelihood ratio is on average, when there is nothing beyond the narrower fit.
///
/// M. S. Bartlett, Proc. R. Soc. A 160 (1937) 268-282; D. N. Lawley, Biometrika 43 (1956) 295-303; for regressions such as
/// ours G. M. Cordeiro, J. R. Stat. Soc. B 45 (1983) 404-413, in the form that P. McCullagh and J. A. Nelder give for the
/// natural scale (Generalized Linear Models (1989), chapter 15): (3 ρ13² + 2 ρ23² - 3 ρ4) / 12 of the wider less that of the
/// narrower, both at what the narrower expects. References from memory; that it holds is simulated in the tests.
#[must_use]
pub fn correction(family: Family, narrow: &Fit, wide: &Fit, groups: &[Group]) -> f64 {
    let counts: Vec<(Row, Cumulants)> = groups
        .iter()
        .filter(|group| group.size > 0.0)
        .map(|group| (group.known, Cumulants::of(family, narrow, group)))
        .collect();
    let more = super::of((wide.width - narrow.width) as u64);
    let beyond = excess(wide.width, &counts).zip(excess(narrow.width, &counts));
    let correction = beyond.map_or(1.0, |(wide, narrow)| 1.0 + (wide - narrow) / more);
    // Far from where it holds it could turn the ratio about: then it says nothing.
    if correction.is_finite() && correction > 0.0 {
        correction
    } else {
        1.0
    }
}

/// By how much the likelihood ratio of a fit of this width against the truth is above its degrees of freedom.
fn excess(width: usize, counts: &[(Row, Cumulants)]) -> Option<f64> {
    let mut information = [[0.0; WIDEST]; WIDEST];
    for (known, Cumulants([second, ..])) in counts {
        for one in 0..width {
            for other in 0..width {
                information[one][other] += second * known[one] * known[other];
            }
        }
    }
    let variance = inverse(width, information)?;
    let (mut flat, mut lean, mut cube): (f64, Row, Cube) =
        (0.0, [0.0; WIDEST], [[[0.0; WIDEST]; WIDEST]; WIDEST]);
    for (known, Cumulants([_, third, fourth])) in counts {
        let own = product(width, known, &times(width, &variance, known));
        flat += fourth * own * own;
        for one in 0..width {
            lean[one] += third * own * known[one];
            for other in 0..width {
                for last in 0..width {
                    cube[one][other][last] += third * known[one] * known[other] * known[last];
                }
            }
        }
    }
    let leaning = product(width, &lean, &times(width, &variance, &lean));
    // Each side of the cube in turn, so that nothing is summed over all pairs of groups.
    let mut turned = cube;
    for _ in 0..3 {
        turned = turn(width, &variance, &turned);
    }
    let mut skew = 0.0;
    for one in 0..width {
        for other in 0..width {
            skew += product(width, &cube[one][other], &turned[one][other]);
        }
    }
    Some((3.0 * leaning + 2.0 * skew - 3.0 * flat) / 12.0)
}

fn product(width: usize, one: &Row, other: &Row) -> f64 {
    one.iter()
        .zip(other)
        .take(width)
        .map(|(one, other)| one * other)
        .sum()
}

/// The last side of a cube times a matrix, and that side first.
fn turn(width: usize, by: &[Row; WIDEST], cube: &Cube) -> Cube {
    let mut turned = [[[0.0; WIDEST]; WIDEST]; WIDEST];
    for one in 0..width {
        for other in 0..width {
            let side = times(width, by, &cube[one][other]);
            for last in 0..width {
                turned[last][one][other] = side[last];
            }
        }
    }
    turned
}
