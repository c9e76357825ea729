//! What customers say of a noise or a wish, put together from what is true of it; and where the bench finds it.

use crate::catalogue::cause::Cause;

use super::chance::Chance;
use super::people::Kind;
use super::trade::Trade;
use super::visit::Why;

/// The open strings, lowest first: name, and semitones above C0.
fn strings(family: &str) -> [(&'static str, i64); 4] {
    match family {
        "viola" => [("C", 36), ("G", 43), ("D", 50), ("A", 57)],
        "cello" => [("C", 24), ("G", 31), ("D", 38), ("A", 45)],
        "bass" => [("E", 16), ("A", 21), ("D", 26), ("G", 31)],
        _ => [("G", 43), ("D", 50), ("A", 57), ("E", 64)],
    }
}

const NOTES: [(&str, &str); 12] = [
    ("C", "C"),
    ("C#", "C sharp"),
    ("D", "D"),
    ("E\u{266d}", "E flat"),
    ("E", "E"),
    ("F", "F"),
    ("F#", "F sharp"),
    ("G", "G"),
    ("G#", "G sharp"),
    ("A", "A"),
    ("B\u{266d}", "B flat"),
    ("B", "B"),
];

/// A complaint as it was said, with the string and the note if they were heard.
#[derive(Clone, Debug, Default)]
pub struct Complaint {
    pub words: String,
    pub string: String,
    pub note: String,
}

/// What a noise does, question by question.
pub struct Truth<'a> {
    pub trade: &'a Trade,
    pub answers: Vec<usize>,
}

impl<'a> Truth<'a> {
    #[must_use]
    pub fn says(&self, code: &str) -> &'a str {
        self.trade.said(&self.answers, code)
    }
}

/// A complaint of a noise.
pub fn noise(chance: &mut Chance, truth: &Truth<'_>, family: &str, kind: Kind) -> Complaint {
    let strings = strings(family);
    let string = match truth.says("worst_string") {
        "top" => strings[3],
        "bottom" => strings[0],
        "middle" => strings[1 + chance.below(2)],
        _ => strings[chance.below(4)],
    };
    let open = truth.says("open_or_stopped") == "open_only";
    let pitch = usize::try_from(string.1 + if open { 0 } else { chance.range(1, 9) }).unwrap_or(0);
    let note = NOTES[pitch % 12];
    let other = NOTES[(pitch + 1 + chance.below(4)) % 12].1;
    let place = place(chance, truth, string.0, open, (note.1, other));
    let words = match kind {
        Kind::Person => person(chance, truth, &place),
        Kind::School | Kind::Fleet => clerk(chance, truth, &place),
    };
    let heard = chance.yes(0.62);
    let note = if heard && chance.yes(0.8) {
        format!("{}{}", note.0, pitch / 12)
    } else {
        String::new()
    };
    Complaint {
        words,
        string: if heard { string.0.to_owned() } else { String::new() },
        note,
    }
}

/// Where on the instrument it speaks.
fn place(chance: &mut Chance, truth: &Truth<'_>, string: &str, open: bool, notes: (&str, &str)) -> String {
    let one = truth.says("which_strings") == "one";
    match truth.says("pitch_spread") {
        "few_notes" if open => format!("on the open {string}"),
        "few_notes" => match chance.below(4) {
            0 => format!("on {}, a bit on {}", notes.0, notes.1),
            1 => format!("only round {}", notes.0),
            2 if one => format!("on {} on the {string} string", notes.0),
            _ => format!("on {} and {}", notes.0, notes.1),
        },
        "one_area" => {
            let area = chance.one(&[
                "in first position",
                "a hand up the board",
                "in the high positions",
                "in third position",
            ]);
            if one {
                format!("on the {string}, {area}")
            } else {
                area.to_owned()
            }
        }
        _ if one => format!("on every note of the {string} string"),
        _ => chance
            .one(&["everywhere", "on all the strings", "wherever I play"])
            .to_owned(),
    }
}

fn sound(chance: &mut Chance, character: &str) -> &'static str {
    chance.one(match character {
        "metallic" => &[
            "a tinny rattle",
            "a metallic jingle",
            "something like a loose coin",
            "a wiry rattle",
            "a metal buzz",
        ],
        "woody" => &[
            "a woody buzz",
            "a dry tick",
            "a knocking sort of buzz",
            "two bits of wood chattering",
            "a hollow buzz",
        ],
        "papery" => &[
            "a papery flutter",
            "a buzz like paper on a comb",
            "a dry flutter",
            "a rustle",
            "a flapping",
        ],
        "high_fizz" => &[
            "a fizz",
            "a mosquito",
            "a thin zing",
            "a high sizzle",
            "a zz on the note",
        ],
        _ => &[
            "a low rattle",
            "a growl",
            "a rattle like a loose drawer",
            "a deep buzz",
            "a grumble",
        ],
    })
}

