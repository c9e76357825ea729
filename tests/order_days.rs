//! The days of an order put right: every report follows, and what cannot be is refused in words.

#[path = "order_days/again.rs"]
mod again;
#[path = "order_days/at_once.rs"]
mod at_once;
#[path = "order_days/many.rs"]
mod many;
#[path = "order_days/money.rs"]
mod money;
#[path = "order_days/page.rs"]
mod page;
#[path = "order_days/refused.rs"]
mod refused;

use purfle::clock::{DAY_MS, Day, Moment};
use purfle::counter::intake::Which;
use purfle::counter::order::Order;
use serde_json::{Value, json};

use crate::comebacks::SEAM;
use crate::month::read;
use crate::recurrence::{check, find};
use crate::shop::{Answer, NOW, Shop, on_both};

impl Shop {
    /// So many days after [`NOW`], at an hour of the clock in Vienna.
    fn at(&self, days: i64, hour: i64) -> Day {
        self.clock
            .set(Moment(NOW.0 + days * DAY_MS + (hour - 10) * 3_600_000));
        Day(NOW.0 / DAY_MS + days)
    }

    /// Asks for other days, as the owner's program does.
    async fn other_days(&self, tag: &str, days: Value) -> Answer {
        let owner = self.program("owner").await;
        let path = format!("/api/v1/orders/{tag}");
        let etag = owner.get(&path).await.etag();
        owner.patch(&path, &etag, &days).await
    }

    /// The same, and all is well afterwards.
    async fn days_right(&self, tag: &str, days: Value) -> Value {
        let answer = self.other_days(tag, days).await;
        assert_eq!(answer.status.as_u16(), 200, "{}", answer.json);
        self.is_well().await;
        answer.json
    }

    /// Inspected, and confirmed with an open seam, in a month.
    async fn counted(&self, month: &str) -> (i64, i64) {
        let path = format!("/api/v1/reports/recurrence?from={month}&to={month}");
        let answer = self.program("owner").await.get(&path).await.json;
        let told = |value: &Value| value.as_i64().unwrap_or(0);
        (
            told(&answer["inspected"]),
            told(&answer["causes"][0]["confirmed"]),
        )
    }
}

/// Taken in today, looked at the day after, with an open seam.
async fn seam(shop: &Shop, days: i64) -> Order {
    shop.at(days, 9);
    let order = shop.order(|intake| intake.authorised_limit = Some(50_000)).await;
    shop.at(days + 1, 11);
    check(shop, &order, "nut_loose").await;
    find(shop, &order, SEAM, "confirmed").await;
    order
}

fn days(of: &Order) -> [Option<i64>; 4] {
    [of.days_first, of.days_answer, of.days_bench, of.days_ready]
}

#[test]
fn an_order_that_came_in_earlier_is_counted_in_that_month() {
    on_both(async |shop| {
        let order = seam(&shop, 0).await;
        assert_eq!(
            (shop.counted("2026-02").await, shop.counted("2026-01").await),
            ((1, 1), (0, 0))
        );
        let told = shop
            .days_right(&order.tag, json!({"received_on": "2026-01-28"}))
            .await;
        assert_eq!(told["received_on"], "2026-01-28");
        assert_eq!(
            told["timeline"][0]["words"],
            "Days put right: it came in on Wed 28 Jan 2026, not on Tue 10 Feb 2026"
        );
        assert_eq!(
            (shop.counted("2026-02").await, shop.counted("2026-01").await),
            ((0, 0), (1, 1))
        );
        let now = shop.order_now(&order.tag).await;
        assert_eq!(
            (days(&now), now.version),
            ([Some(14), None, Some(0), None], order.version + 3)
        );
        // And back again, to the day on which it was looked at, and to the one that was written.
        shop.days_right(&order.tag, json!({"received_on": "2026-02-11"}))
            .await;
        shop.days_right(&order.tag, json!({"received_on": "2026-02-10"}))
            .await;
        assert_eq!(
            (shop.counted("2026-02").await, shop.counted("2026-01").await),
            ((1, 1), (0, 0))
        );
        let now = shop.order_now(&order.tag).await;
        assert_eq!(
            (now.received_at, days(&now)),
            (order.received_at, [Some(1), None, Some(0), None])
        );
    });
}

#[test]
fn over_new_year_the_age_is_another_and_so_may_be_its_band() {
    on_both(async |shop| {
        // Made in 1926: a hundred years old in 2026.
        shop.at(-40, 9);
        let order = shop
            .order(|intake| {
                if let Which::New(instrument) = &mut intake.instrument {
                    instrument.year_made = Some(1926);
                }
            })
            .await;
        find(&shop, &order, SEAM, "confirmed").await;
        let bands = async || {
            let path = "/api/v1/reports/recurrence?from=2025-12&to=2026-01";
            let answer = shop.program("owner").await.get(path).await.json;
            answer["cells"][0]["age_band"]
                .as_str()
                .unwrap_or_default()
                .to_owned()
        };
        assert_eq!(bands().await, "100_plus");
        shop.days_right(&order.tag, json!({"received_on": "2025-12-31"}))
            .await;
        assert_eq!(
            (bands().await.as_str(), shop.counted("2025-12").await),
            ("80_to_99", (1, 1))
        );
    });
}

