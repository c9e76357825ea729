//! Late calls: whoever changes an old version is told the one that stands now, whole and with its ETag, and nothing is kept.

use axum::http::Method;
use serde_json::{Value, json};

use super::refusals::is_problem;
use super::{Visit, take_in, violin};
use crate::shop::{Answer, Program, Shop, on_both};

/// The refusal tells what reading would tell, and its version.
pub fn tells_what_stands(refused: &Answer, stands: &Answer) {
    is_problem(refused, 412);
    assert!(!stands.etag().is_empty());
    assert_eq!(refused.etag(), stands.etag());
    assert_eq!(refused.json["present"], stands.json);
}

/// Where the thing is read that a call changes, its addresses filled in.
async fn addresses(shop: &Shop) -> Vec<(&'static str, String)> {
    let counter = shop.program("counter").await;
    let mut visit = Visit::of(&take_in(&counter, "late", &violin()).await);
    let found = json!({"cause": "peg_collar_loose", "certainty": "confirmed"});
    let finding = visit.does(&counter, "findings", found).await;
    let step = visit
        .does(
            &counter,
            "steps",
            json!({"title": "Refit the collar", "planned_minutes": 20}),
        )
        .await;
    let order = counter.get(&visit.path).await.json;
    let staff = shop.program("owner").await.get("/api/v1/staff").await.json;
    let text = |value: &Value| value.as_str().expect("an id").to_owned();
    vec![
        ("{order}", text(&order["tag"])),
        ("{finding}", text(&finding["id"])),
        ("{step}", text(&step["id"])),
        ("{customer}", text(&order["customer"]["id"])),
        ("{instrument}", text(&order["instrument"]["id"])),
        ("{cause}", "peg_collar_loose".to_owned()),
        ("{descriptor}", "onset".to_owned()),
        ("{job}", "reglue_nut".to_owned()),
        ("{person}", text(&staff["items"][0]["id"])),
    ]
}

/// A body that each call would take; an empty one where everything may be left out.
fn body(path: &str) -> Value {
    match path.rsplit('/').next().unwrap_or_default() {
        "checks" => json!({"cause": "peg_collar_loose", "result": "found"}),
        "findings" => json!({"cause": "peg_collar_loose", "certainty": "confirmed"}),
        "steps" => json!({"title": "Refit the collar", "planned_minutes": 20}),
        "done" => json!({"actual_minutes": 5}),
        "approval" => json!({"decision": "approved", "by": "Ada Fenwick", "channel": "phone"}),
        "play_test" => json!({"result": "quiet"}),
        "hold" => json!({"until": "2026-03-01T09:00:00Z", "why": "Glue"}),
        "return" => json!({"why": "declined"}),
        "answers" => json!({"answers": {"onset": "sudden"}}),
        "payments" => json!({"amount": 100, "method": "cash"}),
        "pickup" => json!({"collected_by": "Ada Fenwick", "paid": 0}),
        "put_right" => json!({"done": "Tightened", "minutes": 5, "result": "quiet"}),
        "gone" => json!({"why": "sold"}),
        "retired" => json!({"retired": true}),
        "settings" => json!({"follow": "shop", "pace": "slow"}),
        "{descriptor}" if path.contains("{cause}") => json!({"answers": {}}),
        _ => json!({}),
    }
}

/// Every call of the description that wants a version.
async fn changing(program: &Program) -> Vec<(Method, String)> {
    let described = program.get("/api/openapi.json").await.json;
    let mut all = Vec::new();
    for (path, calls) in described["paths"].as_object().expect("paths") {
        for (method, call) in calls.as_object().expect("calls") {
            let wants = call["parameters"].as_array().into_iter().flatten();
            if wants.into_iter().any(|one| one["name"] == "If-Match") {
                let method = method.to_uppercase().parse().expect("a method");
                all.push((method, path.clone()));
            }
        }
    }
    all
}

#[test]
fn every_call_that_changes_a_version_tells_the_present_one_when_it_comes_late() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let names = addresses(&shop).await;
        let calls = changing(&owner).await;
        assert!(calls.len() > 25, "{calls:?}");
        let mut otherwise = Vec::new();
        for (method, pattern) in calls {
            let path = names
                .iter()
                .fold(pattern.clone(), |path, (name, id)| path.replace(name, id));
            let read = read_at(&owner, &path).await;
            let said = Some(body(&pattern).to_string());
            let refused = owner
                .call(method.clone(), &path, &[("if-match", "\"98\"")], said)
                .await;
            if refused.status.as_u16() != 412 {
                otherwise.push(format!("{method} {pattern}: {}", refused.json));
                continue;
            }
            tells_what_stands(&refused, &read);
            assert_eq!(read_at(&owner, &path).await.json, read.json, "{pattern}");
        }
        assert_eq!(otherwise, Vec::<String>::new());
    });
}

/// What stands at an address, or at the next above it that tells a version.
async fn read_at(program: &Program, path: &str) -> Answer {
    let mut path = path;
    loop {
        let read = program.get(path).await;
        if read.status.as_u16() == 200 && !read.etag().is_empty() {
            return read;
        }
        path = path.rsplit_once('/').expect("something tells a version").0;
    }
}

#[test]
fn what_stands_is_told_as_the_caller_may_know_it_and_to_nobody_else() {
    on_both(async |shop| {
        let (counter, bench) = (shop.program("counter").await, shop.program("bench").await);
        let visit = Visit::begin(&counter).await;
        let late = |program: Program, path: String| async move {
            let check = json!({"cause": "peg_collar_loose", "result": "found"});
            program.post(&path, &[("if-match", "\"98\"")], &check).await
        };
        let path = format!("{}/checks", visit.path);
        let told = late(bench.clone(), path.clone()).await;
        tells_what_stands(&told, &bench.get(&visit.path).await);
        assert_eq!(told.json["present"]["customer"]["name"], "Ada");
        let stranger = late(Program::new(shop.service.clone(), None), path).await;
        is_problem(&stranger, 401);
        assert!(stranger.json["present"].is_null());
        let nowhere = late(counter, format!("{}/V-0000-0/checks", super::ORDERS)).await;
        assert!(nowhere.status.as_u16() == 404 && nowhere.json["present"].is_null());
    });
}
