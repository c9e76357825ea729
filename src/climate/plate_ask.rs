//! A plate that somebody asks about: how wide it is, of what wood and cut, and between which two airs it is to move.

use serde::Deserialize;

use crate::clock::YearMonth;
use crate::form::Problems;

use super::plate_told::{Place, PlateTold};
use super::reading::{Air, HUMIDITY_WORDS, TEMPERATURE_WORDS, hundredths};
use super::wood::{Cut, Wood};

/// In hundredths of a millimetre: what is narrower hardly moves, what is wider is no plate.
const WIDTHS: std::ops::RangeInclusive<i64> = 100..=200_000;

/// As it stands in an address.
#[derive(Clone, Debug, Default, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields, default)]
#[into_params(parameter_in = Query)]
pub struct PlateAsked {
    /// Across the plate, from 1 to 2,000, such as `208` or `243.5`.
    pub width_mm: Option<String>,
    /// `spruce` or `maple`.
    pub wood: Option<String>,
    /// `quarter`: the width runs across the growth rings; `slab`: along them.
    pub cut: Option<String>,
    /// Percent of the air that it comes from; left out: the month of the last twelve that was furthest from now, or, where
    /// `to_humidity` is said, the last 30 days here.
    pub from_humidity: Option<String>,
    /// Percent of the air that it goes to; left out: the last 30 days here.
    pub to_humidity: Option<String>,
    /// Of the air that is said; left out: 20.
    pub temperature_c: Option<String>,
}

/// The moistures of this shop, where there are readings enough.
#[derive(Clone, Copy, Debug, Default)]
pub struct Here {
    pub now: Option<f64>,
    pub furthest: Option<(YearMonth, f64)>,
}

impl PlateAsked {
    /// What it does not know of an address does not matter here.
    #[must_use]
    pub fn read(query: Option<&str>) -> PlateAsked {
        let mut asked = PlateAsked::default();
        for (name, value) in form_urlencoded::parse(query.unwrap_or_default().as_bytes()).into_owned() {
            match name.as_str() {
                "width_mm" => asked.width_mm = Some(value),
                "wood" => asked.wood = Some(value),
                "cut" => asked.cut = Some(value),
                "from_humidity" => asked.from_humidity = Some(value),
                "to_humidity" => asked.to_humidity = Some(value),
                "temperature_c" => asked.temperature_c = Some(value),
                _ => {}
            }
        }
        asked
    }

    /// What stands in a field.
    #[must_use]
    pub fn at(&self, field: &str) -> &str {
        let field = match field {
            "width_mm" => &self.width_mm,
            "wood" => &self.wood,
            "cut" => &self.cut,
            "from_humidity" => &self.from_humidity,
            "to_humidity" => &self.to_humidity,
            _ => &self.temperature_c,
        };
        field.as_deref().unwrap_or_default().trim()
    }

