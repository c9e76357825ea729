//! New bands: the history is counted anew by them while all work on, each order once, and whatever breaks off is taken up.

use std::collections::BTreeMap;
use std::time::Duration;

use purfle::app::App;
use purfle::clock::{Day, YearMonth, Zone};
use purfle::counter::order::Order;
use purfle::db::Db;
use purfle::reports::bands::{Bands, age};
use purfle::reports::new_bands::{Step, step};
use purfle::reports::rules::{Progress, Rules};
use serde_json::{Value, json};

use crate::demo::{filled, wish};
use crate::old_book::{HEAD, take};
use crate::recurrence::{act, find, of};
use crate::shop::{Answer, Shop, on_both, on_postgres};

const SEAM: &str = "seam_open_lower";

/// The owner asks for bands.
pub async fn want(shop: &Shop, bounds: &[i64]) -> Answer {
    let owner = shop.program("owner").await;
    let etag = owner.get("/api/v1/shop").await.etag();
    let answer = owner
        .patch("/api/v1/shop", &etag, &json!({"age_bounds": bounds}))
        .await;
    assert_eq!(answer.status.as_u16(), 200, "{}", answer.json);
    answer
}

pub async fn rules(db: &Db) -> Rules {
    Rules::read(db).await.expect("the rules")
}

/// Goes on until something is done; on PostgreSQL somebody may be in the way.
pub async fn go_on(db: &Db) -> Step {
    loop {
        match step(db).await {
            Ok(Step::Again) | Err(_) => tokio::time::sleep(Duration::from_millis(3)).await,
            Ok(step) => return step,
        }
    }
}

pub async fn to_the_end(db: &Db) -> usize {
    let mut months = 0;
    loop {
        match go_on(db).await {
            Step::None => return months,
            Step::Counted(_) => months += 1,
            _ => {}
        }
    }
}

/// Orders by month, family, band and cause, straight from the rows, by any bands.
pub async fn plain(db: &Db, bands: &Bands) -> BTreeMap<[String; 4], i64> {
    type Row = (Day, String, Option<i64>, String, i64);
    let rows: Vec<Row> = db
        .read(
            "select o.received_on, i.family, i.year_made, '' as cause, cast(1 as bigint) from work_order o
             join instrument i on i.id = o.instrument where o.inspected_on is not null
             union all select o.received_on, i.family, i.year_made, f.cause, cast(1 as bigint) from work_order o
             join instrument i on i.id = o.instrument join (select distinct work_order, cause from finding
               where certainty = 'confirmed' and not withdrawn) f on f.work_order = o.id",
        )
        .all()
        .await
        .expect("the rows");
    let mut cells = BTreeMap::new();
    for (day, family, made, cause, n) in rows {
        let band = bands.code(bands.of(age(made, day.year())));
        *cells.entry([day.month().iso(), family, band, cause]).or_default() += n;
    }
    cells
}

/// The same as the reports read it.
pub async fn shown(db: &Db) -> BTreeMap<[String; 4], i64> {
    let rows: Vec<(YearMonth, String, String, String, i64)> = db
        .read("select month, family, age_band, cause, orders from tally where orders <> 0")
        .all()
        .await
        .expect("the tally");
    rows.into_iter()
        .map(|row| ([row.0.iso(), row.1, row.2, row.3], row.4))
        .collect()
}

/// An order of a day with an open seam found, on an instrument made in a year.
pub async fn found(shop: &Shop, day: &str, made: Option<i64>) -> Order {
    on(shop, day);
    let order = shop.order(|new| of(new, "violin", made)).await;
    find(shop, &order, SEAM, "confirmed").await;
    order
}

pub fn on(shop: &Shop, day: &str) {
    let zone = Zone::named("Europe/Vienna").expect("a zone");
    shop.clock
        .set(zone.moment(Day::parse(day).expect("a day"), 10, 0));
}

/// The counter learns when an instrument was made.
pub async fn correct(shop: &Shop, order: &Order, year: Value) {
    let counter = shop.program("counter").await;
    let path = format!("/api/v1/instruments/{}", order.instrument);
    let etag = counter.get(&path).await.etag();
    let certainty = if year.is_null() { "unknown" } else { "exact" };
    let body = json!({"year_made": year, "year_certainty": certainty});
    let answer = counter.patch(&path, &etag, &body).await;
    assert_eq!(answer.status.as_u16(), 200, "{}", answer.json);
}

