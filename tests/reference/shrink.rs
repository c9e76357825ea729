//! Shrunk rates against the rat tumours of the textbooks and scipy.

use purfle::reports::figures::shrink::{Prior, fit, trigamma};

use super::not_used::NotUsed;
use super::{near, rows};

const DATA: &str = include_str!("data/empirical_bayes_data.csv");
const FIGURES: &str = include_str!("data/empirical_bayes.csv");
const COMPUTED: &str = include_str!("data/beta_binomial_computed.csv");
const TRIGAMMA: &str = include_str!("data/trigamma.csv");

fn beta(prior: Prior) -> (f64, f64) {
    match prior {
        Prior::Beta { with, without } => (with, without),
        Prior::Same(rate) => panic!("all are {rate}"),
    }
}

#[test]
fn the_rat_tumours_have_their_prior() {
    let groups: Vec<(u64, u64)> = rows(DATA)
        .iter()
        .map(|row| (row.number("events").unwrap(), row.number("exposure").unwrap()))
        .collect();
    assert_eq!(groups.len(), 70);
    let prior = fit(&groups).unwrap();
    let (with, without) = beta(prior);
    let (mut not_used, mut checked) = (NotUsed::of("empirical_bayes"), 0);
    for row in rows(FIGURES) {
        let ours = match (row.text("model"), row.text("quantity")) {
            ("beta_binomial_mle", "alpha") => with,
            ("beta_binomial_mle", "beta") => without,
            ("beta_binomial_mle", "posterior_mean_of") => {
                let (count, size) = row.text("unit").split_once('/').unwrap();
                prior.shrunk(count.parse().unwrap(), size.parse().unwrap())
            }
            ("beta_conjugate", "posterior_mean") => {
                let given: Vec<&str> = row.text("unit").split(';').collect();
                let [with, without] = [given[0], given[1]].map(|figure| figure.parse().unwrap());
                let [count, size] = [given[2], given[3]].map(|figure| figure.parse().unwrap());
                Prior::Beta { with, without }.shrunk(count, size)
            }
            ("beta_conjugate", other) => {
                not_used.cross_off(&format!("beta_conjugate {other}"));
                continue;
            }
            (model, _) => {
                not_used.cross_off(model);
                continue;
            }
        };
        let tolerance: f64 = row.number("tolerance").unwrap();
        near(ours, row.number("published"), tolerance, &row.source());
        let computed: f64 = row.number("computed").unwrap();
        near(ours, Some(computed), computed * 1e-5, &row.source());
        checked += 1;
    }
    assert_eq!(checked, 5);
}

#[test]
fn the_fit_is_as_likely_as_that_of_scipy() {
    for row in rows(COMPUTED) {
        let list = |column: &str| -> Vec<u64> {
            row.text(column)
                .split(';')
                .map(|count| count.parse().unwrap())
                .collect()
        };
        let groups: Vec<(u64, u64)> = list("counts").into_iter().zip(list("sizes")).collect();
        let (with, without) = beta(fit(&groups).unwrap());
        for (ours, column) in [(with, "alpha"), (without, "beta")] {
            let computed: f64 = row.number(column).unwrap();
            near(ours, Some(computed), computed * 1e-4, &row.source());
        }
    }
}

#[test]
fn rates_that_differ_by_chance_alone_are_the_same() {
    assert_eq!(fit(&[(2, 20), (2, 20), (2, 20)]), Some(Prior::Same(0.1)));
    assert_eq!(fit(&[(0, 20), (0, 7)]), Some(Prior::Same(0.0)));
    assert_eq!(fit(&[(20, 20), (7, 7)]), Some(Prior::Same(1.0)));
    assert_eq!(fit(&[(3, 6), (0, 0)]), Some(Prior::Same(0.5)));
    assert_eq!(fit(&[(0, 0)]), None);
    assert_eq!(fit(&[]), None);
    // One group all and one none: rates as far apart as can be, and the fit still says something.
    let apart = fit(&[(9, 9), (0, 9)]).unwrap();
    let shrunk = apart.shrunk(9, 9);
    assert!(shrunk > 0.5 && shrunk < 1.0, "{apart:?}");
}

#[test]
fn the_trigamma_function_is_that_of_scipy() {
    for row in rows(TRIGAMMA) {
        let expected: f64 = row.number("trigamma").unwrap();
        near(
            trigamma(row.number("x").unwrap()),
            Some(expected),
            expected * 1e-12,
            row.text("source"),
        );
    }
}
