//! The course of the air is its days one after the other: means of a span, of the days up to a day, and of months.

use crate::clock::{Day, YearMonth};
use crate::reports::season::Season;

use super::day::AirDay;
use super::gap::GAP;

/// A span is told of from so many days with readings on.
pub const ENOUGH_DAYS: usize = 10;
/// The mean of so many days is drawn, so that a day's weather does not hide the course.
pub const SMOOTH: i64 = 7;
/// Below, the air is dry; in percent: "heating is on, indoor humidity mostly under 40 %".
pub const DRY: f64 = 40.0;
/// Above, it is damp.
pub const DAMP: f64 = 60.0;

/// The days that have readings, first to last.
#[derive(Clone, Debug, Default)]
pub struct Course(Vec<AirDay>);

/// Means over the days of a span that have readings, each day once however often somebody looked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mean {
    pub days: usize,
    pub temperature: f64,
    pub humidity: f64,
    pub moisture: f64,
    /// Of single readings.
    pub moisture_least: f64,
    pub moisture_most: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Month {
    pub month: YearMonth,
    pub mean: Option<Mean>,
}

#[expect(
    clippy::cast_precision_loss,
    reason = "days and thousandths are far below 2^53"
)]
fn thousandths(figure: i64) -> f64 {
    figure as f64 / 1000.0
}

impl Mean {
    fn of(days: &[AirDay]) -> Option<Mean> {
        let count = u32::try_from(days.len()).ok().filter(|count| *count > 0)?;
        let mean = |figure: fn(&AirDay) -> f64| days.iter().map(figure).sum::<f64>() / f64::from(count);
        Some(Mean {
            days: days.len(),
            temperature: mean(AirDay::mean_temperature),
            humidity: mean(AirDay::mean_humidity),
            moisture: mean(AirDay::mean_moisture),
            moisture_least: thousandths(days.iter().map(|day| day.moisture_least).min()?),
            moisture_most: thousandths(days.iter().map(|day| day.moisture_most).max()?),
        })
    }

    /// Enough days to speak of.
    #[must_use]
    pub fn enough(self) -> Option<Mean> {
        (self.days >= ENOUGH_DAYS).then_some(self)
    }

    #[must_use]
    pub fn season(&self) -> Season {
        season(self.humidity)
    }
}

/// What the air is, by its humidity in percent.
#[must_use]
pub fn season(humidity: f64) -> Season {
    if humidity < DRY {
        Season::Dry
    } else if humidity > DAMP {
        Season::Humid
    } else {
        Season::Change
    }
}

/// As it is said of the air.
#[must_use]
pub fn season_word(season: Season) -> &'static str {
    match season {
        Season::Dry => "dry",
        Season::Humid => "damp",
        Season::Change => "in between",
    }
}

impl Course {
    /// The days are in their order.
    #[must_use]
    pub fn new(days: Vec<AirDay>) -> Course {
        Course(days)
    }

    /// The first day that has a reading.
    #[must_use]
    pub fn first(&self) -> Option<Day> {
        self.0.first().map(|day| day.day)
    }

    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Both ends included.
    #[must_use]
    pub fn within(&self, from: Day, to: Day) -> &[AirDay] {
        let begin = self.0.partition_point(|day| day.day < from);
        let end = self.0.partition_point(|day| day.day <= to).max(begin);
        &self.0[begin..end]
    }

    #[must_use]
    pub fn mean(&self, from: Day, to: Day) -> Option<Mean> {
        Mean::of(self.within(from, to))
    }

    /// So many days, the last of which is `to`.
    #[must_use]
    pub fn up_to(&self, to: Day, days: i64) -> Option<Mean> {
        self.mean(to.plus(1 - days), to)
    }

    /// For each day from one to another, the mean moisture of so many days up to it; nothing where too few have readings.
    #[must_use]
    pub fn trailing(&self, from: Day, to: Day, days: i64) -> Vec<Option<f64>> {
        let all = self.within(from.plus(1 - days), to);
        let (mut come, mut gone) = (all.iter().peekable(), all.iter().peekable());
        let (mut sum, mut count) = (0.0, 0_u32);
        let mut upto = |day: Day| {
            while let Some(in_sight) = come.next_if(|next| next.day <= day) {
                sum += in_sight.mean_moisture();
                count += 1;
            }
            while let Some(past) = gone.next_if(|next| next.day <= day.plus(-days)) {
                sum -= past.mean_moisture();
                count -= 1;
            }
            (usize::try_from(count).unwrap_or(0) >= ENOUGH_DAYS).then(|| sum / f64::from(count))
        };
        (from.0..=to.0).map(|day| upto(Day(day))).collect()
    }

    /// So many months, the last of which is `to`.
    #[must_use]
    pub fn months(&self, to: YearMonth, months: i64) -> Vec<Month> {
        let month = |month: YearMonth| Month {
            month,
            mean: self.mean(month.first_day(), month.last_day()),
        };
        (to.0 + 1 - months..=to.0)
            .map(|at| month(YearMonth(at)))
            .collect()
    }

