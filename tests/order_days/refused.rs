//! Days that cannot be: refused at their field, with what to do about it, and nothing is changed.

use serde_json::{Value, json};

use crate::comebacks::SEAM;
use crate::shop::{Shop, on_both};

impl Shop {
    /// Refused at this field, in words that begin and go on so.
    async fn refuses(&self, tag: &str, days: Value, field: &str, words: &str) {
        let before = self.order_now(tag).await;
        let answer = self.other_days(tag, days.clone()).await;
        assert_eq!(answer.status.as_u16(), 422, "{days}: {}", answer.json);
        let told = answer.json["errors"][0].to_string();
        assert_eq!(answer.json["errors"][0]["field"], field, "{told}");
        assert!(told.contains(words), "{days}: {told}");
        let now = self.order_now(tag).await;
        assert_eq!((now.version, now.days()), (before.version, before.days()));
    }
}

#[test]
fn what_cannot_be_the_days_of_one_visit_is_refused() {
    on_both(async |shop| {
        let order = super::seam(&shop, 0).await;
        shop.at(3, 9);
        shop.refuses(
            &order.tag,
            json!({"received_on": "2026-02-14"}),
            "received_on",
            "still to come",
        )
        .await;
        shop.refuses(
            &order.tag,
            json!({"received_on": "2026-02-12"}),
            "received_on",
            "It was here on Wed 11 Feb 2026",
        )
        .await;
        shop.refuses(
            &order.tag,
            json!({"received_on": "2020-02-10"}),
            "received_on",
            "more than five years before",
        )
        .await;
        shop.refuses(
            &order.tag,
            json!({"received_on": "1899-02-10"}),
            "received_on",
            "from 1900 on",
        )
        .await;
        shop.refuses(
            &order.tag,
            json!({"received_on": "soon"}),
            "received_on",
            "like 2026-02-28",
        )
        .await;
        shop.refuses(
            &order.tag,
            json!({"received_on": null}),
            "received_on",
            "Write the day it came in",
        )
        .await;
        shop.refuses(
            &order.tag,
            json!({"collected_on": "2026-02-12"}),
            "collected_on",
            "not gone home yet",
        )
        .await;
        shop.mend(&order, SEAM).await;
        shop.at(5, 9);
        shop.hand_back(&order).await;
        shop.refuses(
            &order.tag,
            json!({"collected_on": null}),
            "collected_on",
            "Write the day it went home",
        )
        .await;
        shop.refuses(
            &order.tag,
            json!({"collected_on": "2026-02-16"}),
            "collected_on",
            "still to come",
        )
        .await;
        shop.refuses(
            &order.tag,
            json!({"collected_on": "2026-02-12"}),
            "collected_on",
            "still here on Fri 13 Feb 2026",
        )
        .await;
        shop.refuses(
            &order.tag,
            json!({"received_on": "2026-02-15"}),
            "received_on",
            "It was here on",
        )
        .await;
        shop.is_well().await;
    });
}

#[test]
fn it_cannot_come_in_before_it_was_made_nor_go_home_before_it_came_in() {
    on_both(async |shop| {
        shop.at(0, 9);
        let order = shop
            .order(|intake| {
                if let purfle::counter::intake::Which::New(instrument) = &mut intake.instrument {
                    instrument.year_made = Some(2026);
                }
            })
            .await;
        shop.refuses(
            &order.tag,
            json!({"received_on": "2025-12-31"}),
            "received_on",
            "It was made in 2026",
        )
        .await;
        let text = format!(
            "{}2026-01-14,2026-01-16,Ilse Marbach,,Red-brown,violin,{SEAM},{SEAM}\n",
            crate::old_book::HEAD
        );
        crate::old_book::take(&shop, &text).await;
        let (tag,): (String,) = shop
            .app
            .db
            .read("select w.tag from work_order w join old_book b on b.work_order = w.id")
            .one()
            .await
            .expect("the order");
        shop.refuses(
            &tag,
            json!({"received_on": "2026-01-17"}),
            "received_on",
            "cannot come in after it went home",
        )
        .await;
        shop.refuses(
            &tag,
            json!({"collected_on": "2026-01-13"}),
            "collected_on",
            "cannot go home before it came in",
        )
        .await;
        shop.refuses(
            &tag,
            json!({"received_on": "2026-01-21", "collected_on": "2026-01-20"}),
            "collected_on",
            "cannot go home before",
        )
        .await;
        shop.is_well().await;
    });
}

#[test]
fn two_visits_do_not_change_places_nor_stand_in_each_other() {
    on_both(async |shop| {
        let first = shop.repaired(SEAM).await;
        shop.on_day(10);
        let second = shop.again(&first).await;
        shop.on_day(12);
        shop.mend(&second, SEAM).await;
        shop.on_day(13);
        shop.hand_back(&second).await;
        let before = "On the visit before, order 100 08";
        shop.refuses(
            &second.tag,
            json!({"received_on": "2026-02-09"}),
            "received_on",
            before,
        )
        .await;
        shop.refuses(
            &first.tag,
            json!({"collected_on": "2026-02-21"}),
            "collected_on",
            "It came in again on Fri 20 Feb 2026",
        )
        .await;
        let after = json!({"received_on": "2026-02-23", "collected_on": "2026-02-23"});
        shop.refuses(&first.tag, after, "received_on", "It came in again on")
            .await;
        // On the very day is not in each other.
        shop.days_right(&second.tag, json!({"received_on": "2026-02-10"}))
            .await;
        assert_eq!(crate::comebacks::back(&shop.rows().await), [Some(0), None]);
        shop.days_right(&second.tag, json!({"received_on": "2026-02-20"}))
            .await;
        shop.days_right(&first.tag, json!({"collected_on": "2026-02-20"}))
            .await;
        assert_eq!(crate::comebacks::back(&shop.rows().await), [Some(0), None]);
        let rows = shop.rows().await;
        assert_eq!((rows[0].work_order, rows[1].work_order), (first.id, second.id));
    });
}

#[test]
fn what_is_noted_as_gone_did_not_go_home_later() {
    on_both(async |shop| {
        let order = shop.repaired(SEAM).await;
        shop.on_day(5);
        let owner = shop.program("owner").await;
        let path = format!("/api/v1/instruments/{}", order.instrument);
        let etag = owner.get(&path).await.etag();
        let body = json!({"why": "sold", "on": "2026-02-12"});
        let gone = owner
            .post(&format!("{path}/gone"), &[("if-match", &etag)], &body)
            .await;
        assert_eq!(gone.status.as_u16(), 200, "{}", gone.json);
        shop.refuses(
            &order.tag,
            json!({"collected_on": "2026-02-13"}),
            "collected_on",
            "noted as gone since Thu 12 Feb 2026",
        )
        .await;
        shop.days_right(&order.tag, json!({"collected_on": "2026-02-12"}))
            .await;
    });
}
