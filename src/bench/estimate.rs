//! The estimate is what the steps will cost: labour by their planned minutes, their parts, and tax on both.
//!
//! The price of a step is that of its planned minutes, as the customer agreed to it; how long it really took is kept
//! beside it and changes no bill. Tax is worked once for each rate on the sum of its lines.

use crate::error::{Error, Result};
use crate::money::{self, Money, MoneyProblem, Taxed};

use super::step::{Part, Step};

/// A step with its parts.
#[derive(Clone, Debug)]
pub struct Line {
    pub step: Step,
    pub parts: Vec<Part>,
    pub labour: Money,
    /// Labour and parts.
    pub sum: Money,
}

/// What some lines come to.
#[derive(Clone, Debug)]
pub struct Bill {
    pub labour: Money,
    pub parts: Money,
    pub taxes: Vec<Taxed>,
    pub tax: Money,
    pub total: Money,
}

/// Puts steps and parts together, and prices each.
///
/// # Errors
/// When an amount is larger than money here can be.
pub fn lines(steps: Vec<Step>, parts: &[Part]) -> Result<Vec<Line>> {
    let price = |step: Step| -> Result<Line, MoneyProblem> {
        let parts: Vec<Part> = parts
            .iter()
            .filter(|part| part.step == step.id)
            .cloned()
            .collect();
        let labour = if step.free {
            Money::ZERO
        } else {
            money::labour(step.planned_minutes, step.rate)?
        };
        let mut sum = labour;
        for part in parts.iter().filter(|_| !step.free) {
            sum = sum.plus(part.unit_price.times(part.quantity)?)?;
        }
        Ok(Line {
            step,
            parts,
            labour,
            sum,
        })
    };
    steps
        .into_iter()
        .map(price)
        .collect::<Result<_, _>>()
        .map_err(|problem| too_large(&problem))
}

/// What these lines come to, tax included.
///
/// # Errors
/// When an amount is larger than money here can be.
pub fn bill<'a>(lines: impl IntoIterator<Item = &'a Line>) -> Result<Bill> {
    let sum = || -> Result<Bill, MoneyProblem> {
        let (mut labour, mut parts, mut taxed) = (Money::ZERO, Money::ZERO, Vec::new());
        for line in lines {
            labour = labour.plus(line.labour)?;
            taxed.push((line.labour, line.step.tax));
            for part in line.parts.iter().filter(|_| !line.step.free) {
                let price = part.unit_price.times(part.quantity)?;
                parts = parts.plus(price)?;
                taxed.push((price, part.tax));
            }
        }
        let taxes: Vec<Taxed> = money::taxed(taxed)?
            .into_iter()
            .filter(|taxed| taxed.rate.0 > 0)
            .collect();
        let tax = Money::sum(taxes.iter().map(|taxed| taxed.tax))?;
        let total = labour.plus(parts)?.plus(tax)?;
        Ok(Bill {
            labour,
            parts,
            taxes,
            tax,
            total,
        })
    };
    sum().map_err(|problem| too_large(&problem))
}

/// What the steps come to that the customer wants, or may want: all but those they said no to.
///
/// # Errors
/// As [`bill`].
pub fn wanted(lines: &[Line]) -> Result<Bill> {
    bill(lines.iter().filter(|line| line.step.declined_at.is_none()))
}

fn too_large(problem: &MoneyProblem) -> Error {
    let mut problems = crate::form::Problems::default();
    problems.add("planned_minutes", problem.to_string());
    Error::Problems(problems)
}
