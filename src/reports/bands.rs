//! Bands are how coarsely the shop's reports tell the age of an instrument at intake: in years, by the bounds the owner set.

use serde::{Deserialize, Serialize};

/// Where bands begin unless the owner says otherwise. Common practice, no source: the trade speaks of new, student,
/// middle-aged and old.
pub const USUAL: [i64; 4] = [2, 20, 80, 100];

/// At most so many bounds: more bands than that are too thin to say anything of, and too many to look at.
const MOST: usize = 7;
/// No bound is higher: nothing older than the violin itself comes in.
const HIGHEST: i64 = 400;

/// The years under which each band ends and from which the next counts, rising; none: one band of every known age. An age that
/// is not known is a band of its own, never folded into another and never dropped.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "Vec<i64>", into = "Vec<i64>")]
pub struct Bands(Vec<i64>);

/// One of them, by its place: the youngest first, the one not known last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Band(usize);

/// Why bounds are none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotBands {
    #[error("Write whole years with commas between, such as 2, 20, 80, 100.")]
    NoYears,
    #[error("Write at most seven ages: more bands than that are too thin to say anything of.")]
    TooMany,
    #[error("Each of these ages is 1 to 400 years.")]
    Beyond,
    #[error("Write the ages from the youngest to the oldest, each once.")]
    NotRising,
}

impl Default for Bands {
    fn default() -> Bands {
        Bands(USUAL.into())
    }
}

impl TryFrom<Vec<i64>> for Bands {
    type Error = NotBands;

    fn try_from(bounds: Vec<i64>) -> Result<Bands, NotBands> {
        match bounds.len() {
            n if n > MOST => Err(NotBands::TooMany),
            _ if bounds.iter().any(|bound| !(1..=HIGHEST).contains(bound)) => Err(NotBands::Beyond),
            _ if !bounds.is_sorted_by(|one, next| one < next) => Err(NotBands::NotRising),
            _ => Ok(Bands(bounds)),
        }
    }
}

impl From<Bands> for Vec<i64> {
    fn from(bands: Bands) -> Vec<i64> {
        bands.0
    }
}

/// How old an instrument is in a year, by years alone: the month of making is never known.
///
/// A year made after the year of intake is refused at the counter. Should one turn up here all the same, it says nothing
/// about the age.
#[must_use]
pub fn age(year_made: Option<i64>, on_year: i64) -> Option<i64> {
    year_made
        .and_then(|made| on_year.checked_sub(made))
        .filter(|age| *age >= 0)
}

impl Band {
    /// Its place among the bands, from 0.
    #[must_use]
    pub fn place(self) -> usize {
        self.0
    }
}

impl Bands {
    /// As typed: "2, 20, 80, 100".
    ///
    /// # Errors
    /// What they are not.
    pub fn parse(typed: &str) -> Result<Bands, NotBands> {
        let parts = typed.split([',', ';', ' ', '\u{a0}', '\n', '\r', '\t']);
        let years: Result<Vec<i64>, _> = parts.filter(|part| !part.is_empty()).map(str::parse).collect();
        years.map_err(|_| NotBands::NoYears)?.try_into()
    }

    /// As it is typed.
    #[must_use]
    pub fn typed(&self) -> String {
        self.joined(", ")
    }

    /// As it is kept.
    #[must_use]
    pub fn kept(&self) -> String {
        self.joined(" ")
    }

    fn joined(&self, between: &str) -> String {
        let bounds: Vec<String> = self.0.iter().map(i64::to_string).collect();
        bounds.join(between)
    }

    #[must_use]
    pub fn bounds(&self) -> &[i64] {
        &self.0
    }

    /// How many there are, the one not known among them.
    #[must_use]
    pub fn count(&self) -> usize {
        self.0.len() + 2
    }

    /// Youngest first, the one not known last.
    pub fn all(&self) -> impl Iterator<Item = Band> + use<> {
        (0..self.count()).map(Band)
    }

    /// Without the one not known.
    pub fn known(&self) -> impl Iterator<Item = Band> + use<> {
        (0..=self.0.len()).map(Band)
    }

    #[must_use]
    pub fn unknown(&self) -> Band {
        Band(self.0.len() + 1)
    }

    /// The band of an age.
    #[must_use]
    pub fn of(&self, age: Option<i64>) -> Band {
        match age {
            Some(age) if age >= 0 => Band(self.0.partition_point(|bound| *bound <= age)),
            _ => self.unknown(),
        }
    }

    /// The year from which a band counts and that before which it ends; none of the band not known.
    fn years(&self, Band(at): Band) -> Option<(i64, Option<i64>)> {
        let from = at
            .checked_sub(1)
            .map_or(Some(0), |before| self.0.get(before).copied())?;
        Some((from, self.0.get(at).copied()))
    }

    /// The code in tables and in the API: `under_2`, `2_to_19`, `100_plus`, `unknown`.
    #[must_use]
    pub fn code(&self, band: Band) -> String {
        match self.years(band) {
            None => "unknown".to_owned(),
            Some((0, None)) => "known".to_owned(),
            Some((0, Some(to))) => format!("under_{to}"),
            Some((from, Some(to))) => format!("{from}_to_{}", to - 1),
            Some((from, None)) => format!("{from}_plus"),
        }
    }