#[test]
fn other_bands_count_the_whole_history_anew_and_the_old_ones_are_shown_until_then() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(300, 11)).await;
        let (usual, new) = (
            Bands::default(),
            Bands::parse("5, 10, 30, 60, 90, 120, 200").unwrap(),
        );
        want_by_hand(&shop, &new).await;
        let all = rules(db).await.reach().expect("a history").months();
        for done in 1..=all {
            assert!(matches!(go_on(db).await, Step::Counted(_)));
            assert_eq!(rules(db).await.progress(), Some(Progress { done, all }));
            assert_eq!(rules(db).await.bands(), usual);
        }
        shop.is_well().await;
        assert_eq!(shown(db).await, plain(db, &usual).await);
        assert_eq!(go_on(db).await, Step::InForce);
        assert_eq!(
            (rules(db).await.bands(), rules(db).await.next()),
            (new.clone(), None)
        );
        assert_eq!(shown(db).await, plain(db, &new).await);
        shop.is_well().await;
        to_the_end(db).await;
        let (left,): (i64,) = db
            .read("select count(*) from tally_block where what = 'orders' and age_band <> ''")
            .one()
            .await
            .expect("a count");
        assert_eq!(left, 0, "what was kept by the old bands is taken away");
        shop.is_well().await;
        // And back again, into the first place.
        want_by_hand(&shop, &usual).await;
        to_the_end(db).await;
        assert_eq!(shown(db).await, plain(db, &usual).await);
        shop.is_well().await;
    });
}

/// As the owner's page does it, in an invented shop in which nobody has signed in.
pub async fn want_by_hand(shop: &Shop, bands: &Bands) {
    let mut tx = shop.app.db.begin().await.expect("begun");
    purfle::reports::rules::want(&mut tx, bands)
        .await
        .expect("wanted");
    tx.commit().await.expect("kept");
}

#[test]
fn what_is_done_meanwhile_is_counted_once_by_the_old_and_by_the_new() {
    on_both(async |shop| {
        let db = &shop.app.db;
        let early = found(&shop, "2025-11-05", Some(1950)).await;
        let late = found(&shop, "2026-01-20", None).await;
        on(&shop, "2026-02-10");
        let told = want(&shop, &[10, 70, 76, 90]).await.json;
        assert_eq!(told["age_recount"]["months_all"], 3, "{told}");
        assert_eq!(told["age_recount"]["bounds_before"], json!([2, 20, 80, 100]));
        // Before anything is counted, after the first month, and after the second.
        for round in 0..4 {
            for order in [&early, &late] {
                let finding = find(&shop, order, "peg_pin_loose", "confirmed").await;
                shop.is_well().await;
                if round % 2 == 1 {
                    let mut act = act(&shop, order).await;
                    purfle::bench::finding::withdraw(&mut act, finding.id)
                        .await
                        .expect("taken back");
                    act.then("/").await.expect("kept");
                }
            }
            // 75 to 76 years: another of the new bands and the same of the old; then another of both, and none.
            for year in [json!(1949), json!(2010), Value::Null, json!(1950)] {
                correct(&shop, &early, year).await;
                correct(&shop, &late, json!(1890 + round)).await;
                shop.is_well().await;
            }
            found(&shop, "2026-02-11", Some(2000 + round)).await;
            shop.is_well().await;
            if round < 3 {
                assert!(matches!(go_on(db).await, Step::Counted(_)), "{round}");
                shop.is_well().await;
            }
        }
        // February came only after the owner asked, and is counted like the rest.
        to_the_end(db).await;
        let new = Bands::parse("10 70 76 90").unwrap();
        assert_eq!(rules(db).await.bands(), new);
        assert_eq!(shown(db).await, plain(db, &new).await);
        shop.is_well().await;
    });
}

#[test]
fn broken_off_at_any_moment_it_is_taken_up_where_it_stood() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(300, 12)).await;
        let new = Bands::parse("50").unwrap();
        want_by_hand(&shop, &new).await;
        let mut broken = 0;
        for micros in (0..400).step_by(2) {
            if tokio::time::timeout(Duration::from_micros(micros), step(db))
                .await
                .is_err()
            {
                broken += 1;
            }
        }
        assert!(broken > 20, "{broken}");
        // Another program at the same database goes on.
        let other = App::new(db.clone(), shop.clock.clone(), String::new());
        to_the_end(&other.db).await;
        assert_eq!(shown(db).await, plain(db, &new).await);
        shop.is_well().await;
    });
}

