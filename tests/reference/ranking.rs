//! The ranking, the order of checks and the measures against published examples, scikit-learn and plain enumeration.
#![expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "small counts"
)]

use purfle::diagnosis::checks::{Place, expected_minutes, in_order, looks};
use purfle::diagnosis::learn::{Counts, Lesson};
use purfle::diagnosis::measure::{Bin, bin, brier, calibration_error};
use purfle::diagnosis::question::information;
use purfle::diagnosis::rank::{Entry, Evidence, Model, Question};
use purfle::diagnosis::temper::log_loss;

use super::{Row, rows};

const POSTERIORS: &str = include_str!("data/bayes_posteriors.csv");
const TRAINING: &str = include_str!("data/naive_bayes_training.csv");
const PREDICTIONS: &str = include_str!("data/naive_bayes_predictions.csv");
const ACTIONS: &str = include_str!("data/troubleshooting_actions.csv");
const ORDERS: &str = include_str!("data/troubleshooting_orders.csv");
const INFORMATION: &str = include_str!("data/mutual_information.csv");
const MEASURES: &str = include_str!("data/calibration_metrics.csv");

fn numbers(list: &str) -> Vec<f64> {
    list.split(';')
        .map(|number| number.parse().expect("a number"))
        .collect()
}

/// Causes with these shares, and answers with P(first answer | cause); "none of these" cannot be.
fn model(shares: &[f64], given: &[Vec<f64>]) -> Model {
    let causes = (0..).zip(shares).map(|(at, share): (usize, _)| Entry {
        code: format!("{at:02}"),
        share: *share,
        by_age: [1.0; 6],
        by_season: [1.0; 3],
        by_student: [1.0; 2],
        check_minutes: 1.0,
        ..Entry::default()
    });
    let questions = given.iter().enumerate().map(|(at, ps)| {
        let mut rows: Vec<Vec<f64>> = ps.iter().map(|p| vec![*p, 1.0 - p]).collect();
        rows.push(vec![0.5, 0.5]);
        Question::new(&format!("{at}"), 1.0, vec!["so".into(), "else".into()], &rows)
    });
    Model {
        causes: causes.collect(),
        questions: questions.collect(),
        power: 1.0,
        none_share: 0.0,
        groups: Vec::new(),
    }
}

fn cases<'a>(all: &'a [Row], column: &str) -> Vec<Vec<&'a Row>> {
    let mut groups: Vec<Vec<&Row>> = Vec::new();
    for row in all {
        match groups
            .last_mut()
            .filter(|group| group[0].text(column) == row.text(column))
        {
            Some(group) => group.push(row),
            None => groups.push(vec![row]),
        }
    }
    groups
}

#[test]
fn posteriors_and_weights_are_those_of_the_worked_examples_and_of_scikit_learn() {
    let all = rows(POSTERIORS);
    for case in cases(&all, "case_id") {
        let shares: Vec<f64> = case
            .iter()
            .map(|row| row.number("prior").expect("a prior"))
            .collect();
        let likelihoods: Vec<Vec<f64>> = case.iter().map(|row| numbers(row.text("likelihoods"))).collect();
        let questions: Vec<Vec<f64>> = (0..likelihoods[0].len())
            .map(|at| likelihoods.iter().map(|given| given[at]).collect())
            .collect();
        let model = model(&shares, &questions);
        let evidence = Evidence {
            answers: (0..questions.len()).map(|question| (question, 0)).collect(),
            ..Evidence::default()
        };
        let ranking = model.rank(&evidence);
        for (at, row) in case.iter().enumerate() {
            let off = ranking.probability[at] - row.number::<f64>("computed_posterior").expect("a posterior");
            assert!(off.abs() < 1e-9, "{off} {}", row.source());
            if let Some(published) = row.number::<f64>("published_posterior") {
                let within = row.number("tolerance").expect("a tolerance");
                assert!(
                    (ranking.probability[at] - published).abs() <= within,
                    "{}",
                    row.source()
                );
            }
            if let Some(weight) = row.number::<f64>("computed_evidence_db") {
                assert!((ranking.decibans(at) - weight).abs() < 1e-6, "{}", row.source());
            }
        }
    }
}