    #[must_use]
    pub fn of_code(&self, code: &str) -> Option<Band> {
        self.all().find(|band| self.code(*band) == code)
    }

    /// The words on screens: "under 2 years", "2 to 19 years", "age not known".
    #[must_use]
    pub fn words(&self, band: Band) -> String {
        match self.years(band) {
            None => "age not known".to_owned(),
            Some((0, None)) => "age known".to_owned(),
            Some((0, Some(1))) => "under 1 year".to_owned(),
            Some((1, Some(2))) => "1 year".to_owned(),
            Some((1, None)) => "1 year and over".to_owned(),
            Some((0, Some(to))) => format!("under {to} years"),
            Some((from, Some(to))) if to - from == 1 => format!("{from} years"),
            Some((from, Some(to))) => format!("{from} to {} years", to - 1),
            Some((from, None)) => format!("{from} years and over"),
        }
    }

    /// Where it is plain that years are meant: "under 2", "2 to 19", "100 and over", "not known".
    #[must_use]
    pub fn short(&self, band: Band) -> String {
        let words = self.words(band);
        let words = words.replace(" years", "").replace(" year", "");
        words.replace("age ", "")
    }

    /// The age from which it counts, as short as a picture wants it.
    #[must_use]
    pub fn mark(&self, band: Band) -> String {
        self.years(band)
            .map_or("?".to_owned(), |years| years.0.to_string())
    }

    /// All of them in words: "under 2, 2 to 19, 20 to 79, 80 to 99, 100 and over, not known".
    #[must_use]
    pub fn told(&self) -> String {
        let words: Vec<String> = self.all().map(|band| self.short(band)).collect();
        words.join(", ")
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn codes(bands: &Bands) -> Vec<String> {
        bands.all().map(|band| bands.code(band)).collect()
    }

    #[test]
    fn the_usual_bands_have_the_promised_codes_and_words() {
        let bands = Bands::default();
        let promised = [
            ("under_2", "under 2 years"),
            ("2_to_19", "2 to 19 years"),
            ("20_to_79", "20 to 79 years"),
            ("80_to_99", "80 to 99 years"),
            ("100_plus", "100 years and over"),
            ("unknown", "age not known"),
        ];
        assert_eq!(codes(&bands), promised.map(|band| band.0));
        for (band, promised) in bands.all().zip(promised) {
            assert_eq!(bands.words(band), promised.1);
            assert_eq!(bands.of_code(promised.0), Some(band));
        }
        assert_eq!(
            bands.told(),
            "under 2, 2 to 19, 20 to 79, 80 to 99, 100 and over, not known"
        );
    }

    #[test]
    fn bands_of_one_year_are_told_as_one() {
        let bands = Bands::parse("1, 2,3").unwrap();
        assert_eq!(
            codes(&bands),
            ["under_1", "1_to_1", "2_to_2", "3_plus", "unknown"]
        );
        assert_eq!(bands.told(), "under 1, 1, 2, 3 and over, not known");
        let one = Bands::parse("1").unwrap();
        assert_eq!(one.words(one.of(Some(7))), "1 year and over");
        let all = Bands::parse(" ").unwrap();
        assert_eq!(codes(&all), ["known", "unknown"]);
        assert_eq!(all.told(), "known, not known");
    }

    #[test]
    fn what_is_none_is_told() {
        for (typed, why) in [
            ("old", NotBands::NoYears),
            ("2.5", NotBands::NoYears),
            ("1 2 3 4 5 6 7 8", NotBands::TooMany),
            ("0, 20", NotBands::Beyond),
            ("20, 401", NotBands::Beyond),
            ("-2, 20", NotBands::Beyond),
            ("20, 2", NotBands::NotRising),
            ("20 20", NotBands::NotRising),
        ] {
            assert_eq!(Bands::parse(typed), Err(why), "{typed}");
        }
        assert!(serde_json::from_str::<Bands>("[20, 2]").is_err());
    }

    #[test]
    fn an_age_is_counted_in_years_alone() {
        assert_eq!(age(Some(1924), 2024), Some(100));
        for (made, year) in [
            (None, 2026),
            (Some(2027), 2026),
            (Some(i64::MIN), i64::MAX),
            (Some(i64::MAX), i64::MIN),
        ] {
            assert_eq!(age(made, year), None);
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn every_age_lies_in_the_one_band_whose_years_hold_it(
            bounds in proptest::collection::btree_set(1_i64..=400, 0..=7), years in proptest::option::of(-3_i64..500),
        ) {
            let bands = Bands::try_from(bounds.into_iter().collect::<Vec<_>>()).unwrap();
            let band = bands.of(years);
            let holds = |band: Band| match (bands.years(band), years) {
                (Some((from, to)), Some(years)) => years >= from && to.is_none_or(|to| years < to),
                (None, years) => years.is_none_or(|years| years < 0),
                (Some(_), None) => false,
            };
            let holding: Vec<Band> = bands.all().filter(|band| holds(*band)).collect();
            prop_assert_eq!(holding, vec![band]);
            prop_assert_eq!(Bands::parse(&bands.typed()), Ok(bands.clone()));
            prop_assert_eq!(Bands::parse(&bands.kept()), Ok(bands.clone()));
            let mut codes = codes(&bands);
            codes.dedup();
            prop_assert_eq!(codes.len(), bands.count());
        }
    }
}
