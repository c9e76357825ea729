//! Where the bench finds a cause, and what it notes beside it.

use crate::catalogue::cause::Cause;

use super::chance::Chance;

/// Where the bench finds a cause of a region.
pub fn found_at(chance: &mut Chance, cause: &Cause) -> String {
    let places: &[&str] = match cause.region.as_str() {
        "scroll_pegbox" => &[
            "top string peg",
            "lowest string peg",
            "second peg",
            "treble cheek of the pegbox",
        ],
        "nut" => &["lowest slot", "top slot", "second slot", "bass end of the nut"],
        "neck_board" => &[
            "first position",
            "under the two lower strings",
            "bass edge of the board",
            "body end of the board",
        ],
        "strings" => &["top string", "lowest string", "second string", "third string"],
        "bridge" => &[
            "treble foot",
            "bass foot",
            "top string notch",
            "waist of the bridge",
        ],
        "tailpiece" => &["top tuner", "second tuner", "lowest tuner", "under the tailpiece"],
        "afterlength" => &["below the bridge, top string", "below the bridge, third string"],
        "chin_shoulder" => &[
            "both barrels",
            "bass side of the rest",
            "foot of the shoulder rest",
        ],
        "top_plate" => &[
            "treble side, below the soundhole",
            "bass side of the top",
            "up from the saddle",
            "by the chin rest",
        ],
        "back_ribs" => &[
            "back, lower bout",
            "treble rib, waist",
            "back, by the middle joint",
        ],
        "edge_seams" => &[
            "treble upper bout, back",
            "bass lower bout, top",
            "treble waist, top",
            "under the chin rest",
            "by the lower block",
        ],
        "inside" => &[
            "bass bar, upper end",
            "lower block",
            "treble side, behind the soundhole",
            "corner block, treble",
        ],
        "end_fittings" => &["rod in its tube", "collar", "middle of the saddle"],
        "bow" => &["frog end", "tip", "winding"],
        _ => &[""],
    };
    if chance.yes(0.75) {
        chance.one(places).to_owned()
    } else {
        String::new()
    }
}

/// A note of the bench beside a finding.
pub fn noted(chance: &mut Chance, cause: &Cause) -> String {
    if !chance.yes(0.3) {
        return String::new();
    }
    match cause.region.as_str() {
        "edge_seams" => format!("Open {} mm", chance.range(2, 14) * 5),
        "top_plate" | "back_ribs" if cause.structural => format!("{} mm, clean", chance.range(3, 22) * 5),
        "bridge" | "neck_board" | "nut" => chance
            .one(&[
                "Measured twice",
                "Worn since the last dressing",
                "Shown to the customer",
            ])
            .to_owned(),
        "player_or_room" => "Quiet here in the shop".to_owned(),
        _ => chance
            .one(&[
                "Could be turned by fingertip",
                "Heard and gone at once when held",
                "Shown to the customer",
                "Old repair beside it",
            ])
            .to_owned(),
    }
}
