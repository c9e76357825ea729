//! Which question tells most: the information to expect of each descriptor for the minutes it takes.
//!
//! Expected information is the mutual information of answer and cause in bits (Shannon 1948), from the catalogue's
//! shares within the family and its likelihoods; answers that say nothing ("not sure") are left out.

use std::collections::HashMap;
use std::sync::LazyLock;

use crate::catalogue::cause::Cause;
use crate::catalogue::descriptor::{Background, Descriptor, Likelihood, SAYS_NOTHING};
use crate::catalogue::seed;

/// P(answer | cause) for every answer of a descriptor: what is listed as it is, what is left of 1 shared over the
/// other answers as the background has them; a descriptor with nothing listed takes the background.
#[must_use]
pub fn answers_given(listed: &[(String, f64)], background: &[(String, f64)]) -> Vec<f64> {
    let of = |answer: &str| listed.iter().find(|row| row.0 == answer).map(|row| row.1);
    let taken: f64 = background.iter().filter_map(|row| of(&row.0)).sum();
    let open: f64 = background
        .iter()
        .filter(|row| of(&row.0).is_none())
        .map(|row| row.1)
        .sum();
    let rest = (1.0 - taken).max(0.0);
    background
        .iter()
        .map(|(answer, p)| of(answer).unwrap_or(if open > 0.0 { rest * p / open } else { 0.0 }))
        .collect()
}

/// Mutual information in bits between a cause of these shares and the answer.
#[must_use]
pub fn information(shares: &[f64], given: &[Vec<f64>]) -> f64 {
    let total: f64 = shares.iter().sum();
    if total <= 0.0 {
        return 0.0;
    }
    let answers = given.first().map_or(0, Vec::len);
    let mut bits = 0.0;
    for answer in 0..answers {
        let joint = shares
            .iter()
            .zip(given)
            .map(|(share, p)| share / total * p[answer]);
        let marginal: f64 = joint.sum();
        for (share, p) in shares.iter().zip(given) {
            if *share > 0.0 && p[answer] > 0.0 && marginal > 0.0 {
                bits += share / total * p[answer] * (p[answer] / marginal).log2();
            }
        }
    }
    bits.max(0.0)
}

/// The descriptors of a family, the one that tells most a minute first.
#[must_use]
pub fn in_order(
    family: &str,
    causes: &[Cause],
    descriptors: &[Descriptor],
    figures: &Figures,
) -> Vec<String> {
    let causes: Vec<&Cause> = causes.iter().filter(|cause| cause.in_family(family)).collect();
    let shares: Vec<f64> = causes.iter().map(|cause| cause.prior_share).collect();
    let mut worth: Vec<(f64, &str)> = descriptors
        .iter()
        .filter(|descriptor| descriptor.fits(family))
        .map(|descriptor| {
            let given: Vec<Vec<f64>> = causes
                .iter()
                .map(|cause| figures.given(&cause.code, &descriptor.code))
                .collect();
            (
                information(&shares, &given) / descriptor.minutes.max(0.1),
                descriptor.code.as_str(),
            )
        })
        .collect();
    worth.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(b.1)));
    worth.into_iter().map(|(_, code)| code.to_owned()).collect()
}

/// The catalogue's likelihoods and backgrounds, looked up by cause and descriptor.
#[derive(Default)]
pub struct Figures {
    background: HashMap<String, Vec<(String, f64)>>,
    likelihood: HashMap<(String, String), Vec<(String, f64)>>,
}

impl Figures {
    #[must_use]
    pub fn new(background: Vec<Background>, likelihood: Vec<Likelihood>) -> Figures {
        let mut figures = Figures::default();
        for row in background
            .into_iter()
            .filter(|row| !SAYS_NOTHING.contains(&row.answer.as_str()))
        {
            figures
                .background
                .entry(row.descriptor)
                .or_default()
                .push((row.answer, row.p));
        }
        for row in likelihood {
            figures
                .likelihood
                .entry((row.cause, row.descriptor))
                .or_default()
                .push((row.answer, row.p));
        }
        figures
    }

    /// P(answer | cause), in the order of the background's answers.
    #[must_use]
    pub fn given(&self, cause: &str, descriptor: &str) -> Vec<f64> {
        let rows = |rows: Option<&'_ Vec<(String, f64)>>| rows.cloned().unwrap_or_default();
        let background = rows(self.background.get(descriptor));
        let listed = rows(self.likelihood.get(&(cause.to_owned(), descriptor.to_owned())));
        answers_given(&listed, &background)
    }
}

/// The order of the program's own catalogue, worked out once for each family; the shop's changes of wording keep it.
static ORDERS: LazyLock<HashMap<&'static str, Vec<String>>> = LazyLock::new(|| {
    let (Ok(causes), Ok(descriptors), Ok(background), Ok(likelihoods)) = (
        seed::causes(),
        seed::descriptors(),
        seed::background(),
        seed::likelihoods(),
    ) else {
        return HashMap::new(); // the files are inside the program, and a test reads them
    };
    let figures = Figures::new(background, likelihoods);
    let order = |family| (family, in_order(family, &causes, &descriptors, &figures));
    ["violin", "viola", "cello", "bass"]
        .into_iter()
        .map(order)
        .collect()
});

/// Sorts the questions of a family so that those that tell most come first; questions of the shop's own go last.
pub fn sort(descriptors: &mut [Descriptor], family: &str) {
    let order = ORDERS.get(family).or_else(|| ORDERS.get("violin"));
    descriptors.sort_by_key(|descriptor| {
        order
            .and_then(|order| order.iter().position(|code| *code == descriptor.code))
            .unwrap_or(usize::MAX)
    });
}
