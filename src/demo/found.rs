//! Where the bench finds a cause, and what it notes beside it.

use crate::catalogue::cause::Cause;

use super::chance::Chance;

/// Where the bench finds a cause, in words that fit what it is.
pub fn found_at(chance: &mut Chance, cause: &Cause) -> String {
    let places: &[&str] = match places(&cause.code) {
        [] => of_region(&cause.region),
        places => places,
    };
    if chance.yes(0.75) {
        chance.one(places).to_owned()
    } else {
        String::new()
    }
}

/// Of causes that sit only in a part of their region, or whose name says where already.
fn places(code: &str) -> &'static [&'static str] {
    match code {
        "pegbox_crack" => &["treble cheek", "bass cheek", "by the top string's hole"],
        "clip_tuner_rattle"
        | "sleeve_in_pegbox"
        | "bass_extension_rattle"
        | "neck_joint_loose"
        | "label_loose"
        | "humidifier_tube"
        | "pickup_loose"
        | "wolf_note" => &[""],
        "nut_loose" => &["bass end of the nut", "treble end of the nut"],
        "board_joint_open" => &["body end of the board", "bass edge of the board"],
        "board_rolled_at_nut" => &["below the nut, lowest string", "below the nut, all strings"],
        "finger_tapes" => &["first tape", "third tape"],
        "bridge_feet_fit" => &["treble foot", "bass foot"],
        "bridge_warped" | "heights_low" => &["top edge of the bridge", "treble side"],
        "bridge_skin_loose" | "bridge_slot_deep" | "sleeve_at_bridge" => {
            &["top string notch", "second notch", "lowest string notch"]
        }
        "bridge_cracked" => &["waist of the bridge", "treble ankle"],
        "bass_adjuster_rattle" => &["treble wheel", "bass wheel"],
        "tail_fret_loose" | "tailcord_end_touching" | "tailwire_rattle" => &["under the tailpiece"],
        "chinrest_over_tailpiece" | "tailpiece_side_chinrest" => &["bass side of the tailpiece"],
        "chinrest_barrels_loose" => &["both barrels", "the left barrel"],
        "chinrest_loose_fit" => &["bass side of the rest", "rim of the rest"],
        "shoulder_rest_hardware" | "shoulder_rest_on_back" => &["foot of the shoulder rest", "bass foot"],
        "wing_varnish_bridge" | "wing_crack" => &["treble wing", "bass wing"],
        "post_crack" => &["below the treble foot", "above the post, top"],
        "top_joint_open" => &["up from the saddle", "under the board end"],
        "back_crack_or_joint" => &["back, lower bout", "back, by the middle joint"],
        "rib_crack" => &["treble rib, waist", "bass rib, lower bout"],
        "ply_delaminated" => &["back, lower bout", "top, bass side"],
        "seam_open_upper" => &[
            "treble upper bout, back",
            "bass upper bout, top",
            "by the neck, back",
        ],
        "seam_open_centre" => &["treble waist, top", "bass waist, back", "treble corner, top"],
        "seam_open_lower" => &[
            "bass lower bout, top",
            "under the chin rest",
            "by the lower block",
        ],
        "bassbar_loose" => &["upper end of the bar", "lower end of the bar"],
        "lining_block_loose" => &["lower block", "corner block, treble", "lining, upper bout"],
        "cleat_loose" => &["bass side of the top", "below the treble soundhole"],
        "post_loose" | "post_down" => &["treble side, behind the bridge foot", "top end of the post"],
        "debris_inside" => &["in the lower bout", "by the lower block"],
        "end_button_loose" => &["in the lower block"],
        "endpin_rattle" => &["rod in its tube"],
        "endpin_collar_loose" => &["collar", "screw of the collar"],
        "endpin_tip_loose" => &["tip"],
        "saddle_loose" => &["middle of the saddle", "bass end of the saddle"],
        "bow_screw_loose" => &["frog end"],
        "bow_wrap_loose" => &["winding"],
        _ => &[],
    }
}

fn of_region(region: &str) -> &'static [&'static str] {
    match region {
        "scroll_pegbox" => &["top string peg", "lowest string peg", "second peg"],
        "nut" => &["lowest slot", "top slot", "second slot"],
        "neck_board" => &["first position", "under the two lower strings"],
        "strings" => &["top string", "lowest string", "second string", "third string"],
        "tailpiece" => &["top tuner", "second tuner", "lowest tuner"],
        "afterlength" => &["below the bridge, top string", "below the bridge, third string"],
        "top_plate" => &[
            "treble side, below the soundhole",
            "bass side of the top",
            "up from the saddle",
        ],
        "edge_seams" => &[
            "treble upper bout, back",
            "bass lower bout, top",
            "treble waist, top",
        ],
        _ => &[""],
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
