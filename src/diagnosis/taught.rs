//! What the shop has taught: where its own counts differ most, and surely, from the catalogue. Pure.
//!
//! The rule, also said on the page: a share is told from [`ENOUGH`] confirmed orders on, and P(answer | cause) from
//! [`ENOUGH_ANSWERS`] answers on, and only where the catalogue's figure lies outside the 99.9 % interval of the shop's
//! (Wilson 1927). That strict, because many hundreds of figures are compared. The strongest is the one whose nearer end
//! of the interval is the most times the catalogue's figure, or the smallest part of it.

use crate::reports::figures::interval::wilson_at;
use crate::reports::season::Season;
use crate::reports::share::Share;

use super::learn::{Counts, NONE};
use super::models::{Current, FAMILIES};
use super::rank::{Model, Question};

/// A cell of fewer confirmed orders says nothing yet.
pub const ENOUGH: i64 = 30;
/// Fewer answers to a question on orders of one cause say nothing yet.
pub const ENOUGH_ANSWERS: i64 = 20;
/// Two-sided 99.9 %: the 0.9995 quantile of the standard normal distribution.
const Z: f64 = 3.290_526_731_491_926;
/// So many of each are told.
pub const TOLD: usize = 8;

/// A figure of the shop beside that of the catalogue.
#[derive(Clone, Debug, PartialEq)]
pub struct Beside {
    pub here: Share,
    pub catalogue: f64,
    /// How far apart they are at the least: the logarithm of their ratio.
    strength: f64,
}

/// A cause that comes more often here, or more seldom.
#[derive(Clone, Debug, PartialEq)]
pub struct Oftener {
    pub cause: String,
    pub family: &'static str,
    /// Nothing for the whole year.
    pub season: Option<Season>,
    pub beside: Beside,
}

/// An answer that is given more often here with a cause, or more seldom.
#[derive(Clone, Debug, PartialEq)]
pub struct Answered {
    pub cause: String,
    pub question: String,
    pub answer: String,
    pub beside: Beside,
}

impl Beside {
    /// The two beside each other, if they surely differ.
    #[must_use]
    pub fn of(count: i64, all: i64, catalogue: f64, enough: i64) -> Option<Beside> {
        if all < enough || catalogue <= 0.0 {
            return None;
        }
        let interval = wilson_at(Z, u64::try_from(count).ok()?, u64::try_from(all).ok()?)?;
        let strength = if interval.low > catalogue {
            (interval.low / catalogue).ln()
        } else if interval.high < catalogue {
            (catalogue / interval.high).ln()
        } else {
            return None;
        };
        Some(Beside {
            here: Share::new(count, all),
            catalogue,
            strength,
        })
    }

    /// How many times the catalogue's figure: "2.3 times", "a third of"; never when it was never so here.
    #[must_use]
    pub fn times(&self) -> String {
        let ratio = self.here.rate().unwrap_or(0.0) / self.catalogue;
        if self.here.confirmed == 0 {
            "never here".to_owned()
        } else {
            let ratio = format!("{ratio:.1}");
            format!("{ratio} times")
        }
    }
}

/// The shares that differ most, over the year and in each season.
#[must_use]
pub fn shares(current: &Current, counts: &Counts) -> Vec<Oftener> {
    // Without seasons all months are of one.
    let seasons = Season::ALL.into_iter();
    let seasons =
        seasons.filter(|season| (1..=12).any(|month| current.seasons.of_month(month) == Some(*season)));
    let spans: Vec<Option<Season>> = std::iter::once(None).chain(seasons.map(Some)).collect();
    let mut all = Vec::new();
    for family in FAMILIES {
        let Some(model) = current.of_catalogue(family) else {
            continue;
        };
        for season in &spans {
            all.extend(of_family(current, counts, model, (family, *season)));
        }
    }
    all.sort_by(|a: &Oftener, b| b.beside.strength.total_cmp(&a.beside.strength));
    // A cause that differs all year is not told a second time for the season, nor the other way round.
    let mut told: Vec<Oftener> = Vec::new();
    for one in all {
        if !told
            .iter()
            .any(|known| known.cause == one.cause && known.family == one.family)
        {
            told.push(one);
        }
    }
    told.truncate(TOLD);
    told
}

