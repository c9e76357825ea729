//! What was found is said, whoever found it and by whatever way, and is not called quiet before something was done about it.

use serde_json::{Value, json};

use purfle::bench::finding::Finding;
use purfle::counter::order::Order;

use crate::shop::{Program, Shop, on_both};

/// A call that changes the order as it stands now.
async fn call(shop: &Shop, by: &Program, order: &Order, what: &str, body: Value) -> (u16, Value) {
    let version = format!("\"{}\"", shop.order_now(&order.tag).await.version);
    let headers = [("if-match", version.as_str())];
    let answer = by
        .post(&format!("/api/v1/orders/{}/{what}", order.tag), &headers, &body)
        .await;
    (answer.status.as_u16(), answer.json)
}

fn found() -> Value {
    json!({"cause": "nut_slot_low", "result": "found"})
}

async fn certainties(shop: &Shop, order: &Order) -> Vec<String> {
    let findings = Finding::of(&shop.app.db, order.id).await.expect("the findings");
    findings.into_iter().map(|finding| finding.certainty).collect()
}

async fn summary(shop: &Shop, order: &Order) -> String {
    let owner = shop.sign_in("owner").await;
    owner.get(&format!("/orders/{}/summary", order.tag)).await.body
}

#[test]
fn a_call_that_found_it_writes_the_finding_as_the_page_does() {
    on_both(async |shop| {
        for (role, certainty) in [
            ("bench", "confirmed"),
            ("owner", "confirmed"),
            ("counter", "suspected"),
        ] {
            let (by, order) = (shop.program(role).await, shop.order(|_| {}).await);
            for _ in 0..2 {
                assert_eq!(call(&shop, &by, &order, "checks", found()).await.0, 201);
            }
            assert_eq!(certainties(&shop, &order).await, [certainty], "{role}");
        }
    });
}

#[test]
fn what_was_found_is_not_quiet_before_something_was_done_about_it() {
    on_both(async |shop| {
        let (counter, bench) = (shop.program("counter").await, shop.program("bench").await);
        for finder in [&counter, &bench] {
            let order = shop.order(|_| {}).await;
            call(&shop, finder, &order, "checks", found()).await;
            let quiet = json!({"result": "quiet"});
            let (status, said) = call(&shop, &bench, &order, "play_test", quiet.clone()).await;
            assert_eq!(status, 409, "{said}");
            let said = said["detail"].as_str().expect("words");
            assert!(
                said.contains("String too low at the nut") && said.contains("take the finding back"),
                "{said}"
            );
            // Taken back, and then it may be quiet.
            let finding = Finding::of(&shop.app.db, order.id).await.expect("findings")[0].id;
            let back = format!("findings/{finding}/withdraw");
            assert_eq!(call(&shop, &bench, &order, &back, json!({})).await.0, 200);
            assert_eq!(call(&shop, &bench, &order, "play_test", quiet).await.0, 200);
            assert!(summary(&shop, &order).await.contains("No fault"));
        }
    });
}

#[test]
fn what_was_mended_for_it_or_looked_at_again_is_quiet() {
    on_both(async |shop| {
        let (counter, bench) = (shop.program("counter").await, shop.program("bench").await);
        let quiet = json!({"result": "quiet"});
        let mended = shop.order(|_| {}).await;
        call(&shop, &counter, &mended, "checks", found()).await;
        let finding = Finding::of(&shop.app.db, mended.id).await.expect("findings")[0].id;
        let step = json!({"job": "fill_nut_slot", "finding": finding, "planned_minutes": 10});
        let (_, step) = call(&shop, &bench, &mended, "steps", step).await;
        let done = format!("steps/{}/done", step["id"].as_str().expect("an id"));
        call(&shop, &bench, &mended, &done, json!({"actual_minutes": 9})).await;
        assert_eq!(
            call(&shop, &bench, &mended, "play_test", quiet.clone()).await.0,
            200
        );
        let looked = shop.order(|_| {}).await;
        call(&shop, &counter, &looked, "checks", found()).await;
        let not = json!({"cause": "nut_slot_low", "result": "not_found"});
        call(&shop, &bench, &looked, "checks", not).await;
        assert_eq!(call(&shop, &bench, &looked, "play_test", quiet).await.0, 200);
    });
}

