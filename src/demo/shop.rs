//! The invented shop: Linden Yard Violins, and the people who work in it.

use uuid::Uuid;

use crate::admin::shop::{DEFAULT_TERMS, Shop};
use crate::clock::{Day, Moment};
use crate::error::{Error, Result};
use crate::money::{Money, Rate};
use crate::reports::bands::Bands;
use crate::reports::rules::Rules;
use crate::reports::season::Seasons;
use crate::staff::{Roles, Staff, name_key};

use super::chance::{Chance, Ids};

/// Invented people: name, parts, and how many of the demo's years ago they came (`None`: from the beginning).
pub const PEOPLE: [(&str, &str, Option<i64>); 7] = [
    ("Tove Lindgarten", "owner", None),
    ("Mirela Ashkari", "counter", None),
    ("Jonas Feldkirchner", "counter", Some(3)),
    ("Aiko Trembath", "bench", None),
    ("Pavel Sorrentin", "bench", None),
    ("Ruth Haddenbrook", "bench", Some(2)),
    ("Noor Castelan", "counter,bench", None),
];

/// A person as the history needs them: who, with which parts, since when.
#[derive(Clone, Debug)]
pub struct Hand {
    pub id: Uuid,
    pub name: &'static str,
    pub roles: Roles,
    pub since: Day,
}

/// The people from the first day on, or from when they came.
#[must_use]
pub fn hands(ids: &mut Ids, first: Day, end: Day, opened: Moment) -> Vec<Hand> {
    let hand = |&(name, roles, years): &(&'static str, &str, Option<i64>)| Hand {
        id: ids.at(opened),
        name,
        roles: Roles::named(roles).unwrap_or_default(),
        since: years.map_or(first, |years| first.max(end.plus(-365 * years))),
    };
    PEOPLE.iter().map(hand).collect()
}

/// The row of a person, with the hash of the password they sign in with.
#[must_use]
pub fn staff(hand: &Hand, password_hash: &str, at: Moment) -> Staff {
    Staff {
        id: hand.id,
        name: hand.name.to_owned(),
        name_key: name_key(hand.name),
        password_hash: password_hash.to_owned(),
        counter: hand.roles.counter,
        bench: hand.roles.bench,
        owner: hand.roles.owner,
        active: true,
        first_password: false,
        version: 1,
        created_at: at,
    }
}

#[must_use]
pub fn shop(house: Uuid, opened: Moment) -> Shop {
    Shop {
        house,
        name: "Linden Yard Violins".into(),
        address: "2 Linden Yard\nOverbrook".into(),
        phone: "01 555 0190".into(),
        zone: ZONE.into(),
        hemisphere: "northern".into(),
        seasons: Seasons::northern().to_string(),
        currency: "EUR".into(),
        labour_rate: Money(7200),
        tax_name: "VAT".into(),
        tax_labour: Rate(200_000),
        tax_parts: Rate(200_000),
        comeback_days: WINDOW,
        rules: Rules::new(&Bands::default(), WINDOW),
        counter_fee: Money::ZERO,
        stub_terms: DEFAULT_TERMS.into(),
        version: 1,
        created_at: opened,
    }
}

/// Its comeback window, in days.
const WINDOW: i64 = 90;

pub const ZONE: &str = "Europe/Vienna";

/// Three words from the system's own randomness: 25 bits, slow to guess behind argon2id and the limit on tries.
///
/// # Errors
/// When the system has no randomness to give.
pub fn password() -> Result<String> {
    let mut bytes = [0; 32];
    getrandom::fill(&mut bytes).map_err(|problem| Error::fault(problem.to_string()))?;
    let words: Vec<&str> = WORDS.split_whitespace().collect();
    // Drawn by the same even draw as everything else, but from a seed nobody knows.
    let seeds = bytes
        .chunks_exact(8)
        .map(|chunk| chunk.iter().fold(0, |sum, byte| sum << 8 | u64::from(*byte)));
    let mut chosen = seeds.map(|seed| words[Chance::of(seed, "password", 0).below(words.len())]);
    let mut three: Vec<&str> = chosen.by_ref().take(3).collect();
    if three.iter().map(|word| word.len()).sum::<usize>() < 11 {
        three.extend(chosen);
    }
    Ok(three.join("-"))
}

/// Short words that are easy to type on a tablet and not of the trade.
const WORDS: &str = "
acorn agate alder amber anchor anvil apple apron arbor arrow aspen attic autumn badge bakery balcony bamboo banner
barley barrel basil basket beacon beaver bench berry birch biscuit blanket blossom bonnet border bottle branch brass
bread breeze brick bridge broom bucket burrow butter button cabin cactus camel canal candle canoe canvas canyon carpet
carrot castle cedar cellar chalk cherry chimney cider cinder circle citrus clay cliff cloud clover coast cobalt coffee
comet copper coral corner cotton cradle crane crater cricket crimson crystal curtain cushion daisy dawn delta desert
dinner dolphin donkey dragon drift drum dune eagle earth echo elder elm ember emerald engine evening falcon farmer
feather fennel fern ferry field finch fir flame flask flint flood flour flower forest fossil fountain fox frost garden
garlic garnet gate ginger glacier glade glass globe goose granite grape grass gravel grove gull hammer harbor harvest
hazel heath hedge helmet heron hill hollow honey horizon hornet hotel ice indigo island ivory ivy jacket jade jasmine
jelly jigsaw juniper kayak kettle kitchen kite ladder lagoon lake lamp lantern larch lark laurel lavender lemon lentil
letter lichen lilac lily linen lion lizard lobster lotus lunar magnet magpie mango maple marble market marsh meadow
melon mercury meteor mill mint mirror mist mitten moor morning moss moth mountain mustard napkin nectar needle nest
nettle nickel night north nutmeg oak oasis oat ocean olive onion orange orbit orchard otter oven owl oyster paddle
palm panda paper parcel parrot parsley pasture path peach pear pebble pelican pencil pepper petal pewter picnic pigeon
pillow pine pioneer planet plaster plum pocket polar pollen pond poplar poppy porch potato prairie puddle pumpkin
puzzle quarry quartz quill rabbit raccoon radish raft rain raven reed reef ribbon rice ridge river robin rocket roof
rose ruby saddle saffron sage sail salmon sand satin saturn saucer seal season sesame shadow shell shelter silk silver
sky slate snow socket sparrow spinach spruce squash stable star stone stork storm stream sugar summer summit sunset
swan table tangerine teapot temple thistle thunder thyme tiger timber tomato tower trail train tulip tundra tunnel
turnip turtle umbrella valley vanilla velvet village vine violet volcano wagon walnut walrus water wheat willow window
winter wolf wood wool wren yarrow yellow yogurt zebra zenith zinc
";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn passwords_are_long_enough_for_an_owner_and_differ() {
        let all: Vec<String> = (0..40).map(|_| password().expect("randomness")).collect();
        assert!(
            all.iter()
                .all(|password| password.len() >= crate::staff::sign_in::SHORTEST_OWNER),
            "{all:?}"
        );
        let mut distinct = all.clone();
        distinct.sort();
        distinct.dedup();
        assert_eq!(distinct.len(), all.len());
        let mut words: Vec<&str> = WORDS.split_whitespace().collect();
        let count = words.len();
        words.sort_unstable();
        words.dedup();
        assert_eq!((words.len(), count >= 350), (count, true));
    }
}
