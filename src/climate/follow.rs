//! A cause follows the air when it is found oftener in months whose wood was dry or damp, or was drying or taking up water.
//!
//! Each month of the last six years in which something was inspected is a group: so many confirmed of so many inspected, beside
//! the moisture of the wood over the last 30 days as somebody who came on any day of the month would have found it: the mean,
//! over the days of the month, of the mean of the 30 days up to each, and likewise of its change from the 30 days before those.
//! What was inspected is counted by month and not by day, so that no order's own 30 days are known; the mean over the days is
//! the nearest that leans to neither end of the month.

use std::collections::BTreeMap;

use crate::clock::{Day, YearMonth};
use crate::reports::figures::bartlett::correction;
use crate::reports::figures::discovery::q_values;
use crate::reports::figures::regression::{Family, Fit, Group, fit, likelihood_ratio};
use crate::reports::figures::{Z95, chi_square_2};
use crate::reports::recurrence::Totals;

use super::course::Course;

/// So many months are looked at.
pub const MONTHS: i64 = 72;
/// A window of the air.
pub const WINDOW: i64 = 30;
/// Fewer months with readings and inspections are too few to say: a year and a half has one season twice.
pub const ENOUGH_MONTHS: usize = 18;
/// A cause is weighed from so many times confirmed on: ten for each figure that is fitted (P. Peduzzi et al., J. Clin.
/// Epidemiol. 49 (1996) 1373-1379, from memory).
pub const ENOUGH_CONFIRMED: u64 = 20;
/// Told are those of whom at most one in twenty is chance.
pub const TOLD: f64 = 0.05;

/// What is known of the air of a month.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Month {
    pub month: YearMonth,
    /// Percent: the mean of the 30 days up to a day, over its days.
    pub moisture: f64,
    /// From the 30 days before those, likewise.
    pub change: f64,
}

/// How the odds go with one percent of the wood, and their 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Odds {
    pub times: f64,
    pub low: f64,
    pub high: f64,
}

/// How one cause goes with the air.
#[derive(Clone, Debug, PartialEq)]
pub struct Follows {
    pub cause: String,
    pub confirmed: u64,
    pub inspected: u64,
    /// For each percent of moisture less.
    pub drier: Odds,
    /// For each percent lost since the 30 days before.
    pub drying: Odds,
    /// Of both together against neither, by the likelihood ratio on two degrees of freedom with Bartlett's correction.
    pub p_value: f64,
    /// Over all causes that are shown.
    pub q_value: f64,
}

#[derive(Clone, Debug, Default, PartialEq)]
pub struct Weighed {
    /// Months that have both readings and inspections.
    pub months: usize,
    /// Months that were inspected in, but have no readings to go by.
    pub without: usize,
    /// The surest first.
    pub causes: Vec<Follows>,
}

/// The air of a month that is over; nothing where too few days have readings, on half of its days or more.
#[must_use]
pub fn air_of(course: &Course, month: YearMonth) -> Option<Month> {
    let (first, last) = (month.first_day(), month.last_day());
    let now = course.trailing(first, last, WINDOW);
    let before = course.trailing(first.plus(-WINDOW), last.plus(-WINDOW), WINDOW);
    let days: Vec<(f64, f64)> = now
        .iter()
        .zip(before)
        .filter_map(|(now, before)| Some(((*now)?, before?)))
        .collect();
    if days.len() * 2 < now.len() {
        return None;
    }
    let all = f64::from(u32::try_from(days.len()).ok().filter(|all| *all > 0)?);
    let moisture = days.iter().map(|day| day.0).sum::<f64>() / all;
    Some(Month {
        month,
        moisture,
        change: moisture - days.iter().map(|day| day.1).sum::<f64>() / all,
    })
}

/// The months that are weighed, the last of which was over yesterday at the latest.
#[must_use]
pub fn span(today: Day) -> (YearMonth, YearMonth) {
    let last = today.month().plus(-1);
    (last.plus(1 - MONTHS), last)
}

/// Weighs each cause against the air.
#[must_use]
pub fn weigh(course: &Course, months: &[(YearMonth, Totals)]) -> Weighed {
    let mut weighed = Weighed::default();
    let (mut all, mut of_cause) = (Vec::new(), BTreeMap::<&str, u64>::new());
    for (month, totals) in months.iter().filter(|month| month.1.inspected > 0) {
        let Some(air) = air_of(course, *month) else {
            weighed.without += 1;
            continue;
        };
        weighed.months += 1;
        for (cause, confirmed) in &totals.confirmed {
            *of_cause.entry(cause).or_default() += u64::try_from(*confirmed).unwrap_or(0);
        }
        all.push((air, totals));
    }
    if weighed.months < ENOUGH_MONTHS {
        return weighed;
    }
    let weighable = of_cause.into_iter().filter(|cause| cause.1 >= ENOUGH_CONFIRMED);
    weighed.causes = weighable.filter_map(|cause| follows(&all, cause)).collect();
    let p_values: Vec<f64> = weighed.causes.iter().map(|cause| cause.p_value).collect();
    for (cause, q_value) in weighed.causes.iter_mut().zip(q_values(&p_values)) {
        cause.q_value = q_value;
    }
    weighed
        .causes
        .sort_by(|one, other| one.p_value.total_cmp(&other.p_value));
    weighed
}