    /// Each day with a reading, with the mean moisture of the days up to it: runs, parted by gaps.
    #[must_use]
    pub fn runs(&self, from: Day, to: Day) -> Vec<Vec<(Day, f64)>> {
        let mut runs: Vec<Vec<(Day, f64)>> = Vec::new();
        let mut before: Option<Day> = None;
        for day in self.within(from, to) {
            let begins = before.is_none_or(|before| day.day.0 - before.0 > GAP);
            if begins {
                runs.push(Vec::new());
            }
            before = Some(day.day);
            let Some(mean) = self.up_to(day.day, SMOOTH) else {
                continue;
            };
            if let Some(run) = runs.last_mut() {
                run.push((day.day, mean.moisture));
            }
        }
        runs
    }

    /// The least and the most that days about this one were in earlier years, as many as are known.
    #[must_use]
    pub fn earlier(&self, day: Day) -> Option<(f64, f64)> {
        // Weeks before, so that weekdays fall together; a day and a quarter off each year, which no season notices.
        let years = (1..=5).flat_map(|years| {
            let then = day.plus(-364 * years);
            self.within(then.plus(-SMOOTH), then.plus(SMOOTH))
        });
        let moistures = years.map(AirDay::mean_moisture);
        moistures.fold(None, |band: Option<(f64, f64)>, moisture| {
            let (least, most) = band.unwrap_or((moisture, moisture));
            Some((least.min(moisture), most.max(moisture)))
        })
    }

    /// The same over the days of a span.
    #[must_use]
    pub fn earlier_between(&self, from: Day, to: Day) -> Option<(f64, f64)> {
        let days = (from.0..=to.0).filter_map(|day| self.earlier(Day(day)));
        days.reduce(|one, other| (one.0.min(other.0), one.1.max(other.1)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::climate::day::by_day;
    use crate::climate::reading::Air;
    use crate::clock::Zone;

    fn day(text: &str) -> Day {
        Day::parse(text).unwrap()
    }

    fn course(days: impl IntoIterator<Item = (Day, i64)>) -> Course {
        let zone = Zone::named("Europe/Vienna").unwrap();
        let readings = days.into_iter().map(|(day, humidity)| {
            let air = Air {
                temperature: 2000,
                humidity,
            };
            (zone.moment(day, 10, 0), air)
        });
        Course::new(by_day(&zone, readings))
    }

    #[test]
    fn each_day_counts_once_however_often_somebody_looked() {
        let zone = Zone::named("UTC").unwrap();
        let air = |humidity| Air {
            temperature: 2000,
            humidity,
        };
        let dry = (0..9).map(|hour| (zone.moment(Day(1), hour, 0), air(3000)));
        let damp = [(zone.moment(Day(2), 1, 0), air(5000))];
        let course = Course::new(by_day(&zone, dry.chain(damp)));
        let mean = course.mean(Day(0), Day(9)).unwrap();
        assert!((mean.humidity - 40.0).abs() < 1e-9 && mean.days == 2);
        assert!(mean.enough().is_none());
        assert!(course.mean(Day(3), Day(9)).is_none());
    }

    #[test]
    fn the_days_up_to_each_day_are_the_same_looked_at_one_by_one() {
        let from = day("2025-01-01");
        let read = (0..200).filter(|at| at % 3 != 0 && !(60..95).contains(at));
        let course = course(read.map(|at| (from.plus(at), 3000 + 37 * (at % 71))));
        let (first, last) = (from.plus(-20), from.plus(230));
        let trailing = course.trailing(first, last, 30);
        assert_eq!(trailing.len(), 251);
        let mut said = 0;
        for (at, mean) in (0..).zip(trailing) {
            let alone = course.up_to(first.plus(at), 30).and_then(Mean::enough);
            said += i32::from(mean.is_some());
            match (mean, alone) {
                (Some(mean), Some(alone)) => assert!((mean - alone.moisture).abs() < 1e-9, "{at}"),
                (None, None) => {}
                other => panic!("{at}: {other:?}"),
            }
        }
        assert!((100..230).contains(&said), "{said}");
    }

    #[test]
    fn the_band_is_of_earlier_years_alone() {
        let now = day("2026-02-10");
        let course = course([
            (now, 2000),
            (now.plus(-364), 4000),
            (now.plus(-728), 6000),
            (now.plus(-100), 9000),
        ]);
        let (least, most) = course.earlier(now).unwrap();
        // Wood Handbook (FPL-GTR-190), Table 4-2 at 70 °F: 7.7 % at 40 % relative humidity, 11.0 at 60.
        assert!(
            (least - 7.7).abs() < 0.1 && (most - 11.0).abs() < 0.1,
            "{least} {most}"
        );
        assert!(course.earlier(now.plus(-900)).is_none());
    }
}