#[test]
fn the_summary_names_what_was_seen_and_nobody_confirmed() {
    on_both(async |shop| {
        let (counter, bench) = (shop.program("counter").await, shop.program("bench").await);
        let order = shop.order(|_| {}).await;
        call(&shop, &counter, &order, "checks", found()).await;
        let nothing = json!({"why": "nothing_found"});
        assert_eq!(call(&shop, &bench, &order, "return", nothing).await.0, 409);
        let beyond = json!({"why": "beyond_repair"});
        let (status, said) = call(&shop, &bench, &order, "return", beyond.clone()).await;
        assert_eq!(status, 200, "{said}");
        let paper = summary(&shop, &order).await;
        assert!(paper.contains("Seen when we looked"), "{paper}");
        assert!(
            paper.contains("Seen, and not repaired") && !paper.contains("No fault"),
            "{paper}"
        );
        // Nothing seen, and not worth it all the same: that is no clean bill.
        let other = shop.order(|_| {}).await;
        let not = json!({"cause": "nut_slot_low", "result": "unclear"});
        call(&shop, &bench, &other, "checks", not).await;
        call(&shop, &bench, &other, "return", beyond).await;
        let paper = summary(&shop, &other).await;
        assert!(
            !paper.contains("No fault") && paper.contains("We looked for 1 possible cause"),
            "{paper}"
        );
    });
}

#[test]
fn what_the_customer_did_not_want_is_told_so_and_does_not_keep_it_from_being_quiet() {
    on_both(async |shop| {
        let bench = shop.program("bench").await;
        let order = shop.order(|_| {}).await;
        let small = json!({"title": "Clean", "planned_minutes": 5});
        let (_, small) = call(&shop, &bench, &order, "steps", small).await;
        let done = format!("steps/{}/done", small["id"].as_str().expect("an id"));
        let dear = json!({"title": "New fingerboard", "planned_minutes": 600});
        call(&shop, &bench, &order, "checks", found()).await;
        call(
            &shop,
            &bench,
            &order,
            "promise",
            json!({"authorised_limit": 90_000}),
        )
        .await;
        call(&shop, &bench, &order, "steps", dear).await;
        assert_eq!(
            call(&shop, &bench, &order, &done, json!({"actual_minutes": 5}))
                .await
                .0,
            200
        );
        call(&shop, &bench, &order, "promise", json!({"authorised_limit": 100})).await;
        let no = json!({"decision": "declined", "by": "Marta", "channel": "phone"});
        let (status, said) = call(&shop, &bench, &order, "approval", no).await;
        assert_eq!(status, 200, "{said}");
        let buzzes = json!({"result": "still_buzzes"});
        assert_eq!(call(&shop, &bench, &order, "play_test", buzzes).await.0, 200);
        let (status, said) = call(&shop, &bench, &order, "play_test", json!({"result": "quiet"})).await;
        assert_eq!(status, 200, "{said}");
        let paper = summary(&shop, &order).await;
        assert!(
            paper.contains("New fingerboard. Planned, and not done, as you wished."),
            "{paper}"
        );
    });
}

#[test]
fn what_is_not_worth_the_repair_is_told_with_the_reason_that_was_typed() {
    on_both(async |shop| {
        let (counter, bench) = (shop.program("counter").await, shop.program("bench").await);
        for looked in [false, true] {
            let order = shop.order(|_| {}).await;
            if looked {
                let check = json!({"cause": "nut_slot_low", "result": "not_found"});
                call(&shop, &counter, &order, "checks", check).await;
            }
            let why = json!({"why": "beyond_repair", "note": "The top has sunk and the block is split."});
            let (status, told) = call(&shop, &bench, &order, "return", why).await;
            assert_eq!(
                (status, &told["returned_note"]),
                (200, &json!("The top has sunk and the block is split."))
            );
            let paper = summary(&shop, &order).await;
            assert!(
                paper.contains("not worth it: The top has sunk and the block is split.")
                    && !paper.contains("No fault"),
                "{paper}"
            );
            // Taken up again, it is not said any more.
            let (_, told) = call(&shop, &bench, &order, "reopen", json!({})).await;
            assert_eq!(told["returned_note"], json!(null));
        }
    });
}
