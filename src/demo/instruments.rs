//! Instruments of the invented shop: which families and sizes come, with whose label, how old they are and how surely.

use uuid::Uuid;

use crate::clock::{Day, Moment};
use crate::counter::instrument::{FAMILIES, Instrument};

use super::chance::{Chance, whole};
use super::people::Kind;

/// Makers and labels, all invented. Those of workshops of today, and of times past.
const TODAY: [&str; 12] = [
    "Harrow & Pell",
    "Tannhof Strings",
    "Bellwether",
    "Corvina",
    "Maplewright",
    "Arden Lane",
    "Studio Norrland",
    "Lutherie Quai Neuf",
    "Ostrava Works",
    "Kestrel Student",
    "Monteluce",
    "Yarrow Bros",
];
const PAST: [&str; 14] = [
    "Jacob Wintersgill, Overbrook",
    "School of Grinzau",
    "Anton Haslbrunner",
    "Bottega Valdarese",
    "Trade violin, label torn",
    "Copy after an old master",
    "No label",
    "Mirecroix workshop",
    "M. Tiefenthaler",
    "G. Baldestri, 1 via Stretta",
    "Bohemian, no label",
    "Marktfelden workshop",
    "E. J. Thackwray",
    "Unknown, lion's head scroll",
];
const RENTAL: [&str; 5] = [
    "Kestrel Student",
    "Corvina",
    "Maplewright",
    "Ostrava Works",
    "Tannhof Strings",
];
const BOW_MAKERS: [&str; 8] = [
    "Carbon, no name",
    "Arden Lane",
    "Pernambuco, no stamp",
    "H. Rosswald",
    "Tannhof Strings",
    "Stamped DUVERNEL",
    "Brazilwood student bow",
    "A. Quistgaard",
];
const MARKS: [&str; 14] = [
    "Dark red varnish",
    "Golden brown, worn at the chin",
    "Old crack treble side, cleated",
    "Two-piece back, deep flame",
    "Scroll grafted",
    "Painted purfling",
    "Chip at the lower treble corner",
    "Four built-in tuners",
    "One-piece back",
    "Varnish crackled",
    "Bushed pegs",
    "Lion's head",
    "Name scratched inside the pegbox",
    "Bright orange, new",
];

/// An instrument as the history needs it while its owner may come again.
#[derive(Clone, Debug)]
pub struct Piece {
    pub id: Uuid,
    pub family: &'static str,
    pub size: &'static str,
    /// Student or rental use: it explains more than years do.
    pub student: bool,
    /// When it was really made, also where the shop does not know.
    pub made: i64,
    pub year_made: Option<i64>,
    /// Not before this day does it come again.
    pub free_from: Day,
    pub visits: u32,
    /// What was repaired on it: cause, in which order, collected when. The last of each cause.
    pub repaired: Vec<(usize, Uuid, Day)>,
}

impl Piece {
    #[must_use]
    pub fn is_bow(&self) -> bool {
        self.family == "bow"
    }

    /// Its real age in a year.
    #[must_use]
    pub fn age(&self, year: i64) -> i64 {
        (year - self.made).max(0)
    }
}

/// An instrument nobody brought before.
#[must_use]
pub fn new(
    chance: &mut Chance,
    id: Uuid,
    owner: Uuid,
    kind: Kind,
    bow: bool,
    at: Moment,
    year: i64,
) -> (Piece, Instrument) {
    let family = if bow { "bow" } else { family(chance, kind) };
    let (size, small) = size(chance, family, kind);
    let student = kind != Kind::Person || small;
    let made = year - age(chance, kind, student);
    let (year_made, certainty) = certainty(chance, kind, made, year);
    let maker = match (family, kind) {
        ("bow", _) => chance.one(&BOW_MAKERS),
        (_, Kind::Fleet | Kind::School) => chance.one(&RENTAL),
        _ if student => chance.one(&TODAY[..8]),
        _ if year - made < 45 => chance.one(&TODAY),
        _ => chance.one(&PAST),
    };
    let serial = match kind {
        Kind::Fleet => format!("OR-{:04}", chance.range(1, 9999)),
        Kind::School => format!("Inv. {}", chance.range(100, 2999)),
        Kind::Person if chance.yes(0.12) => {
            format!("{}{}", chance.one(&["A", "K", "No. "]), chance.range(100, 99_999))
        }
        Kind::Person => String::new(),
    };
    let marks = if family != "bow" && chance.yes(0.45) {
        chance.one(&MARKS)
    } else {
        ""
    };
    let piece = Piece {
        id,
        family,
        size,
        student,
        made,
        year_made,
        free_from: Day(i64::MIN),
        visits: 0,
        repaired: Vec::new(),
    };
    let row = Instrument {
        id,
        customer: owner,
        family: family.into(),
        size: size.into(),
        maker: maker.into(),
        year_made,
        year_certainty: certainty.into(),
        serial,
        marks: marks.into(),
        version: 1,
        created_at: at,
    };
    (piece, row)
}

