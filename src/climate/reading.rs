//! A reading is what the hygrometer showed at one moment: temperature and relative humidity, and how it came to us.

use std::collections::BTreeMap;

use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::{Day, Moment, Zone};
use crate::db::{Read, Tx, insert_rows};
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::staff::Who;

use super::{day, wood};

/// A clock of a sender may be fast by so much.
const FAST: i64 = 5 * 60_000;
/// Nothing was read before 1900 that a shop would bring in.
const FIRST: Day = Day(-25_567);

pub const TEMPERATURE_WORDS: &str = "Write the temperature in °C from \u{2212}20 to 50, such as 20.5.";
pub const HUMIDITY_WORDS: &str = "Write the relative humidity in percent from 0 to 100, such as 43.";

/// Temperature in hundredths of a degree Celsius, relative humidity in hundredths of a percent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, FromRow)]
pub struct Air {
    pub temperature: i64,
    pub humidity: i64,
}

/// How a reading came to us.
#[derive(Clone, Copy, Debug, PartialEq, Eq, sqlx::Type)]
#[sqlx(type_name = "text", rename_all = "lowercase")]
pub enum Came {
    Typed,
    File,
    Sent,
}

#[derive(Clone, Debug, FromRow)]
pub struct Reading {
    pub id: Uuid,
    pub at: Moment,
    #[sqlx(flatten)]
    pub air: Air,
    pub came: Came,
    pub by_name: String,
    /// Nobody: a program sent it.
    pub staff: Option<Uuid>,
}

/// A reading that is to be kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NewReading {
    pub at: Moment,
    pub air: Air,
}

/// What became of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fate {
    Kept(Uuid),
    /// The same was there already.
    Known(Uuid),
    /// At this moment the hygrometer showed something else; that stays.
    Other(Air),
}

/// Hundredths of a figure as it is typed: "20.5", "20,5", "−3"; more places are rounded, half away from nought.
#[must_use]
pub fn hundredths(text: &str) -> Option<i64> {
    let text = text.trim().trim_end_matches(['%', 'C', '°']).trim_end();
    let (negative, digits) = match text.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => (true, rest),
        None => (false, text),
    };
    let (whole, part) = digits.split_once(['.', ',']).unwrap_or((digits, "0"));
    let plain = |digits: &str| !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    if !plain(whole) || !plain(part) || whole.len() > 6 {
        return None;
    }
    let place = |at: usize| part.as_bytes().get(at).map_or(0, |b| i64::from(b - b'0'));
    let all = whole.parse::<i64>().ok()? * 100 + place(0) * 10 + place(1) + i64::from(place(2) >= 5);
    Some(if negative { -all } else { all })
}

/// The same of a number; nothing where no figure of the air lies.
#[must_use]
#[expect(clippy::cast_possible_truncation, reason = "within 100,000 either way")]
pub fn hundredths_of(number: f64) -> Option<i64> {
    (number.abs() < 1000.0).then(|| (number * 100.0).round() as i64)
}

/// A figure in hundredths as a number.
#[must_use]
#[expect(
    clippy::cast_precision_loss,
    reason = "figures of the air and their sums are far below 2^53"
)]
pub fn figure(hundredths: i64) -> f64 {
    hundredths as f64 / 100.0
}

impl Air {
    /// Read at the fields, or what wants mending.
    pub fn check(
        problems: &mut Problems,
        (temperature_at, humidity_at): (&str, &str),
        temperature: Option<i64>,
        humidity: Option<i64>,
    ) -> Option<Air> {
        let temperature = temperature.filter(|figure| (-2000..=5000).contains(figure));
        let humidity = humidity.filter(|figure| (0..=10_000).contains(figure));
        if temperature.is_none() {
            problems.add(temperature_at, TEMPERATURE_WORDS);
        }
        if humidity.is_none() {
            problems.add(humidity_at, HUMIDITY_WORDS);
        }
        Some(Air {
            temperature: temperature?,
            humidity: humidity?,
        })
    }

    /// What wood comes to in it, in thousandths of a percent.
    #[must_use]
    #[expect(clippy::cast_possible_truncation, reason = "below a hundred percent")]
    pub fn moisture(self) -> i64 {
        (wood::moisture(figure(self.temperature), figure(self.humidity)) * 1000.0).round() as i64
    }

