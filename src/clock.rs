//! The only file that asks the time: moments are milliseconds in UTC, days are days of the shop's own zone.

use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};
use time::format_description::well_known::Rfc3339;
use time::macros::format_description;
use time::{Date, Month, OffsetDateTime};

/// Julian day of 1970-01-01.
const JULIAN_1970: i64 = 2_440_588;
pub const DAY_MS: i64 = 86_400_000;

/// Tells the time, or, in tests and for an invented shop, a time that was set.
#[derive(Clone, Debug, Default)]
pub struct Clock(Hand);

#[derive(Clone, Debug, Default)]
enum Hand {
    #[default]
    Right,
    /// Goes as fast as the right one, so many milliseconds beside it.
    Beside(i64),
    Standing(Arc<AtomicI64>),
}

/// Milliseconds since 1970-01-01 00:00 UTC.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type, Serialize, Deserialize)]
#[sqlx(transparent)]
pub struct Moment(pub i64);

/// A day of the shop's calendar, counted from 1970-01-01.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type, Serialize, Deserialize)]
#[sqlx(transparent)]
pub struct Day(pub i64);

/// A calendar month: year * 12 + month - 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type, Serialize, Deserialize)]
#[sqlx(transparent)]
pub struct YearMonth(pub i64);

/// The shop's time zone, by its IANA name.
#[derive(Clone, Debug)]
pub struct Zone(TimeZone);

impl Clock {
    /// A clock that stands still until it is [set](Clock::set).
    #[must_use]
    pub fn standing(at: Moment) -> Clock {
        Clock(Hand::Standing(Arc::new(AtomicI64::new(at.0))))
    }

    /// A clock that shows this now, and runs on.
    #[must_use]
    pub fn starting_at(at: Moment) -> Clock {
        Clock(Hand::Beside(at.0 - Clock::default().now().0))
    }

    /// Moves a standing clock; a running one stays as it is.
    pub fn set(&self, at: Moment) {
        if let Hand::Standing(hand) = &self.0 {
            hand.store(at.0, Ordering::Relaxed);
        }
    }

    #[must_use]
    #[expect(clippy::disallowed_methods, reason = "this is the one place that asks")]
    pub fn now(&self) -> Moment {
        let right =
            || i64::try_from(OffsetDateTime::now_utc().unix_timestamp_nanos() / 1_000_000).unwrap_or(0);
        match &self.0 {
            Hand::Right => Moment(right()),
            Hand::Beside(ms) => Moment(right() + ms),
            Hand::Standing(hand) => Moment(hand.load(Ordering::Relaxed)),
        }
    }
}

impl Zone {
    /// The zone of an IANA name such as `Europe/Vienna`, if there is one.
    #[must_use]
    pub fn named(name: &str) -> Option<Zone> {
        TimeZone::get(name).ok().map(Zone)
    }

    /// The names of places that a shop can choose its zone by, such as `Europe/Vienna`.
    #[must_use]
    pub fn places() -> Vec<String> {
        let names = jiff::tz::db().available();
        let mut places: Vec<String> = names
            .map(|name| name.as_str().to_owned())
            .filter(|name| name.contains('/') && !name.starts_with("Etc/") && !name.starts_with("SystemV/"))
            .collect();
        places.sort();
        places
    }

    /// The local day in which a moment falls.
    #[must_use]
    pub fn day(&self, at: Moment) -> Day {
        self.local(at).0
    }

    /// The moment at which a local day begins; where a clock change skips midnight, the first moment after it.
    #[must_use]
    pub fn start(&self, day: Day) -> Moment {
        self.moment(day, 0, 0)
    }

    /// The moment of a wall-clock time; one that is skipped is moved on by the gap, one that comes twice is the first.
    #[must_use]
    pub fn moment(&self, day: Day, hour: u8, minute: u8) -> Moment {
        let date = day.date();
        let civil = jiff::civil::DateTime::new(
            i16::try_from(date.year()).unwrap_or(i16::MAX),
            i8::try_from(u8::from(date.month())).unwrap_or(1),
            i8::try_from(date.day()).unwrap_or(1),
            i8::try_from(hour.min(23)).unwrap_or(0),
            i8::try_from(minute.min(59)).unwrap_or(0),
            0,
            0,
        );
        let at = civil
            .ok()
            .and_then(|civil| self.0.to_ambiguous_timestamp(civil).compatible().ok());
        Moment(at.map_or(day.0 * DAY_MS, jiff::Timestamp::as_millisecond))
    }

    /// The local day, and hour and minute.
    #[must_use]
    pub fn local(&self, at: Moment) -> (Day, u8, u8) {
        let offset = jiff::Timestamp::from_millisecond(at.0)
            .map_or(0, |timestamp| i64::from(self.0.to_offset(timestamp).seconds()));
        let local = at.0 + offset * 1000;
        let minutes = local.rem_euclid(DAY_MS) / 60_000;
        let part = |minutes: i64| u8::try_from(minutes).unwrap_or(0);
        (
            Day(local.div_euclid(DAY_MS)),
            part(minutes / 60),
            part(minutes % 60),
        )
    }

