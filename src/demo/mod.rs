//! The demo is an invented shop with a history worth reading: the same for the same seed, people, noises, money and all.

pub mod air;
pub mod book;
pub mod calendar;
pub mod chance;
pub mod deed;
pub mod found;
pub mod history;
pub mod instruments;
pub mod intake;
pub mod mended;
pub mod parts;
pub mod people;
pub mod plan;
pub mod pool;
pub mod shop;
pub mod taught;
pub mod told;
pub mod trade;
pub mod visit;
pub mod words;
pub mod write;

use std::sync::Arc;

use sqlx::FromRow;
use tokio::sync::mpsc;

use crate::admin::shop::Shop;
use crate::bulk::Sums;
use crate::clock::{Clock, Day, Moment, Zone};
use crate::db::{Db, Read};
use crate::error::{Error, Result};
use crate::staff::Roles;

use self::calendar::Calendar;
use self::chance::{Chance, Ids};
use self::history::History;
use self::shop::Hand;
use self::taught::{EVERY, Taught};
use self::trade::Trade;

/// What is wished for. The same wish gives the same history, to the last id.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wish {
    pub seed: u64,
    pub orders: u64,
    /// The day on which the history ends, at ten in the morning.
    pub as_of: Day,
}

/// What a database holds, before anything is filled in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    Nothing,
    Demo(Wish),
    /// A demo whose filling broke off.
    Half,
    /// A real shop, or the beginnings of one.
    Shop,
}

#[derive(FromRow)]
struct Row {
    seed: i64,
    orders: i64,
    as_of: Day,
    whole: bool,
}

/// Looks what a database holds.
///
/// # Errors
/// What the database says.
pub async fn look(mut on: impl Read) -> Result<Found> {
    let row: Option<Row> = on
        .read("select seed, orders, as_of, whole from demo where id = 1")
        .optional()
        .await?;
    if let Some(row) = row {
        let wish = Wish {
            seed: row.seed.unsigned_abs(),
            orders: row.orders.unsigned_abs(),
            as_of: row.as_of,
        };
        return Ok(if row.whole { Found::Demo(wish) } else { Found::Half });
    }
    let (rows,): (i64,) = on
        .read(
            "select (select count(*) from shop) + (select count(*) from (select 1 from customer limit 1) c)
             + (select count(*) from (select 1 from staff limit 1) s) + (select count(*) from (select 1 from token limit 1) t)",
        )
        .one()
        .await?;
    Ok(if rows == 0 { Found::Nothing } else { Found::Shop })
}

/// The day a history ends when none is named: today, or yesterday as long as it is not ten in the morning.
#[must_use]
pub fn newest_end(clock: &Clock) -> Day {
    let (day, hour, _) = zone().local(clock.now());
    if hour < 10 { day.plus(-1) } else { day }
}

/// The moment a history ends.
#[must_use]
pub fn end_of(as_of: Day) -> Moment {
    zone().moment(as_of, 10, 0)
}

fn zone() -> Zone {
    Zone::named(shop::ZONE).expect("the demo's zone is in every zone table")
}

/// Everything that an invented order depends on.
pub struct World {
    pub wish: Wish,
    pub shop: Shop,
    pub zone: Zone,
    pub hands: Vec<Hand>,
    pub trade: Trade,
    pub calendar: Calendar,
    pub first: Day,
    pub opened: Moment,
    /// Nothing happens after it.
    pub end: Moment,
    /// The last moment before it at which the shop was open.
    pub last_open: Moment,
}

impl World {
    /// # Errors
    /// When a file of the program is broken, which a test excludes.
    pub fn new(wish: Wish) -> Result<World> {
        let zone = zone();
        // Six years; fewer orders than a thousand a year would be a shop without work, so they get fewer years.
        let days = 365 + i64::try_from(wish.orders.min(6000)).unwrap_or(0) * (2191 - 365) / 6000;
        let first = wish.as_of.plus(-days);
        let opened = zone.moment(first, 9, 0);
        let mut ids = Ids::new(Chance::of(wish.seed, "shop", wish.as_of.0.unsigned_abs()));
        let shop = shop::shop(ids.at(opened), opened);
        let (calendar, end) = (
            Calendar::new(&zone, first.plus(-14), wish.as_of.plus(500)),
            end_of(wish.as_of),
        );
        Ok(World {
            wish,
            hands: shop::hands(&mut ids, first, wish.as_of, opened),
            trade: Trade::new()?,
            last_open: calendar.open_until(end),
            calendar,
            end,
            shop,
            zone,
            first,
            opened,
        })
    }

    /// One of those who were there that day and may; the owner stands in only now and then.
    pub fn somebody(&self, chance: &mut Chance, day: Day, may: fn(Roles) -> bool) -> usize {
        let weights =
            self.hands.iter().map(
                |hand| match (may(hand.roles) && hand.since <= day, hand.roles.owner) {
                    (false, _) => 0.0,
                    (true, true) => 0.2,
                    (true, false) => 1.0,
                },
            );
        chance.weighted(weights)
    }
}

/// Fills an empty database. `hashes` are those of the passwords of [`shop::PEOPLE`], in their order; `told` hears how
/// many orders are written so far. The shop itself comes last, so that what broke off is never taken for whole.
///
/// # Errors
/// What the database says, or that it is not empty.
pub async fn fill(db: &Db, wish: Wish, hashes: &[String], told: impl FnMut(u64)) -> Result<()> {
    fill_learning(db, wish, hashes, EVERY, told).await
}

/// As [`fill`], with the models brought up to date after so many lessons: 1 is as the acts do it.
///
/// # Errors
/// What the database says, or that it is not empty.
pub async fn fill_learning(
    db: &Db,
    wish: Wish,
    hashes: &[String],
    every: i64,
    mut told: impl FnMut(u64),
) -> Result<()> {
    match look(db).await? {
        Found::Nothing => {}
        Found::Half => write::sweep(db).await?,
        _ => return Err(Error::conflict("This database holds a shop already.")),
    }
    let world = Arc::new(World::new(wish)?);
    write::begin(db, &world, hashes).await?;
    let mut taught = Taught::new(db, &world, every).await?;
    // Invented and learned from, each on a thread of its own, while the last batch is being written; one waits
    // between each at most.
    let (hand_on, mut batches) = mpsc::channel(1);
    let inventing = {
        let world = Arc::clone(&world);
        tokio::task::spawn_blocking(move || {
            History::new(&world).tell(|batch| hand_on.blocking_send(batch).is_ok())
        })
    };
    let (hand_on, mut learned) = mpsc::channel(1);
    let learning = tokio::task::spawn_blocking(move || {
        while let Some(batch) = batches.blocking_recv() {
            let rows = taught.add(&batch);
            if hand_on.blocking_send((batch, rows)).is_err() {
                break;
            }
        }
        taught.end()
    });
    let (mut sums, mut written) = (Sums::new(world.shop.rules.clone()), 0);
    while let Some((batch, rows)) = learned.recv().await {
        write::add(&mut sums, &batch)?;
        written += u64::try_from(batch.books.len()).unwrap_or(0);
        write::batch(db, batch, &rows).await?;
        told(written);
    }
    inventing.await.map_err(Error::fault)??;
    let taught = learning.await.map_err(Error::fault)?;
    write::finish(db, &world, &sums, taught).await?;
    db.analyze().await?;
    Ok(())
}
