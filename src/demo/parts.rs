//! Parts and prices of the invented shop, by job; and which of its jobs take longer than they are planned.

use crate::bench::step::NewPart;

use super::chance::Chance;

/// Jobs that in this shop take other than their usual minutes, with the factor: invented, so that a report of planned
/// against actual has something true to find.
const OFF: [(&str, f64); 9] = [
    ("new_post", 1.35),
    ("dress_board", 1.25),
    ("refit_tailcord", 1.4),
    ("replace_peg", 1.3),
    ("reglue_lining", 1.45),
    ("service_endpin", 1.2),
    ("rehair", 0.9),
    ("replace_set", 1.15),
    ("reglue_seam", 0.95),
];

#[must_use]
pub fn pace(job: &str) -> f64 {
    OFF.iter().find(|off| off.0 == job).map_or(1.0, |off| off.1)
}

/// Prices in cents for violin, viola, cello, bass and bow; 0 is nothing.
type Prices = [i64; 5];

/// By job: name, how many, and what one costs.
const PARTS: [(&str, &str, i64, Prices); 24] = [
    ("replace_string", "String", 1, [1450, 2100, 4600, 7900, 0]),
    (
        "replace_set",
        "Set of strings",
        1,
        [5900, 8400, 18_900, 27_500, 0],
    ),
    ("new_bridge", "Bridge blank", 1, [1900, 2200, 5400, 9800, 0]),
    ("raise_bridge", "Shims", 2, [150, 150, 250, 400, 0]),
    ("new_post", "Post spruce", 1, [600, 600, 1400, 2600, 0]),
    ("replace_tuner", "Fine tuner", 1, [780, 780, 1250, 0, 0]),
    ("replace_peg", "Peg", 1, [1600, 1600, 2900, 0, 0]),
    ("bush_pegbox", "Bushing wood", 1, [900, 900, 1600, 2200, 0]),
    ("new_nut", "Ebony nut blank", 1, [500, 500, 900, 1500, 0]),
    ("refit_tailcord", "Tail cord", 1, [450, 450, 900, 1900, 0]),
    ("replace_tailpiece", "Tailpiece", 1, [3900, 4300, 8900, 14_500, 0]),
    ("refit_chin_rest", "Cork", 1, [200, 200, 0, 0, 0]),
    ("refit_shoulder_rest", "Rest feet, pair", 1, [550, 550, 0, 0, 0]),
    ("refit_bridge_skin", "Parchment", 1, [150, 150, 200, 0, 0]),
    ("cleat_crack", "Spruce cleats", 6, [180, 180, 260, 380, 0]),
    ("post_patch", "Patch spruce", 1, [2800, 2800, 5200, 9000, 0]),
    ("new_bassbar", "Bass bar spruce", 1, [2400, 2600, 4800, 8800, 0]),
    ("service_geared_peg", "Peg gear", 1, [2300, 2300, 3100, 0, 0]),
    (
        "service_bass_machines",
        "Screws and washers",
        1,
        [0, 0, 0, 950, 0],
    ),
    ("service_endpin", "End pin screw", 1, [0, 0, 850, 1100, 0]),
    ("refit_end_button", "End button", 1, [980, 980, 0, 0, 0]),
    (
        "refit_wolf_device",
        "Suppressor sleeve",
        1,
        [300, 300, 450, 600, 0],
    ),
    ("rehair", "Hank of hair", 1, [0, 0, 0, 0, 1450]),
    ("bow_service", "Winding and leather", 1, [900, 900, 900, 900, 900]),
];

/// The parts of a job on an instrument of this family; some work needs them only now and then.
pub fn of(chance: &mut Chance, job: &str, family: &str) -> Vec<NewPart> {
    let column = ["violin", "viola", "cello", "bass", "bow"]
        .iter()
        .position(|known| *known == family);
    let Some((_, name, quantity, prices)) = PARTS.iter().find(|part| part.0 == job) else {
        return Vec::new();
    };
    let price = prices[column.unwrap_or(0)];
    let always = matches!(
        job,
        "replace_string"
            | "replace_set"
            | "new_bridge"
            | "new_post"
            | "rehair"
            | "replace_peg"
            | "replace_tuner"
    );
    if price == 0 || !(always || chance.yes(0.6)) {
        return Vec::new();
    }
    // What is fitted is cheaper or dearer, in steps of ten cents.
    let unit_price = (price * chance.range(80, 150) / 1000 * 10).max(10);
    vec![NewPart {
        name: (*name).into(),
        quantity: *quantity,
        unit_price,
    }]
}
