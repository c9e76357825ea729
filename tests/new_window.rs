//! A new window of comebacks: what is promised goes by it at once, what is counted in a moment, and nothing is counted twice.

use purfle::clock::Day;
use purfle::counter::order::Order;
use purfle::reports::bands::Bands;
use purfle::reports::comebacks::{self, By};
use purfle::reports::comebacks_ask::Asked;
use purfle::reports::new_bands::{Step, step};
use purfle::reports::rules::Rules;
use purfle::reports::season::Seasons;
use serde_json::json;

use crate::new_bands::{finding, rules, to_the_end};
use crate::shop::{Shop, on_both, on_postgres};

const PIN: &str = "peg_pin_loose";

/// The owner asks for a window.
async fn want(shop: &Shop, days: i64) {
    let owner = shop.program("owner").await;
    let etag = owner.get("/api/v1/shop").await.etag();
    let answer = owner
        .patch("/api/v1/shop", &etag, &json!({"comeback_days": days}))
        .await;
    assert_eq!(answer.status.as_u16(), 200, "{}", answer.json);
}

/// The causes of which the months tell any comeback, and how many.
async fn told(shop: &Shop) -> Vec<(String, i64)> {
    let owner = shop.sign_in("owner").await;
    let table = owner
        .get("/month.csv?table=comebacks&from=2025-01&to=2029-12")
        .await;
    let mut reader = csv::Reader::from_reader(table.body.as_bytes());
    let rows = reader.deserialize::<std::collections::BTreeMap<String, String>>();
    rows.map(|row| {
        let row = row.expect("a row");
        (row["cause"].clone(), row["comebacks"].parse().expect("a count"))
    })
    .filter(|row| row.1 > 0)
    .collect()
}

/// Repaired, and received again after so many days with the same cause.
async fn back_after(shop: &Shop, days: i64) -> Order {
    shop.on_day(0);
    let first = shop.repaired(PIN).await;
    shop.on_day(days);
    let second = shop.again(&first).await;
    shop.mend(&second, PIN).await;
    second
}

#[test]
fn another_window_is_promised_at_once_and_counted_in_a_moment() {
    on_both(async |shop| {
        let second = back_after(&shop, 120).await;
        assert_eq!(told(&shop).await, []);
        want(&shop, 200).await;
        let order = shop
            .sign_in("owner")
            .await
            .get(&format!("/orders/{}", second.tag))
            .await;
        assert!(
            order.body.contains("within the comeback window of 200 days"),
            "{}",
            order.body
        );
        assert_eq!(told(&shop).await, []);
        let owner = shop.sign_in("owner").await;
        for page in ["/month", "/work", "/settings"] {
            let body = owner.get(page).await.body;
            assert!(
                body.contains("counted anew by a window of 200 days"),
                "{page}: {body}"
            );
            assert!(
                body.contains("the reports tell them by 90 days"),
                "{page}: {body}"
            );
        }
        let program = shop.program("owner").await;
        let said = program.get("/api/v1/shop").await.json;
        assert_eq!(
            (&said["comeback_days"], &said["comeback_recount"]),
            (&json!(200), &json!({"days_before": 90}))
        );
        shop.is_well().await;
        assert_eq!(step(&shop.app.db).await.expect("a step"), Step::Window);
        assert_eq!(told(&shop).await, [(PIN.to_owned(), 1)]);
        assert!(!owner.get("/month").await.body.contains("counted anew"));
        assert_eq!(
            program.get("/api/v1/shop").await.json["comeback_recount"],
            json!(null)
        );
        shop.is_well().await;
        // Wanted and taken back before it was counted: nothing is to be done.
        want(&shop, 100).await;
        want(&shop, 200).await;
        assert_eq!(step(&shop.app.db).await.expect("a step"), Step::None);
        shop.is_well().await;
    });
}

