//! The whole job through the API, from the counter to the pickup.

use serde_json::{Value, json};

use super::{Visit, fields, take_in, violin};
use crate::shop::on_both;

#[test]
fn an_order_goes_from_intake_to_pickup() {
    on_both(async |shop| {
        let (counter, bench) = (shop.program("counter").await, shop.program("bench").await);
        let mut visit = Visit::begin(&counter).await;
        let check = json!({"cause": "peg_collar_loose", "result": "found", "minutes": 6, "note": null});
        let check = visit.does(&bench, "checks", check).await;
        assert_eq!(
            (&check["stage"], &check["order_version"]),
            (&json!("inspecting"), &json!(2))
        );
        let finding = json!({"cause": "peg_collar_loose", "certainty": "confirmed", "place": "G peg"});
        let finding = visit.does(&bench, "findings", finding).await["id"].clone();
        let step = json!({"job": "tighten_tuner", "finding": finding, "planned_minutes": 30,
            "parts": [{"name": "Collar", "quantity": 2, "unit_price": 1250}]});
        let step = visit.does(&bench, "steps", step).await;
        // 30 min at 72.00 an hour, two parts at 12.50, 20 % tax: 73.20, more than the 50.00 that were agreed.
        assert_eq!(
            (&step["stage"], &step["parts"][0]["quantity"]),
            (&json!("awaiting_approval"), &json!(2))
        );
        let yes = json!({"decision": "approved", "by": "Ada Fenwick", "channel": "phone", "limit": 8000});
        let order = visit.does(&counter, "approval", yes).await;
        assert_eq!(
            (&order["stage"], &order["authorised_limit"]),
            (&json!("approved"), &json!(8000))
        );
        let done = format!("steps/{}/done", step["id"].as_str().expect("an id"));
        let order = visit.does(&bench, &done, json!({"actual_minutes": 25})).await;
        assert_eq!(
            (&order["stage"], &order["money"]["owed"]),
            (&json!("play_test"), &json!(7320))
        );
        let order = visit.does(&bench, "play_test", json!({"result": "quiet"})).await;
        assert_eq!(
            (&order["stage"], &order["ready_on"]),
            (&json!("ready"), &json!("2026-02-10"))
        );
        let home = json!({"collected_by": "Ada Fenwick", "paid": 7320, "method": "card"});
        let order = visit.does(&counter, "pickup", home).await;
        assert_eq!(order["stage"], "collected");
        assert_eq!(order["money"], json!({"charged": 7320, "paid": 7320, "owed": 0}));
    });
}

#[test]
fn the_whole_order_is_told() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let taken = take_in(&counter, "k", &violin()).await;
        let path = format!("/api/v1/orders/{}", taken.json["id"].as_str().expect("an id"));
        let read = counter.get(&path).await;
        assert_eq!((read.status.as_u16(), read.etag()), (200, "\"1\"".into()));
        assert_eq!(read.json, taken.json);
        let order = read.json;
        assert_eq!(
            (&order["stage"], &order["currency"]),
            (&json!("received"), &json!("EUR"))
        );
        assert_eq!(order["received_at"], "2026-02-10T09:00:00Z");
        assert_eq!(
            (&order["received_on"], &order["promised_on"]),
            (&json!("2026-02-10"), &json!("2026-02-20"))
        );
        assert_eq!(order["complaint"], violin()["complaint"]);
        assert_eq!(
            (&order["items_left"], &order["declared_value"]),
            (&json!(["case", "bow"]), &json!(850_000))
        );
        assert_eq!(order["customer"]["email"], "ada@fenwick.example");
        assert_eq!(
            order["estimate"],
            json!({"labour": 0, "parts": 0, "tax": 0, "total": 0, "lines": []})
        );
        assert_eq!(
            (&order["hold"], &order["collected"]),
            (&Value::Null, &Value::Null)
        );
        assert_eq!(
            (&order["timeline"][0]["words"], &order["timeline"][0]["by"]),
            (&json!("Taken in"), &json!("counter"))
        );
    });
}

#[test]
fn the_estimate_is_told_line_by_line() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let mut visit = Visit::begin(&owner).await;
        let parts = json!([{"name": "String", "quantity": 1, "unit_price": 2500}]);
        let step = json!({"title": "New G string", "planned_minutes": 10, "parts": parts});
        let step = visit.does(&owner, "steps", step).await;
        let order = owner.get(&visit.path).await.json;
        let line =
            json!({"step": step["id"], "title": "New G string", "labour": 1200, "parts": 2500, "sum": 3700});
        assert_eq!(
            order["estimate"],
            json!({"labour": 1200, "parts": 2500, "tax": 740, "total": 4440, "lines": [line]})
        );
        let order = visit
            .does(
                &owner,
                &format!("steps/{}/drop", step["id"].as_str().expect("an id")),
                json!({}),
            )
            .await;
        assert_eq!(
            (&order["steps"], &order["estimate"]["total"]),
            (&json!([]), &json!(0))
        );
    });
}

