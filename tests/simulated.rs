//! Shops whose truth is known: their shares, ties and likelihoods differ from the catalogue's, and a ranking that learns
//! from their orders is held beside the catalogue's and beside the truth's.

use std::collections::BTreeMap;

use purfle::demo::chance::Chance;
use purfle::diagnosis::age::AgeBand;
use purfle::diagnosis::learn::{Counts, Figures, Lesson, Strength, model};
use purfle::diagnosis::measure::{BINS, Bin, bin, calibration_error};
use purfle::diagnosis::models::FAMILIES;
use purfle::diagnosis::rank::{Evidence, Model, Question, Ranking};
use purfle::diagnosis::temper::{CATALOGUE, Losses, log_loss};
use purfle::reports::season::Seasons;

use crate::ranking::figures;

/// How the answers of one order hang together.
#[derive(Clone, Copy, Debug)]
pub enum Answers {
    /// Each for itself.
    Independent,
    /// All lean one way together: a Gaussian copula with this correlation.
    Leaning(f64),
    /// So often the customer has the wrong idea, and answers everything by it.
    WrongIdea(f64),
}

/// The truth of one shop, by family.
pub struct Hidden(pub Vec<Model>);

pub struct Order {
    pub family: usize,
    month: usize,
    pub cause: usize,
    pub evidence: Evidence,
}

pub fn taught(figures: &Figures, counts: &Counts, power: f64) -> Vec<Model> {
    let of = |family: &&str| {
        model(
            figures,
            counts,
            Strength::default(),
            &Seasons::northern(),
            family,
            power,
        )
    };
    FAMILIES.iter().map(of).collect()
}

