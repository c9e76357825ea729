//! Bad input: kept exactly or refused in words, never a fault, the same on both databases.

use axum::http::Method;
use serde::Deserialize;
use serde_json::{Value, json};

use super::refusals::is_problem;
use super::{ORDERS, Visit, fields, take_in, violin};
use crate::shop::{Answer, Program, on_both};

#[derive(Deserialize)]
struct BadString {
    id: String,
    field: String,
    value: String,
    expect: String,
}

fn strings(field: &str) -> Vec<BadString> {
    #[derive(Deserialize)]
    struct File {
        strings: Vec<BadString>,
    }
    let file: File = serde_json::from_str(include_str!("../data/bad_strings.json")).expect("the strings");
    let mut strings = file.strings;
    strings.retain(|string| string.field == field);
    assert!(!strings.is_empty());
    strings
}

async fn raw(program: &Program, key: &str, body: impl Into<Vec<u8>>) -> Answer {
    program
        .send(
            Method::POST,
            ORDERS,
            &[("idempotency-key", key)],
            Some(body.into()),
        )
        .await
}

#[test]
fn a_name_is_kept_exactly_or_refused() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        for BadString {
            id, value, expect, ..
        } in strings("text")
        {
            let mut body = violin();
            body["customer"]["name"] = json!(value);
            let answer = take_in(&counter, &id, &body).await;
            match answer.status.as_u16() {
                201 => assert!(expect.starts_with("KEEP"), "{id}"),
                422 => assert!(
                    !expect.starts_with("KEEP") || expect == "KEEP_OR_REF",
                    "{id}: {}",
                    answer.json
                ),
                other => panic!("{id}: {other}"),
            }
            if answer.status.is_success() {
                assert_eq!(answer.json["customer"]["name"], value.trim(), "{id}");
            } else {
                assert_eq!(fields(&answer)[0], "customer.name", "{id}");
            }
        }
    });
}

#[test]
fn the_complaint_is_kept_exactly_or_refused() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        for BadString {
            id, value, expect, ..
        } in strings("text")
        {
            let mut body = violin();
            body["complaint"]["words"] = json!(value);
            let answer = take_in(&counter, &id, &body).await;
            if answer.status.as_u16() == 201 {
                let kept = value.replace("\r\n", "\n");
                assert_eq!(answer.json["complaint"]["words"], kept.trim(), "{id}");
                let read = counter
                    .get(&format!(
                        "{ORDERS}/{}",
                        answer.json["id"].as_str().expect("an id")
                    ))
                    .await;
                assert_eq!(read.json["complaint"]["words"], kept.trim(), "{id}");
            } else {
                assert_eq!(
                    (answer.status.as_u16(), fields(&answer)),
                    (422, vec!["complaint.words"]),
                    "{id}"
                );
                assert!(!expect.starts_with("KEEP") || expect == "KEEP_OR_REF", "{id}");
            }
        }
    });
}

#[test]
fn any_words_may_be_looked_for() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        take_in(&counter, "k", &violin()).await;
        for BadString { id, value, .. } in strings("text") {
            let q: String = form_urlencoded::byte_serialize(value.as_bytes()).collect();
            for list in [ORDERS, "/api/v1/customers"] {
                let answer = counter.get(&format!("{list}?q={q}")).await;
                assert!(
                    matches!(answer.status.as_u16(), 200 | 422),
                    "{id}: {}",
                    answer.status
                );
            }
        }
    });
}

#[test]
fn a_day_is_a_day_of_the_calendar_to_come() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let mut days = vec![
            "2026-02-09".to_owned(),
            "2026-02-20T10:00:00Z".into(),
            " 2026-02-20".into(),
            "2032-01-01".into(),
        ];
        // 2024-02-29 is a day, but it is past in this shop.
        days.extend(strings("date").into_iter().map(|string| string.value));
        for day in days {
            let mut body = violin();
            body["promised_on"] = json!(day);
            let refused = take_in(&counter, "k", &body).await;
            assert_eq!(
                (refused.status.as_u16(), fields(&refused)),
                (422, vec!["promised_on"]),
                "{day}"
            );
        }
        for day in ["2026-02-10", "2028-02-29"] {
            let mut body = violin();
            body["promised_on"] = json!(day);
            assert_eq!(take_in(&counter, day, &body).await.json["promised_on"], day);
        }
    });
}