fn of_family(
    current: &Current,
    counts: &Counts,
    model: &Model,
    (family, season): (&'static str, Option<Season>),
) -> Vec<Oftener> {
    let count = |cause: &str| match season {
        None => counts.confirmed(family, cause),
        Some(season) => counts.confirmed_in(family, cause, season, &current.seasons),
    };
    let usual = |at: usize| {
        let entry = &model.causes[at];
        entry.share * season.map_or(1.0, |season| entry.by_season[season as usize])
    };
    let causes = 0..model.causes.len();
    let sum: f64 = causes.clone().map(usual).sum::<f64>() + model.none_share;
    let counted: Vec<i64> = model.causes.iter().map(|entry| count(&entry.code)).collect();
    let all: i64 = counted.iter().sum::<i64>() + count(NONE);
    causes
        .filter_map(|at| {
            Some(Oftener {
                cause: model.causes[at].code.clone(),
                family,
                season,
                beside: Beside::of(counted[at], all, usual(at) / sum, ENOUGH)?,
            })
        })
        .collect()
}

/// The answers that moved most, given the cause.
#[must_use]
pub fn answers(current: &Current, counts: &Counts) -> Vec<Answered> {
    let mut all: Vec<Answered> = Vec::new();
    let mut seen: Vec<(&str, &str)> = Vec::new();
    for model in FAMILIES.iter().filter_map(|family| current.of_catalogue(family)) {
        for (at, cause) in model.causes.iter().enumerate() {
            for question in &model.questions {
                // Answers are counted over all families.
                if counts.answered(&cause.code, &question.code).is_some()
                    && !seen.contains(&(&cause.code, &question.code))
                {
                    seen.push((&cause.code, &question.code));
                    all.extend(most_moved(counts, (&cause.code, at), question));
                }
            }
        }
    }
    all.sort_by(|a, b| b.beside.strength.total_cmp(&a.beside.strength));
    all.truncate(TOLD);
    all
}

/// The answer to a question that moved most.
fn most_moved(counts: &Counts, (cause, at): (&str, usize), question: &Question) -> Option<Answered> {
    let answered = counts.answered(cause, &question.code)?;
    let count = |answer: &str| answered.get(answer).copied().unwrap_or(0);
    let all: i64 = question.answers.iter().map(|answer| count(answer)).sum();
    let moved = question.answers.iter().enumerate().filter_map(|(which, answer)| {
        Some(Answered {
            cause: cause.to_owned(),
            question: question.code.clone(),
            answer: answer.clone(),
            beside: Beside::of(count(answer), all, question.p(at, which), ENOUGH_ANSWERS)?,
        })
    });
    moved.max_by(|a, b| a.beside.strength.total_cmp(&b.beside.strength))
}

/// What the counts are drawn from.
#[must_use]
pub fn orders(counts: &Counts, current: &Current) -> i64 {
    let of = |family: &&str| {
        let causes = current.of_catalogue(family).map(|model| &model.causes);
        let causes = causes.into_iter().flatten().map(|entry| entry.code.as_str());
        causes
            .chain([NONE])
            .map(|cause| counts.confirmed(family, cause))
            .sum::<i64>()
    };
    FAMILIES.iter().map(of).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_surely_differs_is_told() {
        assert!(Beside::of(41, 310, 0.06, ENOUGH).is_some());
        assert!(Beside::of(4, 29, 0.01, ENOUGH).is_none(), "too few");
        assert!(Beside::of(20, 310, 0.06, ENOUGH).is_none(), "much the same");
        assert!(Beside::of(0, 310, 0.06, ENOUGH).is_some_and(|never| never.times() == "never here"));
        let seams = Beside::of(41, 310, 0.0575, ENOUGH);
        assert_eq!(seams.map(|seams| seams.times()), Some("2.3 times".to_owned()));
    }
}
