//! Care advice: what a player does at home in this season, and after this work, said so that a parent can follow it.

use crate::reports::season::Season;

/// The ids behind a line are those of `catalogue/data/sources.csv`; a line without one is common practice, no source.
const DRY: &[&str] = &[
    // 40 to 60 % relative humidity: S80, S81. The room first, then the case; away from heat and sun: S81, S76.
    "Keep the room at 40 to 60 % humidity: moisten the air of the room first, then the case. Keep it away from \
     radiators, vents, outer walls, sunny windows and cars.",
    // A dripping tube opens seams and stains: S40.
    "A tube humidifier is wrung out, wiped dry, and taken out to play.",
    "If a peg slips, push it gently inward while turning. A slack string can wait; a fallen bridge cannot.",
    "Tap round the edge once a month: a dull click means bring it in.",
];
const HUMID: &[&str] = &[
    // 40 to 60 % relative humidity: S80, S81; mould in the case: S80.
    "Keep the room at 40 to 60 % humidity. Air the case; it should not smell of mould.",
    "Do not force a peg that sticks. If the strings get hard to press, let us measure.",
    "Never leave it in a hot car: the glue softens.",
];
const CHANGE: &[&str] = &[
    // Jumps harm more than the figure itself: S03. 40 to 60 %: S80, S81.
    "Keep the room at 40 to 60 % humidity, and watch for jumps more than for the figure.",
    // Yearly at least, best each season: S90.
    "Now is the time to book the yearly check.",
    "A note that stutters may move with the weather. That alone is no fault.",
];
const EVERYBODY: &[&str] = &[
    // No rest, music or books pressed in the closed case: S37, S77.
    "One string at a time. No household polish, no alcohol near the varnish, nothing pressed against it in the case.",
];
const AFTER_GLUE: &str = "The new joint is young: tune gently on the first day.";
/// Two days: from memory, no source.
const AFTER_EDGE: &str =
    "For two days clamp no shoulder or chin rest on the new joint, and tune gently on the first day.";
/// S22: the back of the bridge stands near square to the top.
const AFTER_STRINGS: &str =
    "Look at the bridge each day for a week and ease it upright if it leans; ask us to show you how.";

const BOW: &[&str] = &[
    "Loosen the hair after playing and wipe the rosin off the stick. Do not touch the hair. Never leave it in a hot car.",
];
const BOW_DRY: &str = "Dry air shortens the hair: if it will not loosen, bring it in before the stick bends.";
const BOW_HUMID: &str =
    "Humid air lengthens the hair: do not screw tighter than the hair allows, let us shorten it.";

/// Jobs that leave a fresh joint where a rest may be clamped.
const ON_THE_EDGE: [&str; 8] = [
    "reglue_seam",
    "reglue_edge",
    "reglue_purfling",
    "reglue_lining",
    "repair_rib",
    "open_close_top",
    "repair_back_joint",
    "reglue_saddle",
];
/// Other jobs that leave a fresh joint.
const GLUED: [&str; 11] = [
    "glue_crack_outside",
    "cleat_crack",
    "post_patch",
    "reglue_bassbar",
    "new_bassbar",
    "reglue_cleat",
    "repair_wing",
    "reset_neck",
    "reglue_board",
    "fix_ply",
    "bush_pegbox",
];
/// Jobs after which strings still stretch and pull the bridge along.
const STRETCHING: [&str; 6] = [
    "replace_string",
    "replace_set",
    "new_bridge",
    "refit_bridge_feet",
    "straighten_bridge",
    "raise_bridge",
];

pub struct Care {
    pub title: &'static str,
    pub advice: Vec<&'static str>,
}

/// What to say, most particular first.
#[must_use]
pub fn of(season: Season, family: &str, jobs_done: &[&str]) -> Care {
    let done = |some: &[&str]| jobs_done.iter().any(|job| some.contains(job));
    let mut advice = Vec::new();
    if family == "bow" {
        advice.extend(BOW);
        match season {
            Season::Dry => advice.push(BOW_DRY),
            Season::Humid => advice.push(BOW_HUMID),
            Season::Change => {}
        }
    } else {
        if done(&ON_THE_EDGE) && matches!(family, "violin" | "viola") {
            advice.push(AFTER_EDGE);
        } else if done(&ON_THE_EDGE) || done(&GLUED) {
            advice.push(AFTER_GLUE);
        }
        if done(&STRETCHING) {
            advice.push(AFTER_STRINGS);
        }
        advice.extend(match season {
            Season::Dry => DRY,
            Season::Humid => HUMID,
            Season::Change => CHANGE,
        });
        advice.extend(EVERYBODY);
    }
    let title = match season {
        Season::Dry => "In the dry months",
        Season::Humid => "In the humid months",
        Season::Change => "As the air changes",
    };
    Care { title, advice }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::seed;

    #[test]
    fn every_job_named_here_is_in_the_catalogue() {
        let jobs = seed::jobs().expect("the catalogue's jobs");
        for named in ON_THE_EDGE.iter().chain(&GLUED).chain(&STRETCHING) {
            assert!(jobs.iter().any(|job| job.code == *named), "{named}");
        }
    }

    #[test]
    fn each_season_has_its_own_words_and_a_bow_has_no_seams() {
        let first = |season| of(season, "cello", &[]).advice[0];
        assert_ne!(first(Season::Dry), first(Season::Humid));
        assert_ne!(first(Season::Humid), first(Season::Change));
        assert!(
            of(Season::Dry, "bow", &["rehair"])
                .advice
                .iter()
                .all(|line| !line.contains("Tap"))
        );
    }

    #[test]
    fn fresh_glue_and_new_strings_are_spoken_of_first() {
        let care = of(Season::Dry, "violin", &["reglue_seam", "replace_set"]);
        assert_eq!(care.advice[..2], [AFTER_EDGE, AFTER_STRINGS]);
        assert_eq!(of(Season::Dry, "cello", &["reglue_seam"]).advice[0], AFTER_GLUE);
    }
}