fn follows(months: &[(Month, &Totals)], (cause, confirmed): (&str, u64)) -> Option<Follows> {
    let count = |orders: i64| u64::try_from(orders).unwrap_or(0);
    let groups: Vec<Group> = months
        .iter()
        .map(|(air, totals)| {
            let found = totals.confirmed.get(cause).copied().unwrap_or_default();
            Group::new([air.moisture, air.change], count(found), count(totals.inspected))
        })
        .collect();
    let alone = fit(Family::Binomial, 1, &groups)?;
    let with_air = fit(Family::Binomial, 3, &groups)?;
    let few = correction(Family::Binomial, &alone, &with_air, &groups);
    Some(Follows {
        cause: cause.to_owned(),
        confirmed,
        inspected: months.iter().map(|month| count(month.1.inspected)).sum(),
        drier: Odds::of_less(&with_air, 1),
        drying: Odds::of_less(&with_air, 2),
        p_value: chi_square_2(likelihood_ratio(&alone, &with_air) / few),
        q_value: f64::NAN,
    })
}

impl Odds {
    /// For one percent less of what stands at this place of a fit.
    fn of_less(fit: &Fit, at: usize) -> Odds {
        let (middle, half) = (-fit.coefficient(at), Z95 * fit.standard_error(at));
        Odds {
            times: middle.exp(),
            low: (middle - half).exp(),
            high: (middle + half).exp(),
        }
    }

    /// The odds turned the way in which they grow, and whether that is for less.
    #[must_use]
    pub fn grows(&self) -> (f64, bool) {
        if self.times >= 1.0 {
            (self.times, true)
        } else {
            (1.0 / self.times, false)
        }
    }

    /// How far from making no difference, for its own uncertainty.
    fn strength(&self) -> f64 {
        self.times.ln().abs() / (self.high / self.low).ln()
    }

    /// "1.4 (1.2 to 1.7)"
    #[must_use]
    pub fn words(&self) -> String {
        format!("{:.2} ({:.2} to {:.2})", self.times, self.low, self.high)
    }
}

impl Follows {
    /// How often chance alone would do it: "0.012", "under 0.001".
    #[must_use]
    pub fn chance(&self) -> String {
        if self.p_value < 0.001 {
            "under 0.001".to_owned()
        } else {
            format!("{:.3}", self.p_value)
        }
    }

    /// Whether it is told as following the air.
    #[must_use]
    pub fn told(&self) -> bool {
        self.q_value <= TOLD
    }

    /// The stronger of the two, beside the other: "follows dry air: each 1 % less wood moisture, 1.4 times the odds".
    #[must_use]
    pub fn words(&self) -> String {
        match (self.told(), self.by_level()) {
            (false, _) => "no more with the air than chance would have it".to_owned(),
            (true, true) => level(&self.drier),
            (true, false) => change(&self.drying),
        }
    }

    /// The same for a table: "dry air", "while it dries"; nothing where it is not told.
    #[must_use]
    pub fn short(&self) -> &'static str {
        match (self.told(), self.by_level()) {
            (false, _) => "",
            (true, true) if self.drier.grows().1 => "dry air",
            (true, true) => "damp air",
            (true, false) if self.drying.grows().1 => "while the wood dries",
            (true, false) => "while it takes up water",
        }
    }

    /// Whether how dry the wood is says more than how it changes.
    fn by_level(&self) -> bool {
        self.drier.strength() >= self.drying.strength()
    }
}

fn level(odds: &Odds) -> String {
    match odds.grows() {
        (times, true) => format!("follows dry air: each 1 % less wood moisture, {times:.1} times the odds"),
        (times, false) => format!("follows damp air: each 1 % more wood moisture, {times:.1} times the odds"),
    }
}

fn change(odds: &Odds) -> String {
    match odds.grows() {
        (times, true) => {
            format!("comes while the wood dries: each 1 % lost in 30 days, {times:.1} times the odds")
        }
        (times, false) => {
            format!(
                "comes while the wood takes up water: each 1 % gained in 30 days, {times:.1} times the odds"
            )
        }
    }
}