#[test]
fn counts_learned_with_pseudo_counts_give_the_posteriors_of_scikit_learn() {
    // CategoricalNB with alpha is the posterior mean under a Dirichlet prior of alpha for each of k values: in our words a
    // strength of alpha * k with even shares. Its class shares have no prior.
    let training = rows(TRAINING);
    let examples: Vec<(Vec<&str>, &str)> = training
        .iter()
        .map(|row| (row.text("features").split(';').collect(), row.text("class")))
        .collect();
    for row in rows(PREDICTIONS) {
        let alpha: f64 = row.number("alpha").expect("alpha");
        let query: Vec<&str> = row.text("query").split(';').collect();
        let classes = ["no", "yes"];
        let mut counts = Counts::default();
        for (values, class) in &examples {
            let answers = values.iter().enumerate();
            let lesson = Lesson {
                family: "weather".to_owned(),
                causes: vec![(*class).to_owned()],
                answers: answers
                    .map(|(at, value)| (at.to_string(), (*value).to_owned()))
                    .collect(),
                ..Lesson::default()
            };
            counts.learn(&lesson, 1);
        }
        let questions: Vec<Vec<f64>> = (0..query.len())
            .map(|at| {
                let mut values: Vec<&str> = examples.iter().map(|row| row.0[at]).collect();
                values.sort_unstable();
                values.dedup();
                let k = values.len() as f64;
                let values: Vec<String> = values.into_iter().map(str::to_owned).collect();
                let asked = values
                    .iter()
                    .position(|value| value == query[at])
                    .expect("a value");
                let even = vec![1.0 / k; values.len()];
                classes
                    .iter()
                    .map(|class| counts.given(class, &at.to_string(), &values, &even, alpha * k)[asked])
                    .collect()
            })
            .collect();
        let shares: Vec<f64> = classes
            .iter()
            .map(|class| counts.confirmed("weather", class) as f64 / examples.len() as f64)
            .collect();
        let model = model(&shares, &questions);
        let evidence = Evidence {
            answers: (0..query.len()).map(|question| (question, 0)).collect(),
            ..Evidence::default()
        };
        let at = classes
            .iter()
            .position(|class| *class == row.text("class"))
            .expect("a class");
        let p = model.rank(&evidence).probability[at];
        let off = p - row.number::<f64>("computed_posterior").expect("a posterior");
        assert!(off.abs() < 1e-8, "{off} {}", row.source());
    }
}

/// The expected cost of looking in this order, as the table defines it.
fn cost(order: &[usize], actions: &[&Row], service: f64) -> f64 {
    let (mut left, mut cost) = (1.0, 0.0);
    for at in order {
        let number = |column: &str| actions[*at].number::<f64>(column).expect("a number");
        cost += left * number("observe_cost") + number("probability") * number("repair_cost");
        left -= number("probability");
    }
    cost + left * service
}

fn permutations(of: usize) -> Vec<Vec<usize>> {
    if of == 0 {
        return vec![Vec::new()];
    }
    let mut all = Vec::new();
    for shorter in permutations(of - 1) {
        for at in 0..of {
            let mut order = shorter.clone();
            order.insert(at, of - 1);
            all.push(order);
        }
    }
    all
}

#[test]
fn the_order_of_checks_is_the_best_of_all_permutations() {
    let (actions, orders) = (rows(ACTIONS), rows(ORDERS));
    for case in cases(&actions, "case_id") {
        let id = case[0].text("case_id");
        let (service, steps): (Vec<&Row>, Vec<&Row>) =
            case.iter().partition(|row| row.text("action") == "_service");
        let service = service
            .first()
            .map_or(0.0, |row| row.number("observe_cost").expect("a cost"));
        let mut model = model(
            &steps
                .iter()
                .map(|row| row.number("probability").expect("p"))
                .collect::<Vec<_>>(),
            &[],
        );
        let certain: f64 = model.causes.iter().map(|cause| cause.share).sum();
        model.none_share = (1.0 - certain).max(0.0);
        for (cause, row) in model.causes.iter_mut().zip(&steps) {
            cause.check_minutes = row.number("observe_cost").expect("a cost");
        }
        let nothing = Evidence::default();
        let mut order = in_order(&model, &model.rank(&nothing), &nothing, Place::Bench);
        order.extend(
            (0..steps.len())
                .filter(|at| !order.contains(at))
                .collect::<Vec<_>>(),
        ); // those that cannot be
        let ours = cost(&order, &steps, service);
        let best = permutations(steps.len())
            .iter()
            .map(|order| cost(order, &steps, service))
            .fold(f64::INFINITY, f64::min);
        let published = orders
            .iter()
            .find(|row| row.text("case_id") == id && row.text("quantity") == "minimum");
        let published = published
            .expect("a minimum")
            .number::<f64>("computed")
            .expect("a minimum");
        assert!(
            (ours - best).abs() < 1e-9 && (best - published).abs() < 1e-9,
            "{id}: {ours} {best} {published}"
        );
    }
}

/// The minutes until it is found, all causes weighed by their chance: a look at one of a group settles the whole group, so
/// that its minutes are spent once.
fn minutes(order: &[usize], model: &Model, probability: &[f64]) -> f64 {
    let (mut spent, mut sum) = (0.0, 0.0);
    for (at, cause) in order.iter().enumerate() {
        let seen = order[..at]
            .iter()
            .any(|before| model.group(*before) == model.group(*cause));
        if !seen {
            let group = (0..model.causes.len()).filter(|other| model.group(*other) == model.group(*cause));
            let minutes = group.map(|other| model.causes[other].check_minutes);
            spent += minutes.fold(0.0, f64::max);
        }
        sum += probability[*cause] * (1.0 - model.causes[*cause].misses) * spent;
    }
    sum
}