#[test]
fn money_is_whole_minor_units_within_the_limit() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let mut wrong: Vec<Value> = strings("price")
            .into_iter()
            .map(|string| json!(string.value))
            .collect();
        wrong.extend([
            json!(5.0),
            json!(0.5),
            json!(true),
            json!([5]),
            json!({"a": 5}),
            json!(-1),
            json!(100_000_000),
            json!(i64::MAX),
            json!(i64::MIN),
            json!(u64::MAX),
            json!(1e308),
            json!(1e30),
        ]);
        for value in wrong {
            for field in ["declared_value", "authorised_limit"] {
                let mut body = violin();
                body[field] = value.clone();
                let refused = take_in(&counter, "k", &body).await;
                is_problem(&refused, 422);
                assert_eq!(fields(&refused), [field], "{value}");
            }
        }
        for amount in [0, 99_999_999] {
            let mut body = violin();
            body["declared_value"] = json!(amount);
            assert_eq!(
                take_in(&counter, &amount.to_string(), &body).await.json["declared_value"],
                amount
            );
        }
        assert_eq!(shop.count("work_order").await, 2);
    });
}

#[test]
fn a_step_beyond_all_bounds_is_refused() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let visit = Visit::begin(&owner).await;
        let part = |quantity: Value, price: Value| json!({"title": "x", "planned_minutes": 1, "parts": [{"name": "p", "quantity": quantity, "unit_price": price}]});
        let minutes = |minutes: Value| json!({"title": "x", "planned_minutes": minutes});
        for (step, field) in [
            (part(json!(0), json!(1)), "parts.0.quantity"),
            (part(json!(-1), json!(1)), "parts.0.quantity"),
            (part(json!(1.5), json!(1)), "parts.0.quantity"),
            (part(json!(10_000), json!(1)), "parts.0.quantity"),
            (part(json!(2_147_483_648_i64), json!(1)), "parts.0.quantity"),
            (part(json!(1), json!(-1)), "parts.0.unit_price"),
            (part(json!(1), json!(100_000_000)), "parts.0.unit_price"),
            (part(json!(9999), json!(99_999_999)), "planned_minutes"), // the sum of it all
            (minutes(json!(-1)), "planned_minutes"),
            (minutes(json!(10_001)), "planned_minutes"),
            (minutes(json!("30")), "planned_minutes"),
            (json!({"title": "x"}), "planned_minutes"),
            (json!({"planned_minutes": 1}), "title"),
            (
                json!({"title": "x", "planned_minutes": 1, "parts": vec![json!({"name": "p", "quantity": 1, "unit_price": 1}); 31]}),
                "parts",
            ),
            (
                json!({"title": "x", "planned_minutes": 1, "finding": "019c46a0-0000-7000-8000-000000000000"}),
                "finding",
            ),
        ] {
            let refused = visit.tries(&owner, "steps", &step).await;
            assert_eq!(
                (refused.status.as_u16(), fields(&refused)),
                (422, vec![field]),
                "{step}"
            );
        }
        assert_eq!(shop.count("repair_step").await, 0);
    });
}

