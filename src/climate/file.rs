//! A file of readings is a table with a header: each line is taken, or told why not, and nothing is taken twice.

use csv::{ReaderBuilder, StringRecord};

use crate::clock::{Moment, Zone};
use crate::error::Result;
use crate::form::Problems;

use super::reading::{Air, Fate, HUMIDITY_WORDS, NewReading, TEMPERATURE_WORDS, amiss, hundredths, moment};

/// The longest file: a year of a reading every five minutes.
pub const LONGEST: usize = 4 * 1024 * 1024;
pub const HEAD: [&str; 3] = ["at", "temperature_c", "relative_humidity"];

/// What a file holds.
#[derive(Debug, Default)]
pub struct Lines {
    /// With the number of its line.
    pub readings: Vec<(u64, NewReading)>,
    /// The line, and why it is not taken.
    pub left: Vec<(u64, String)>,
}

/// What became of a file.
#[derive(Debug, Default)]
pub struct Brought {
    pub kept: usize,
    pub known: usize,
    /// Kept, but looked at twice.
    pub odd: usize,
    pub left: Vec<(u64, String)>,
}

/// Reads a file; commas or semicolons between, decimals with a point or, between semicolons, a comma.
///
/// # Errors
/// What is amiss with the file as a whole.
pub fn read(bytes: &[u8], zone: &Zone, now: Moment) -> Result<Lines> {
    let mut problems = Problems::default();
    let text = std::str::from_utf8(bytes).unwrap_or_else(|_| {
        problems.add("file", "This is no text in UTF-8. Save it as CSV in UTF-8.");
        ""
    });
    let text = text.trim_start_matches('\u{feff}');
    let head = text.lines().next().unwrap_or_default();
    let between = if head.contains(';') { b';' } else { b',' };
    let mut table = ReaderBuilder::new()
        .delimiter(between)
        .flexible(true)
        .from_reader(text.as_bytes());
    let names = table.headers().cloned().unwrap_or_default();
    let place = |name: &str| {
        let mut all = names.iter();
        all.position(|column| column.trim().eq_ignore_ascii_case(name))
    };
    let [Some(at), Some(temperature), Some(humidity)] = HEAD.map(place) else {
        if problems.is_empty() {
            problems.add(
                "file",
                format!("The first line must name the columns: {}.", HEAD.join(",")),
            );
        }
        return Err(problems.into());
    };
    let mut lines = Lines::default();
    for row in table.records() {
        let Ok(row) = row else { continue }; // text was read already: nothing is left that can break
        let number = row.position().map_or(0, csv::Position::line);
        match line(&row, [at, temperature, humidity], zone, now) {
            Ok(reading) => lines.readings.push((number, reading)),
            Err(why) => lines.left.push((number, why)),
        }
    }
    Ok(lines)
}

fn line(row: &StringRecord, at: [usize; 3], zone: &Zone, now: Moment) -> Result<NewReading, String> {
    let [when, temperature, humidity] = at.map(|at| row.get(at).unwrap_or_default());
    let Some(at) = moment(when, zone) else {
        return Err("Write the moment as 2026-02-10 09:30, in the shop’s time, or with its zone.".into());
    };
    if let Some(why) = amiss(at, now) {
        return Err(why.into());
    }
    let mut problems = Problems::default();
    let air = Air::check(
        &mut problems,
        (HEAD[1], HEAD[2]),
        hundredths(temperature),
        hundredths(humidity),
    );
    match (air, problems.at(HEAD[1])) {
        (Some(air), _) => Ok(NewReading { at, air }),
        (None, "") => Err(HUMIDITY_WORDS.into()),
        (None, _) => Err(TEMPERATURE_WORDS.into()),
    }
}

impl Lines {
    #[must_use]
    pub fn new_readings(&self) -> Vec<NewReading> {
        self.readings.iter().map(|line| line.1).collect()
    }

    /// What became of them.
    #[must_use]
    pub fn brought(self, fates: &[Fate]) -> Brought {
        let mut brought = Brought {
            left: self.left,
            ..Brought::default()
        };
        for ((number, reading), fate) in self.readings.iter().zip(fates) {
            match fate {
                Fate::Kept(_) => {
                    brought.kept += 1;
                    brought.odd += usize::from(reading.air.odd().is_some());
                }
                Fate::Known(_) => brought.known += 1,
                Fate::Other(air) => brought.left.push((
                    *number,
                    format!(
                        "At this moment there is another reading: {}. That one stays.",
                        air.words()
                    ),
                )),
            }
        }
        brought.left.sort_by_key(|line| line.0);
        brought
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Lines> {
        let zone = Zone::named("Europe/Vienna").unwrap();
        super::read(text.as_bytes(), &zone, Moment(1_770_714_000_000))
    }

    #[test]
    fn every_line_is_taken_or_told() {
        let lines = read(
            "at,temperature_c,relative_humidity\n2026-02-09 10:00,20.5,41\nsoon,20,40\n2026-02-09 11:00,20\n\
             2026-02-09T12:00:00Z,99,41\n2027-01-01 10:00,20,40\n2026-02-09 13:00,20,140\n",
        )
        .unwrap();
        assert_eq!(lines.readings.len(), 1);
        let left: Vec<u64> = lines.left.iter().map(|line| line.0).collect();
        assert_eq!(left, [3, 4, 5, 6, 7]);
    }

    #[test]
    fn columns_stand_in_any_order_and_decimals_have_commas_between_semicolons() {
        let lines =
            read("\u{feff}place;Relative_Humidity;at;temperature_c\r\nbench;41,5;2026-02-09 10:00;20,25\r\n")
                .unwrap();
        assert_eq!(
            lines.readings[0].1.air,
            Air {
                temperature: 2025,
                humidity: 4150
            }
        );
        assert!(read("").is_err() && read("a,b,c\n1,2,3\n").is_err());
        let zone = Zone::named("UTC").unwrap();
        assert!(super::read(&[0xff, 0xfe, 0x61], &zone, Moment(0)).is_err());
    }
}