    /// Why it is looked at twice, though it is kept: rooms that people work in lie within (common practice, no source).
    #[must_use]
    pub fn odd(self) -> Option<&'static str> {
        match (self.temperature, self.humidity) {
            (_, ..1500) => Some("That is very dry for a room. Look at the hygrometer once more."),
            (_, 8501..) => Some("That is very damp for a room. Look at the hygrometer once more."),
            (..500, _) => Some("That is very cold for a room. Look at the hygrometer once more."),
            (3501.., _) => Some("That is very warm for a room. Look at the hygrometer once more."),
            _ => None,
        }
    }

    /// What such air means, in a sentence: 40 to 60 % is what makers and teachers ask for most.
    #[must_use]
    pub fn meaning(self) -> &'static str {
        match self.humidity {
            ..3000 => {
                "Very dry: plates shrink, seams open and cracks begin. Give the room water, then the cases."
            }
            3000..4000 => "Dry: plates shrink and seams let go.",
            4000..=6000 => "In between, where most makers want it.",
            6001..=7500 => "Damp: plates swell, strings stand higher, pegs stick.",
            _ => "Very damp: glue softens and mould comes. Air the room and the cases.",
        }
    }

    /// "7.9 %": what wood comes to in it.
    #[must_use]
    pub fn wood(self) -> String {
        wood::percent(wood::moisture(figure(self.temperature), figure(self.humidity)))
    }

    /// "20.5 °C, 43 %"
    #[must_use]
    pub fn words(self) -> String {
        format!("{} °C, {} %", said(self.temperature), said(self.humidity))
    }
}

/// "43", "43.5", "−3.25"
#[must_use]
pub fn said(hundredths: i64) -> String {
    let text = format!("{}.{:02}", hundredths.abs() / 100, hundredths.abs() % 100);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    let sign = if hundredths < 0 { "\u{2212}" } else { "" };
    format!("{sign}{text}")
}

/// A moment as a file or a program writes it: RFC 3339, or a day and a time of the shop's zone, "2026-02-10 09:30".
#[must_use]
pub fn moment(text: &str, zone: &Zone) -> Option<Moment> {
    let text = text.trim();
    if let Some(at) = Moment::parse(text) {
        return Some(at);
    }
    let (day, time) = text.split_once([' ', 'T'])?;
    zone_moment(day, time, zone)
}

/// A day and a time of the shop's zone.
#[must_use]
pub fn zone_moment(day: &str, time: &str, zone: &Zone) -> Option<Moment> {
    let day = Day::parse(day.trim())?;
    let parts: Vec<&str> = time.trim().split(':').collect();
    let part = |at: usize, below: u8| {
        let digits = parts.get(at).copied().unwrap_or("0");
        let plain = matches!(digits.len(), 1..=2) && digits.bytes().all(|b| b.is_ascii_digit());
        let number = digits.parse::<u8>().ok()?;
        (plain && number < below).then_some(number)
    };
    if !(2..=3).contains(&parts.len()) {
        return None;
    }
    let seconds = part(2, 60)?;
    let at = zone.moment(day, part(0, 24)?, part(1, 60)?);
    Some(at.plus_ms(i64::from(seconds) * 1000))
}

/// Why nothing can have been read at that moment.
#[must_use]
pub fn amiss(at: Moment, now: Moment) -> Option<&'static str> {
    if at.0 > now.0 + FAST {
        Some("That is still to come.")
    } else if at.0 < FIRST.0 * crate::clock::DAY_MS {
        Some("Write a year from 1900 on.")
    } else {
        None
    }
}

impl Reading {
    /// # Errors
    /// Not found, or what the database says.
    pub async fn get(mut on: impl Read, id: Uuid) -> Result<Reading> {
        let reading = on.read("select * from reading where id = $1").bind(id);
        reading.optional().await?.ok_or(Error::NotFound)
    }

    /// The last few, latest first.
    ///
    /// # Errors
    /// What the database says.
    pub async fn latest(mut on: impl Read, few: i64) -> Result<Vec<Reading>> {
        let readings = on.read("select * from reading order by at desc limit $1");
        Ok(readings.bind(few).all().await?)
    }
}

/// Whoever changes readings comes one after the other, so that nothing is counted twice.
///
/// # Errors
/// What the database says.
pub async fn turn(tx: &mut Tx) -> Result<i64> {
    let (version,): (i64,) = tx
        .query("update air set version = version + 1 where id = 1 returning version")
        .one()
        .await?;
    Ok(version)
}

/// How often the readings were changed.
///
/// # Errors
/// What the database says.
pub async fn version(mut on: impl Read) -> Result<i64> {
    let (version,): (i64,) = on.read("select version from air where id = 1").one().await?;
    Ok(version)
}