    /// Nothing is asked.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        let fields = [&self.width_mm, &self.wood, &self.cut, &self.from_humidity];
        let more = [&self.to_humidity, &self.temperature_c];
        fields.into_iter().chain(more).all(Option::is_none)
    }

    /// `at` stands before the name of a field that wants mending.
    ///
    /// # Errors
    /// What wants mending.
    pub fn understand(&self, here: Here, at: &str) -> Result<PlateTold, Problems> {
        let mut problems = Problems::default();
        let mut amiss = |field: &str, words: &str| problems.add(format!("{at}{field}"), words);
        let width = hundredths(self.at("width_mm")).filter(|width| WIDTHS.contains(width));
        if width.is_none() {
            amiss(
                "width_mm",
                "Write the width in millimetres from 1 to 2,000, such as 208.",
            );
        }
        let wood = Wood::ALL.into_iter().find(|wood| wood.code() == self.at("wood"));
        if wood.is_none() {
            amiss("wood", "Choose spruce or maple.");
        }
        let cut = Cut::ALL.into_iter().find(|cut| cut.code() == self.at("cut"));
        if cut.is_none() {
            amiss("cut", "Choose quarter or slab.");
        }
        let temperature = match self.at("temperature_c") {
            "" => Some(ROOM_HUNDREDTHS),
            typed => hundredths(typed).filter(|figure| (-2000..=5000).contains(figure)),
        };
        if temperature.is_none() {
            amiss("temperature_c", TEMPERATURE_WORDS);
        }
        let (from_said, to_said) = (self.at("from_humidity"), self.at("to_humidity"));
        let mut place = |field: &str, typed: &str, else_here: Option<Place>| match typed {
            "" if else_here.is_none() => {
                amiss(
                    field,
                    "Write a humidity: there are too few readings here to go by.",
                );
                None
            }
            "" => else_here,
            typed => {
                let humidity = hundredths(typed).filter(|figure| (0..=10_000).contains(figure));
                if humidity.is_none() {
                    amiss(field, HUMIDITY_WORDS);
                }
                Some(Place::Air(Air {
                    temperature: temperature.unwrap_or_default(),
                    humidity: humidity?,
                }))
            }
        };
        let now = here.now.map(Place::Now);
        let furthest = here
            .furthest
            .map(|(month, moisture)| Place::Month(month, moisture));
        let else_from = if to_said.is_empty() { furthest } else { now };
        let from = place("from_humidity", from_said, else_from);
        let to = place("to_humidity", to_said, now);
        match (width, wood, cut, from, to) {
            (Some(width), Some(wood), Some(cut), Some(from), Some(to)) if problems.is_empty() => {
                Ok(PlateTold {
                    width,
                    wood,
                    cut,
                    from,
                    to,
                })
            }
            _ => Err(problems),
        }
    }
}

/// [`super::chart::ROOM`] in hundredths of a degree.
const ROOM_HUNDREDTHS: i64 = 2000;

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(query: &str) -> Result<PlateTold, Problems> {
        let here = Here {
            now: Some(8.0),
            furthest: Some((YearMonth(2025 * 12 + 6), 11.0)),
        };
        PlateAsked::read(Some(query)).understand(here, "")
    }

    #[test]
    fn a_plate_goes_from_the_furthest_month_to_now_unless_an_air_is_said() {
        let plate = "width_mm=440&wood=spruce&cut=quarter";
        let told = asked(plate).unwrap();
        assert_eq!(
            (told.from.short().as_str(), told.to.short().as_str()),
            ("July 2025 here", "the last 30 days here")
        );
        // 440 x 0.0013 x 3.
        assert_eq!(told.answer(), "would like to be 1.7 mm narrower");
        assert_eq!(told.tenths(), "17 tenths of a millimetre.");
        let told = asked(&format!("{plate}&to_humidity=35,5")).unwrap();
        assert_eq!(
            (told.from.short().as_str(), told.to.short().as_str()),
            ("the last 30 days here", "air of 35.5 % at 20 °C")
        );
        let told = asked(&format!("{plate}&from_humidity=60&temperature_c=25")).unwrap();
        assert_eq!(
            (told.from.short().as_str(), told.to.short().as_str()),
            ("air of 60 % at 25 °C", "the last 30 days here")
        );
    }

    #[test]
    fn little_and_too_far_are_said_as_such() {
        let between = |from, to| {
            let query = format!("width_mm=100&wood=spruce&cut=quarter&from_humidity={from}&to_humidity={to}");
            asked(&query).unwrap()
        };
        assert_eq!(between(50, 50).tenths(), "Less than a tenth of a millimetre.");
        assert!(between(5, 10).is_beyond() && !between(50, 50).is_beyond());
        assert!(
            between(50, 5).tenths().starts_with("At least "),
            "{}",
            between(50, 5).tenths()
        );
        assert!(between(5, 95).answer().contains("at least"));
    }

    #[test]
    fn the_air_that_is_drawn_is_the_one_that_is_taken() {
        let room = crate::climate::reading::figure(ROOM_HUNDREDTHS);
        assert!((room - crate::climate::chart::ROOM).abs() < 1e-9);
    }
}
