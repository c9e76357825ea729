//! What is told at the counter of a crack, or of a wish.

use crate::catalogue::cause::Cause;

use super::chance::Chance;
use super::people::Kind;
use super::visit::Why;
use super::words::Truth;

/// A crack or a knock, as it is told.
pub fn damage(chance: &mut Chance, truth: &Truth<'_>, cause: &Cause) -> String {
    let what = match cause.code.as_str() {
        "post_down" => [
            "Something fell over inside",
            "A stick rolls about inside",
            "The post is down, I think",
        ],
        "edge_splinter" => [
            "A piece has broken off the edge",
            "The corner is split",
            "There is a splinter missing",
        ],
        "saddle_loose" => [
            "The small black bar at the bottom moves",
            "Something came off by the end pin",
            "The bottom end has a gap",
        ],
        "bridge_cracked" => [
            "The bridge has a crack",
            "The bridge looks split to me",
            "There is a line through the bridge",
        ],
        "peg_cracked" => [
            "A peg has a crack",
            "A peg is splitting",
            "The peg creaks and has a line",
        ],
        _ => [
            "There is a line I never saw",
            "I can see a crack",
            "It looks split to me",
        ],
    };
    let how: &[&str] = match (truth.says("recent_change"), truth.says("weather_link")) {
        ("knock", _) => &[
            "It fell off the chair.",
            "A stand fell on it.",
            "It was knocked over in the break.",
            "Dropped on the stairs.",
        ],
        ("travel", _) => &[
            "After the flight.",
            "Back from the tour.",
            "It stood in the car overnight.",
        ],
        (_, "dry") => &[
            "It came in the night, the heating is on.",
            "The room was very dry.",
            "Since the cold days.",
        ],
        _ => &[
            "I do not know how it happened.",
            "Found it like this.",
            "My son says it was like that.",
        ],
    };
    let mut words = format!("{}. {}", chance.one(&what), chance.one(how));
    if chance.yes(0.3) {
        words.push(' ');
        words.push_str(chance.one(&[
            "Please be careful, it is old.",
            "What will it cost?",
            "Is it bad?",
        ]));
    }
    words
}

/// A wish, as it is told.
pub fn wish(chance: &mut Chance, why: Why, kind: Kind) -> &'static str {
    chance.one(match (why, kind) {
        (Why::Strings, Kind::Person) => &[
            "New strings, the same as last time.",
            "A full set of strings please.",
            "The strings are a year old.",
            "New strings before the exam.",
            "Something warmer than these strings.",
        ],
        (Why::Strings, _) => &[
            "New set, student quality.",
            "Restring.",
            "Strings for the new term.",
        ],
        (Why::Bow, Kind::Person) => &[
            "Rehair please.",
            "The hair is gone on one side.",
            "It does not grip any more.",
            "Rehair, not too full.",
            "The winding has come loose.",
        ],
        (Why::Bow, _) => &["Rehair.", "Hair pulled out.", "Rehair for the new term."],
        (Why::SetUp, _) => &[
            "It sounds closed. Post and bridge, please look.",
            "The strings feel too high.",
            "Set-up as we discussed.",
            "It has lost its voice since the summer.",
            "For the audition it must be at its best.",
        ],
        (_, Kind::Person) => &[
            "Yearly check.",
            "Nothing wrong, just the yearly look.",
            "Check and clean please, as every year.",
            "Before the season: look it over.",
        ],
        (_, _) => &[
            "Term check.",
            "Look over before it goes out again.",
            "Rental return, look it over.",
            "Check, clean, new tapes off.",
        ],
    })
}
