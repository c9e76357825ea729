//! Money by month, and the days at the stages, when the day of the pickup is put right.

use purfle::bench::step;
use purfle::counter::order::Order;
use purfle::counter::pickup::{self, NewPayment, NewPickup};
use serde_json::{Value, json};

use crate::comebacks::{SEAM, quiet};
use crate::old_book::take;
use crate::pickup::hour;
use crate::shop::{Shop, on_both};

impl Shop {
    async fn takes(&self, tag: &str, what: impl AsyncFnOnce(&mut purfle::act::Act)) {
        let who = self.who("counter").await;
        let mut act = purfle::act::Act::begin(&self.app, &who, tag, purfle::act::Guard::default())
            .await
            .expect("the order");
        what(&mut act).await;
        act.then("/").await.expect("kept");
    }

    /// Charged, taken and owed in a month.
    async fn money_of(&self, month: &str) -> [i64; 3] {
        let path = format!("/api/v1/reports/work?from={month}&to={month}");
        let answer = self.program("owner").await.get(&path).await.json;
        let told = &answer["months"][0];
        [&told["charged"], &told["taken"], &told["owed"]].map(|value| value.as_i64().unwrap_or(0))
    }

    async fn stages_of(&self, month: &str) -> Vec<(String, i64)> {
        let path = format!("/api/v1/reports/work?from={month}&to={month}");
        let answer = self.program("owner").await.get(&path).await.json;
        let stages = answer["stages"].as_array().expect("stages").clone();
        let told = |stage: Value| (stage["stage"].to_string(), stage["orders"].as_i64().unwrap_or(0));
        stages.into_iter().map(told).collect()
    }
}

/// Mended on 28 Jan for 86.40, fetched on 3 Feb with 20.00 paid then, and 30.00 on the 5th.
async fn fetched(shop: &Shop) -> Order {
    let order = super::seam(shop, -20).await;
    shop.at(-13, 11);
    shop.at_bench(&order.tag, async |act| {
        let step = step::plan(act, &hour(None)).await.expect("planned");
        step::done(act, step.id, 70).await.expect("done");
        quiet(act).await;
    })
    .await;
    shop.at(-7, 11);
    shop.takes(&order.tag, async |act| {
        let new = NewPickup {
            collected_by: "Marta".into(),
            paid: 2000,
            method: Some("cash".into()),
        };
        pickup::hand_back(act, &new).await.expect("handed back");
    })
    .await;
    shop.at(-5, 11);
    shop.takes(&order.tag, async |act| {
        let (amount, method) = (3000, "card".into());
        pickup::pay(act, &NewPayment { amount, method })
            .await
            .expect("paid");
    })
    .await;
    shop.at(0, 10);
    order
}

#[test]
fn what_was_charged_and_paid_at_the_pickup_goes_with_it_and_what_was_owed_too() {
    on_both(async |shop| {
        let order = fetched(&shop).await;
        let [charged, taken, owed] = shop.money_of("2026-02").await;
        assert_eq!((taken, owed), (5000, charged - 5000));
        assert_eq!(shop.money_of("2026-01").await, [0, 0, 0]);
        let told = shop
            .days_right(&order.tag, json!({"collected_on": "2026-01-30"}))
            .await;
        assert_eq!(
            told["timeline"][0]["words"],
            "Days put right: it went home on Fri 30 Jan 2026, not on Tue 3 Feb 2026, with what was paid then"
        );
        assert_eq!(shop.money_of("2026-01").await, [charged, 2000, charged - 2000]);
        assert_eq!(shop.money_of("2026-02").await, [0, 3000, charged - 5000]);
        let stages = shop.stages_of("2026-01").await;
        assert!(
            stages.contains(&("\"ready\"".into(), 1)) && stages.contains(&("\"whole\"".into(), 1)),
            "{stages:?}"
        );
        assert!(shop.stages_of("2026-02").await.iter().all(|stage| stage.1 == 0));
        let now = shop.order_now(&order.tag).await;
        assert_eq!(super::days(&now), [Some(1), None, Some(6), Some(2)]);
        shop.days_right(&order.tag, json!({"collected_on": "2026-02-03"}))
            .await;
        assert_eq!(shop.money_of("2026-02").await, [charged, 5000, charged - 5000]);
        assert_eq!(shop.money_of("2026-01").await, [0, 0, 0]);
    });
}