/// Since when, as people say it; empty when they do not.
fn since(chance: &mut Chance, truth: &Truth<'_>) -> &'static str {
    let changed = match truth.says("recent_change") {
        "new_strings" => &[
            "since the new strings",
            "since I changed the strings",
            "since last week's new string",
        ][..],
        "knock" => &[
            "since it was knocked over",
            "since it fell off the chair",
            "since a door hit it",
        ],
        "travel" => &[
            "since the concert trip",
            "since we came back from the mountains",
            "since the move",
        ],
        "setup_work" => &[
            "since it was last adjusted",
            "since somebody moved the bridge",
            "since the last set-up",
        ],
        "new_accessory" => &[
            "since the new rest",
            "since I put the new mute on",
            "since the new chin rest",
        ],
        _ => &[],
    };
    if !changed.is_empty() && chance.yes(0.85) {
        return chance.one(changed);
    }
    match (truth.says("weather_link"), truth.says("onset")) {
        ("dry", _) if chance.yes(0.7) => chance.one(&[
            "since the heating is on",
            "since the cold came",
            "whenever the air is dry",
        ]),
        ("damp", _) if chance.yes(0.7) => {
            chance.one(&["on muggy days", "since the damp weather", "after rain"])
        }
        ("swing", _) if chance.yes(0.7) => {
            chance.one(&["whenever the weather turns", "since the weather changed"])
        }
        (_, "sudden") => chance.one(&[
            "since Sunday",
            "since yesterday's rehearsal",
            "from one day to the next",
            "since last week",
        ]),
        (_, "gradual") => chance.one(&[
            "for some weeks, getting worse",
            "slowly more and more",
            "for a month or two",
        ]),
        (_, "always") if chance.yes(0.7) => {
            chance.one(&["for as long as I have had it", "since I bought it"])
        }
        _ => "",
    }
}

/// A second sentence, when there is one to say.
fn more(chance: &mut Chance, truth: &Truth<'_>) -> &'static str {
    let known: [(&str, &str, &[&'static str]); 12] = [
        (
            "heard_by",
            "player_only",
            &[
                "Nobody else hears it.",
                "My teacher cannot hear it.",
                "I hear it right at my ear.",
            ],
        ),
        (
            "worse_loud",
            "yes",
            &[
                "Worse when I play out.",
                "Only when I dig in.",
                "Soft playing is fine.",
            ],
        ),
        (
            "when_plucked",
            "yes",
            &["Plucked as well.", "It does it pizzicato too."],
        ),
        (
            "other_player",
            "no",
            &[
                "My desk partner played it and it was gone.",
                "With my teacher it does not do it.",
            ],
        ),
        (
            "other_room",
            "no",
            &["Only at home, never at the hall.", "In church it was gone."],
        ),
        (
            "chin_rest_held",
            "yes",
            &["If I press with my chin it stops.", "It changes with the chin."],
        ),
        (
            "shoulder_rest_off",
            "yes",
            &["Without the shoulder rest it is quiet."],
        ),
        ("tailpiece_touched", "yes", &["If I touch the tuners it stops."]),
        (
            "pegbox_held",
            "yes",
            &["When my friend holds the scroll it stops."],
        ),
        (
            "afterlength_damped",
            "yes",
            &["It stops when I touch the short strings."],
        ),
        (
            "endpin_held",
            "yes",
            &["It comes from down by the spike, I think."],
        ),
        (
            "seen_damage",
            "yes",
            &[
                "There is a line I do not remember.",
                "Something looks lifted.",
                "I can see a gap.",
            ],
        ),
    ];
    let told: Vec<&[&'static str]> = known
        .iter()
        .filter(|(code, answer, _)| truth.says(code) == *answer)
        .map(|known| known.2)
        .collect();
    if told.is_empty() {
        return "";
    }
    let words = told[chance.below(told.len())];
    chance.one(words)
}

fn person(chance: &mut Chance, truth: &Truth<'_>, place: &str) -> String {
    let sound = sound(chance, truth.says("character"));
    let since = since(chance, truth);
    let mut words = match chance.below(9) {
        0 => format!("There is {sound} {place}"),
        1 => format!("I get {sound} {place}"),
        2 => format!("It makes {sound} {place}"),
        3 => format!("{sound} {place}"),
        4 => format!("My daughter has {sound} {place}"),
        5 => format!("{place} there is {sound}"),
        6 => format!("I keep hearing {sound}, {place}"),
        7 => format!("It buzzes {place}, {sound}"),
        _ => format!("{place}: {sound}"),
    };
    if !since.is_empty() {
        words.push_str(chance.one(&[", ", " "]));
        words.push_str(since);
    }
    let mut words = sentence(&words);
    if truth.says("how_long") == "comes_and_goes" && chance.yes(0.6) {
        words.push_str(chance.one(&[
            " Some days it is gone.",
            " It comes and goes.",
            " Of course not when I want to show it.",
        ]));
    }
    if chance.yes(0.6) {
        let more = more(chance, truth);
        if !more.is_empty() {
            words.push(' ');
            words.push_str(more);
        }
    }
    if chance.yes(0.12) {
        words.push(' ');
        words.push_str(chance.one(&[
            "Concert on Saturday.",
            "I need it for the audition.",
            "The last shop found nothing.",
            "It drives me mad.",
            "Please ring before you do anything big.",
            "It was my grandfather's.",
            "No hurry.",
        ]));
    }
    words
}

fn clerk(chance: &mut Chance, truth: &Truth<'_>, place: &str) -> String {
    let sound = sound(chance, truth.says("character")).trim_start_matches("a ");
    let since = since(chance, truth);
    let who = chance.one(&[
        "Pupil says",
        "Teacher says",
        "Came back with a note",
        "From the orchestra class",
        "Parent rang",
        "Rental return",
    ]);
    let since = if since.contains(" I ") || since.is_empty() {
        String::new()
    } else {
        format!(", {since}")
    };
    sentence(&format!(
        "{who}: {sound} {}{since}",
        place.replace("wherever I play", "everywhere")
    ))
}

/// A first letter in capital, and a full stop.
fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters
        .next()
        .map_or(String::new(), |first| first.to_uppercase().collect());
    format!("{first}{}.", letters.as_str())
}

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