#[test]
fn the_bench_is_not_told_how_to_reach_people() {
    on_both(async |shop| {
        let (counter, bench) = (shop.program("counter").await, shop.program("bench").await);
        let visit = Visit::begin(&counter).await;
        let order = bench.get(&visit.path).await.json;
        let customer = json!({"id": order["customer"]["id"], "kind": "person", "name": "Ada", "version": 1});
        assert_eq!(order["customer"], customer);
        let list = bench.get("/api/v1/orders").await.json;
        assert_eq!(list["items"][0]["customer"]["name"], "Ada");
        for (q, counter_finds, bench_finds) in [
            ("0142", 1, 0),
            ("ada@fenwick", 1, 0),
            ("harrow", 1, 1),
            ("ada harrow", 1, 1),
        ] {
            let path = format!("/api/v1/orders?q={}", q.replace(' ', "%20"));
            let found = async |program: &crate::shop::Program| {
                program.get(&path).await.json["items"].as_array().map(Vec::len)
            };
            assert_eq!(found(&counter).await, Some(counter_finds), "{q}");
            assert_eq!(found(&bench).await, Some(bench_finds), "{q}");
        }
    });
}

#[test]
fn a_finding_is_taken_back_and_a_deposit_is_taken() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let mut visit = Visit::begin(&owner).await;
        let finding = json!({"cause": "post_crack", "certainty": "suspected"});
        let finding = visit.does(&owner, "findings", finding).await;
        let back = format!("findings/{}/withdraw", finding["id"].as_str().expect("an id"));
        let order = visit.does(&owner, &back, json!({})).await;
        assert_eq!(order["findings"][0]["withdrawn"], true);
        assert_eq!(visit.tries(&owner, &back, &json!({})).await.status.as_u16(), 409);
        let deposit = json!({"amount": 1500, "method": "cash"});
        let payment = visit.does(&owner, "payments", deposit).await;
        assert_eq!(
            (&payment["amount"], &payment["paid_on"]),
            (&json!(1500), &json!("2026-02-10"))
        );
        assert_eq!(owner.get(&visit.path).await.json["money"]["paid"], 1500);
    });
}

#[test]
fn a_known_instrument_comes_again() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let new = json!({"name": "Overbrook School", "kind": "school"});
        let customer = counter.post("/api/v1/customers", &[], &new).await;
        assert_eq!(
            (customer.status.as_u16(), &customer.json["kind"]),
            (201, &json!("school"))
        );
        let mut body = violin();
        body["customer"] = json!({"id": customer.json["id"]});
        let first = take_in(&counter, "first", &body).await;
        body["instrument"] = json!({"id": first.json["instrument"]["id"]});
        let second = take_in(&counter, "second", &body).await;
        assert_eq!(second.status.as_u16(), 201, "{}", second.json);
        let path = format!(
            "/api/v1/instruments/{}",
            first.json["instrument"]["id"].as_str().expect("an id")
        );
        let instrument = counter.get(&path).await.json;
        let tags: Vec<&Value> = instrument["orders"]
            .as_array()
            .expect("orders")
            .iter()
            .map(|order| &order["tag"])
            .collect();
        assert_eq!(tags, [&second.json["tag"], &first.json["tag"]]);
        let path = format!(
            "/api/v1/customers/{}",
            customer.json["id"].as_str().expect("an id")
        );
        let told = counter.get(&path).await.json;
        assert_eq!(told["instruments"][0]["id"], first.json["instrument"]["id"]);
        assert_eq!(
            (shop.count("customer").await, shop.count("instrument").await),
            (1, 1)
        );
    });
}

#[test]
fn the_catalogue_is_told_by_family() {
    on_both(async |shop| {
        let bench = shop.program("bench").await;
        let count = async |path: &str| {
            let answer = bench.get(&format!("/api/v1/catalogue/{path}")).await;
            assert_eq!(answer.json["next"], Value::Null);
            answer.json["items"].as_array().expect("items").clone()
        };
        assert_eq!(count("causes").await.len(), 82);
        assert!(count("causes?family=bass").await.iter().all(|cause| {
            cause["families"]
                .as_array()
                .expect("families")
                .contains(&json!("bass"))
        }));
        assert_eq!(count("descriptors").await.len(), 24);
        assert!(count("descriptors?family=bow").await.is_empty());
        let (violin, cello) = (count("jobs").await, count("jobs?family=cello").await);
        assert_eq!((violin.len(), cello.len()), (67, 67));
        let bow = count("jobs?family=bow").await;
        assert!(
            bow.iter()
                .all(|job| ["rehair", "bow_service"].iter().any(|own| job["code"] == *own))
        );
        assert_eq!(bow.len(), 2);
        let minutes = |jobs: &[Value]| {
            jobs.iter()
                .find(|job| job["code"] == "replace_set")
                .map(|job| job["minutes"].clone())
        };
        assert_eq!(
            (minutes(&violin), minutes(&cello)),
            (Some(json!(22)), Some(json!(26)))
        ); // 22 x 1.2
        assert!(
            violin
                .iter()
                .all(|job| !job["steps"].as_array().expect("steps").is_empty())
        );
    });
}

