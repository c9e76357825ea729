//! Refusals: what is told, where it points, and that nothing is kept.

use axum::http::Method;
use serde_json::{Value, json};

use super::{ORDERS, Visit, fields, take_in, violin};
use crate::shop::{Answer, on_both};

/// A refusal is RFC 9457, in words for people and not in those of the program's own types.
pub fn is_problem(answer: &Answer, status: u16) {
    assert_eq!(answer.status.as_u16(), status, "{}", answer.json);
    assert_eq!(answer.header("content-type"), "application/problem+json");
    let told = &answer.json;
    assert_eq!(
        (&told["type"], &told["status"]),
        (&json!("about:blank"), &json!(status))
    );
    assert!(told["title"].as_str().is_some_and(|title| !title.is_empty()));
    assert!(told["detail"].as_str().is_some_and(|detail| !detail.is_empty()));
    let text = told.to_string();
    for word in [
        "struct ",
        "i64",
        "expected",
        "deserialize",
        "serde",
        "panicked",
        "sqlx",
    ] {
        assert!(!text.contains(word), "{word} in {text}");
    }
}

/// `violin()` with one thing changed, by JSON pointer.
fn with(pointer: &str, value: Value) -> Value {
    let mut body = violin();
    let (parent, name) = pointer.rsplit_once('/').expect("a pointer");
    body.pointer_mut(parent).expect("a parent")[name] = value;
    body
}

#[test]
fn an_unknown_field_is_refused_and_named() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        for pointer in [
            "/role",
            "/total",
            "/id",
            "/version",
            "/stage",
            "/tag",
            "/received_at",
            "/estimate",
            "/__proto__",
            "/customer/role",
            "/customer/version",
            "/instrument/customer",
            "/complaint/order",
            "/complaint/buzz_at/cents",
        ] {
            let refused = take_in(&counter, "k", &with(pointer, json!("owner"))).await;
            is_problem(&refused, 422);
            assert_eq!(refused.json["errors"][0]["pointer"], pointer);
        }
        let visit = Visit::begin(&counter).await;
        for extra in ["id", "at", "staff", "role", "work_order"] {
            let mut check = json!({"cause": "peg_collar_loose", "result": "found"});
            check[extra] = json!("x");
            let refused = visit.tries(&counter, "checks", &check).await;
            assert_eq!((refused.status.as_u16(), fields(&refused)), (422, vec![extra]));
        }
        assert_eq!(
            (shop.count("work_order").await, shop.count("cause_check").await),
            (1, 0)
        );
    });
}

#[test]
fn a_shape_that_does_not_fit_is_told_at_its_place() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let cases = [
            ("/customer", json!("Ada"), "/customer"),
            ("/customer", json!(["Ada"]), "/customer"),
            ("/customer/name", json!(5), "/customer/name"),
            ("/customer/id", json!("not an id"), "/customer/id"),
            ("/instrument", Value::Null, "/instrument"),
            ("/instrument/year_made", json!("1920"), "/instrument/year_made"),
            ("/complaint/answers", json!([]), "/complaint/answers"),
            (
                "/complaint/answers/onset",
                json!(true),
                "/complaint/answers/onset",
            ),
            (
                "/complaint/answers/onset",
                json!("yesterday"),
                "/complaint/answers/onset",
            ),
            (
                "/complaint/answers/a~1b",
                json!("yes"),
                "/complaint/answers/a~01b",
            ),
            ("/items_left", json!("case"), "/items_left"),
            ("/items_left", json!(["case", 2]), "/items_left/1"),
            ("/instrument/family", json!("guitar"), "/instrument/family"),
            ("/promised_on", json!("tomorrow"), "/promised_on"),
        ];
        for (pointer, value, named) in cases {
            let refused = take_in(&counter, "k", &with(pointer, value.clone())).await;
            is_problem(&refused, 422);
            assert_eq!(refused.json["errors"][0]["pointer"], named, "{value}");
        }
        for body in [json!([]), json!("x"), json!(5), Value::Null] {
            is_problem(&take_in(&counter, "k", &body).await, 422);
        }
        assert_eq!(shop.count("work_order").await, 0);
    });
}

#[test]
fn null_is_as_if_left_out() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let mut body = violin();
        for name in [
            "items_left",
            "condition",
            "declared_value",
            "promised_on",
            "authorised_limit",
            "complaint",
        ] {
            body[name] = Value::Null;
        }
        body["customer"]["phone"] = Value::Null;
        body["customer"]["id"] = Value::Null;
        let taken = take_in(&counter, "k", &body).await;
        assert_eq!(taken.status.as_u16(), 201, "{}", taken.json);
        assert_eq!(
            (&taken.json["customer"]["phone"], &taken.json["items_left"]),
            (&json!(""), &json!([]))
        );
    });
}

