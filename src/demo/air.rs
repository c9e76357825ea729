//! The air of the invented shop: its hygrometer, read twice on each open day, with weather, holidays and forgetting.

use time::Weekday;

use crate::climate::reading::{Air, Came, Reading};
use crate::climate::{day, reading};
use crate::clock::Day;
use crate::db::Tx;
use crate::error::Result;
use crate::staff::Roles;

use super::World;
use super::chance::{Chance, Ids, real, whole};
use super::trade::DRY;

/// Relative humidity in percent of a room that nobody heats, and how far heating takes it down.
const UNHEATED: f64 = 58.0;
const HEATING: f64 = 25.0;
/// One reading in so many is forgotten.
const FORGOTTEN: f64 = 0.08;

/// How dry rooms are on a day, between the middles of the months.
fn dryness(day: Day) -> f64 {
    let middle = |day: Day| day.month().first_day().plus(14);
    let (from, to) = if day < middle(day) {
        (middle(day.month().plus(-1).first_day()), middle(day))
    } else {
        (middle(day), middle(day.month().plus(1).first_day()))
    };
    let of = |day: Day| DRY[usize::from(day.month().month_number() - 1)];
    let part = real(day.0 - from.0) / real((to.0 - from.0).max(1));
    of(from) + (of(to) - of(from)) * part
}

/// Weeks in which nobody looked: one in the last year, and now and then before.
fn gaps(world: &World, chance: &mut Chance) -> Vec<(Day, Day)> {
    let years = (world.wish.as_of.0 - world.first.0) / 365 + 1;
    let gap = |year: i64| {
        let begins = world.wish.as_of.plus(-365 * year - chance.range(60, 300));
        let ends = begins.plus(chance.range(11, 24));
        (year == 0 || chance.yes(0.6)).then_some((begins, ends))
    };
    (0..years).filter_map(gap).collect()
}

/// All readings, in their order.
#[must_use]
pub fn readings(world: &World) -> Vec<Reading> {
    let seed = world.wish.seed;
    let mut chance = Chance::of(seed, "air", 0);
    let mut ids = Ids::new(Chance::of(seed, "air ids", 0));
    let gaps = gaps(world, &mut chance);
    let (mut weather, mut all) = (0.0, Vec::new());
    for day in world.calendar.between(world.first, world.wish.as_of) {
        // A spell of weather lasts about a week.
        weather = 0.85 * weather + 1.6 * chance.bell();
        let year = 2.0 * Chance::of(seed, "air of a year", day.year().unsigned_abs()).bell();
        let dry = dryness(day);
        let afternoon = if day.date().weekday() == Weekday::Saturday {
            12
        } else {
            16
        };
        for (hour, warmer) in [(9, 0.0), (afternoon, 0.8)] {
            let at = world
                .zone
                .moment(day, hour, 0)
                .plus_ms(chance.range(5, 50) * 60_000);
            let humidity = UNHEATED - HEATING * dry + year + weather + 1.2 * chance.bell() - warmer;
            let temperature = 20.0 + 3.5 * (1.0 - dry) + warmer + 0.6 * chance.bell();
            let (hand, forgot) = (
                world.somebody(&mut chance, day, Roles::counter),
                chance.yes(FORGOTTEN),
            );
            let away = gaps.iter().any(|gap| (gap.0..=gap.1).contains(&day));
            if forgot || away || at > world.end {
                continue;
            }
            let hand = &world.hands[hand];
            all.push(Reading {
                id: ids.at(at),
                at,
                // The hygrometer shows whole percents and half degrees.
                air: Air {
                    temperature: whole(temperature * 2.0) * 50,
                    humidity: whole(humidity.clamp(12.0, 88.0)) * 100,
                },
                came: Came::Typed,
                by_name: hand.name.to_owned(),
                staff: Some(hand.id),
            });
        }
    }
    all
}

/// Writes them, with their days.
///
/// # Errors
/// What the database says.
pub async fn write(tx: &mut Tx, world: &World) -> Result<()> {
    let readings = readings(world);
    reading::insert(tx, &readings).await?;
    let all = readings.iter().map(|reading| (reading.at, reading.air));
    day::add(tx, &day::by_day(&world.zone, all)).await
}
