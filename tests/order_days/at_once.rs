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

#[test]
fn days_of_all_visits_put_right_at_once_leave_them_one_after_the_other() {
    on_both(async |shop| {
        let first = shop.repaired(SEAM).await;
        shop.on_day(20);
        let second = shop.again(&first).await;
        shop.mend(&second, SEAM).await;
        shop.on_day(21);
        shop.hand_back(&second).await;
        shop.on_day(40);
        let third = shop.again(&first).await;
        let (owner, bench) = (shop.program("owner").await, shop.program("bench").await);
        let path = |tag: &str| format!("/api/v1/orders/{tag}");
        for (home, in_again, last) in [(5, 12, 33), (16, 8, 30), (3, 17, 26)] {
            let day = |days: i64| first.received_on.plus(days).iso();
            let etags = [
                owner.get(&path(&first.tag)).await.etag(),
                owner.get(&path(&second.tag)).await.etag(),
                owner.get(&path(&third.tag)).await.etag(),
            ];
            let (one, two, three) = (path(&first.tag), path(&second.tag), path(&third.tag));
            let found = json!({"cause": SEAM, "certainty": "confirmed"});
            let (find, headers) = (format!("{three}/findings"), [("if-match", etags[2].as_str())]);
            let days = [
                json!({"collected_on": day(home)}),
                json!({"received_on": day(in_again)}),
                json!({"received_on": day(last)}),
            ];
            let all = tokio::join!(
                owner.patch(&one, &etags[0], &days[0]),
                owner.patch(&two, &etags[1], &days[1]),
                owner.patch(&three, &etags[2], &days[2]),
                bench.post(&find, &headers, &found),
            );
            let statuses =
                [all.0.status, all.1.status, all.2.status, all.3.status].map(|status| status.as_u16());
            let one_of = |status: &u16| [200, 201, 412, 422].contains(status);
            assert!(statuses.iter().all(one_of), "{statuses:?}");
            assert!(statuses.iter().any(|status| *status < 300), "{statuses:?}");
            shop.is_well().await;
        }
        let now = [&first, &second, &third].map(|order| order.tag.clone());
        let [one, two, three] = [
            shop.order_now(&now[0]).await,
            shop.order_now(&now[1]).await,
            shop.order_now(&now[2]).await,
        ];
        assert!(one.collected_on <= Some(two.received_on) && two.collected_on <= Some(three.received_on));
    });
}
