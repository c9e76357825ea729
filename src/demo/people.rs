//! People who come to the counter: invented names of many origins, telephone numbers and addresses that reach nobody.

use uuid::Uuid;

use crate::clock::Moment;
use crate::counter::customer::Customer;
use crate::counter::find::fold;

use super::chance::Chance;

const GIVEN: [&str; 84] = [
    "Adela", "Ahmet", "Alba", "Alma", "Amara", "Anouk", "Anton", "Arvid", "Asha", "Aurel", "Balint", "Bea",
    "Bilal", "Bruna", "Cahir", "Celine", "Chidi", "Clara", "Dagny", "Daria", "Davor", "Edda", "Eino", "Elif",
    "Elio", "Emeka", "Enzo", "Esme", "Fadi", "Fenna", "Filip", "Frida", "Gita", "Goran", "Hana", "Hugo",
    "Ilse", "Imre", "Indira", "Iris", "Ivo", "Jana", "Jorge", "Judit", "Kaito", "Katya", "Kofi", "Lea",
    "Leandro", "Levin", "Lior", "Livia", "Luka", "Magda", "Malik", "Maren", "Mateo", "Mei", "Milo", "Mina",
    "Nadia", "Nela", "Niko", "Nuno", "Odile", "Olga", "Omar", "Oskar", "Petra", "Priya", "Rafael", "Rosa",
    "Samira", "Selma", "Sven", "Tamar", "Teo", "Tilda", "Valentin", "Vera", "Viktor", "Yara", "Zeynep",
    "Zora",
];

const FAMILY_NAMES: [&str; 112] = [
    "Abendrot",
    "Achterberg",
    "Adeyinka",
    "Alderson",
    "Almqvist",
    "Amsel",
    "Arkwell",
    "Asano",
    "Averbeck",
    "Balogh",
    "Bardolino",
    "Barkstead",
    "Belcastro",
    "Bergfalk",
    "Birkeland",
    "Boatenku",
    "Bodnar",
    "Brandhuber",
    "Brightwater",
    "Calvetto",
    "Carrasco",
    "Castlemere",
    "Ceylan",
    "Chaudhari",
    "Cinkova",
    "Coppersmith",
    "Dalgaard",
    "Danjuma",
    "Delacour",
    "Demirel",
    "Dorfer",
    "Drummore",
    "Ebersold",
    "Eklund",
    "Elvestad",
    "Esterbrook",
    "Fairweather",
    "Farkas",
    "Feldmoser",
    "Ferreyra",
    "Finsterbusch",
    "Fujimori",
    "Galbrecht",
    "Ganapati",
    "Gerstl",
    "Grabner",
    "Greenhalgh",
    "Gruenwalder",
    "Hadzic",
    "Haldorsen",
    "Hartwell",
    "Hasenoehrl",
    "Heatherington",
    "Hollenstein",
    "Horvandin",
    "Ilincic",
    "Inglewood",
    "Jafarzad",
    "Jankowska",
    "Jelinek",
    "Kaltenegger",
    "Kamau",
    "Karlstetter",
    "Kesselbrand",
    "Kirchmair",
    "Kovarenko",
    "Krennwald",
    "Kurokawa",
    "Lacroix",
    "Larkspur",
    "Lechner",
    "Leitgeb",
    "Lindqvist",
    "Lorenzetti",
    "Macallister-Roe",
    "Madaki",
    "Marchfeld",
    "Mbeki-Roth",
    "Meadowcroft",
    "Mirzoyev",
    "Moosbrugger",
    "Nakagawa",
    "Nemetvari",
    "Nordahl",
    "Oberhauser",
    "Ogunleye",
    "Okonjeri",
    "Olivarreta",
    "Pallavicin",
    "Papadelis",
    "Pichler",
    "Quendler",
    "Radnitz",
    "Rahimpur",
    "Ravensworth",
    "Rosendahl",
    "Sagmeister",
    "Sandovar",
    "Schattauer",
    "Silberbauer",
    "Solhaven",
    "Stainforth",
    "Steinkellner",
    "Szabados",
    "Tanabori",
    "Thornbury",
    "Ullmann",
    "Vasquirre",
    "Wieselthaler",
    "Wintersgill",
    "Yildizer",
    "Zapletal",
];

