//! A tie is what the age of an instrument, the season or its use has to do with a cause, as a ratio to start from.
//!
//! Which cause has which tie is in the catalogue (`season_tie`, `age_tie`); how strong it is, is a practitioner's guess
//! from memory, no source. The shop's own findings take over as they come.

use super::cause::Cause;
use crate::reports::season::{Season, Seasons};

/// Causes whose share in their season is two to five times that of the opposite one.
pub const STRONG: [&str; 5] = [
    "seam_open_upper",
    "seam_open_lower",
    "seam_open_centre",
    "top_crack",
    "heights_low",
];
/// The same with 1.3 to 2 times. All others with a tie have a weak one, 1.1 to 1.3 times.
pub const MODERATE: [&str; 15] = [
    "board_joint_open",
    "top_joint_open",
    "lining_block_loose",
    "bassbar_loose",
    "purfling_loose",
    "cleat_loose",
    "humidifier_tube",
    "peg_collar_loose",
    "saddle_loose",
    "post_loose",
    "bridge_warped",
    "bridge_feet_fit",
    "wolf_note",
    "post_down",
    "label_loose",
];
/// Worn by much playing rather than by years: from twenty years on.
pub const WORN: [&str; 2] = ["board_grooves", "bridge_slot_deep"];

/// A cause's share in its own season over that in the opposite one: the middle of the range, by ratio.
fn season_ratio(cause: &Cause) -> f64 {
    let code = cause.code.as_str();
    if STRONG.contains(&code) {
        3.2
    } else if MODERATE.contains(&code) {
        1.6
    } else {
        1.2
    }
}

/// How many times as often as over the whole year it comes in each season, in the order of [`Season::ALL`].
#[must_use]
pub fn by_season(cause: &Cause, seasons: &Seasons) -> [f64; 3] {
    let root = season_ratio(cause).sqrt();
    let raw = match cause.season_tie.as_str() {
        "dry" => [root, 1.0 / root, 1.0],
        "humid" => [1.0 / root, root, 1.0],
        "change" => [1.0 / root, 1.0 / root, root],
        _ => [1.0; 3],
    };
    let over_year: f64 = (1..=12)
        .map(|month| raw[seasons.of_month(month).unwrap_or(Season::Change) as usize])
        .sum();
    raw.map(|ratio| ratio * 12.0 / over_year)
}

/// How many times as often it comes in each age band, in the order of the bands: under 2, 2, 20, 80, 100 years, unknown.
#[must_use]
pub fn by_age(cause: &Cause) -> [f64; 6] {
    if WORN.contains(&cause.code.as_str()) {
        return [0.1, 0.5, 1.3, 1.3, 1.3, 1.0];
    }
    match cause.age_tie.as_str() {
        "new" => [2.0, 1.1, 0.8, 0.8, 0.8, 1.0],
        "student" => [1.0, 1.3, 0.8, 0.8, 0.8, 1.0],
        "old" => [0.4, 0.4, 0.9, 1.8, 1.8, 1.0],
        _ => [1.0; 6],
    }
}

/// How many times as often it comes on a student or rental instrument, and on any other.
#[must_use]
pub fn by_student(cause: &Cause) -> [f64; 2] {
    match cause.age_tie.as_str() {
        "student" => [1.6, 0.8],
        _ => [1.0; 2],
    }
}

/// Of a hundred looks at one that is there, how many miss it where the owner did not say: a two-minute look at the
/// counter misses more than the bench.
#[must_use]
pub fn usual_misses(cause: &Cause) -> i32 {
    match (cause.check_place.as_str(), cause.structural) {
        ("counter", _) => 15,
        (_, true) => 12,
        _ => 8,
    }
}

/// The chance that its check misses it though it is there: the owner's figure, or the usual one.
#[must_use]
pub fn misses(cause: &Cause) -> f64 {
    let said = cause.check_misses.and_then(|misses| i32::try_from(misses).ok());
    f64::from(said.unwrap_or_else(|| usual_misses(cause))) / 100.0
}