#[test]
fn a_look_at_the_counter_goes_with_the_intake_and_one_of_later_stays() {
    on_both(async |shop| {
        shop.at(0, 9);
        let order = shop
            .order(|intake| {
                intake.checks = vec![purfle::bench::check::NewCheck {
                    cause: "nut_loose".into(),
                    result: "found".into(),
                    ..purfle::bench::check::NewCheck::default()
                }];
            })
            .await;
        let told = shop
            .days_right(&order.tag, json!({"received_on": "2026-02-02"}))
            .await;
        assert_eq!(
            (&told["inspected_on"], &told["findings"][0]["at"]),
            (&json!("2026-02-02"), &json!("2026-02-02T08:00:00Z"))
        );
        shop.at(3, 9);
        find(&shop, &order, SEAM, "confirmed").await;
        let told = shop
            .days_right(&order.tag, json!({"received_on": "2026-02-07"}))
            .await;
        assert_eq!(told["inspected_on"], "2026-02-07");
        let now = shop.order_now(&order.tag).await;
        assert_eq!(days(&now), [Some(0), None, Some(6), None]);
        assert_eq!(now.stage_on.map(Day::iso).as_deref(), Some("2026-02-13"));
    });
}

#[test]
fn what_nobody_looked_at_moves_and_counts_nothing() {
    on_both(async |shop| {
        shop.at(0, 9);
        let order = shop.order(|_| {}).await;
        shop.days_right(&order.tag, json!({"received_on": "2026-01-30"}))
            .await;
        let now = shop.order_now(&order.tag).await;
        assert_eq!(now.stage_on, Some(now.received_on));
        assert_eq!(
            (shop.counted("2026-01").await, days(&now)),
            ((0, 0), [Some(0), None, None, None])
        );
        shop.at(2, 9);
        shop.days_right(&order.tag, json!({"received_on": "2026-02-12"}))
            .await;
        check(&shop, &order, SEAM).await;
        assert_eq!(shop.counted("2026-02").await, (1, 0));
        shop.is_well().await;
    });
}

#[test]
fn a_leap_day_is_a_day_and_one_of_another_year_is_none() {
    on_both(async |shop| {
        shop.clock.set(Moment(1_835_607_600_000)); // Thu 2 Mar 2028, 12:00 in Vienna
        let order = shop.order(|_| {}).await;
        find(&shop, &order, SEAM, "confirmed").await;
        let told = shop
            .days_right(&order.tag, json!({"received_on": "2028-02-29"}))
            .await;
        assert!(
            told["timeline"][0]["words"]
                .as_str()
                .is_some_and(|words| words.contains("Tue 29 Feb 2028"))
        );
        assert_eq!(
            (shop.counted("2028-02").await, shop.counted("2028-03").await),
            ((1, 1), (0, 0))
        );
        let none = shop
            .other_days(&order.tag, json!({"received_on": "2027-02-29"}))
            .await;
        assert_eq!(
            (none.status.as_u16(), &none.json["errors"][0]["field"]),
            (422, &json!("received_on"))
        );
    });
}

#[test]
fn a_month_that_was_reported_tells_that_an_order_was_moved_out_of_it() {
    on_both(async |shop| {
        shop.at(-20, 9);
        let order = shop.order(|_| {}).await;
        find(&shop, &order, SEAM, "confirmed").await;
        shop.at(0, 9);
        let owner = shop.sign_in("owner").await;
        let form = [("from", "2026-01"), ("to", "2026-01"), ("family", "")];
        assert_eq!(owner.post("/month", &form).await.status, 303);
        shop.days_right(&order.tag, json!({"received_on": "2025-12-30"}))
            .await;
        let words = read(&owner.get("/month?from=2026-01").await);
        assert!(words.contains("Inspected 1 0"), "{words}");
        let words = read(&owner.get("/month?from=2025-12").await);
        assert!(words.contains("1 order received in December 2025"), "{words}");
    });
}

#[test]
fn what_an_order_taught_and_how_well_it_was_guessed_go_with_its_day() {
    on_both(async |shop| {
        shop.at(0, 9);
        let order = shop
            .order(|intake| {
                intake.checks = vec![purfle::bench::check::NewCheck {
                    cause: "nut_loose".into(),
                    result: "found".into(),
                    ..purfle::bench::check::NewCheck::default()
                }];
            })
            .await;
        let kept = async || {
            let db = &shop.app.db;
            let (month,): (i64,) = db.read("select month from lesson").one().await.expect("a lesson");
            let (scored,): (i64,) = db.read("select month from scored").one().await.expect("a guess");
            (month, scored - 2026 * 12)
        };
        assert_eq!(kept().await, (1, 1));
        shop.days_right(&order.tag, json!({"received_on": "2025-11-03"}))
            .await;
        assert_eq!(kept().await, (10, -2));
    });
}
