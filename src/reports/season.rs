//! A season is what the air does to the wood in a month at this shop: dry, humid, or changing from one to the other.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// One of the three seasons that a report tells apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Season {
    /// Heating is on, indoor RH mostly under 40 %.
    Dry,
    /// Indoor RH mostly over 60 %.
    Humid,
    /// The swing from one to the other.
    Change,
}

impl Season {
    pub const ALL: [Self; 3] = [Self::Dry, Self::Humid, Self::Change];

    /// The code in tables and in the API.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Dry => "dry",
            Self::Humid => "humid",
            Self::Change => "change",
        }
    }

    #[must_use]
    pub fn of_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|season| season.code() == code)
    }

    /// The words on screens.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Dry => "dry months",
            Self::Humid => "humid months",
            Self::Change => "change months",
        }
    }

    fn letter(self) -> char {
        match self {
            Self::Dry => 'd',
            Self::Humid => 'h',
            Self::Change => 'c',
        }
    }

    fn of_letter(letter: char) -> Option<Self> {
        Self::ALL.into_iter().find(|season| season.letter() == letter)
    }
}

/// The season of each month, January first: the shop's own, since month alone says nothing across hemispheres and climates.
///
/// Written as twelve letters, `d`, `h` or `c`: "dddccchhcccd".
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Seasons([Season; 12]);

/// What was read is not twelve of the letters d, h and c.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("Write twelve letters, January to December: d for dry, h for humid, c for change.")]
pub struct NotSeasons;

impl Seasons {
    #[must_use]
    pub fn new(months: [Season; 12]) -> Self {
        Self(months)
    }

    /// Northern mid-latitudes: dry December to March, humid July and August (common practice, no source).
    #[must_use]
    pub fn northern() -> Self {
        use Season::{Change as C, Dry as D, Humid as H};
        Self([D, D, D, C, C, C, H, H, C, C, C, D])
    }

    /// Southern mid-latitudes: dry June to August, humid January and February (common practice, no source).
    #[must_use]
    pub fn southern() -> Self {
        use Season::{Change as C, Dry as D, Humid as H};
        Self([H, H, C, C, C, D, D, D, C, C, C, C])
    }

    /// A shop whose air is much the same all year round.
    #[must_use]
    pub fn without_seasons() -> Self {
        Self([Season::Change; 12])
    }

    /// Whether there is more than one season here; where all months are alike, none says anything of another.
    #[must_use]
    pub fn are_several(&self) -> bool {
        self.0.iter().any(|season| *season != self.0[0])
    }

    /// The season of a month, 1 for January to 12 for December; nothing outside them.
    #[must_use]
    pub fn of_month(&self, month: u8) -> Option<Season> {
        let at = usize::from(month).checked_sub(1)?;
        self.0.get(at).copied()
    }

    /// The months of a season as runs, over the turn of the year too: "Dec to Mar", "Apr to Jun, Sep to Nov", "Jul".
    ///
    /// Empty for a season that the shop does not have, and for one that never ends.
    #[must_use]
    pub fn runs(&self, season: Season) -> String {
        let held = |month: u8| self.of_month(month) == Some(season);
        let after = |month: u8| month % 12 + 1;
        let before = |month: u8| (month + 10) % 12 + 1;
        let words = self
            .months(season)
            .filter(|month| !held(before(*month)))
            .map(|first| {
                let mut last = first;
                while held(after(last)) {
                    last = after(last);
                }
                if last == first {
                    short(first).to_owned()
                } else {
                    format!("{} to {}", short(first), short(last))
                }
            });
        words.collect::<Vec<_>>().join(", ")
    }

    /// The months of a season, 1 for January.
    pub fn months(&self, season: Season) -> impl Iterator<Item = u8> {
        (1..=12).filter(move |&month| self.of_month(month) == Some(season))
    }
}

/// "Jan" for 1.
fn short(month: u8) -> &'static str {
    const NAMES: [&str; 12] = [
        "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
    ];
    usize::from(month)
        .checked_sub(1)
        .and_then(|at| NAMES.get(at))
        .copied()
        .unwrap_or_default()
}

impl fmt::Display for Seasons {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0
            .iter()
            .try_for_each(|season| write!(out, "{}", season.letter()))
    }
}

impl FromStr for Seasons {
    type Err = NotSeasons;

    fn from_str(letters: &str) -> Result<Self, NotSeasons> {
        let months: Option<Vec<Season>> = letters.chars().map(Season::of_letter).collect();
        let months = months.ok_or(NotSeasons)?;
        months.try_into().map(Self).map_err(|_| NotSeasons)
    }
}

impl TryFrom<String> for Seasons {
    type Error = NotSeasons;

    fn try_from(letters: String) -> Result<Self, NotSeasons> {
        letters.parse()
    }
}

impl From<Seasons> for String {
    fn from(seasons: Seasons) -> Self {
        seasons.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn months_stand_together_over_the_turn_of_the_year() {
        let shop = Seasons::northern();
        assert_eq!(shop.runs(Season::Dry), "Dec to Mar");
        assert_eq!(shop.runs(Season::Humid), "Jul to Aug");
        assert_eq!(shop.runs(Season::Change), "Apr to Jun, Sep to Nov");
        let own: Seasons = "hccccccccccc".parse().unwrap();
        assert_eq!(
            (own.runs(Season::Humid).as_str(), own.runs(Season::Dry).as_str()),
            ("Jan", "")
        );
        assert_eq!(Seasons::without_seasons().runs(Season::Change), "");
    }
}