#[test]
fn several_programs_at_one_database_share_the_work_and_count_nothing_twice() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(300, 13)).await;
        let new = Bands::parse("15 45").unwrap();
        want_by_hand(&shop, &new).await;
        let all = rules(db).await.reach().expect("a history").months();
        let (one, other, third) = tokio::join!(to_the_end(db), to_the_end(db), to_the_end(db));
        assert_eq!(i64::try_from(one + other + third).unwrap(), all);
        assert_eq!(shown(db).await, plain(db, &new).await);
        shop.is_well().await;
    });
}

/// Six people find and take back as fast as they can while the bands change and change again.
#[test]
fn a_busy_shop_loses_no_order_and_counts_none_twice() {
    on_both(async |shop| {
        let db = &shop.app.db;
        let mut orders = Vec::new();
        for month in 1..=6 {
            orders.push(found(&shop, &format!("2025-0{month}-03"), Some(1900 + 20 * month)).await);
        }
        on(&shop, "2026-02-10");
        let who = shop.who("bench").await;
        let mut hands = tokio::task::JoinSet::new();
        for order in orders {
            let (app, who) = (shop.app.clone(), who.clone());
            hands.spawn(async move { busy(&app, &who, &order).await });
        }
        for bounds in ["5 40", "60 80 100", "2 20 80 100", "30 90", "1 2 3 4 5 6 7"] {
            want_by_hand(&shop, &Bands::parse(bounds).unwrap()).await;
            to_the_end(db).await;
        }
        let done: usize = hands.join_all().await.into_iter().sum();
        assert_eq!(done, 6 * 30);
        let bands = Bands::parse("1 2 3 4 5 6 7").unwrap();
        assert_eq!(shown(db).await, plain(db, &bands).await);
        shop.is_well().await;
    });
}

async fn busy(app: &App, who: &purfle::staff::Who, order: &Order) -> usize {
    use purfle::act::{Act, Guard};
    use purfle::bench::finding::{self, NewFinding};
    let mut done = 0;
    while done < 30 {
        let mut act = Act::begin(app, who, &order.tag, Guard::default())
            .await
            .expect("an act");
        let new = NewFinding {
            cause: "peg_pin_loose".into(),
            certainty: "confirmed".into(),
            ..NewFinding::default()
        };
        let found = finding::log(&mut act, &new).await.expect("a finding");
        act.then("/").await.expect("kept");
        if done < 29 {
            let mut act = Act::begin(app, who, &order.tag, Guard::default())
                .await
                .expect("an act");
            finding::withdraw(&mut act, found.id).await.expect("taken back");
            act.then("/").await.expect("kept");
        }
        done += 1;
    }
    done
}

#[test]
fn bands_asked_for_while_others_are_counted_begin_anew_and_the_old_ones_end_it() {
    on_both(async |shop| {
        let db = &shop.app.db;
        let order = found(&shop, "2025-11-05", Some(1950)).await;
        on(&shop, "2026-02-10");
        want(&shop, &[10, 40]).await;
        assert!(matches!(go_on(db).await, Step::Counted(_)));
        want(&shop, &[30]).await;
        find(&shop, &order, "peg_pin_loose", "confirmed").await;
        shop.is_well().await;
        assert_eq!(go_on(db).await, Step::Cleared);
        to_the_end(db).await;
        let new = Bands::parse("30").unwrap();
        assert_eq!(shown(db).await, plain(db, &new).await);
        // Begun for others, and left again.
        want(&shop, &[40]).await;
        assert!(matches!(go_on(db).await, Step::Counted(_)));
        let told = want(&shop, &[30]).await.json;
        assert_eq!(
            (&told["age_bounds"], &told["age_recount"]),
            (&json!([30]), &Value::Null)
        );
        shop.is_well().await;
        to_the_end(db).await;
        assert_eq!(
            (rules(db).await.bands(), rules(db).await.next()),
            (new.clone(), None)
        );
        assert_eq!(shown(db).await, plain(db, &new).await);
        shop.is_well().await;
    });
}

#[test]
fn a_wrong_figure_of_the_bands_to_come_is_found() {
    on_both(async |shop| {
        let db = &shop.app.db;
        found(&shop, "2025-11-05", Some(1950)).await;
        on(&shop, "2026-02-10");
        want(&shop, &[10, 40]).await;
        go_on(db).await;
        let wrong =
            "update tally_block set nov = nov + 1 where what = 'orders_other' and age_band = '40_plus'
            and code = '' and family = '' and months = 12";
        assert_eq!(db.write(wrong).execute().await.expect("written"), 1);
        let checked = purfle::admin::check::check(db).await.expect("a check");
        let amiss: Vec<_> = checked
            .recounts
            .iter()
            .flat_map(|recount| &recount.amiss)
            .collect();
        assert_eq!(amiss.len(), 1, "{amiss:?}");
    });
}