    /// "Thu 4 Dec 16:30".
    #[must_use]
    pub fn words(&self, at: Moment) -> String {
        let (day, hour, minute) = self.local(at);
        format!("{day} {hour}:{minute:02}")
    }

    /// "Thu 4 Dec 2025 16:30", for stories that go over years.
    #[must_use]
    pub fn words_with_year(&self, at: Moment) -> String {
        let (day, hour, minute) = self.local(at);
        format!("{} {hour}:{minute:02}", day.with_year())
    }
}

impl Moment {
    /// RFC 3339 in UTC, for the API.
    #[must_use]
    pub fn rfc3339(self) -> String {
        OffsetDateTime::from_unix_timestamp_nanos(i128::from(self.0) * 1_000_000)
            .ok()
            .and_then(|at| at.format(&Rfc3339).ok())
            .unwrap_or_default()
    }

    /// Reads RFC 3339.
    #[must_use]
    pub fn parse(text: &str) -> Option<Moment> {
        let at = OffsetDateTime::parse(text, &Rfc3339).ok()?;
        i64::try_from(at.unix_timestamp_nanos() / 1_000_000)
            .ok()
            .map(Moment)
    }

    #[must_use]
    pub fn plus_ms(self, ms: i64) -> Moment {
        Moment(self.0 + ms)
    }
}

impl Day {
    #[must_use]
    pub fn date(self) -> Date {
        i32::try_from(self.0 + JULIAN_1970)
            .ok()
            .and_then(|julian| Date::from_julian_day(julian).ok())
            .unwrap_or(Date::MIN)
    }

    #[must_use]
    pub fn from_date(date: Date) -> Day {
        Day(i64::from(date.to_julian_day()) - JULIAN_1970)
    }

    /// Reads `2025-12-04` and nothing else; years 1900 to 2199.
    #[must_use]
    pub fn parse(text: &str) -> Option<Day> {
        if text.len() != 10 {
            return None;
        }
        let date = Date::parse(text, format_description!("[year]-[month]-[day]")).ok()?;
        (1900..2200).contains(&date.year()).then(|| Day::from_date(date))
    }

    /// `2025-12-04`
    #[must_use]
    pub fn iso(self) -> String {
        let date = self.date();
        format!(
            "{:04}-{:02}-{:02}",
            date.year(),
            u8::from(date.month()),
            date.day()
        )
    }

    #[must_use]
    pub fn year(self) -> i64 {
        i64::from(self.date().year())
    }

    #[must_use]
    pub fn month(self) -> YearMonth {
        let date = self.date();
        YearMonth(i64::from(date.year()) * 12 + i64::from(u8::from(date.month())) - 1)
    }

    /// "Thu 4 Dec 2025"
    #[must_use]
    pub fn with_year(self) -> String {
        format!("{self} {}", self.date().year())
    }

    #[must_use]
    pub fn plus(self, days: i64) -> Day {
        Day(self.0 + days)
    }
}

/// "Thu 4 Dec"
impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let date = self.date();
        let weekday = date.weekday().to_string();
        let month = date.month().to_string();
        write!(f, "{} {} {}", &weekday[..3], date.day(), &month[..3])
    }
}

impl YearMonth {
    /// Reads `2025-12`.
    #[must_use]
    pub fn parse(text: &str) -> Option<YearMonth> {
        (text.len() == 7)
            .then(|| Day::parse(&format!("{text}-01")))
            .flatten()
            .map(Day::month)
    }

    /// `2025-12`
    #[must_use]
    pub fn iso(self) -> String {
        format!("{:04}-{:02}", self.year(), self.month_number())
    }

    #[must_use]
    pub fn year(self) -> i64 {
        self.0.div_euclid(12)
    }

    /// 1 to 12.
    #[must_use]
    pub fn month_number(self) -> u8 {
        u8::try_from(self.0.rem_euclid(12) + 1).unwrap_or(1)
    }

    #[must_use]
    pub fn first_day(self) -> Day {
        let month = Month::try_from(self.month_number()).unwrap_or(Month::January);
        let year = i32::try_from(self.year()).unwrap_or(1970);
        Date::from_calendar_date(year, month, 1).map_or(Day(0), Day::from_date)
    }

    #[must_use]
    pub fn last_day(self) -> Day {
        self.plus(1).first_day().plus(-1)
    }

    #[must_use]
    pub fn plus(self, months: i64) -> YearMonth {
        YearMonth(self.0 + months)
    }
}

/// "December 2025"
impl fmt::Display for YearMonth {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let month = Month::try_from(self.month_number()).unwrap_or(Month::January);
        write!(f, "{month} {}", self.year())
    }
}