fn family(chance: &mut Chance, kind: Kind) -> &'static str {
    let shares = match kind {
        Kind::Person => [58, 14, 22, 6],
        Kind::School => [55, 13, 25, 7],
        Kind::Fleet => [66, 10, 22, 2],
    };
    FAMILIES[chance.weighted(shares.iter().map(|share| f64::from(*share)))].0
}

/// A size, and whether it is a child's.
fn size(chance: &mut Chance, family: &str, kind: Kind) -> (&'static str, bool) {
    let sizes = FAMILIES
        .iter()
        .find(|known| known.0 == family)
        .map_or(&["4/4"][..], |known| known.2);
    // The first that grown-ups play; a viola's small bodies begin behind the fourth, a bass is commonly a 3/4.
    let grown = match family {
        "viola" => 4,
        "violin" | "cello" | "bass" => 2,
        _ => 1,
    };
    let small_share = match kind {
        Kind::Person => 0.2,
        Kind::School => 0.5,
        Kind::Fleet => 0.72,
    };
    if chance.yes(small_share) && sizes.len() > grown {
        // Half sizes are common, sixteenths are not.
        let weights =
            (grown..sizes.len()).map(|at| 1.0 / f64::from(u32::try_from(at - grown).unwrap_or(0) + 1));
        return (sizes[grown + chance.weighted(weights)], true);
    }
    let at = match family {
        "violin" | "cello" => usize::from(chance.yes(0.05)),
        "bass" => usize::from(chance.yes(0.85)),
        _ => chance.below(grown),
    };
    (sizes[at], false)
}

/// Years since it was made: new ones, students' own, and the old ones up to 250.
fn age(chance: &mut Chance, kind: Kind, student: bool) -> i64 {
    let shares = match (kind, student) {
        (Kind::Person, false) => [9, 24, 30, 13, 24],
        (Kind::Person, true) => [18, 66, 14, 1, 1],
        (Kind::School, _) => [8, 62, 29, 1, 0],
        (Kind::Fleet, _) => [16, 76, 8, 0, 0],
    };
    match chance.weighted(shares.iter().map(|share| f64::from(*share))) {
        0 => chance.range(0, 1),
        1 => chance.range(2, 19),
        2 => chance.range(20, 79),
        3 => chance.range(80, 99),
        // Most of the old ones are of the factories of a hundred and some years ago; a few go back 250.
        _ => 100 + whole(150.0 * chance.unit().powi(3)),
    }
}

/// What the shop knows of the year: old ones by guess, some not at all.
fn certainty(chance: &mut Chance, kind: Kind, made: i64, year: i64) -> (Option<i64>, &'static str) {
    let unknown = match (kind, year - made) {
        (Kind::Person, 80..) => 0.2,
        (Kind::Person, _) => 0.13,
        _ => 0.08,
    };
    if chance.yes(unknown) {
        return (None, "unknown");
    }
    let circa = match year - made {
        0..10 => 0.05,
        10..60 => 0.3,
        _ => 0.65,
    };
    if chance.yes(circa) {
        // A guess is a round year, and may be some years off.
        let step = if year - made > 40 { 10 } else { 5 };
        let guess = ((made + step / 2) / step * step).min(year);
        return (Some(guess), "circa");
    }
    (Some(made), "exact")
}
