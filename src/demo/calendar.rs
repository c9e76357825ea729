//! The calendar is when the invented shop is open: Tuesday to Friday nine to six, Saturday nine to one, not on holidays.

use time::{Month, Weekday};

use crate::clock::{Day, Moment, YearMonth, Zone};

use super::chance::Chance;

const MINUTE: i64 = 60_000;

/// The days the shop is open, with the first and last moment of each.
pub struct Calendar {
    days: Vec<(Day, Moment, Moment)>,
}

impl Calendar {
    /// All open days from `first` to `last`.
    #[must_use]
    pub fn new(zone: &Zone, first: Day, last: Day) -> Calendar {
        let open = (first.0..=last.0).map(Day).filter_map(|day| {
            let close = closing_hour(day)?;
            Some((day, zone.moment(day, 9, 0), zone.moment(day, close, 0)))
        });
        Calendar { days: open.collect() }
    }

    /// The open days from `first` to `last`.
    pub fn between(&self, first: Day, last: Day) -> impl Iterator<Item = Day> {
        let all = self.days.iter().map(|open| open.0);
        all.filter(move |day| (first..=last).contains(day))
    }

    /// When the shop opens on a day, or on the next it opens at all.
    #[must_use]
    pub fn opening(&self, day: Day) -> Moment {
        let place = self.days.partition_point(|open| open.0 < day);
        self.days[place.min(self.days.len() - 1)].1
    }

    /// The last moment up to `end` at which the shop was open.
    #[must_use]
    pub fn open_until(&self, end: Moment) -> Moment {
        let begun = self.days.partition_point(|open| open.1 < end);
        self.days[begun.saturating_sub(1)].2.min(end)
    }

    /// The place of the first open day that is not over at `at`; the last of all if there is none.
    fn place(&self, at: Moment) -> usize {
        self.days
            .partition_point(|open| open.2 <= at)
            .min(self.days.len() - 1)
    }

    /// When so many minutes of open time have gone by after `at`.
    #[must_use]
    pub fn after(&self, at: Moment, minutes: i64) -> Moment {
        let mut place = self.place(at);
        let mut at = at.max(self.days[place].1);
        let mut left = minutes * MINUTE;
        while at.0 + left >= self.days[place].2.0 && place + 1 < self.days.len() {
            left -= self.days[place].2.0 - at.0;
            place += 1;
            at = self.days[place].1;
        }
        at.plus_ms(left.max(0))
    }

    /// A moment on the open day that comes `days` open days after that of `at`, and not before `at`.
    #[must_use]
    pub fn later(&self, at: Moment, days: i64, chance: &mut Chance) -> Moment {
        if days <= 0 {
            return self.after(at, chance.range(15, 150));
        }
        let place = self.place(at) + usize::try_from(days).unwrap_or(0);
        let (_, open, close) = self.days[place.min(self.days.len() - 1)];
        open.plus_ms(chance.range(5, (close.0 - open.0) / MINUTE - 30) * MINUTE)
            .max(self.after(at, 5))
    }

    /// The open day, so many open days after this one.
    #[must_use]
    pub fn day_after(&self, day: Day, days: i64) -> Day {
        let place =
            self.days.partition_point(|open| open.0 <= day) + usize::try_from(days.max(1)).unwrap_or(1) - 1;
        self.days[place.min(self.days.len() - 1)].0
    }

    /// Moments in order, at which people come in on a day, none at or after `end`.
    #[must_use]
    pub fn callers(&self, day: Day, count: usize, end: Moment, chance: &mut Chance) -> Vec<Moment> {
        let place = self
            .days
            .partition_point(|open| open.0 < day)
            .min(self.days.len() - 1);
        let (_, open, close) = self.days[place];
        let minutes = ((close.0.min(end.0) - open.0) / MINUTE - 10).max(1);
        let mut all: Vec<Moment> = (0..count)
            .map(|_| {
                let second = chance.range(0, minutes * 60 - 1);
                open.plus_ms((second + 60) * 1000)
            })
            .collect();
        all.sort();
        all
    }
}

/// The hour the shop closes on that day; none if it does not open.
fn closing_hour(day: Day) -> Option<u8> {
    if is_holiday(day) {
        return None;
    }
    match day.date().weekday() {
        Weekday::Sunday | Weekday::Monday => None,
        Weekday::Saturday => Some(13),
        _ => Some(18),
    }
}

/// Austria's public holidays (Feiertagsruhegesetz), and the shop's own: a week in August, the days round New Year.
#[must_use]
pub fn is_holiday(day: Day) -> bool {
    let date = day.date();
    let after_easter = day.0 - easter(i64::from(date.year())).0;
    let own = matches!(
        (date.month(), date.day()),
        (Month::January, 1 | 6)
            | (Month::May | Month::November, 1)
            | (Month::August, 8..=15)
            | (Month::October, 26)
            | (Month::December, 8 | 24..=31)
    );
    own || matches!(after_easter, 1 | 39 | 50 | 60)
}

/// Easter Sunday by the anonymous Gregorian rule (as in J. Meeus, Astronomical Algorithms, 1991).
#[must_use]
pub fn easter(year: i64) -> Day {
    let (golden, century, of_century) = (year % 19, year / 100, year % 100);
    let moon_drift = (8 * century + 13) / 25;
    let epact = (19 * golden + century - century / 4 - moon_drift + 15) % 30;
    let weekday = (32 + 2 * (century % 4) + 2 * (of_century / 4) - epact - of_century % 4) % 7;
    let late = (golden + 11 * epact + 22 * weekday) / 451;
    let march = epact + weekday - 7 * late + 22; // the day of March, 32 being the first of April
    YearMonth(year * 12 + 2).first_day().plus(march - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Day {
        Day::parse(text).expect("a day")
    }

    /// Dates of Easter as printed in any church calendar, from memory; 1961 and 2000 are Meeus's own examples.
    #[test]
    fn easter_is_when_the_calendar_says() {
        for date in [
            "1961-04-02",
            "2000-04-23",
            "2019-04-21",
            "2024-03-31",
            "2025-04-20",
            "2026-04-05",
        ] {
            assert_eq!(easter(day(date).year()), day(date));
        }
    }

    #[test]
    fn the_shop_is_open_when_its_door_says() {
        let open = |text| closing_hour(day(text));
        assert_eq!(open("2026-02-20"), Some(18)); // a Friday
        assert_eq!(open("2026-02-21"), Some(13));
        assert_eq!(open("2026-02-22"), None);
        assert_eq!(open("2026-02-23"), None);
        assert_eq!(open("2026-06-04"), None); // Corpus Christi
        assert_eq!(open("2025-12-26"), None);
    }

    #[test]
    fn work_goes_on_at_the_next_opening() {
        let zone = Zone::named("Europe/Vienna").expect("a zone");
        let calendar = Calendar::new(&zone, day("2026-02-01"), day("2026-03-31"));
        let at = zone.moment(day("2026-02-21"), 12, 30); // a Saturday
        assert_eq!(calendar.after(at, 20), zone.moment(day("2026-02-21"), 12, 50));
        assert_eq!(calendar.after(at, 60), zone.moment(day("2026-02-24"), 9, 30));
        assert_eq!(calendar.day_after(day("2026-02-21"), 1), day("2026-02-24"));
    }
}
