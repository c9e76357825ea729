//! The description: it says all that is served, and no more.

use std::collections::BTreeSet;

use serde_json::Value;

use super::roles::CALLS;
use crate::shop::{Program, on_both};

async fn described(shop: &crate::shop::Shop) -> Value {
    let answer = Program::new(shop.service.clone(), None)
        .get("/api/openapi.json")
        .await;
    assert_eq!(
        (answer.status.as_u16(), answer.header("content-type")),
        (200, "application/json")
    );
    answer.json
}

/// Every call as method and path.
fn calls(api: &Value) -> BTreeSet<(String, String)> {
    let paths = api["paths"].as_object().expect("paths");
    let calls = paths.iter().flat_map(|(path, item)| {
        let methods = item.as_object().expect("an item").keys();
        methods.map(move |method| (method.to_uppercase(), path.clone()))
    });
    calls.collect()
}

#[test]
fn what_is_served_is_described_and_what_is_described_is_served() {
    on_both(async |shop| {
        let api = described(&shop).await;
        assert_eq!(
            (&api["openapi"], &api["info"]["title"]),
            (&"3.1.0".into(), &"Purfle".into())
        );
        let mut expected: BTreeSet<(String, String)> =
            CALLS.iter().map(|call| (call.0.into(), call.1.into())).collect();
        expected.insert(("GET".into(), "/api/openapi.json".into()));
        assert_eq!(calls(&api), expected);
        let listed = purfle::routes::all().list.into_iter().map(|row| row.1.to_owned());
        let listed: BTreeSet<String> = listed.filter(|path| path.starts_with("/api/")).collect();
        assert_eq!(listed, calls(&api).into_iter().map(|call| call.1).collect());
    });
}

/// All `$ref`s below a value.
fn references<'a>(value: &'a Value, found: &mut Vec<&'a str>) {
    match value {
        Value::Object(members) => {
            found.extend(members.get("$ref").and_then(Value::as_str));
            members.values().for_each(|value| references(value, found));
        }
        Value::Array(list) => list.iter().for_each(|value| references(value, found)),
        _ => {}
    }
}

#[test]
fn every_shape_that_is_named_is_there() {
    on_both(async |shop| {
        let api = described(&shop).await;
        let mut found = Vec::new();
        references(&api, &mut found);
        assert!(found.len() > 60);
        for reference in found {
            let pointer = reference.strip_prefix('#').expect("a shape of this description");
            assert!(api.pointer(pointer).is_some(), "{reference}");
        }
    });
}

#[test]
fn every_call_says_what_it_wants_and_how_it_may_be_refused() {
    on_both(async |shop| {
        let api = described(&shop).await;
        for (method, path, ..) in CALLS {
            let call = &api["paths"][*path][method.to_lowercase()];
            assert!(
                call["summary"].as_str().is_some_and(|words| words.ends_with('.')),
                "{method} {path}"
            );
            let named = |name: &str| {
                call["parameters"]
                    .as_array()
                    .is_some_and(|all| all.iter().any(|one| one["name"] == name))
            };
            for part in path.split('/').filter_map(|part| part.strip_prefix('{')) {
                assert!(named(part.trim_end_matches('}')), "{method} {path}");
            }
            let changes = matches!(*method, "PATCH" | "PUT")
                || *method == "POST"
                    && (path.starts_with("/api/v1/orders/")
                        || path.ends_with("/retired")
                        || path.contains("/gone"));
            assert_eq!(
                (named("If-Match"), named("Idempotency-Key")),
                (changes, *method == "POST"),
                "{method} {path}"
            );
            assert_eq!(call["responses"]["412"].is_object(), changes);
            let without_body = ["/withdraw", "/drop", "/off", "/reopen"]
                .iter()
                .any(|end| path.ends_with(end));
            assert_eq!(
                call["requestBody"].is_object(),
                *method != "GET" && !without_body,
                "{method} {path}"
            );
            assert!(call["responses"]["401"]["content"]["application/problem+json"].is_object());
        }
        assert_eq!(api["components"]["securitySchemes"]["token"]["scheme"], "bearer");
    });
}

#[test]
fn every_call_has_a_name_of_its_own_and_every_answer_its_words() {
    on_both(async |shop| {
        let api = described(&shop).await;
        let mut names = BTreeSet::new();
        for (method, path) in calls(&api) {
            let call = &api["paths"][&path][method.to_lowercase()];
            assert!(
                names.insert(call["operationId"].as_str().expect("a name")),
                "{method} {path}"
            );
            for (status, response) in call["responses"].as_object().expect("responses") {
                let words = response["description"].as_str().unwrap_or_default();
                assert!(!words.is_empty(), "{method} {path} {status}");
            }
        }
        let read = &api["paths"]["/api/v1/orders/{order}"]["get"]["responses"]["200"];
        assert!(read["headers"]["ETag"].is_object());
    });
}

#[test]
fn a_change_takes_nothing_for_what_is_left_out() {
    on_both(async |shop| {
        let api = described(&shop).await;
        let shape = |method: &str, path: &str| {
            let body = &api["paths"][path][method]["requestBody"]["content"]["application/json"]["schema"];
            let pointer = body["$ref"]
                .as_str()
                .expect("a named shape")
                .trim_start_matches('#');
            api.pointer(pointer).expect("the shape").clone()
        };
        let patches = CALLS.iter().filter(|call| call.0 == "PATCH").map(|call| call.1);
        let changes = patches.map(|path| shape("patch", path));
        for shape in changes.chain([shape("post", "/api/v1/orders/{order}/promise")]) {
            assert_eq!(
                (&shape["required"], &shape["additionalProperties"]),
                (&Value::Null, &false.into())
            );
            for (name, member) in shape["properties"].as_object().expect("members") {
                assert_eq!(member.get("default"), None, "{name}");
                let kinds = member["type"].to_string();
                assert!(
                    kinds == "\"boolean\"" || kinds.contains("null"),
                    "{name}: {kinds}"
                );
            }
        }
        // What is made anew is as it was.
        let made = shape("post", "/api/v1/customers");
        assert_eq!(
            (
                &made["properties"]["name"]["type"],
                &made["properties"]["name"]["default"]
            ),
            (&"string".into(), &"".into())
        );
    });
}