/// Keeps readings and the days they belong to; what became of each, in their order.
///
/// # Errors
/// What the database says; then nothing is kept.
pub async fn keep(tx: &mut Tx, who: &Who, came: Came, zone: &Zone, new: &[NewReading]) -> Result<Vec<Fate>> {
    let moments = new.iter().map(|reading| reading.at);
    let (Some(first), Some(last)) = (moments.clone().min(), moments.max()) else {
        return Ok(Vec::new());
    };
    turn(tx).await?;
    let there: Vec<Reading> = tx
        .query("select * from reading where at >= $1 and at <= $2")
        .bind(first)
        .bind(last)
        .all()
        .await?;
    let mut known: BTreeMap<i64, (Uuid, Air)> = there
        .into_iter()
        .map(|reading| (reading.at.0, (reading.id, reading.air)))
        .collect();
    let (mut fates, mut rows) = (Vec::with_capacity(new.len()), Vec::new());
    for reading in new {
        fates.push(match known.get(&reading.at.0) {
            Some((id, air)) if *air == reading.air => Fate::Known(*id),
            Some((_, air)) => Fate::Other(*air),
            None => {
                let id = Uuid::now_v7();
                known.insert(reading.at.0, (id, reading.air));
                rows.push(Reading {
                    id,
                    at: reading.at,
                    air: reading.air,
                    came,
                    by_name: who.name.clone(),
                    staff: who.staff,
                });
                Fate::Kept(id)
            }
        });
    }
    insert(tx, &rows).await?;
    let all = rows.iter().map(|reading| (reading.at, reading.air));
    day::add(tx, &day::by_day(zone, all)).await?;
    Ok(fates)
}

/// The rows alone.
///
/// # Errors
/// What the database says.
pub async fn insert(tx: &mut Tx, readings: &[Reading]) -> Result<()> {
    let into = "insert into reading (id, at, temperature, humidity, came, by_name, staff) values";
    insert_rows(tx, into, 7, readings, |query, reading| {
        query
            .bind(reading.id)
            .bind(reading.at)
            .bind(reading.air.temperature)
            .bind(reading.air.humidity)
            .bind(reading.came)
            .bind(reading.by_name.clone())
            .bind(reading.staff)
    })
    .await?;
    Ok(())
}

/// Takes a reading out that was none, and counts its day anew.
///
/// # Errors
/// Not found, or what the database says.
pub async fn take_out(tx: &mut Tx, zone: &Zone, id: Uuid) -> Result<Reading> {
    turn(tx).await?;
    let reading = Reading::get(&mut *tx, id).await?;
    tx.query("delete from reading where id = $1")
        .bind(id)
        .execute()
        .await?;
    day::anew(tx, zone, zone.day(reading.at)).await?;
    Ok(reading)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_read_as_people_type_them() {
        let read = [
            ("20.5", Some(2050)),
            (" 43 % ", Some(4300)),
            ("43,25", Some(4325)),
            ("\u{2212}3", Some(-300)),
            ("-0.005", Some(-1)),
            ("21.4837", Some(2148)),
            ("21 °C", Some(2100)),
            ("", None),
            (".5", None),
            ("4 3", None),
            ("1e3", None),
            ("forty", None),
            ("1.2.3", None),
            ("12345678", None),
        ];
        for (text, figure) in read {
            assert_eq!(hundredths(text), figure, "{text}");
        }
        assert_eq!(
            (said(4300), said(-325), said(5), said(4350)),
            ("43".into(), "\u{2212}3.25".into(), "0.05".into(), "43.5".into())
        );
        assert_eq!(
            (hundredths_of(20.456), hundredths_of(f64::NAN), hundredths_of(1e9)),
            (Some(2046), None, None)
        );
    }

    #[test]
    fn a_moment_is_read_with_and_without_its_zone() {
        let zone = Zone::named("Europe/Vienna").unwrap();
        let at = Moment::parse("2026-02-10T09:00:00Z");
        for text in [
            "2026-02-10T09:00:00Z",
            "2026-02-10 10:00",
            "2026-02-10T10:00:00",
            " 2026-02-10 10:00 ",
            "2026-02-10T10:00:00+01:00",
        ] {
            assert_eq!(moment(text, &zone), at, "{text}");
        }
        for text in [
            "",
            "2026-02-10",
            "2026-02-30 10:00",
            "2026-02-10 24:00",
            "2026-02-10 10",
            "10:00",
            "2026-02-10 1:2:3:4",
            "2026-02-10 +1:00",
        ] {
            assert_eq!(moment(text, &zone), None, "{text}");
        }
    }
}