#[test]
fn what_is_no_json_is_told_so() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let limit = |text: &str| violin().to_string().replace("5000", text);
        let name = |text: &str| violin().to_string().replace("Ada Fenwick", text);
        let mut bodies: Vec<Vec<u8>> = ["NaN", "Infinity", "0x10", "1_000", "+5", "05", "1E400", "1/2", ""]
            .map(|text| limit(text).into())
            .into();
        bodies.extend(
            ["\\ud800", "\\udc00\\ud800", "\\x41", "a\nb", "\u{1}"].map(|text| name(text).into_bytes()),
        );
        bodies.extend(
            [
                &b"\xff\xfe"[..],
                b"\xc0\xaf",
                b"\xed\xa0\x80",
                b"\xf5\x80\x80\x80",
            ]
            .map(|bytes| {
                let body = name("\u{0}");
                let at = body.find('\0').expect("the place");
                [&body.as_bytes()[..at], bytes, &body.as_bytes()[at + 1..]].concat()
            }),
        );
        bodies.extend(
            [
                "{",
                "",
                "{}x",
                "\u{feff}{}",
                "{'a': 1}",
                "{\"a\": 1,}",
                "// a\n{}",
            ]
            .map(|text| text.as_bytes().to_vec()),
        );
        bodies.push(b"{\"condition\": \"a\", \"condition\": \"b\"}".to_vec());
        bodies.push([vec![b'['; 100_000], vec![b']'; 100_000]].concat());
        for body in bodies {
            let refused = raw(&counter, "k", body.clone()).await;
            let text = String::from_utf8_lossy(&body[..body.len().min(200)]).into_owned();
            assert_eq!(refused.status.as_u16(), 400, "{text}: {}", refused.json);
            is_problem(&refused, 400);
        }
        assert_eq!(shop.count("work_order").await, 0);
    });
}

#[test]
fn no_text_holds_what_one_database_could_not_keep() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let visit = Visit::begin(&owner).await;
        for (what, body, field) in [
            ("checks", json!({"cause": "a\u{0}", "result": "found"}), "cause"),
            (
                "checks",
                json!({"cause": "post_crack", "result": "found\u{0}"}),
                "result",
            ),
            (
                "checks",
                json!({"cause": "post_crack", "result": "found", "note": "\u{0}"}),
                "note",
            ),
            (
                "findings",
                json!({"cause": "\u{0}", "certainty": "confirmed"}),
                "cause",
            ),
            ("steps", json!({"job": "a\u{0}"}), "job"),
            (
                "steps",
                json!({"title": "a", "planned_minutes": 1, "parts": [{"name": "\u{0}", "quantity": 1, "unit_price": 1}]}),
                "parts.0.name",
            ),
            (
                "approval",
                json!({"decision": "approved", "by": "A\u{0}", "channel": "phone"}),
                "by",
            ),
            ("pickup", json!({"collected_by": "A\u{0}B"}), "collected_by"),
        ] {
            let refused = visit.tries(&owner, what, &body).await;
            assert_eq!(
                (refused.status.as_u16(), fields(&refused)),
                (422, vec![field]),
                "{what}"
            );
        }
        let mut body = violin();
        body["complaint"]["answers"]["\u{0}"] = json!("x");
        assert_eq!(take_in(&owner, "k", &body).await.status.as_u16(), 422);
    });
}

#[test]
fn an_address_names_one_thing_or_nothing() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let visit = Visit::begin(&owner).await;
        let mut ids: Vec<String> = strings("path id")
            .into_iter()
            .map(|string| string.value)
            .collect();
        let tag = visit.path.rsplit('/').next().expect("a tag");
        ids.extend([
            format!("{tag}.json"),
            format!("{tag};x=1"),
            format!("{tag}%23x"),
            "9".repeat(5000),
            "%00".into(),
            "%ff".into(),
        ]);
        for id in ids {
            let id = id.replace(';', "%3B");
            for path in [
                format!("{ORDERS}/{id}"),
                format!("/api/v1/customers/{id}"),
                format!("/api/v1/instruments/{id}"),
            ] {
                let answer = owner.get(&path).await;
                assert!(
                    matches!(answer.status.as_u16(), 400 | 404),
                    "{path}: {}",
                    answer.status
                );
            }
            for what in ["findings/{}/withdraw", "steps/{}/drop", "steps/{}/done"] {
                let body = if what.ends_with("done") {
                    json!({"actual_minutes": 1})
                } else {
                    json!({})
                };
                let answer = visit.tries(&owner, &what.replace("{}", &id), &body).await;
                assert!(
                    matches!(answer.status.as_u16(), 400 | 404),
                    "{what} {id}: {}",
                    answer.status
                );
            }
        }
    });
}