#[test]
fn a_finding_and_a_new_window_that_meet_count_by_the_new_one() {
    on_postgres(async |shop| {
        let db = &shop.app.db;
        shop.on_day(0);
        let first = shop.repaired(PIN).await;
        shop.on_day(120);
        let second = shop.again(&first).await;
        // It began by the old window, and is counted after the new one is in force.
        let act = finding(&shop, &second, PIN).await;
        want(&shop, 200).await;
        assert_eq!(step(db).await.expect("a step"), Step::Window);
        act.then("/").await.expect("kept");
        assert_eq!(told(&shop).await.len(), 1);
        shop.is_well().await;
        // And the other way round: it was a comeback, and is none any more.
        let third = {
            shop.on_day(121);
            let third = shop.repaired("nut_loose").await;
            shop.on_day(250);
            shop.again(&third).await
        };
        let act = finding(&shop, &third, "nut_loose").await;
        want(&shop, 100).await;
        assert_eq!(step(db).await.expect("a step"), Step::Window);
        act.then("/").await.expect("kept");
        assert!(told(&shop).await.is_empty(), "{:?}", told(&shop).await);
        shop.is_well().await;
        // One that has counted is waited for.
        let fourth = {
            shop.on_day(251);
            let fourth = shop.repaired("saddle_loose").await;
            shop.on_day(300);
            shop.again(&fourth).await
        };
        let mut act = finding(&shop, &fourth, "saddle_loose").await;
        want(&shop, 40).await;
        act.write().await.expect("written");
        assert!(step(db).await.is_err(), "the step does not wait for the act");
        act.then("/").await.expect("kept");
        to_the_end(db).await;
        assert_eq!(rules(db).await.window(), 40);
        assert!(told(&shop).await.is_empty());
        shop.is_well().await;
    });
}

#[test]
fn what_the_shop_answers_for_is_not_natures() {
    on_both(async |shop| {
        // Back in the same dry season, 380 days after the pickup.
        let second = back_after(&shop, 380).await;
        let as_of = second.received_on;
        for (window, natures) in [(0, 1), (90, 1), (299, 1), (379, 1), (380, 0), (430, 0), (730, 0)] {
            let asked = Asked {
                as_of,
                by: By::Cause,
                cause: String::new(),
            };
            let rules = Rules::new(&Bands::default(), window);
            let groups = comebacks::read(&shop.app.db, &asked, &rules, &Seasons::northern()).await;
            let all = comebacks::together(&groups.expect("groups"));
            assert_eq!((all.back(), all.seasonal), (1, natures), "{window}");
        }
        for (window, words) in [
            (
                90,
                Some("Of 1 that came back after 300 to 430 days, 1 came in the same season:"),
            ),
            (
                350,
                Some("Of 1 that came back after 351 to 430 days, 1 came in the same season:"),
            ),
            (400, None),
            (600, None),
        ] {
            want(&shop, window).await;
            to_the_end(&shop.app.db).await;
            let page = shop.sign_in("owner").await.get("/comebacks?by=cause").await;
            assert_eq!(page.status.as_u16(), 200);
            match words {
                Some(words) => assert!(page.body.contains(words), "{window}: {}", page.body),
                None => assert!(
                    !page.body.contains("nature’s, not the shop’s."),
                    "{window}: {}",
                    page.body
                ),
            }
        }
    });
}

#[test]
fn a_shop_that_answers_for_two_years_is_told_of_what_was_repaired_two_years_ago() {
    on_both(async |shop| {
        shop.on_day(0);
        let first = shop.repaired(PIN).await;
        let day: Day = shop.on_day(600);
        let again = shop.again(&first).await;
        assert_eq!(again.received_on, day);
        let owner = shop.sign_in("owner").await;
        let page = async || owner.get(&format!("/orders/{}", again.tag)).await.body;
        assert!(
            !page().await.contains("this was repaired here"),
            "{}",
            page().await
        );
        want(&shop, 700).await;
        assert!(
            page().await.contains("this was repaired here 600 days ago"),
            "{}",
            page().await
        );
    });
}