#[test]
fn an_id_is_sent_alone() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let taken = take_in(&counter, "first", &violin()).await.json;
        for (noun, other, value) in [
            ("customer", "name", json!("Ada")),
            ("instrument", "year_made", json!(1900)),
            ("instrument", "size", json!("4/4")),
        ] {
            let mut body = violin();
            body["customer"] = json!({"id": taken["customer"]["id"]});
            body["instrument"] = json!({"id": taken["instrument"]["id"]});
            body[noun][other] = value;
            let refused = take_in(&counter, "k", &body).await;
            assert_eq!(
                (refused.status.as_u16(), fields(&refused)),
                (422, vec![format!("{noun}.id").as_str()])
            );
        }
        let mut body = violin();
        body["customer"]["name"] = json!("Bert Fenwick");
        body["instrument"] = json!({"id": taken["instrument"]["id"]});
        let refused = take_in(&counter, "k", &body).await;
        assert_eq!(
            (refused.status.as_u16(), fields(&refused)),
            (422, vec!["instrument.id"])
        );
        assert_eq!(shop.count("work_order").await, 1);
    });
}

#[test]
fn only_json_is_read() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let body = violin().to_string();
        for (kind, status) in [
            ("application/json", 201),
            ("application/json; charset=utf-8", 201),
            ("Application/JSON;charset=\"UTF-8\"", 201),
            ("application/json; charset=latin1", 415),
            ("application/jsonx", 415),
            ("text/json", 415),
            ("text/plain", 415),
            ("application/x-www-form-urlencoded", 415),
            ("multipart/form-data; boundary=x", 415),
            ("", 415),
        ] {
            let headers = [("content-type", kind), ("idempotency-key", kind)];
            let headers = if kind.is_empty() {
                [headers[0], ("idempotency-key", "none")]
            } else {
                headers
            };
            let answer = counter
                .call(Method::POST, ORDERS, &headers, Some(body.clone()))
                .await;
            assert_eq!(answer.status.as_u16(), status, "{kind}");
        }
        assert_eq!(shop.count("work_order").await, 3);
    });
}

#[test]
fn a_session_of_the_pages_does_not_open_the_api() {
    on_both(async |shop| {
        let browser = shop.sign_in("owner").await;
        for path in [ORDERS, "/api/v1/customers", "/api/v1/catalogue/causes"] {
            let page = browser.get(path).await;
            assert_eq!(
                (page.status.as_u16(), page.header("www-authenticate")),
                (401, "Bearer")
            );
            assert_eq!(page.header("content-type"), "application/problem+json");
        }
        let stranger = crate::shop::Program::new(shop.service.clone(), Some("purfle_nobodys".into()));
        is_problem(&stranger.get(ORDERS).await, 401);
    });
}

#[test]
fn a_token_ends_when_it_expires() {
    on_both(async |shop| {
        let end = crate::shop::NOW.plus_ms(1000);
        let token = purfle::api::token::add(&shop.app.db, "till", "counter", Some(end), crate::shop::NOW)
            .await
            .expect("a token");
        let till = crate::shop::Program::new(shop.service.clone(), Some(token));
        assert_eq!(till.get(ORDERS).await.status.as_u16(), 200);
        shop.clock.set(end);
        is_problem(&till.get(ORDERS).await, 401);
    });
}

#[test]
fn every_refusal_is_a_problem() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let mut visit = Visit::begin(&owner).await;
        is_problem(
            &owner
                .get("/api/v1/orders/019c46a0-0000-7000-8000-000000000000")
                .await,
            404,
        );
        is_problem(&owner.get("/api/v1/nothing").await, 404);
        is_problem(&owner.get("/api/v1/orders/%ff").await, 400);
        is_problem(&owner.call(Method::DELETE, &visit.path, &[], None).await, 405);
        is_problem(
            &owner
                .call(
                    Method::POST,
                    ORDERS,
                    &[("idempotency-key", "k")],
                    Some("{".into()),
                )
                .await,
            400,
        );
        let long = format!("{{\"condition\": \"{}\"}}", "x".repeat(300_000));
        is_problem(
            &owner
                .call(Method::POST, ORDERS, &[("idempotency-key", "k")], Some(long))
                .await,
            413,
        );
        let home = json!({"collected_by": "Ada"});
        is_problem(&visit.tries(&owner, "pickup", &home).await, 409);
        is_problem(&shop.program("bench").await.get("/api/v1/customers").await, 403);
        visit.etag = "\"7\"".into();
        is_problem(&visit.tries(&owner, "pickup", &home).await, 412);
    });
}

#[test]
fn a_cause_is_one_of_the_catalogue_that_is_not_retired() {
    on_both(async |shop| {
        let bench = shop.program("bench").await;
        let mut visit = Visit::begin(&shop.program("owner").await).await;
        let mut tx = shop.app.db.begin().await.expect("a transaction");
        tx.query("update cause set retired = true where code = 'peg_collar_loose'")
            .execute()
            .await
            .expect("retired");
        tx.commit().await.expect("kept");
        for cause in ["peg_collar_loose", "no_such_cause", ""] {
            let check = json!({"cause": cause, "result": "found"});
            let refused = visit.tries(&bench, "checks", &check).await;
            assert_eq!(
                (refused.status.as_u16(), fields(&refused)),
                (422, vec!["cause"]),
                "{cause}"
            );
            let finding = json!({"cause": cause, "certainty": "confirmed"});
            assert_eq!(
                fields(&visit.tries(&bench, "findings", &finding).await),
                ["cause"]
            );
        }
        assert_eq!(
            fields(&visit.tries(&bench, "steps", &json!({"job": "no_such_job"})).await)[0],
            "job"
        );
        visit
            .does(
                &bench,
                "checks",
                json!({"cause": "post_crack", "result": "found"}),
            )
            .await;
    });
}
