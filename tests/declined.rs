//! Declined: what the customer did not want stays on the order as not done, with why, and is in no sum.

use serde_json::{Value, json};

use crate::api::{Visit, take_in, violin};
use crate::shop::{Program, Shop, on_both};

/// A violin with € 43.20 of work that was done, and € 864.00 that was said no to.
async fn half_declined(shop: &Shop, owner: &Program) -> (Visit, Value) {
    let taken = take_in(owner, "a visit", &violin()).await;
    let mut visit = Visit::of(&taken);
    let small = visit
        .does(owner, "steps", json!({"title": "Clean", "planned_minutes": 30}))
        .await;
    let small = small["id"].as_str().expect("an id").to_owned();
    visit
        .does(
            owner,
            &format!("steps/{small}/done"),
            json!({"actual_minutes": 30}),
        )
        .await;
    let dear = visit
        .does(
            owner,
            "steps",
            json!({"title": "New bass bar", "planned_minutes": 600}),
        )
        .await;
    let no = json!({"decision": "declined", "by": "Ada", "channel": "phone"});
    let no = visit.does(owner, "approval", no).await;
    assert_eq!(
        (&no["approvals"][0]["estimate"], &no["stage"]),
        (&json!(90_720), &json!("play_test"))
    );
    assert_eq!(shop.count("repair_step").await, 2);
    (visit, dear)
}

#[test]
fn what_was_declined_is_in_no_sum_of_the_order() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let (visit, dear) = half_declined(&shop, &owner).await;
        let order = owner.get(&visit.path).await.json;
        let estimate = &order["estimate"];
        assert_eq!(
            (&estimate["total"], &order["money"]["owed"]),
            (&json!(4320), &json!(4320))
        );
        assert_eq!(estimate["lines"].as_array().map(Vec::len), Some(1));
        assert_eq!(order["steps"].as_array().map(Vec::len), Some(2));
        assert!(order["steps"][0]["declined_at"].is_null() && order["steps"][1]["declined_at"].is_string());
        let done = format!("steps/{}/done", dear["id"].as_str().expect("an id"));
        let refused = visit.tries(&owner, &done, &json!({"actual_minutes": 5})).await;
        assert_eq!(refused.status.as_u16(), 409, "{}", refused.json);
        let page = shop
            .sign_in("owner")
            .await
            .get(&visit.path.replace("/api/v1", ""))
            .await
            .body;
        assert!(page.contains("not done: the customer did not want it") && page.contains("not wanted"));
        assert!(
            page.contains("€\u{a0}43.20") && !page.contains("€\u{a0}720.00"),
            "{page}"
        );
    });
}

#[test]
fn what_was_declined_stands_on_the_pickup_and_the_summary_as_not_done() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let (mut visit, _) = half_declined(&shop, &owner).await;
        visit.does(&owner, "play_test", json!({"result": "quiet"})).await;
        let (browser, path) = (shop.sign_in("owner").await, visit.path.replace("/api/v1", ""));
        let pickup = browser.get(&format!("{path}/pickup")).await.body;
        for words in [
            "New bass bar",
            "not done: the customer did not want it",
            "€\u{a0}43.20",
        ] {
            assert!(pickup.contains(words), "{words} in {pickup}");
        }
        let summary = browser.get(&format!("{path}/summary")).await.body;
        assert!(
            summary.contains("New bass bar. Planned, and not done, as you wished."),
            "{summary}"
        );
        for sum in ["864.00", "720.00", "907.20"] {
            assert!(!pickup.contains(sum) && !summary.contains(sum), "{sum}");
        }
        let gone = visit
            .does(
                &owner,
                "pickup",
                json!({"collected_by": "Ada", "paid": 4320, "method": "card"}),
            )
            .await;
        assert_eq!(gone["money"]["owed"], 0);
        shop.is_well().await;
    });
}

#[test]
fn more_work_is_asked_for_without_what_was_declined_and_waits_for_it_no_longer() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let (mut visit, _) = half_declined(&shop, &owner).await;
        let more = visit
            .does(&owner, "steps", json!({"title": "Polish", "planned_minutes": 3}))
            .await;
        // € 43.20 and € 4.32 are within the limit of € 50.
        assert_eq!(more["stage"], "in_repair");
        let done = format!("steps/{}/done", more["id"].as_str().expect("an id"));
        let after = visit.does(&owner, &done, json!({"actual_minutes": 3})).await;
        assert_eq!(
            (&after["stage"], &after["estimate"]["total"]),
            (&json!("play_test"), &json!(4752))
        );
    });
}

#[test]
fn a_no_to_all_of_it_leaves_nothing_to_pay_until_it_is_taken_up_again() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let mut visit = Visit::begin(&owner).await;
        visit
            .does(
                &owner,
                "steps",
                json!({"title": "New bass bar", "planned_minutes": 600}),
            )
            .await;
        let no = json!({"decision": "declined", "by": "Ada", "channel": "phone"});
        visit.does(&owner, "approval", no).await;
        let order = owner.get(&visit.path).await.json;
        assert_eq!(
            (&order["stage"], &order["estimate"]["total"]),
            (&json!("returned"), &json!(0))
        );
        let listed = owner.get("/api/v1/orders?stage=returned").await.json;
        assert_eq!(listed["items"][0]["estimate"], 0);
        let again = visit.does(&owner, "reopen", json!({})).await;
        assert_eq!(
            (&again["stage"], &again["estimate"]["total"]),
            (&json!("awaiting_approval"), &json!(86_400))
        );
        assert!(again["steps"][0]["declined_at"].is_null());
    });
}
