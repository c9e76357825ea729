//! The plan says how many instruments come in on each day: more every year, by month and weekday, and who is still here.

use crate::clock::{Day, Moment};
use crate::counter::stage::Stage;

use super::calendar::Calendar;
use super::chance::{Chance, real, whole};

/// What comes in on one day.
#[derive(Clone, Debug)]
pub struct Today {
    pub day: Day,
    /// Those that went home before the history ends.
    pub done: usize,
    /// Those that are still in the shop, and where they stand.
    pub open: Vec<Stage>,
}

/// How busy each month is, January first: term begins in September and ends in June, in summer people are away.
const MONTHS: [f64; 12] = [1.05, 0.95, 1.0, 0.95, 0.95, 1.15, 0.8, 0.65, 1.45, 1.2, 1.1, 0.9];

/// Of those still here: stage, how many of each fifty, and how many open days ago they came at least and at most.
const HERE: [(Stage, usize, usize, usize); 8] = [
    (Stage::Received, 9, 0, 1),
    (Stage::Inspecting, 7, 0, 5),
    (Stage::AwaitingApproval, 7, 1, 9),
    (Stage::Approved, 6, 1, 9),
    (Stage::InRepair, 8, 1, 11),
    (Stage::PlayTest, 4, 1, 8),
    (Stage::Ready, 7, 1, 15),
    (Stage::Returned, 3, 2, 12),
];
/// Over so many open days before the end the shop fills up with those still here.
const FILLING: usize = 12;

/// The days of a history of so many orders, from the first to the one on which it ends.
#[must_use]
pub fn days(
    calendar: &Calendar,
    chance: &mut Chance,
    orders: u64,
    first: Day,
    end: (Day, Moment),
) -> Vec<Today> {
    let mut days: Vec<Day> = calendar.between(first, end.0).collect();
    // A day that had not begun when the history ends has nothing in it.
    while days.len() > 1 && days.last().is_some_and(|day| calendar.opening(*day) >= end.1) {
        days.pop();
    }
    let here = usize::try_from(orders / 6).unwrap_or(0).min(44 + chance.below(8));
    let open = still_here(chance, days.len(), here);
    let done = whole_counts(
        &weights(&days, chance, end.0),
        orders - u64::try_from(here).unwrap_or(0),
    );
    let mut all: Vec<Today> = days
        .into_iter()
        .zip(done)
        .map(|(day, done)| Today {
            day,
            done,
            open: Vec::new(),
        })
        .collect();
    for (back, stage) in open {
        let place = all.len() - 1 - back;
        all[place].open.push(stage);
    }
    all
}

/// How many open days ago each came that is still here.
fn still_here(chance: &mut Chance, days: usize, here: usize) -> Vec<(usize, Stage)> {
    let all: usize = HERE.iter().map(|row| row.1).sum();
    (0..here)
        .map(|at| {
            // Even strides through the table, so that few orders too have some of each.
            let mut place = (at * all + all / 2) / here.max(1);
            let row = HERE.iter().find(|row| {
                let inside = place < row.1;
                place = place.saturating_sub(if inside { 0 } else { row.1 });
                inside
            });
            let (stage, _, least, most) = row.copied().unwrap_or(HERE[0]);
            let back = least + chance.below(most - least + 1);
            (back.min(days - 1), stage)
        })
        .collect()
}

fn weights(days: &[Day], chance: &mut Chance, end: Day) -> Vec<f64> {
    let last = days.len() - 1;
    let weight = |(at, day): (usize, &Day)| {
        let years = real(day.0 - days[0].0) / 365.25;
        let growth = 1.11_f64.powf(years);
        let month = MONTHS[usize::from(day.month().month_number() - 1)];
        let weekday = match day.date().weekday() {
            time::Weekday::Tuesday => 1.25,
            time::Weekday::Saturday => 0.9,
            _ => 1.0,
        };
        // The last days belong to those still here; the very last has only begun.
        let back = last - at;
        let filling = if back == 0 && *day == end {
            0.0
        } else {
            real(i64::try_from(back.min(FILLING)).unwrap_or(0) + 1)
                / real(i64::try_from(FILLING).unwrap_or(0) + 1)
        };
        growth * month * weekday * filling * chance.spread(0.25)
    };
    days.iter().enumerate().map(weight).collect()
}

/// Whole numbers in the proportion of the weights, with exactly this sum.
fn whole_counts(weights: &[f64], sum: u64) -> Vec<usize> {
    let all: f64 = weights.iter().sum();
    let sum = real(i64::try_from(sum).unwrap_or(0));
    let (mut so_far, mut given) = (0.0, 0);
    weights
        .iter()
        .map(|weight| {
            so_far += weight;
            let due = if all > 0.0 { whole(so_far / all * sum) } else { 0 };
            let count = due - given;
            given = due;
            usize::try_from(count).unwrap_or(0)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::Zone;

    #[test]
    fn every_order_has_its_day() {
        let zone = Zone::named("Europe/Vienna").expect("a zone");
        let end = Day::parse("2026-02-20").expect("a day");
        let first = end.plus(-800);
        let calendar = Calendar::new(&zone, first, end.plus(100));
        for orders in [0, 1, 5, 300, 12_345] {
            let mut chance = Chance::of(1, "plan", 0);
            let all = days(
                &calendar,
                &mut chance,
                orders,
                first,
                (end, zone.moment(end, 10, 0)),
            );
            let here: usize = all.iter().map(|today| today.open.len()).sum();
            let done: usize = all.iter().map(|today| today.done).sum();
            assert_eq!(u64::try_from(here + done).expect("a count"), orders);
            assert!(
                orders < 300 || (30..=60).contains(&here),
                "{here} still here of {orders}"
            );
            assert_eq!(all.last().map(|today| today.done), Some(0));
        }
    }
}