/// Who brings the instruments of a house that owns many.
const CLERKS: [&str; 6] = [
    "Frau Ertl",
    "Herr Nowotny",
    "Ms Abara",
    "Herr Sailer",
    "Frau Dimitrova",
    "Mr Holloway",
];

/// What kind of customer: it decides how often and when they come, and how they talk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    Person,
    School,
    Fleet,
}

impl Kind {
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Kind::Person => "person",
            Kind::School => "school",
            Kind::Fleet => "fleet",
        }
    }
}

/// The houses that own many instruments, all invented.
pub const HOUSES: [(Kind, &str); 3] = [
    (Kind::Fleet, "Overbrook Instrument Rental"),
    (Kind::School, "Overbrook Music School"),
    (Kind::School, "Millrace Grammar School"),
];

/// A person who never came before.
#[must_use]
pub fn person(chance: &mut Chance, id: Uuid, at: Moment) -> Customer {
    let (given, family) = (chance.one(&GIVEN), chance.one(&FAMILY_NAMES));
    let name = if chance.yes(0.06) {
        format!("{given} {family}-{}", chance.one(&FAMILY_NAMES))
    } else {
        format!("{given} {family}")
    };
    // RFC 2606 keeps these three names for examples.
    let host = chance.one(&["example.com", "example.net", "example.org"]);
    let email = format!(
        "{}.{}{}@{host}",
        fold(given),
        fold(family).replace('-', ""),
        chance.range(1, 99)
    );
    let notes = [
        "Plays in the town orchestra",
        "Teaches at home on Thursdays",
        "Ring after four",
        "Prefers e-mail",
        "Has the spare key of the church",
        "Two children who play",
        "Asks for gut strings",
        "In a quartet",
    ];
    Customer {
        id,
        kind: Kind::Person.code().into(),
        name,
        phone: phone(chance),
        email: if chance.yes(0.6) { email } else { String::new() },
        note: if chance.yes(0.15) {
            chance.one(&notes).to_owned()
        } else {
            String::new()
        },
        version: 1,
        created_at: at,
    }
}

/// One of [`HOUSES`].
#[must_use]
pub fn house(chance: &mut Chance, which: usize, id: Uuid, at: Moment) -> Customer {
    let (kind, name) = HOUSES[which];
    Customer {
        id,
        kind: kind.code().into(),
        name: name.into(),
        phone: phone(chance),
        email: format!("instruments@house{}.example", which + 1),
        note: if kind == Kind::Fleet {
            "Bring the rental number with every call. Everything comes in before term and after it."
        } else {
            "Bills go to the office by post"
        }
        .into(),
        version: 1,
        created_at: at,
    }
}

/// Numbers that reach nobody: 0999 is no prefix in the country of the shop (from memory).
fn phone(chance: &mut Chance) -> String {
    format!(
        "0999 {} {:02} {:02}",
        chance.range(200, 999),
        chance.range(0, 99),
        chance.range(0, 99)
    )
}

/// Who stands at the counter for them this time.
#[must_use]
pub fn caller(chance: &mut Chance, kind: Kind, name: &str) -> String {
    if kind != Kind::Person {
        return chance.one(&CLERKS).to_owned();
    }
    match chance.below(20) {
        0 => format!("{}'s mother", name.split(' ').next().unwrap_or(name)),
        1 => format!("{}'s father", name.split(' ').next().unwrap_or(name)),
        2 => format!("{}'s partner", name.split(' ').next().unwrap_or(name)),
        _ => name.to_owned(),
    }
}
