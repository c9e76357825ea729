//! The demo: the same wish gives the same shop, and every row of it is what the acts would have written.

#[path = "demo/acted.rs"]
mod acted;
#[path = "demo/counts.rs"]
pub mod counts;
#[path = "demo/program.rs"]
mod program;
#[path = "demo/rows.rs"]
pub mod rows;
#[path = "demo/ties.rs"]
mod ties;

use purfle::clock::{Day, Moment};
use purfle::db::Db;
use purfle::demo::book::Book;
use purfle::demo::history::{Batch, History};
use purfle::demo::taught::Rows;
use purfle::demo::{self, Found, Wish, World, shop, write};

use crate::shop::on_both;

pub const AS_OF: Day = Day(20_504); // Fri 20 Feb 2026

pub fn wish(orders: u64, seed: u64) -> Wish {
    Wish {
        seed,
        orders,
        as_of: AS_OF,
    }
}

/// Hashes that open nothing: only `purfle demo` makes real ones.
pub fn hashes() -> Vec<String> {
    vec!["-".into(); shop::PEOPLE.len()]
}

/// Takes away the shop that every test begins with, and whatever was done in it.
pub async fn empty(db: &Db) {
    write::sweep(db).await.expect("swept");
    let mut tx = db.begin().await.expect("a transaction");
    for sql in [
        "delete from tally_block",
        "update counted set first_month = null, last_month = null",
        "delete from taught_share",
        "delete from taught_answer",
        "delete from score_tally",
        "update diagnosis set lessons = 0, tempered = 0, behind = 0, temper = ''",
        "delete from shop",
        "update tag_counter set next = 1000",
    ] {
        tx.query(sql).execute().await.expect("emptied");
    }
    tx.commit().await.expect("kept");
}

pub async fn filled(db: &Db, wish: Wish) {
    empty(db).await;
    demo::fill(db, wish, &hashes(), |_| {}).await.expect("a demo");
}

/// Everything invented, without a database.
pub fn invented(wish: Wish) -> (World, Vec<Batch>) {
    let world = World::new(wish).expect("a world");
    let mut batches = Vec::new();
    History::new(&world)
        .tell(|batch| {
            batches.push(batch);
            true
        })
        .expect("a history");
    (world, batches)
}

pub fn books(batches: &[Batch]) -> impl Iterator<Item = &Book> {
    batches.iter().flat_map(|batch| &batch.books)
}

#[test]
fn the_same_wish_gives_the_same_shop_on_both_databases() {
    let mut seen = Vec::new();
    let seen = std::sync::Mutex::new(&mut seen);
    on_both(async |shop| {
        let db = &shop.app.db;
        for (orders, seed) in [(300, 7), (300, 8), (300, 7)] {
            filled(db, wish(orders, seed)).await;
            let hash = rows::hash(db).await;
            seen.lock().expect("one at a time").push((seed, hash));
        }
    });
    let seen = seen.into_inner().expect("one at a time");
    let of = |seed| {
        seen.iter()
            .filter(move |row| row.0 == seed)
            .map(|row| row.1.clone())
    };
    let (seven, eight): (Vec<String>, Vec<String>) = (of(7).collect(), of(8).collect());
    assert!(
        seven.len() >= 2 && seven.iter().all(|hash| *hash == seven[0]),
        "{seven:?}"
    );
    assert!(
        eight.iter().all(|hash| *hash == eight[0] && *hash != seven[0]),
        "{eight:?}"
    );
}

#[test]
fn what_a_database_holds_is_told_apart() {
    on_both(async |shop| {
        let db = &shop.app.db;
        assert_eq!(demo::look(db).await.expect("a look"), Found::Shop);
        let refused = demo::fill(db, wish(3, 1), &hashes(), |_| {}).await;
        assert!(refused.is_err(), "a real shop is not filled over");
        empty(db).await;
        assert_eq!(demo::look(db).await.expect("a look"), Found::Nothing);
        filled(db, wish(3, 1)).await;
        assert_eq!(demo::look(db).await.expect("a look"), Found::Demo(wish(3, 1)));
    });
}

#[test]
fn a_filling_that_broke_off_is_no_shop_and_is_begun_anew() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(60, 1)).await;
        let whole = rows::hash(db).await;
        empty(db).await;
        // As if it had been killed after the first batch.
        let (world, batches) = invented(wish(60, 1));
        write::begin(db, &world, &hashes()).await.expect("begun");
        for batch in batches.into_iter().take(1) {
            write::batch(db, batch, &Rows::default()).await.expect("a batch");
        }
        assert_eq!(demo::look(db).await.expect("a look"), Found::Half);
        assert!(
            purfle::admin::shop::Shop::find(db)
                .await
                .expect("a look")
                .is_none()
        );
        demo::fill(db, wish(60, 1), &hashes(), |_| {})
            .await
            .expect("a demo");
        assert_eq!(rows::hash(db).await, whole);
    });
}

#[test]
fn no_orders_are_a_shop_with_its_people_and_catalogue() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(0, 1)).await;
        assert_eq!(shop.count("work_order").await, 0);
        assert_eq!(shop.count("staff").await, 7);
        let (next,): (i64,) = db
            .read("select next from tag_counter")
            .one()
            .await
            .expect("the next number");
        assert_eq!(next, 1000);
    });
}

#[test]
fn a_living_shop_is_left_at_the_end() {
    let (world, batches) = invented(wish(12_000, 1));
    let here: Vec<&Book> = books(&batches)
        .filter(|book| book.order.collected_at.is_none())
        .collect();
    assert!((30..=60).contains(&here.len()), "{} are here", here.len());
    let stages = [
        "received",
        "inspecting",
        "awaiting_approval",
        "approved",
        "in_repair",
        "play_test",
        "ready",
        "returned",
    ];
    for stage in stages {
        assert!(
            here.iter().any(|book| book.order.stage.code() == stage),
            "none is {stage}"
        );
    }
    assert!(here.iter().any(|book| book.order.is_late(AS_OF)), "none is late");
    assert!(
        here.iter().any(|book| book.order.received_on == AS_OF),
        "none came today"
    );
    let held = |book: &&Book| book.order.hold_until.is_some_and(|until| until > world.end);
    assert!(here.iter().any(held), "none waits until later");
    let last: Moment = books(&batches).map(Book::last_moment).max().expect("deeds");
    assert!(last <= world.end, "something happens after the end");
}