#[test]
fn a_group_is_one_look_and_the_order_is_still_the_best_of_all_permutations() {
    let mut chance = purfle::demo::chance::Chance::of(5, "groups", 1);
    for _ in 0..60 {
        let causes = 6;
        let weights: Vec<f64> = (0..causes).map(|_| 0.02 + real(chance.below(100))).collect();
        let all: f64 = weights.iter().sum();
        let mut model = model(&weights.iter().map(|w| w / all * 0.9).collect::<Vec<_>>(), &[]);
        model.none_share = 0.1;
        model.groups = (0..causes)
            .map(|at| {
                if at % 2 == 1 && chance.yes(0.6) {
                    at - 1
                } else {
                    at
                }
            })
            .collect();
        for cause in &mut model.causes {
            cause.check_minutes = real(1 + chance.below(6));
            cause.misses = real(chance.below(5)) / 10.0;
        }
        let nothing = Evidence::default();
        let ranking = model.rank(&nothing);
        let order = in_order(&model, &ranking, &nothing, Place::Bench);
        let ours = minutes(&order, &model, &ranking.probability);
        let best = permutations(causes)
            .iter()
            .map(|order| minutes(order, &model, &ranking.probability))
            .fold(f64::INFINITY, f64::min);
        assert!((ours - best).abs() < 1e-9, "{ours} {best} {:?}", model.groups);
        let looks = looks(&model, &ranking, &nothing, Place::Bench);
        let steps: Vec<(f64, f64)> = looks.iter().map(|look| (look.finds, look.minutes)).collect();
        let finds: f64 = steps.iter().map(|step| step.0).sum();
        assert!((expected_minutes(&steps) - ours / finds).abs() < 1e-9);
        assert_eq!(order.len(), causes);
    }
}

fn real(count: usize) -> f64 {
    count as f64
}

#[test]
fn measures_are_those_of_scikit_learn_and_torchmetrics() {
    let mut checked = 0;
    for row in rows(MEASURES) {
        let multi = row.text("y_prob").contains('|');
        let was = numbers(row.text("y_true"));
        let computed: f64 = row.number("computed").expect("a figure");
        let ours = match (row.text("metric"), multi) {
            ("ece_l1", false) => {
                let bins: usize = row
                    .text("params")
                    .trim_start_matches("bins=")
                    .parse()
                    .expect("bins");
                let mut table = vec![Bin::default(); bins];
                for (p, was) in numbers(row.text("y_prob")).iter().zip(&was) {
                    let bin = &mut table[bin(*p, bins)];
                    bin.predictions += 1;
                    bin.hits += *was as i64;
                    bin.sum += p;
                }
                calibration_error(&table)
            }
            ("log_loss", false) => {
                let p = numbers(row.text("y_prob"));
                let given = p
                    .iter()
                    .zip(&was)
                    .map(|(p, was)| if *was > 0.5 { *p } else { 1.0 - p });
                given.map(log_loss).sum::<f64>() / p.len() as f64
            }
            ("brier_two_class_sum", false) => {
                let p = numbers(row.text("y_prob"));
                let each = p
                    .iter()
                    .zip(&was)
                    .map(|(p, was)| brier([1.0 - p, *p].into_iter(), *was as usize));
                each.sum::<f64>() / p.len() as f64
            }
            ("brier_multiclass", true) => {
                let each = row.text("y_prob").split('|').zip(&was);
                let each: Vec<f64> = each
                    .map(|(p, was)| brier(numbers(p).into_iter(), *was as usize))
                    .collect();
                each.iter().sum::<f64>() / each.len() as f64
            }
            ("log_loss_multiclass", true) => {
                let each = row.text("y_prob").split('|').zip(&was);
                let each: Vec<f64> = each.map(|(p, was)| log_loss(numbers(p)[*was as usize])).collect();
                each.iter().sum::<f64>() / each.len() as f64
            }
            _ => continue, // measures that are not ours
        };
        let within = row.number("tolerance").expect("a tolerance");
        assert!(
            (ours - computed).abs() <= within,
            "{ours} {computed} {}",
            row.source()
        );
        checked += 1;
    }
    assert!(checked >= 8, "{checked}");
}

#[test]
fn the_information_to_expect_of_a_question_is_that_of_scipy() {
    for row in rows(INFORMATION) {
        let given: Vec<Vec<f64>> = row.text("given").split('|').map(numbers).collect();
        let bits = information(&numbers(row.text("shares")), &given);
        let computed: f64 = row.number("computed").expect("a figure");
        assert!(
            (bits - computed).abs() <= row.number("tolerance").expect("a tolerance"),
            "{}",
            row.source()
        );
    }
}
