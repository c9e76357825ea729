//! Changes of customers, of instruments and of what was promised: the same as on their pages.

use axum::http::Method;
use serde_json::{Value, json};
use tokio::task::JoinSet;

use super::late::tells_what_stands;
use super::refusals::is_problem;
use super::{Visit, fields, take_in, violin};
use crate::shop::{Answer, NOW, Program, Shop, on_both};

/// The violin of the tests, taken in: the paths of its customer and of itself.
async fn brought(shop: &Shop) -> (String, String) {
    let taken = take_in(&shop.program("counter").await, "k", &violin()).await;
    let id = |noun: &str| taken.json[noun]["id"].as_str().expect("an id").to_owned();
    (
        format!("/api/v1/customers/{}", id("customer")),
        format!("/api/v1/instruments/{}", id("instrument")),
    )
}

/// What each call that changes something must refuse: no version, an old one, a field that is not known. `body` would do.
pub async fn is_guarded(program: &Program, path: &str, body: &Value) {
    let before = program.get(path).await;
    let without = program
        .call(Method::PATCH, path, &[], Some(body.to_string()))
        .await;
    is_problem(&without, 428);
    for stale in ["\"0\"", "\"99\"", "*", "x"] {
        tells_what_stands(&program.patch(path, stale, body).await, &before);
    }
    for unknown in ["id", "version", "role", "password_hash"] {
        for value in [json!("x"), Value::Null] {
            let mut more = body.clone();
            more[unknown] = value;
            let refused = program.patch(path, &before.etag(), &more).await;
            is_problem(&refused, 422);
            assert_eq!(refused.json["errors"][0]["pointer"], format!("/{unknown}"));
        }
    }
    for amiss in [json!([]), json!("x"), json!(1), Value::Null] {
        is_problem(&program.patch(path, &before.etag(), &amiss).await, 422);
    }
    let after = program.get(path).await;
    assert_eq!((&after.json, after.etag()), (&before.json, before.etag()));
}

/// Each body is refused at each pointer, and nothing is kept.
pub async fn is_refused_at(program: &Program, path: &str, cases: &[(Value, &str)]) {
    let before = program.get(path).await;
    for (body, pointer) in cases {
        let refused = program.patch(path, &before.etag(), body).await;
        is_problem(&refused, 422);
        assert_eq!(refused.json["errors"][0]["pointer"], *pointer, "{body}");
    }
    assert_eq!(program.get(path).await.json, before.json);
}

/// A change that must succeed, and what is told then.
pub async fn changed(program: &Program, path: &str, body: &Value) -> Answer {
    let etag = program.get(path).await.etag();
    let answer = program.patch(path, &etag, body).await;
    assert_eq!(answer.status.as_u16(), 200, "{}", answer.json);
    let now = program.get(path).await;
    assert_eq!(
        (answer.etag(), &answer.json["version"]),
        (now.etag(), &now.json["version"])
    );
    answer
}

#[test]
fn a_customer_is_corrected_and_what_is_left_out_stays() {
    on_both(async |shop| {
        let (path, _) = brought(&shop).await;
        let counter = shop.program("counter").await;
        let told = changed(
            &counter,
            &path,
            &json!({"phone": "0170 777 12", "email": null, "kind": "school"}),
        )
        .await;
        assert_eq!(told.etag(), "\"2\"");
        let said = |name: &str| told.json[name].as_str().expect("text").to_owned();
        assert_eq!(
            [said("name"), said("phone"), said("email"), said("kind")],
            ["Ada Fenwick", "0170 777 12", "", "school"]
        );
        let found = counter.get("/api/v1/customers?q=77712").await;
        assert_eq!(found.json["items"][0]["id"], told.json["id"]);
        // Nothing new is no new version.
        assert_eq!(changed(&counter, &path, &json!({})).await.etag(), "\"2\"");
    });
}

#[test]
fn a_customer_is_changed_with_care() {
    on_both(async |shop| {
        let (path, _) = brought(&shop).await;
        let counter = shop.program("counter").await;
        is_guarded(&counter, &path, &json!({"note": "Rings twice."})).await;
        let cases = [
            (json!({"name": null}), "/name"),
            (json!({"name": "  "}), "/name"),
            (json!({"name": 5}), "/name"),
            (json!({"name": "a\u{0}b"}), "/name"),
            (json!({"kind": "band"}), "/kind"),
            (json!({"email": "ada"}), "/email"),
            (json!({"phone": "1".repeat(41)}), "/phone"),
        ];
        is_refused_at(&counter, &path, &cases).await;
        let bench = shop.program("bench").await;
        is_problem(&bench.patch(&path, "\"1\"", &json!({"note": "x"})).await, 403);
    });
}

