//! Reported: a month is shown again as it was, and what was corrected since is told.

use purfle::diagnosis::age::AgeBand;
use serde_json::json;

use crate::month::read;
use crate::recurrence::count;
use crate::shop::{Shop, on_both};

const OLD: (&str, AgeBand) = ("violin", AgeBand::From100);

async fn january(shop: &Shop) {
    count(shop, "2026-01", OLD, "", 40).await;
    count(shop, "2026-01", OLD, "seam_open_lower", 12).await;
}

const MONTH: [(&str, &str); 3] = [("from", "2026-01"), ("to", "2026-01"), ("family", "")];

#[test]
fn a_month_is_shown_as_it_was_reported_and_what_was_corrected_is_told() {
    on_both(async |shop| {
        january(&shop).await;
        let owner = shop.sign_in("owner").await;
        let before = read(&owner.get("/month?from=2026-01").await);
        assert!(!before.contains("Reported on"), "{before}");
        let kept = owner.post("/month", &MONTH).await;
        assert_eq!(kept.status.as_u16(), 303, "{}", kept.body);
        let page = owner.get("/month?from=2026-01").await;
        let words = read(&page);
        assert!(words.contains("Reported on Tue 10 Feb 2026"), "{words}");
        assert!(words.contains("Nothing was corrected since."), "{words}");
        // One order more, and one of those with an open seam was none.
        count(&shop, "2026-01", OLD, "", 1).await;
        count(&shop, "2026-01", OLD, "seam_open_lower", -1).await;
        let page = owner.get("/month?from=2026-01").await;
        let words = read(&page);
        assert!(words.contains("41 orders received in January 2026"), "{words}");
        assert!(
            words.contains(
                "Inspected 40 41 Open seam at a lower bout or by the lower block, top or back 12 11"
            ),
            "{words}"
        );
        let at = page
            .body
            .split("reported=")
            .nth(1)
            .and_then(|rest| rest.split('"').next())
            .expect("a link");
        let was = read(
            &owner
                .get(&format!("/month?from=2026-01&to=2026-01&reported={at}"))
                .await,
        );
        assert!(
            was.contains("As it was reported on Tue 10 Feb 2026")
                && was.contains("40 orders received in January 2026"),
            "{was}"
        );
        assert!(was.contains("12 of 40") && !was.contains("41 orders"), "{was}");
    });
}

#[test]
fn kept_twice_it_is_there_once_and_what_is_not_over_is_not_kept() {
    on_both(async |shop| {
        january(&shop).await;
        let owner = shop.sign_in("owner").await;
        for _ in 0..2 {
            owner.post("/month", &MONTH).await;
        }
        let program = shop.program("owner").await;
        let list = program
            .get("/api/v1/reports/reported?from=2026-01&to=2026-01")
            .await;
        assert_eq!(
            list.json["items"].as_array().map(Vec::len),
            Some(1),
            "{}",
            list.json
        );
        let not_over = owner
            .post(
                "/month",
                &[("from", "2026-02"), ("to", "2026-02"), ("family", "")],
            )
            .await;
        assert_eq!(not_over.status.as_u16(), 422);
        assert!(not_over.body.contains("not over yet"), "{}", not_over.body);
        let none = program
            .get("/api/v1/reports/reported?from=2026-02&to=2026-02")
            .await;
        assert_eq!(none.json["items"].as_array().map(Vec::len), Some(0));
    });
}

#[test]
fn programs_keep_it_and_read_what_was_corrected() {
    on_both(async |shop| {
        january(&shop).await;
        let program = shop.program("owner").await;
        let body = json!({"from": "2026-01", "to": "2026-01", "family": "violin"});
        let kept = program.post("/api/v1/reports/reported", &[], &body).await;
        assert_eq!(kept.status.as_u16(), 201, "{}", kept.json);
        count(&shop, "2026-01", OLD, "peg_pin_loose", 2).await;
        let list = program
            .get("/api/v1/reports/reported?from=2026-01&to=2026-01&family=violin")
            .await
            .json;
        let corrected = &list["items"][0]["corrected"];
        assert_eq!(corrected.as_array().map(Vec::len), Some(1), "{list}");
        assert_eq!(
            (&corrected[0]["was"], &corrected[0]["is"]),
            (&"0".into(), &"2".into())
        );
        let others = program
            .get("/api/v1/reports/reported?from=2026-01&to=2026-01")
            .await
            .json;
        assert_eq!(others["items"].as_array().map(Vec::len), Some(0));
    });
}

#[test]
fn what_was_not_reported_is_not_found() {
    on_both(async |shop| {
        january(&shop).await;
        let owner = shop.sign_in("owner").await;
        for id in ["soon", "0199c0de-0000-7000-8000-000000000000"] {
            let page = owner.get(&format!("/month?from=2026-01&reported={id}")).await;
            assert_eq!(page.status.as_u16(), 404, "{}", page.body);
        }
    });
}
