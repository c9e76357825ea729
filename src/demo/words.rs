//! What customers say of a noise or a wish, put together from what is true of it; and where the bench finds it.

use super::chance::Chance;
use super::people::Kind;
use super::trade::Trade;

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
            "a chatter as of two bits of wood",
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
