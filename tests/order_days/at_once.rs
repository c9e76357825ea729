//! Two at once: one of them is told that it came too late, and every count is right.

use serde_json::json;

use crate::comebacks::SEAM;
use crate::shop::{Shop, on_both};

/// The statuses of days put right on one order while a finding is written on another or the same.
async fn race(shop: &Shop, days_of: &str, found_on: &str, cause: &str) -> [u16; 2] {
    let (owner, bench) = (shop.program("owner").await, shop.program("bench").await);
    let path = |tag: &str| format!("/api/v1/orders/{tag}");
    let (one, other) = (
        owner.get(&path(days_of)).await.etag(),
        owner.get(&path(found_on)).await.etag(),
    );
    let (days, find) = (path(days_of), format!("{}/findings", path(found_on)));
    let now = shop.order_now(days_of).await;
    let right = json!({"received_on": now.received_on.plus(-3).iso()});
    let found = json!({"cause": cause, "certainty": "confirmed"});
    let headers = [("if-match", other.as_str())];
    let (moved, found) = tokio::join!(
        owner.patch(&days, &one, &right),
        bench.post(&find, &headers, &found)
    );
    [moved.status.as_u16(), found.status.as_u16()]
}

#[test]
fn days_put_right_while_something_is_found_on_the_same_order_is_one_after_the_other() {
    on_both(async |shop| {
        shop.on_day(0);
        let order = shop.order(|_| {}).await;
        for cause in [SEAM, "nut_loose", "peg_pin_loose"] {
            let mut statuses = race(&shop, &order.tag, &order.tag, cause).await;
            statuses.sort_unstable();
            assert!([[200, 412], [201, 412]].contains(&statuses), "{statuses:?}");
            shop.is_well().await;
        }
    });
}

#[test]
fn a_pickup_put_right_while_it_comes_back_ends_well() {
    on_both(async |shop| {
        let first = shop.repaired(SEAM).await;
        shop.on_day(20);
        let second = shop.again(&first).await;
        let [days, found] = race(&shop, &first.tag, &second.tag, SEAM).await;
        assert!(days == 200 && [201, 412].contains(&found), "{days} {found}");
        shop.is_well().await;
    });
}