#[test]
fn an_instrument_is_corrected_and_its_year_is_one_it_can_have() {
    on_both(async |shop| {
        let (_, path) = brought(&shop).await;
        let bench = shop.program("bench").await;
        let told = changed(
            &bench,
            &path,
            &json!({"year_made": 1890, "serial": "H 12", "maker": null}),
        )
        .await;
        assert_eq!(
            (
                &told.json["year_made"],
                &told.json["serial"],
                &told.json["maker"],
                &told.json["size"]
            ),
            (&json!(1890), &json!("H 12"), &json!(""), &json!("4/4"))
        );
        let told = changed(
            &bench,
            &path,
            &json!({"year_made": null, "year_certainty": "unknown"}),
        )
        .await;
        assert_eq!(told.json["year_made"], Value::Null);
        is_guarded(&bench, &path, &json!({"marks": "A crack."})).await;
        shop.clock.set(NOW.plus_ms(3 * 366 * 86_400_000));
        let exact = |year: i64| json!({"year_made": year, "year_certainty": "exact"});
        let cases = [
            (exact(2027), "/year_made"),
            (exact(1200), "/year_made"),
            (json!({"year_made": "1890"}), "/year_made"),
            (json!({"year_made": 1890}), "/year_certainty"),
            (json!({"year_certainty": "exact"}), "/year_made"),
            (json!({"family": "cello"}), "/family"),
            (json!({"customer": "x"}), "/customer"),
            (json!({"size": "x".repeat(21)}), "/size"),
        ];
        is_refused_at(&bench, &path, &cases).await;
        let refused = bench
            .patch(&path, &bench.get(&path).await.etag(), &exact(2027))
            .await;
        assert_eq!(
            refused.json["errors"][0]["message"],
            "The year made cannot be after 2026. Look at the label again."
        );
    });
}

#[test]
fn a_promise_is_set_and_cleared_and_what_is_left_out_stays() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let mut visit = Visit::begin(&counter).await;
        let agreed = async |visit: &mut Visit, body: Value| {
            let told = visit.does(&counter, "promise", body).await;
            (told["promised_on"].clone(), told["authorised_limit"].clone())
        };
        assert_eq!(
            agreed(&mut visit, json!({"promised_on": "2026-03-02"})).await,
            (json!("2026-03-02"), json!(5000))
        );
        assert_eq!(
            agreed(&mut visit, json!({"promised_on": null})).await,
            (Value::Null, json!(5000))
        );
        assert_eq!(
            agreed(
                &mut visit,
                json!({"promised_on": "2026-03-03", "authorised_limit": null})
            )
            .await,
            (json!("2026-03-03"), Value::Null)
        );
        assert_eq!(
            agreed(&mut visit, json!({})).await,
            (json!("2026-03-03"), Value::Null)
        );
        for (body, field) in [
            (json!({"promised_on": "soon"}), "promised_on"),
            (json!({"promised_on": "2026-01-01"}), "promised_on"),
            (json!({"authorised_limit": -1}), "authorised_limit"),
            (json!({"day": null}), "day"),
        ] {
            assert_eq!(fields(&visit.tries(&counter, "promise", &body).await), [field]);
        }
        let story = counter.get(&visit.path).await.json["timeline"].to_string();
        assert!(
            story.contains("No day is promised now") && story.contains("No limit now"),
            "{story}"
        );
    });
}

#[test]
fn a_change_sent_twice_is_made_once() {
    on_both(async |shop| {
        let (path, _) = brought(&shop).await;
        let counter = shop.program("counter").await;
        let body = json!({"note": "Rings twice."});
        let first = counter.patch(&path, "\"1\"", &body).await;
        assert_eq!((first.status.as_u16(), first.etag().as_str()), (200, "\"2\""));
        is_problem(&counter.patch(&path, "\"1\"", &body).await, 412);
        assert_eq!(counter.get(&path).await.etag(), "\"2\"");
    });
}

#[test]
fn of_twenty_changes_of_a_customer_at_once_one_is_made() {
    on_both(async |shop| {
        let (path, _) = brought(&shop).await;
        let counter = shop.program("counter").await;
        let mut sent = JoinSet::new();
        for number in 0..20 {
            let (counter, path) = (counter.clone(), path.clone());
            let body = json!({"note": format!("Note {number}")});
            sent.spawn(async move { counter.patch(&path, "\"1\"", &body).await.status.as_u16() });
        }
        let mut statuses = sent.join_all().await;
        statuses.sort_unstable();
        assert_eq!((statuses[0], &statuses[1..]), (200, &[412; 19][..]));
        assert_eq!(counter.get(&path).await.etag(), "\"2\"");
    });
}
