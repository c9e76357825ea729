//! The page on which the days are put right, and its call.

use serde_json::json;

use crate::comebacks::SEAM;
use crate::month::read;
use crate::shop::on_both;

#[test]
fn the_owner_finds_the_way_on_the_orders_page_and_nobody_else_may() {
    on_both(async |shop| {
        let order = shop.repaired(SEAM).await;
        let path = format!("/orders/{}/days", order.tag);
        for (role, status) in [("owner", 200), ("counter", 403), ("bench", 403)] {
            let browser = shop.sign_in(role).await;
            let page = browser.get(&format!("/orders/{}", order.tag)).await;
            assert!(
                read(&page).contains("Came in Tue 10 Feb 2026, went home Tue 10 Feb 2026."),
                "{}",
                page.body
            );
            assert_eq!(page.body.contains(&path), status == 200, "{role}");
            assert_eq!(browser.get(&path).await.status, status, "{role}");
        }
    });
}

#[test]
fn what_wants_mending_comes_back_as_it_was_typed_and_what_is_right_is_kept() {
    on_both(async |shop| {
        let order = shop.repaired(SEAM).await;
        shop.on_day(4);
        let owner = shop.sign_in("owner").await;
        let path = format!("/orders/{}/days", order.tag);
        let page = owner.get(&path).await;
        assert_eq!(
            (page.field("received_on"), page.field("collected_on")),
            ("2026-02-10", "2026-02-10")
        );
        let form = |received: &'static str, collected: &'static str| {
            let (version, once) = (page.field("version"), page.field("once"));
            [
                ("version", version),
                ("once", once),
                ("received_on", received),
                ("collected_on", collected),
            ]
        };
        let amiss = owner.post(&path, &form("2026-02-08", "2026-02-15")).await;
        assert_eq!(amiss.status, 422);
        assert_eq!(
            (amiss.field("received_on"), amiss.field("collected_on")),
            ("2026-02-08", "2026-02-15")
        );
        assert!(
            amiss.body.contains("href=\"#collected_on\"") && amiss.body.contains("still to come"),
            "{}",
            amiss.body
        );
        let unread = owner.post(&path, &form("", "8. Feb")).await;
        assert_eq!(
            (unread.status.as_u16(), unread.field("collected_on")),
            (422, "8. Feb")
        );
        let kept = owner.post(&path, &form("2026-02-08", "2026-02-12")).await;
        assert_eq!(kept.location(), format!("/orders/{}", order.tag), "{}", kept.body);
        // Sent twice it is done once.
        let again = owner.post(&path, &form("2026-02-08", "2026-02-12")).await;
        assert_eq!(again.location(), kept.location());
        let words = read(&owner.get(kept.location()).await);
        assert_eq!(words.matches("Days put right").count(), 1, "{words}");
        shop.is_well().await;
    });
}

#[test]
fn who_was_slower_sees_both_and_overwrites_nothing() {
    on_both(async |shop| {
        let order = shop.repaired(SEAM).await;
        shop.on_day(4);
        let owner = shop.sign_in("owner").await;
        let path = format!("/orders/{}/days", order.tag);
        let page = owner.get(&path).await;
        shop.days_right(&order.tag, json!({"collected_on": "2026-02-13"}))
            .await;
        let form = [
            ("version", page.field("version")),
            ("once", page.field("once")),
            ("received_on", "2026-02-10"),
            ("collected_on", "2026-02-12"),
        ];
        let late = owner.post(&path, &form).await;
        assert_eq!(
            (late.status.as_u16(), late.field("collected_on")),
            (412, "2026-02-12")
        );
        assert!(
            read(&late).contains("It went home on Fri 13 Feb 2026 Thu 12 Feb 2026"),
            "{}",
            late.body
        );
        let form = [
            ("version", late.field("version")),
            ("once", late.field("once")),
            form[2],
            form[3],
        ];
        assert_eq!(owner.post(&path, &form).await.status, 303);
        assert_eq!(
            shop.order_now(&order.tag)
                .await
                .collected_on
                .map(purfle::clock::Day::iso)
                .as_deref(),
            Some("2026-02-12")
        );
    });
}

#[test]
fn a_program_names_the_version_it_changes_and_only_what_it_knows() {
    on_both(async |shop| {
        let order = shop.repaired(SEAM).await;
        let owner = shop.program("owner").await;
        let path = format!("/api/v1/orders/{}", order.tag);
        let body = json!({"received_on": "2026-02-08"});
        let none = owner
            .call(axum::http::Method::PATCH, &path, &[], Some(body.to_string()))
            .await;
        assert_eq!(none.status.as_u16(), 428);
        let old = owner.patch(&path, "\"1\"", &body).await;
        assert_eq!(
            (old.status.as_u16(), &old.json["present"]["received_on"]),
            (412, &json!("2026-02-10"))
        );
        let etag = owner.get(&path).await.etag();
        let unknown = owner.patch(&path, &etag, &json!({"words": "Nothing"})).await;
        assert_eq!(
            (unknown.status.as_u16(), &unknown.json["errors"][0]["field"]),
            (422, &json!("words"))
        );
        let same = owner.patch(&path, &etag, &json!({})).await;
        assert_eq!(same.status.as_u16(), 200, "{}", same.json);
        for role in ["counter", "bench"] {
            let program = shop.program(role).await;
            assert_eq!(
                program.patch(&path, &same.etag(), &body).await.status.as_u16(),
                403,
                "{role}"
            );
        }
        assert_eq!(owner.patch(&path, &same.etag(), &body).await.status.as_u16(), 200);
        shop.is_well().await;
    });
}
