//! Once and no more: keys against doing a thing twice, versions against undoing what somebody else did.

use serde_json::json;
use tokio::task::JoinSet;

use super::{ORDERS, Visit, fields, take_in, violin};
use crate::shop::on_both;

#[test]
fn the_same_key_makes_one_order_and_gets_one_answer() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let first = take_in(&counter, "k-1", &violin()).await;
        let again = take_in(&counter, "k-1", &violin()).await;
        assert_eq!(
            (again.status, again.etag(), &again.json),
            (first.status, first.etag(), &first.json)
        );
        assert_eq!(again.header("idempotent-replay"), "true");
        assert_eq!(
            (shop.count("work_order").await, shop.count("customer").await),
            (1, 1)
        );
        let other = take_in(&counter, "k-2", &violin()).await;
        assert_ne!(other.json["tag"], first.json["tag"]);
    });
}

#[test]
fn the_same_key_for_another_body_is_refused() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        take_in(&counter, "k", &violin()).await;
        let mut other = violin();
        other["condition"] = json!("Another scratch.");
        let refused = take_in(&counter, "k", &other).await;
        assert_eq!(
            (refused.status.as_u16(), fields(&refused)),
            (422, vec!["Idempotency-Key"])
        );
        assert_eq!(refused.json["errors"][0]["in"], "header");
        assert_eq!(shop.count("work_order").await, 1);
    });
}

#[test]
fn a_key_is_its_senders_own() {
    on_both(async |shop| {
        let (counter, owner) = (shop.program("counter").await, shop.program("owner").await);
        let first = take_in(&counter, "k", &violin()).await;
        let other = take_in(&owner, "k", &violin()).await;
        assert_eq!((first.status.as_u16(), other.status.as_u16()), (201, 201));
        assert_ne!(first.json["id"], other.json["id"]);
    });
}

#[test]
fn twenty_at_once_make_one_order() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let mut sent = JoinSet::new();
        for _ in 0..20 {
            let counter = counter.clone();
            sent.spawn(async move { take_in(&counter, "all at once", &violin()).await });
        }
        let answers = sent.join_all().await;
        for answer in &answers {
            assert_eq!(answer.status.as_u16(), 201, "{}", answer.json);
            assert_eq!(
                (&answer.json, answer.etag()),
                (&answers[0].json, answers[0].etag())
            );
        }
        assert_eq!(
            (shop.count("work_order").await, shop.count("customer").await),
            (1, 1)
        );
    });
}

#[test]
fn an_order_without_a_key_is_not_taken() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let refused = counter.post(ORDERS, &[], &violin()).await;
        assert_eq!(refused.status.as_u16(), 400);
        assert!(
            refused.json["detail"]
                .as_str()
                .expect("words")
                .contains("Idempotency-Key")
        );
        let long = "k".repeat(201);
        for key in ["", &long] {
            let refused = take_in(&counter, key, &violin()).await;
            assert_eq!(
                (refused.status.as_u16(), fields(&refused)),
                (422, vec!["Idempotency-Key"])
            );
        }
        assert_eq!(shop.count("work_order").await, 0);
    });
}

#[test]
fn a_refused_act_does_not_use_up_its_key() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let mut body = violin();
        body["customer"]["name"] = json!(" ");
        assert_eq!(take_in(&counter, "k", &body).await.status.as_u16(), 422);
        assert_eq!(take_in(&counter, "k", &violin()).await.status.as_u16(), 201);
    });
}

#[test]
fn an_act_sent_again_is_answered_again_though_the_version_moved_on() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let visit = Visit::begin(&owner).await;
        let path = format!("{}/payments", visit.path);
        let headers = [("if-match", visit.etag.as_str()), ("idempotency-key", "pay")];
        let body = json!({"amount": 100, "method": "cash"});
        let first = owner.post(&path, &headers, &body).await;
        let again = owner.post(&path, &headers, &body).await;
        assert_eq!(
            (first.status.as_u16(), &again.json, again.etag()),
            (201, &first.json, first.etag())
        );
        assert_eq!(shop.count("payment").await, 1);
        let customer = json!({"name": "Bert Quill"});
        for _ in 0..2 {
            let added = owner
                .post("/api/v1/customers", &[("idempotency-key", "bert")], &customer)
                .await;
            assert_eq!(added.status.as_u16(), 201);
        }
        assert_eq!(shop.count("customer").await, 2);
    });
}

#[test]
fn a_change_says_which_version_it_changes() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let visit = Visit::begin(&owner).await;
        let path = format!("{}/checks", visit.path);
        let check = json!({"cause": "peg_collar_loose", "result": "unclear"});
        let missing = owner.post(&path, &[], &check).await;
        assert_eq!(missing.status.as_u16(), 428);
        assert!(
            missing.json["detail"]
                .as_str()
                .expect("words")
                .contains("If-Match")
        );
        assert_eq!(visit.tries(&owner, "checks", &check).await.status.as_u16(), 201);
        for stale in [visit.etag.as_str(), "\"99\"", "*", "x", ""] {
            let refused = owner.post(&path, &[("if-match", stale)], &check).await;
            assert_eq!(refused.status.as_u16(), 412, "{stale}");
        }
        assert_eq!(owner.get(&visit.path).await.etag(), "\"2\"");
        assert_eq!(shop.count("cause_check").await, 1);
    });
}

#[test]
fn of_twenty_changes_at_once_one_is_done() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let visit = std::sync::Arc::new(Visit::begin(&owner).await);
        let mut sent = JoinSet::new();
        for _ in 0..20 {
            let (owner, visit) = (owner.clone(), visit.clone());
            let deposit = json!({"amount": 100, "method": "cash"});
            sent.spawn(async move { visit.tries(&owner, "payments", &deposit).await.status.as_u16() });
        }
        let mut statuses = sent.join_all().await;
        statuses.sort_unstable();
        assert_eq!((statuses[0], &statuses[1..]), (201, &[412; 19][..]));
        assert_eq!(shop.count("payment").await, 1);
    });
}
