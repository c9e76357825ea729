//! Days put right before and after a visit that came back: what is a comeback follows them.

use purfle::bench::finding;
use purfle::counter::order_changes;
use purfle::reports::comebacks::{self, By};
use serde_json::json;

use crate::comebacks::{SEAM, back};
use crate::month::read;
use crate::pickup::{found, hour};
use crate::shop::{Shop, on_both};

impl Shop {
    /// Comebacks as the month's page has them, the days that each finding says, and the order's page of the second.
    pub async fn told_of(&self, first: &str, second: &str) -> (i64, Vec<Option<i64>>, String) {
        let (sum,): (i64,) = self
            .app
            .db
            .read("select cast(coalesce(sum(jan + feb + mar + apr + may + jun + jul + aug + sep + oct + nov + dec), 0) as bigint) from tally_block where what = 'comebacks' and months = 12")
            .one()
            .await
            .expect("a sum");
        let mut days = Vec::new();
        for tag in [first, second] {
            let order = self.order_now(tag).await;
            let findings = finding::Finding::of(&self.app.db, order.id)
                .await
                .expect("findings");
            days.extend(findings.iter().map(|finding| finding.comeback_days));
        }
        let page = self
            .sign_in("owner")
            .await
            .get(&format!("/orders/{second}"))
            .await;
        (sum, days, read(&page))
    }
}

#[test]
fn a_pickup_put_right_brings_a_comeback_into_the_window_and_out_of_it() {
    on_both(async |shop| {
        let first = shop.repaired(SEAM).await;
        shop.on_day(95);
        let second = shop.again(&first).await;
        shop.at_bench(&second.tag, async |act| {
            let found = finding::log(act, &found(SEAM, "confirmed")).await.expect("found");
            let mut step = hour(Some(found.id));
            step.free = true;
            purfle::bench::step::plan(act, &step).await.expect("planned");
        })
        .await;
        let (sum, days, page) = shop.told_of(&first.tag, &second.tag).await;
        assert_eq!((sum, days), (0, vec![None, Some(95)]));
        assert!(page.contains("95 days before it came in again, after"), "{page}");
        shop.days_right(&first.tag, json!({"collected_on": "2026-02-20"}))
            .await;
        let (sum, days, page) = shop.told_of(&first.tag, &second.tag).await;
        assert_eq!(
            (sum, days, back(&shop.rows().await)),
            (1, vec![None, Some(85)], vec![Some(85)])
        );
        assert!(page.contains("85 days before it came in again, within"), "{page}");
        assert!(page.contains("were put right: Open seam at a lower bout or by the lower block, top or back was repaired then, and collected 85 days before"), "{page}");
        shop.days_right(&first.tag, json!({"collected_on": "2026-02-14"}))
            .await;
        assert_eq!(shop.told_of(&first.tag, &second.tag).await.0, 0);
        // The other end of it.
        shop.days_right(&second.tag, json!({"received_on": "2026-05-15"}))
            .await;
        let (sum, days, _) = shop.told_of(&first.tag, &second.tag).await;
        assert_eq!((sum, days), (1, vec![None, Some(90)]));
    });
}

#[test]
fn a_pickup_that_was_written_late_makes_what_came_between_a_comeback() {
    on_both(async |shop| {
        let first = shop.order(|intake| intake.authorised_limit = Some(50_000)).await;
        shop.mend(&first, SEAM).await;
        // Fetched on the third day, back on the tenth; that it was fetched is written on the twelfth.
        shop.on_day(10);
        let second = shop.again(&first).await;
        shop.mend(&second, SEAM).await;
        shop.on_day(12);
        shop.hand_back(&first).await;
        shop.hand_back(&second).await;
        assert_eq!(shop.told_of(&first.tag, &second.tag).await.1, [None, None]);
        shop.days_right(&first.tag, json!({"collected_on": "2026-02-13"}))
            .await;
        let (sum, days, _) = shop.told_of(&first.tag, &second.tag).await;
        assert_eq!((sum, days), (1, vec![None, Some(7)]));
        assert_eq!(back(&shop.rows().await), [Some(7), None]);
    });
}

#[test]
fn a_return_of_the_season_is_told_by_the_days_as_they_are_right() {
    on_both(async |shop| {
        let first = shop.repaired("peg_pin_loose").await;
        let as_of = shop.on_day(305);
        let second = shop.again(&first).await;
        shop.mend(&second, "peg_pin_loose").await;
        let seasonal = async || {
            let all = comebacks::together(&shop.groups(as_of, By::Cause, "").await);
            (all.back(), all.seasonal)
        };
        assert_eq!(seasonal().await, (1, 1));
        shop.days_right(&second.tag, json!({"received_on": "2026-12-01"}))
            .await;
        assert_eq!(seasonal().await, (1, 0), "294 days");
        shop.days_right(
            &first.tag,
            json!({"received_on": "2026-01-20", "collected_on": "2026-01-20"}),
        )
        .await;
        assert_eq!(seasonal().await, (1, 1), "315 days");
    });
}

#[test]
fn both_days_of_a_visit_of_one_day_take_all_of_it_along() {
    on_both(async |shop| {
        shop.at(0, 9);
        let order = shop.order(|intake| intake.authorised_limit = Some(50_000)).await;
        shop.at(0, 10);
        shop.mend(&order, SEAM).await;
        shop.at(0, 11);
        shop.hand_back(&order).await;
        let right = json!({"received_on": "2026-01-31", "collected_on": "2026-01-31"});
        let told = shop.days_right(&order.tag, right).await;
        assert_eq!(
            told["timeline"][0]["words"],
            "Days put right: it came in on Sat 31 Jan 2026, not on Tue 10 Feb 2026, and it went home on Sat 31 Jan 2026, not on Tue 10 Feb 2026"
        );
        for (at, day) in [
            (&told["received_at"], "2026-01-31T08:00:00Z"),
            (&told["findings"][0]["at"], "2026-01-31T09:00:00Z"),
            (&told["steps"][0]["done_at"], "2026-01-31T09:00:00Z"),
            (&told["play_tests"][0]["at"], "2026-01-31T09:00:00Z"),
            (&told["collected"]["at"], "2026-01-31T10:00:00Z"),
            (&told["inspected_on"], "2026-01-31"),
            (&told["ready_on"], "2026-01-31"),
        ] {
            assert_eq!(at, day);
        }
        let now = shop.order_now(&order.tag).await;
        assert_eq!(super::days(&now), [Some(0), None, Some(0), Some(0)]);
        assert_eq!(shop.counted("2026-01").await, (1, 1));
    });
}

#[test]
fn an_order_that_was_taken_up_again_keeps_its_days_together() {
    on_both(async |shop| {
        let order = super::seam(&shop, 0).await;
        shop.at(2, 11);
        shop.mend(&order, SEAM).await;
        shop.at_bench(&order.tag, async |act| {
            order_changes::reopen(act).await.expect("taken up again");
        })
        .await;
        shop.at(3, 11);
        shop.days_right(&order.tag, json!({"received_on": "2026-01-29"}))
            .await;
        shop.mend(&order, "peg_pin_loose").await;
        shop.at(6, 11);
        shop.hand_back(&order).await;
        shop.at(8, 11);
        let right = json!({"received_on": "2026-02-05", "collected_on": "2026-02-14"});
        shop.days_right(&order.tag, right).await;
        let now = shop.order_now(&order.tag).await;
        assert_eq!(super::days(&now), [Some(6), None, Some(2), Some(1)]);
        assert_eq!(shop.counted("2026-02").await.0, 1);
    });
}