#[test]
fn what_was_paid_before_a_later_pickup_was_paid_ahead() {
    on_both(async |shop| {
        let order = fetched(&shop).await;
        let owed = shop.money_of("2026-02").await;
        // On the day after the second payment: nothing was owed in between.
        shop.days_right(&order.tag, json!({"collected_on": "2026-02-06"}))
            .await;
        assert_eq!(shop.money_of("2026-02").await, owed);
        assert_eq!(shop.order_now(&order.tag).await.owed.0, owed[2]);
    });
}

#[test]
fn put_right_at_the_counter_and_fetched_at_once_goes_as_one() {
    on_both(async |shop| {
        shop.at(-14, 10);
        let order = shop.order(|_| {}).await;
        shop.at(-13, 11);
        crate::recurrence::find(&shop, &order, "mute_on_afterlength", "confirmed").await;
        let counter = shop.program("counter").await;
        let path = format!("/api/v1/orders/{}", order.tag);
        shop.at(-3, 11);
        let etag = counter.get(&path).await.etag();
        let body = json!({"done": "Tied back", "minutes": 5, "cost": 1000, "result": "quiet", "collected_by": "Marta", "method": "cash"});
        let done = counter
            .post(&format!("{path}/put_right"), &[("if-match", &etag)], &body)
            .await;
        assert_eq!(done.status.as_u16(), 200, "{}", done.json);
        shop.at(0, 10);
        let told = shop
            .days_right(&order.tag, json!({"collected_on": "2026-01-30"}))
            .await;
        let collected = &told["collected"]["at"];
        for at in [
            &told["steps"][0]["done_at"],
            &told["play_tests"][0]["at"],
            &told["payments"][0]["at"],
        ] {
            assert_eq!(at, collected);
        }
        assert_eq!(
            (&told["ready_on"], &told["payments"][0]["paid_on"]),
            (&json!("2026-01-30"), &json!("2026-01-30"))
        );
        let now = shop.order_now(&order.tag).await;
        assert_eq!(super::days(&now), [Some(1), None, Some(2), Some(0)]);
        assert_eq!(shop.money_of("2026-01").await[1], 1200);
    });
}

#[test]
fn a_visit_of_the_old_book_goes_with_all_that_the_book_says_of_it() {
    on_both(async |shop| {
        take(&shop, crate::old_book::SAMPLE).await;
        let of = async |words: &str| {
            let row: (String,) = shop
                .app
                .db
                .read("select tag from work_order where words = $1")
                .bind(words.to_owned())
                .one()
                .await
                .expect("the order");
            row.0
        };
        let (first, second) = (
            of("It buzzes on the top string since the heating is on.").await,
            of("The same buzz again.").await,
        );
        // Both lines were a month too early.
        let right = json!({"received_on": "2019-03-20", "collected_on": "2019-03-21"});
        shop.days_right(&second, right).await;
        let right = json!({"received_on": "2019-02-14", "collected_on": "2019-02-16"});
        let told = shop.days_right(&first, right).await;
        assert_eq!(told["steps"][0]["done_at"], "2019-02-16T11:00:00Z");
        assert_eq!(shop.money_of("2019-01").await, [0, 0, 0]);
        assert_eq!(shop.money_of("2019-02").await, [5800, 5800, 0]);
        assert_eq!(
            (shop.counted("2019-02").await, shop.counted("2019-01").await),
            ((1, 1), (0, 0))
        );
        assert_eq!(shop.told_of(&first, &second).await.1, [None, Some(32)]);
        assert!(
            shop.rows()
                .await
                .iter()
                .all(|row| row.cause != SEAM || row.back_on.is_none())
        );
    });
}