/// A number of the standard normal distribution, by Box and Muller (1958).
fn normal(chance: &mut Chance) -> f64 {
    let (a, b) = (chance.unit().max(1e-12), chance.unit());
    (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}

/// Its distribution function, by the logistic approximation; a copula needs no better.
fn below(z: f64) -> f64 {
    1.0 / (1.0 + (-1.702 * z).exp())
}

impl Hidden {
    /// Shares off by a factor of about 2, ties by 1.35, likelihoods by 1.6, up or down.
    pub fn shop(seed: u64) -> Hidden {
        Hidden::off_by(seed, 1.0)
    }

    /// As [`Hidden::shop`], so many times as far off: at 0 the catalogue is the truth.
    pub fn off_by(seed: u64, far: f64) -> Hidden {
        let catalogue = taught(&figures(), &Counts::default(), 1.0);
        Hidden(
            catalogue
                .into_iter()
                .map(|model| Hidden::family(&model, seed, far))
                .collect(),
        )
    }

    fn family(catalogue: &Model, seed: u64, far: f64) -> Model {
        let mut model = catalogue.clone();
        let off = |what: &str, code: &str, which: u64, sigma: f64| {
            (far * sigma * normal(&mut Chance::of(seed, &format!("{what} {code}"), which))).exp()
        };
        for cause in &mut model.causes {
            cause.share *= off("share", &cause.code, 0, 0.7);
            let code = cause.code.clone();
            for (ratio, at) in cause.by_age.iter_mut().chain(&mut cause.by_season).zip(0..) {
                *ratio *= off("tie", &code, at, 0.3);
            }
        }
        let all: f64 = model.causes.iter().map(|cause| cause.share).sum();
        for cause in &mut model.causes {
            cause.share *= (1.0 - model.none_share) / all;
        }
        let codes: Vec<&str> = catalogue
            .causes
            .iter()
            .map(|cause| cause.code.as_str())
            .chain([""])
            .collect();
        model.questions = catalogue
            .questions
            .iter()
            .map(|question| {
                let given: Vec<Vec<f64>> = codes
                    .iter()
                    .enumerate()
                    .map(|(at, code)| {
                        let of = format!("{code} {}", question.code);
                        let raw = (0..question.answers.len()).zip(0..);
                        let raw: Vec<f64> = raw
                            .map(|(a, n)| question.p(at, a) * off("answer", &of, n, 0.5))
                            .collect();
                        let sum: f64 = raw.iter().sum();
                        raw.iter().map(|p| p / sum).collect()
                    })
                    .collect();
                Question::new(&question.code, question.minutes, question.answers.clone(), &given)
            })
            .collect();
        model
    }

    pub fn order(&self, chance: &mut Chance, answers: Answers) -> Order {
        let family = chance.weighted([0.55, 0.15, 0.25, 0.05].into_iter());
        let (model, month) = (&self.0[family], chance.below(12));
        let mut evidence = Evidence {
            band: Some(AgeBand::ALL[chance.weighted([0.08, 0.35, 0.25, 0.07, 0.15, 0.10].into_iter())]),
            season: Seasons::northern().of_month(u8::try_from(month + 1).expect("a month")),
            ..Evidence::default()
        };
        let prior = model.rank(&evidence).prior;
        let cause = chance.weighted(prior.iter().copied());
        let (lean, asked) = (normal(chance), 0.2 + 0.5 * chance.unit());
        let told = match answers {
            Answers::WrongIdea(often) if chance.yes(often) => chance.weighted(prior.iter().copied()),
            _ => cause,
        };
        for (at, question) in model.questions.iter().enumerate() {
            if !chance.yes(asked) {
                continue;
            }
            let mut u = chance.unit();
            if let Answers::Leaning(r) = answers {
                u = below(r.sqrt() * lean + (1.0 - r).sqrt() * normal(chance));
            }
            let mut sum = 0.0;
            let answer = (0..question.answers.len()).find(|answer| {
                sum += question.p(told, *answer);
                u < sum
            });
            evidence
                .answers
                .push((at, answer.unwrap_or(question.answers.len() - 1)));
        }
        Order {
            family,
            month,
            cause,
            evidence,
        }
    }
}

impl Order {
    /// What is known of it, as far as another family is asked it.
    pub fn evidence_in(&self, model: &Model) -> Evidence {
        let mut evidence = self.evidence.clone();
        evidence.answers.retain(|(question, answer)| {
            let question = model.questions.get(*question);
            question.is_some_and(|question| *answer < question.answers.len())
        });
        evidence
    }

    pub fn lesson(&self, shop: &Hidden) -> Lesson {
        let model = &shop.0[self.family];
        let answers = self.evidence.answers.iter().map(|&(question, answer)| {
            let question = &model.questions[question];
            (question.code.clone(), question.answers[answer].clone())
        });
        Lesson {
            family: FAMILIES[self.family].to_owned(),
            band: self.evidence.band.map_or(5, |band| band as usize),
            month: self.month,
            causes: vec![model.causes[self.cause].code.clone()],
            answers: answers.collect::<BTreeMap<_, _>>(),
        }
    }
}

#[derive(Default)]
pub struct Did {
    orders: f64,
    loss: f64,
    first_three: f64,
    pub bins: [Bin; BINS],
}

impl Did {
    pub fn add(&mut self, ranking: &Ranking, cause: usize) {
        self.orders += 1.0;
        self.loss += log_loss(ranking.probability[cause]);
        self.first_three += f64::from(u8::from(ranking.place(cause) <= 3));
        let top = ranking.probability[ranking.order[0]];
        let bin = &mut self.bins[bin(top, BINS)];
        bin.predictions += 1;
        bin.sum += top;
        bin.hits += i64::from(ranking.place(cause) == 1);
    }

    pub fn loss(&self) -> f64 {
        self.loss / self.orders
    }

    fn words(&self) -> String {
        let (loss, three) = (self.loss(), self.first_three / self.orders);
        format!(
            "log loss {loss:.3}, first three {three:.3}, calibration error {:.3}",
            calibration_error(&self.bins)
        )
    }
}

/// A shop that learns as its orders come, its models made anew now and then.
struct Learner {
    figures: Figures,
    counts: Counts,
    losses: Losses,
    models: Vec<Model>,
}

impl Learner {
    fn new() -> Learner {
        let figures = figures();
        let models = taught(&figures, &Counts::default(), CATALOGUE);
        Learner {
            figures,
            counts: Counts::default(),
            losses: Losses::default(),
            models,
        }
    }

    /// Learns from an order, after it was ranked.
    fn learn(&mut self, shop: &Hidden, order: &Order) {
        let model = &self.models[order.family];
        self.losses
            .add(&Losses::of(model, &order.evidence, order.cause), 1);
        self.counts.learn(&order.lesson(shop), 1);
    }

    fn catch_up(&mut self) {
        self.models = taught(&self.figures, &self.counts, self.losses.power());
    }
}

#[test]
fn what_is_learned_beats_the_catalogue_and_comes_near_the_truth() {
    let catalogue = taught(&figures(), &Counts::default(), CATALOGUE);
    let mut gained = [0.0; 2];
    let mut room = 0.0;
    for seed in 0..3 {
        let (shop, mut learner) = (Hidden::shop(seed), Learner::new());
        let mut chance = Chance::of(seed, "orders", 0);
        let mut test = Chance::of(seed, "later orders", 0);
        let later: Vec<Order> = (0..1000)
            .map(|_| shop.order(&mut test, Answers::Independent))
            .collect();
        let rank = |models: &[Model]| {
            let mut did = Did::default();
            for order in &later {
                did.add(&models[order.family].rank(&order.evidence), order.cause);
            }
            did
        };
        let (of_catalogue, of_truth) = (rank(&catalogue), rank(&shop.0));
        println!("shop {seed}: catalogue: {}", of_catalogue.words());
        let mut learned = 0;
        for (at, orders) in [500, 5000].into_iter().enumerate() {
            while learned < orders {
                learner.learn(&shop, &shop.order(&mut chance, Answers::Independent));
                learned += 1;
                if learned % 250 == 0 {
                    learner.catch_up();
                }
            }
            let did = rank(&learner.models);
            println!(
                "shop {seed}: after {orders} orders, power {:.2}: {}",
                learner.losses.power(),
                did.words()
            );
            assert!(did.loss() < of_catalogue.loss(), "shop {seed}, {orders} orders");
            assert!(
                calibration_error(&did.bins) <= 0.05 + 0.02,
                "shop {seed}: {}",
                did.words()
            ); // noise of 1,000 orders
            gained[at] += of_catalogue.loss() - did.loss();
        }
        println!("shop {seed}: the truth: {}", of_truth.words());
        room += of_catalogue.loss() - of_truth.loss();
    }
    println!(
        "of the way from the catalogue to the truth: {:.2}, {:.2}",
        gained[0] / room,
        gained[1] / room
    );
    assert!(
        gained[0] / room > 0.2 && gained[1] / room > 0.6,
        "{gained:?} of {room}"
    );
}

#[test]
fn the_ranking_is_as_sure_as_it_may_be_however_the_answers_hang_together() {
    for answers in [
        Answers::Independent,
        Answers::Leaning(0.3),
        Answers::WrongIdea(0.15),
        Answers::WrongIdea(0.3),
    ] {
        let mut all = Did::default();
        for seed in 10..13 {
            let (shop, mut learner) = (Hidden::shop(seed), Learner::new());
            let mut chance = Chance::of(seed, "orders", 1);
            for at in 1..=2000 {
                let order = shop.order(&mut chance, answers);
                all.add(&learner.models[order.family].rank(&order.evidence), order.cause);
                learner.learn(&shop, &order);
                if at % 250 == 0 {
                    learner.catch_up();
                }
            }
            println!("{answers:?}, shop {seed}: power {:.2}", learner.losses.power());
        }
        println!("{answers:?}: {}", all.words());
        assert!(
            calibration_error(&all.bins) <= 0.05,
            "{answers:?}: {}",
            all.words()
        );
    }
}

#[test]
fn where_the_catalogue_is_right_already_little_is_lost_by_learning() {
    let catalogue = taught(&figures(), &Counts::default(), CATALOGUE);
    for seed in 20..22 {
        let (shop, mut learner) = (Hidden::off_by(seed, 0.0), Learner::new());
        let (mut learned, mut alone) = (Did::default(), Did::default());
        let mut chance = Chance::of(seed, "orders", 2);
        for at in 1..=5000 {
            let order = shop.order(&mut chance, Answers::Independent);
            learned.add(&learner.models[order.family].rank(&order.evidence), order.cause);
            alone.add(&catalogue[order.family].rank(&order.evidence), order.cause);
            learner.learn(&shop, &order);
            if at % 250 == 0 {
                learner.catch_up();
            }
        }
        println!(
            "the catalogue is right, shop {seed}: learned: {}; catalogue: {}",
            learned.words(),
            alone.words()
        );
        assert!(
            learned.loss() < alone.loss() + 0.04,
            "{} {}",
            learned.loss(),
            alone.loss()
        );
    }
}