#[test]
fn an_order_is_held_and_the_hold_is_taken_off() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let mut visit = Visit::begin(&owner).await;
        let glue = json!({"until": "2026-02-11T16:30:00+01:00", "why": "Glue"});
        let order = visit.does(&owner, "hold", glue).await;
        assert_eq!(
            order["hold"],
            json!({"until": "2026-02-11T15:30:00Z", "why": "Glue"})
        );
        for until in [
            "2026-02-10T09:00:00Z",
            "2028-01-01T00:00:00Z",
            "2026-02-30T00:00:00Z",
            "2026-02-11T24:00:00Z",
            "2026-02-11T12:00:00+25:00",
            "2026-02-11",
            "2026-02-11T16:30:00",
            "tomorrow",
            "1770714000",
            "",
            "9999-12-31T23:59:59Z",
            "0000-01-01T00:00:00Z",
        ] {
            let refused = visit.tries(&owner, "hold", &json!({"until": until})).await;
            assert_eq!(
                (refused.status.as_u16(), fields(&refused)),
                (422, vec!["until"]),
                "{until}"
            );
        }
        let order = visit.does(&owner, "hold/off", json!({})).await;
        assert_eq!(order["hold"], Value::Null);
        assert_eq!(
            visit.tries(&owner, "hold/off", &json!({})).await.status.as_u16(),
            409
        );
    });
}

#[test]
fn an_order_goes_back_unrepaired_and_is_taken_up_again() {
    on_both(async |shop| {
        let (counter, bench) = (shop.program("counter").await, shop.program("bench").await);
        let mut visit = Visit::begin(&counter).await;
        assert_eq!(
            fields(&visit.tries(&bench, "return", &json!({"why": "tired"})).await),
            ["why"]
        );
        let order = visit
            .does(&bench, "return", json!({"why": "nothing_found"}))
            .await;
        assert_eq!(
            (&order["stage"], &order["returned_why"]),
            (&json!("returned"), &json!("nothing_found"))
        );
        let order = visit.does(&counter, "reopen", json!({})).await;
        assert_eq!(
            (&order["stage"], &order["returned_why"]),
            (&json!("inspecting"), &Value::Null)
        );
        visit
            .does(&bench, "return", json!({"why": "beyond_repair"}))
            .await;
        let order = visit
            .does(&counter, "pickup", json!({"collected_by": "Ada"}))
            .await;
        assert_eq!(
            (&order["stage"], &order["collected"]["by"]),
            (&json!("returned"), &json!("Ada"))
        );
        assert_eq!(
            visit.tries(&counter, "reopen", &json!({})).await.status.as_u16(),
            409
        );
    });
}

#[test]
fn a_promise_is_changed_and_what_is_left_out_stays() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let mut visit = Visit::begin(&counter).await;
        let order = visit
            .does(&counter, "promise", json!({"promised_on": "2026-02-27"}))
            .await;
        assert_eq!(
            (&order["promised_on"], &order["authorised_limit"]),
            (&json!("2026-02-27"), &json!(5000))
        );
        let order = visit
            .does(&counter, "promise", json!({"authorised_limit": 0}))
            .await;
        assert_eq!(
            (&order["promised_on"], &order["authorised_limit"]),
            (&json!("2026-02-27"), &json!(0))
        );
        for day in ["2026-02-09", "2026-02-30"] {
            let refused = visit
                .tries(&counter, "promise", &json!({"promised_on": day}))
                .await;
            assert_eq!(
                (refused.status.as_u16(), fields(&refused)),
                (422, vec!["promised_on"]),
                "{day}"
            );
        }
    });
}

#[test]
fn the_report_tells_what_keeps_coming_back() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let mut visit = Visit::begin(&owner).await;
        visit
            .does(
                &owner,
                "findings",
                json!({"cause": "post_crack", "certainty": "confirmed"}),
            )
            .await;
        let path = "/api/v1/reports/recurrence";
        let told = owner.get(&format!("{path}?from=2026-02&to=2026-02")).await.json;
        assert_eq!(
            (&told["as_of"], &told["inspected"]),
            (&json!("2026-02-10"), &json!(1))
        );
        assert_eq!(
            (&told["causes"][0]["cause"], &told["causes"][0]["confirmed"]),
            (&json!("post_crack"), &json!(1))
        );
        for (query, named) in [
            ("from=2026-02", "to"),
            ("from=soon&to=2026-02", "from"),
            ("from=2026-02&to=2026-02&family=bow", "family"),
            ("month=2026-02", "month"),
        ] {
            let refused = owner.get(&format!("{path}?{query}")).await;
            assert_eq!(
                (refused.status.as_u16(), fields(&refused)),
                (422, vec![named]),
                "{query}"
            );
            assert_eq!(refused.json["errors"][0]["in"], "query");
        }
    });
}
