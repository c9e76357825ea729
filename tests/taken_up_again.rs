//! An order taken up again before it goes home is one order all along: in the month, among the comebacks, in every count.

use purfle::counter::order_changes::{self, NewReturn};
use serde_json::json;

use crate::comebacks::SEAM;
use crate::month::read;
use crate::recurrence::check;
use crate::shop::{Shop, on_both};

const PEG: &str = "peg_pin_loose";

impl Shop {
    async fn taken_up_again(&self, tag: &str) {
        self.at_bench(tag, async |act| {
            order_changes::reopen(act).await.expect("taken up again");
        })
        .await;
    }

    /// The page of the month and the table beside it.
    async fn february(&self) -> (String, String) {
        let owner = self.sign_in("owner").await;
        let page = owner.get("/month?from=2026-02&to=2026-02").await;
        assert_eq!(page.status, 200, "{}", page.body);
        let csv = owner.get("/month.csv?from=2026-02&to=2026-02&table=causes").await;
        (read(&page), csv.body)
    }
}

#[test]
fn ready_and_taken_up_again_it_is_one_order_with_both_causes() {
    on_both(async |shop| {
        let order = shop.order(|intake| intake.authorised_limit = Some(50_000)).await;
        shop.mend(&order, SEAM).await;
        shop.on_day(2);
        let before = shop.february().await;
        shop.taken_up_again(&order.tag).await;
        assert_eq!(shop.february().await, before, "nothing new was found yet");
        shop.mend(&order, PEG).await;
        shop.on_day(30);
        shop.hand_back(&order).await;
        let (page, csv) = shop.february().await;
        assert!(page.contains("1 order received in February 2026"), "{page}");
        assert_eq!(csv.matches("1,1,").count(), 2, "{csv}");
        let rows = shop.rows().await;
        assert!(rows.iter().all(|row| row.back_on.is_none()) && rows.len() == 2);
        shop.is_well().await;
    });
}

#[test]
fn nothing_found_and_taken_up_again_it_was_inspected_once_and_teaches_what_is_found_then() {
    on_both(async |shop| {
        let order = shop.order(|intake| intake.authorised_limit = Some(50_000)).await;
        check(&shop, &order, PEG).await;
        shop.at_bench(&order.tag, async |act| {
            let why = "nothing_found".into();
            let new = NewReturn {
                why,
                note: String::new(),
            };
            order_changes::give_back(act, &new).await.expect("goes back");
        })
        .await;
        shop.is_well().await;
        shop.taken_up_again(&order.tag).await;
        shop.is_well().await;
        shop.mend(&order, SEAM).await;
        shop.hand_back(&order).await;
        let (page, csv) = shop.february().await;
        assert!(page.contains("1 order received in February 2026"), "{page}");
        assert_eq!(csv.matches("1,1,").count(), 1, "{csv}");
        shop.is_well().await;
    });
}

#[test]
fn once_it_went_home_it_is_not_taken_up_again_and_nothing_is_counted_twice() {
    on_both(async |shop| {
        let order = shop.repaired(SEAM).await;
        let before = shop.february().await;
        let bench = shop.program("bench").await;
        let path = format!("/api/v1/orders/{}", order.tag);
        let etag = bench.get(&path).await.etag();
        let answer = bench
            .post(&format!("{path}/reopen"), &[("if-match", &etag)], &json!({}))
            .await;
        assert_eq!(answer.status.as_u16(), 409, "{}", answer.json);
        assert!(
            answer.json.to_string().contains("take it in as a new visit"),
            "{}",
            answer.json
        );
        assert_eq!(shop.february().await, before);
        shop.is_well().await;
    });
}