#[test]
fn a_book_brought_in_meanwhile_is_counted_by_the_old_and_by_the_new() {
    on_both(async |shop| {
        let db = &shop.app.db;
        found(&shop, "2025-11-05", Some(1950)).await;
        found(&shop, "2026-01-05", Some(2015)).await;
        on(&shop, "2026-02-10");
        want(&shop, &[12, 33, 150]).await;
        go_on(db).await;
        // Of a month before all, of the one that is counted, and of one that is not.
        let mut book = HEAD.replace('\n', ",year_made\n");
        for (n, day, made) in [
            (1, "1999-03-01", "1840"),
            (2, "2025-11-20", "1993"),
            (3, "2026-01-12", ""),
        ] {
            book.extend([format!(
                "{day},{day},Person {n},01 555 020{n},violin {n},violin,{SEAM},{SEAM},{made}\n"
            )]);
        }
        take(&shop, &book).await;
        shop.is_well().await;
        to_the_end(db).await;
        let new = Bands::parse("12 33 150").unwrap();
        assert_eq!(rules(db).await.bands(), new);
        assert_eq!(shown(db).await, plain(db, &new).await);
        shop.is_well().await;
    });
}

/// An act that has found something and not kept it yet; on PostgreSQL others go on meanwhile.
pub async fn finding(shop: &Shop, order: &Order, cause: &str) -> purfle::act::Act {
    use purfle::bench::finding::{self, NewFinding};
    let mut act = act(shop, order).await;
    let new = NewFinding {
        cause: cause.into(),
        certainty: "confirmed".into(),
        ..NewFinding::default()
    };
    finding::log(&mut act, &new).await.expect("a finding");
    act
}

#[test]
fn an_act_and_a_step_that_meet_wait_for_each_other() {
    on_postgres(async |shop| {
        let db = &shop.app.db;
        let order = found(&shop, "2026-01-05", Some(1950)).await;
        on(&shop, "2026-02-10");
        want(&shop, &[10, 40]).await;
        // It has counted: the month waits until it is kept, and finds it then.
        let mut act = finding(&shop, &order, "peg_pin_loose").await;
        act.write().await.expect("written");
        assert!(step(db).await.is_err(), "the step does not wait for the act");
        act.then("/").await.expect("kept");
        assert!(matches!(step(db).await, Ok(Step::Counted(_))));
        shop.is_well().await;
        // It began before the bands were in force, and counts afterwards.
        let act = finding(&shop, &order, "wolf_note").await;
        assert_eq!(step(db).await.expect("a step"), Step::InForce);
        act.then("/").await.expect("kept");
        shop.is_well().await;
        // It began while nothing was counted, and counts when its month is.
        to_the_end(db).await;
        want(&shop, &[30, 60]).await;
        let act = finding(&shop, &order, "nut_loose").await;
        assert!(matches!(step(db).await, Ok(Step::Counted(_))));
        act.then("/").await.expect("kept");
        shop.is_well().await;
        to_the_end(db).await;
        shop.is_well().await;
    });
}

/// What changes nothing by the bands in force is waited for all the same.
#[test]
fn a_year_corrected_within_its_band_and_a_step_wait_for_each_other() {
    use purfle::counter::correction::{self, NewWords};
    use purfle::counter::instrument::Instrument;
    use purfle::form::Problems;
    on_postgres(async |shop| {
        let db = &shop.app.db;
        let order = found(&shop, "2026-01-05", Some(1950)).await;
        on(&shop, "2026-02-10");
        want(&shop, &[75]).await;
        let mut tx = db.begin().await.expect("begun");
        let kept = Instrument::get(&mut tx, order.instrument)
            .await
            .expect("the violin");
        let new = NewWords {
            year_made: Some(1960),
            ..NewWords::of(&kept)
        };
        let at = (kept.id, kept.version);
        correction::instrument(&mut tx, Problems::default(), at, &new, shop.clock.now())
            .await
            .expect("corrected");
        assert!(
            step(db).await.is_err(),
            "the step does not wait for the correction"
        );
        tx.commit().await.expect("kept");
        to_the_end(db).await;
        let new = Bands::parse("75").unwrap();
        assert_eq!(shown(db).await, plain(db, &new).await);
        shop.is_well().await;
    });
}
