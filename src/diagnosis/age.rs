//! An age band of the catalogue is how old an instrument's body was when it was taken in, as coarsely as its ties are told.
//!
//! What is learned is kept by these. The reports have the shop's own, see [`crate::reports::bands`].

use serde::{Deserialize, Serialize};

/// The edges are common practice, no source: the trade speaks of new, student, middle-aged, old.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum AgeBand {
    /// Wood and fittings still moving.
    #[serde(rename = "under_2")]
    Under2,
    /// Mostly student, rental and school stock.
    #[serde(rename = "2_to_19")]
    From2,
    /// Wear, first renewals of the set-up.
    #[serde(rename = "20_to_79")]
    From20,
    /// Old glue, old repairs.
    #[serde(rename = "80_to_99")]
    From80,
    /// The same, more so.
    #[serde(rename = "100_plus")]
    From100,
    /// No year and no guess: a band of its own, never folded into another and never dropped.
    #[serde(rename = "unknown")]
    Unknown,
}

impl AgeBand {
    /// Youngest first, unknown last.
    pub const ALL: [Self; 6] = [
        Self::Under2,
        Self::From2,
        Self::From20,
        Self::From80,
        Self::From100,
        Self::Unknown,
    ];

    /// The band in the year of the intake, by years alone: the month of making is never known.
    ///
    /// A year made after the year of intake is refused at the counter. Should one turn up here all the same, it says
    /// nothing about the age, so the band is [`AgeBand::Unknown`].
    #[must_use]
    pub fn at(year_made: Option<i64>, on_year: i64) -> Self {
        match year_made.and_then(|made| on_year.checked_sub(made)) {
            Some(0..2) => Self::Under2,
            Some(2..20) => Self::From2,
            Some(20..80) => Self::From20,
            Some(80..100) => Self::From80,
            Some(100..) => Self::From100,
            Some(..0) | None => Self::Unknown,
        }
    }

    /// The code in tables and in the API.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Under2 => "under_2",
            Self::From2 => "2_to_19",
            Self::From20 => "20_to_79",
            Self::From80 => "80_to_99",
            Self::From100 => "100_plus",
            Self::Unknown => "unknown",
        }
    }

    #[must_use]
    pub fn of_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|band| band.code() == code)
    }

    /// The words on screens.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Under2 => "under 2 years",
            Self::From2 => "2 to 19 years",
            Self::From20 => "20 to 79 years",
            Self::From80 => "80 to 99 years",
            Self::From100 => "100 years and over",
            Self::Unknown => "age not known",
        }
    }
}
