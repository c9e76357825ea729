//! Owed: what is still to be paid for what went home is said wherever somebody may look, and is paid when it comes.

use serde_json::json;

use purfle::counter::order::Order;
use purfle::counter::pickup::{self, NewPickup};

use crate::shop::{NOW, Shop, on_both};

/// Something went home, and so much of its € 94.39 was paid.
async fn gone_home(shop: &Shop, name: &str, paid: i64) -> Order {
    let order = shop
        .ready(|intake| {
            if let purfle::counter::intake::Which::New(new) = &mut intake.customer {
                name.clone_into(&mut new.name);
            }
        })
        .await;
    let who = shop.who("counter").await;
    let mut act = purfle::act::Act::begin(&shop.app, &who, &order.tag, purfle::act::Guard::default())
        .await
        .expect("the order");
    let new = NewPickup {
        collected_by: name.into(),
        paid,
        method: Some("cash".into()),
    };
    pickup::hand_back(&mut act, &new).await.expect("handed back");
    act.then("/").await.expect("kept");
    shop.order_now(&order.tag).await
}

#[test]
fn what_is_still_owed_is_said_on_the_order_the_customer_and_today() {
    on_both(async |shop| {
        let order = gone_home(&shop, "Marta Ellingworth", 5000).await;
        let counter = shop.sign_in("counter").await;
        let page = counter.get(&format!("/orders/{}", order.tag)).await.body;
        assert!(page.contains("Still owed: €\u{a0}44.39."), "{page}");
        assert!(page.contains(&format!("/orders/{}/pickup", order.tag)));
        let customer = counter.get(&format!("/customers/{}", order.customer)).await.body;
        for page in [
            customer,
            counter.get("/").await.body,
            counter.get("/owed").await.body,
        ] {
            assert!(
                page.contains("€\u{a0}44.39") && page.contains(&order.spoken()),
                "{page}"
            );
            assert!(page.contains(&format!("href=\"/orders/{}/pickup\"", order.tag)));
        }
        let bench = shop.sign_in("bench").await;
        assert!(!bench.get("/").await.body.contains("still owed"));
        assert_eq!(bench.get("/owed").await.status.as_u16(), 403);
    });
}

#[test]
fn what_was_left_is_taken_later_and_then_nothing_is_owed() {
    on_both(async |shop| {
        let order = gone_home(&shop, "Marta Ellingworth", 5000).await;
        let counter = shop.sign_in("counter").await;
        let page = counter.get(&format!("/orders/{}/pickup", order.tag)).await;
        assert_eq!(page.field("amount"), "44.39");
        let rest = [
            ("version", page.field("version")),
            ("once", page.field("once")),
            ("amount", page.field("amount")),
            ("method", "transfer"),
        ];
        let pay = format!("/orders/{}/payments", order.tag);
        assert_eq!(counter.post(&pay, &rest).await.status.as_u16(), 303);
        assert_eq!(shop.order_now(&order.tag).await.owed.0, 0);
        for path in [
            format!("/orders/{}", order.tag),
            "/".into(),
            format!("/customers/{}", order.customer),
        ] {
            let page = counter.get(&path).await.body;
            // The story alone still tells of it.
            assert!(
                !page.contains("Still owed") && !page.contains("home, still owed"),
                "{path}: {page}"
            );
        }
        shop.is_well().await;
    });
}

#[test]
fn the_longest_owed_come_first_and_the_rest_is_a_page_further() {
    on_both(async |shop| {
        let mut tags = Vec::new();
        for day in 0..6 {
            shop.clock.set(NOW.plus_ms(day * 86_400_000));
            tags.push(gone_home(&shop, &format!("Nr {day}"), 1).await.tag);
        }
        shop.clock.set(NOW.plus_ms(9 * 86_400_000));
        let counter = shop.sign_in("counter").await;
        let place = |page: &str, tag: &String| page.find(&format!("/orders/{tag}/pickup"));
        let today = counter.get("/").await.body;
        let named: Vec<bool> = tags.iter().map(|tag| place(&today, tag).is_some()).collect();
        assert_eq!(named, [true, true, true, false, false, false]);
        assert!(place(&today, &tags[0]) < place(&today, &tags[2]));
        assert!(
            today.contains("and 3 more") && today.contains("€\u{a0}566.28 together"),
            "{today}"
        );
        let all = counter.get("/owed").await.body;
        assert!(tags.iter().all(|tag| place(&all, tag).is_some()));
        let rest = counter.get(&format!("/owed?after={}", tags[3])).await.body;
        assert!(place(&rest, &tags[3]).is_none() && place(&rest, &tags[4]).is_some());
        for lost in ["/owed?after=10000", "/owed?customer=nobody"] {
            assert_eq!(counter.get(lost).await.status.as_u16(), 404, "{lost}");
        }
    });
}

#[test]
fn a_program_is_told_what_is_owed_and_lists_it() {
    on_both(async |shop| {
        let owing = gone_home(&shop, "Marta Ellingworth", 5000).await;
        gone_home(&shop, "Ruben Oak", 9439).await;
        let counter = shop.program("counter").await;
        let list = counter.get("/api/v1/orders?owed=yes").await.json;
        assert_eq!(list["items"].as_array().map(Vec::len), Some(1));
        assert_eq!(
            (&list["items"][0]["tag"], &list["items"][0]["owed"]),
            (&json!(owing.tag), &json!(4439))
        );
        for (q, many) in [
            ("q=marta", 1),
            ("q=ruben", 0),
            ("stage=collected", 1),
            ("stage=ready", 0),
        ] {
            let found = counter.get(&format!("/api/v1/orders?owed=yes&{q}")).await.json;
            assert_eq!(found["items"].as_array().map(Vec::len), Some(many), "{q}");
        }
        assert_eq!(counter.get("/api/v1/orders?owed=no").await.status.as_u16(), 422);
        let customer = counter
            .get(&format!("/api/v1/customers/{}", owing.customer))
            .await
            .json;
        let owed = &customer["owed"];
        assert_eq!(
            (&owed["total"], &owed["count"], &owed["orders"][0]["tag"]),
            (&json!(4439), &json!(1), &json!(owing.tag))
        );
        let (path, etag) = (
            format!("/api/v1/orders/{}/payments", owing.tag),
            format!("\"{}\"", owing.version),
        );
        let paid = counter
            .post(
                &path,
                &[("if-match", &etag)],
                &json!({"amount": 4439, "method": "cash"}),
            )
            .await;
        assert_eq!(paid.status.as_u16(), 201, "{}", paid.json);
        assert_eq!(
            counter.get("/api/v1/orders?owed=yes").await.json["items"],
            json!([])
        );
    });
}
