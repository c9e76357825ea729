//! Solved at the counter: what was looked at while the customer stood there, and what was put right and went home.

use purfle::counter::order::Order;
use serde_json::json;

use crate::shop::{Answer, Page, Program, Shop, on_both};

/// Looked for at the counter; mending it needs no luthier.
const MUTE: &str = "mute_on_afterlength";
/// Looked for at the counter, mended by a luthier.
const PEG: &str = "peg_cracked";

fn intake<'a>(more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let new = [
        ("customer.name", "Marta Ellingworth"),
        ("instrument.family", "violin"),
        ("complaint.words", "It fizzes."),
        ("items_left", "Case"),
        ("once", "k1"),
    ];
    let said = |field: &&(&str, &str)| !more.iter().any(|other| other.0 == field.0);
    new.iter().filter(said).chain(more).copied().collect()
}

async fn counts(shop: &Shop) -> [i64; 4] {
    [
        shop.count("work_order").await,
        shop.count("cause_check").await,
        shop.count("finding").await,
        shop.count("customer").await,
    ]
}

async fn take_in(shop: &Shop, more: &[(&str, &str)]) -> Page {
    shop.sign_in("counter").await.post("/intake", &intake(more)).await
}

/// What the order in the shop, its score and its lesson hold of the answers.
async fn answers_kept(shop: &Shop) -> (String, Option<String>, Option<String>) {
    let order = shop.order_now("10008").await;
    let of = async |sql: &'static str| -> Option<String> {
        let kept: Option<(String,)> = shop.app.db.read(sql).optional().await.expect("read");
        kept.map(|kept| kept.0)
    };
    (
        order.answers,
        of("select answers from first_answers").await,
        of("select answers from lesson").await,
    )
}

#[test]
fn answers_given_after_a_check_at_the_counter_are_neither_scored_nor_taught() {
    on_both(async |shop| {
        let page = take_in(
            &shop,
            &[
                ("complaint.answers.onset", "sudden"),
                ("complaint.answers.afterlength_damped", "yes"),
                (&format!("check.{MUTE}"), "found"),
                ("stood", "onset=sudden"),
            ],
        )
        .await;
        assert_eq!(page.status, 303, "{}", page.body);
        let (all, first, taught) = answers_kept(&shop).await;
        assert_eq!(all, "afterlength_damped=yes;onset=sudden");
        assert_eq!(first.as_deref(), Some("onset=sudden"));
        assert_eq!(taught.as_deref(), Some("onset=sudden"));
        assert_eq!(shop.count("finding").await, 1);
        shop.is_well().await;
    });
}

#[test]
fn without_a_check_or_with_all_answers_before_it_nothing_is_kept_apart() {
    on_both(async |shop| {
        let all = "afterlength_damped=yes;onset=sudden";
        let said = [
            ("complaint.answers.onset", "sudden"),
            ("complaint.answers.afterlength_damped", "yes"),
        ];
        take_in(&shop, &[&said[..], &[("stood", "onset=sudden")]].concat()).await;
        assert_eq!(answers_kept(&shop).await, (all.to_owned(), None, None));
    });
    on_both(async |shop| {
        let field = format!("check.{MUTE}");
        let all = "afterlength_damped=yes;onset=sudden";
        let said = [
            ("complaint.answers.onset", "sudden"),
            ("complaint.answers.afterlength_damped", "yes"),
            (field.as_str(), "found"),
            ("stood", all),
        ];
        take_in(&shop, &said).await;
        assert_eq!(
            answers_kept(&shop).await,
            (all.to_owned(), None, Some(all.to_owned()))
        );
    });
}

#[test]
fn a_call_says_which_answers_stood_before_its_checks() {
    on_both(async |shop| {
        let program = shop.program("counter").await;
        let mut body = json!({"customer": {"name": "Marta"}, "instrument": {"family": "violin"},
            "complaint": {"answers": {"onset": "sudden", "afterlength_damped": "yes"}},
            "checks": [{"cause": MUTE, "result": "found"}], "first_answers": {"onset": "tomorrow"}});
        let refused = program
            .post("/api/v1/orders", &[("idempotency-key", "f1")], &body)
            .await;
        assert_eq!(
            refused.json["errors"][0]["pointer"], "/first_answers/onset",
            "{}",
            refused.json
        );
        body["first_answers"] = json!({"onset": "sudden"});
        let made = program
            .post("/api/v1/orders", &[("idempotency-key", "f2")], &body)
            .await;
        assert_eq!(made.status.as_u16(), 201, "{}", made.json);
        let (_, first, taught) = answers_kept(&shop).await;
        assert_eq!(
            (first.as_deref(), taught.as_deref()),
            (Some("onset=sudden"), Some("onset=sudden"))
        );
        body["checks"] = json!([]);
        let refused = program
            .post("/api/v1/orders", &[("idempotency-key", "f3")], &body)
            .await;
        assert_eq!(
            refused.json["errors"][0]["pointer"], "/first_answers",
            "{}",
            refused.json
        );
    });
}

#[test]
fn one_look_at_several_is_written_of_each_and_what_was_found_of_the_one() {
    on_both(async |shop| {
        let field = "check.tuner_lock_nut_loose;tuner_screw_loose";
        take_in(&shop, &[(field, "not_found")]).await;
        assert_eq!(
            (shop.count("cause_check").await, shop.count("finding").await),
            (2, 0)
        );
        take_in(&shop, &[("once", "k2"), (field, "found:tuner_screw_loose")]).await;
        assert_eq!(
            (shop.count("cause_check").await, shop.count("finding").await),
            (3, 1)
        );
        let amiss = take_in(&shop, &[("once", "k3"), (field, "found:nut_loose")]).await;
        assert_eq!(amiss.status, 422, "{}", amiss.body);
    });
}

#[test]
fn the_page_shows_where_it_was_found() {
    on_both(async |shop| {
        take_in(&shop, &[(&format!("check.{MUTE}"), "found")]).await;
        let page = shop.sign_in("counter").await.get("/orders/10008/put_right").await;
        assert!(
            page.body.contains("class=\"pin\"") && page.body.contains("Found: Afterlength"),
            "{}",
            page.body
        );
    });
}

async fn put_right(shop: &Shop, version: i64, more: &[(&str, &str)]) -> Page {
    let version = version.to_string();
    let usual = [
        ("version", version.as_str()),
        ("once", "p1"),
        ("done", "Took the mute off"),
        ("minutes", "4"),
        ("who", "customer"),
    ];
    let said = |field: &&(&str, &str)| !more.iter().any(|other| other.0 == field.0);
    let fields: Vec<(&str, &str)> = usual.iter().filter(said).chain(more).copied().collect();
    shop.sign_in("counter")
        .await
        .post("/orders/10008/put_right", &fields)
        .await
}

#[test]
fn what_was_looked_at_comes_in_with_the_intake_and_what_was_found_is_confirmed() {
    on_both(async |shop| {
        let page = take_in(
            &shop,
            &[
                (&format!("check.{PEG}"), "not_found"),
                (&format!("check.{MUTE}"), "found"),
            ],
        )
        .await;
        assert_eq!(page.location(), "/orders/10008/put_right", "{}", page.body);
        assert_eq!(counts(&shop).await, [1, 2, 1, 1]);
        let order = shop.order_now("10008").await;
        assert_eq!(
            (order.stage.code(), order.inspected_on.is_some()),
            ("inspecting", true)
        );
        let again = take_in(
            &shop,
            &[
                (&format!("check.{PEG}"), "not_found"),
                (&format!("check.{MUTE}"), "found"),
            ],
        )
        .await;
        assert_eq!(
            (again.location(), counts(&shop).await),
            (page.location(), [1, 2, 1, 1])
        );
    });
}

#[test]
fn it_counts_in_the_statistics_and_teaches_like_any_other() {
    on_both(async |shop| {
        take_in(&shop, &[(&format!("check.{MUTE}"), "found")]).await;
        let (orders,): (i64,) = shop
            .app
            .db
            .read("select cast(sum(orders) as bigint) from taught_share where cause = $1")
            .bind(MUTE.to_owned())
            .one()
            .await
            .expect("the lesson");
        assert_eq!(orders, 1);
    });
}

#[test]
fn an_unknown_cause_comes_back_at_its_check_and_nothing_is_kept() {
    on_both(async |shop| {
        for (cause, result) in [
            ("no_such_cause", "found"),
            (MUTE, "perhaps"),
            ("endpin_rattle", "found"),
        ] {
            let page = take_in(&shop, &[(&format!("check.{cause}"), result)]).await;
            assert_eq!(page.status.as_u16(), 422, "{cause}");
            assert!(page.body.contains(&format!("href=\"#check.{cause}\"")), "{cause}");
            assert!(page.body.contains(&format!("id=\"check.{cause}\"")), "{cause}");
            assert_eq!(page.field("customer.name"), "Marta Ellingworth");
        }
        assert_eq!(counts(&shop).await, [0, 0, 0, 0]);
    });
}

#[test]
fn put_right_ends_as_collected_in_one_act_and_once() {
    on_both(async |shop| {
        take_in(&shop, &[(&format!("check.{MUTE}"), "found")]).await;
        let version = shop.order_now("10008").await.version;
        let page = put_right(&shop, version, &[("result", "quiet")]).await;
        assert_eq!(page.location(), "/orders/10008/handed", "{}", page.body);
        let order = shop.order_now("10008").await;
        assert_eq!(
            (order.stage.code(), order.collected_by.as_str()),
            ("collected", "Marta Ellingworth")
        );
        assert_eq!(order.version, version + 1);
        let again = put_right(&shop, version, &[("result", "quiet")]).await;
        assert_eq!(again.location(), page.location());
        assert_eq!(
            (shop.count("repair_step").await, shop.count("payment").await),
            (1, 0)
        );
        let summary = shop.sign_in("counter").await.get("/orders/10008/summary").await;
        assert!(summary.body.contains("Took the mute off"));
    });
}

#[test]
fn what_it_costs_is_agreed_to_in_person_and_paid() {
    on_both(async |shop| {
        take_in(&shop, &[(&format!("check.{MUTE}"), "found")]).await;
        let version = shop.order_now("10008").await.version;
        let unsaid = put_right(&shop, version, &[("result", "quiet"), ("cost", "5")]).await;
        assert!(unsaid.body.contains("Say how it is paid"));
        let paid = put_right(
            &shop,
            version,
            &[("result", "quiet"), ("cost", "5"), ("method", "cash")],
        )
        .await;
        assert_eq!(paid.location(), "/orders/10008/handed", "{}", paid.body);
        let bench = shop.program("owner").await;
        let told = bench.get("/api/v1/orders/10008").await.json;
        // 5.00 and 20 % tax.
        assert_eq!(told["money"], json!({"charged": 600, "paid": 600, "owed": 0}));
        assert_eq!(told["approvals"][0]["channel"], "in_person");
    });
}

#[test]
fn a_fix_costs_the_very_amount_whatever_the_minutes() {
    on_both(async |shop| {
        let program = shop.program("counter").await;
        for minutes in [1, 7, 11, 13, 59, 60] {
            let made = api_intake(
                &program,
                &format!("k{minutes}"),
                json!([{"cause": MUTE, "result": "found"}]),
            )
            .await;
            let tag = made.json["tag"].as_str().expect("a tag").to_owned();
            let body = json!({"done": "Took it off", "minutes": minutes, "cost": 499, "result": "quiet",
                "collected_by": "Marta", "paid": 0});
            let path = format!("/api/v1/orders/{tag}/put_right");
            let told = act(&program, &path, made.json["version"].as_i64(), &body).await;
            assert_eq!(told.json["estimate"]["labour"], 499, "{minutes}: {}", told.json);
            assert_eq!(
                (&told.json["stage"], &told.json["money"]["owed"]),
                (&json!("collected"), &json!(599))
            );
        }
    });
}

#[test]
fn what_still_buzzes_stays_in_the_shop() {
    on_both(async |shop| {
        take_in(&shop, &[(&format!("check.{MUTE}"), "found")]).await;
        let version = shop.order_now("10008").await.version;
        let page = put_right(&shop, version, &[("result", "still_buzzes")]).await;
        assert_eq!(page.location(), "/orders/10008", "{}", page.body);
        let order = shop.order_now("10008").await;
        assert_eq!(
            (order.stage.code(), order.is_handed_back()),
            ("inspecting", false)
        );
    });
}

#[test]
fn what_is_not_of_the_counter_is_refused_with_the_reason() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        take_in(&shop, &[]).await;
        let nothing = counter.get("/orders/10008/put_right").await;
        assert_eq!(nothing.status.as_u16(), 409);
        assert!(nothing.body.contains("Nothing was found"));
        let fields: Vec<(&str, &str)> = vec![
            ("cause", PEG),
            ("result", "found"),
            ("version", "1"),
            ("once", "c"),
        ];
        let found = counter.post("/orders/10008/checks", &fields).await;
        assert_eq!(found.location(), "/orders/10008", "{}", found.body);
        assert_eq!(shop.count("finding").await, 1);
        let luthier = counter.get("/orders/10008/put_right").await;
        assert!(
            luthier.body.contains("the luthier sees it first"),
            "{}",
            luthier.body
        );
    });
}

#[test]
fn put_right_asks_for_what_is_missing_with_everything_kept() {
    on_both(async |shop| {
        take_in(&shop, &[(&format!("check.{MUTE}"), "found")]).await;
        let version = shop.order_now("10008").await.version;
        let page = put_right(&shop, version, &[("minutes", "x"), ("cost", "1,2,3")]).await;
        assert_eq!(page.status.as_u16(), 422);
        for field in ["result", "cost"] {
            assert!(page.body.contains(&format!("href=\"#{field}\"")), "{field}");
        }
        assert!(page.body.contains("Took the mute off"));
        let stale = put_right(&shop, version + 5, &[("result", "quiet")]).await;
        assert_eq!(stale.status.as_u16(), 412);
        assert!(stale.body.contains("What is new") && stale.body.contains("Took the mute off"));
        assert_eq!(shop.order_now("10008").await.version, version);
    });
}

#[test]
fn the_counter_confirms_and_takes_back_only_what_is_looked_for_at_the_counter() {
    on_both(async |shop| {
        let program = shop.program("counter").await;
        let made = api_intake(&program, "k", json!([])).await;
        let (path, version) = ("/api/v1/orders/10008/findings", made.json["version"].as_i64());
        let finding = |cause: &str| json!({"cause": cause, "certainty": "confirmed"});
        let bench_only = act(&program, path, version, &finding("seam_open_centre")).await;
        assert_eq!(bench_only.status.as_u16(), 403, "{}", bench_only.json);
        let mine = act(&program, path, version, &finding(MUTE)).await;
        assert_eq!(mine.status.as_u16(), 201, "{}", mine.json);
        let id = mine.json["id"].as_str().expect("an id");
        let back = act(&program, &format!("{path}/{id}/withdraw"), Some(2), &json!({})).await;
        assert_eq!(back.status.as_u16(), 200, "{}", back.json);
    });
}

async fn api_intake(program: &Program, key: &str, checks: serde_json::Value) -> Answer {
    let body = json!({"customer": {"name": "Marta"}, "instrument": {"family": "violin"}, "checks": checks});
    let headers = [("idempotency-key", key)];
    let call = program.call(
        axum::http::Method::POST,
        "/api/v1/orders",
        &headers,
        Some(body.to_string()),
    );
    call.await
}

async fn act(program: &Program, path: &str, version: Option<i64>, body: &serde_json::Value) -> Answer {
    let version = format!("\"{}\"", version.expect("a version"));
    let headers = [("if-match", version.as_str())];
    let call = program.call(axum::http::Method::POST, path, &headers, Some(body.to_string()));
    call.await
}

#[test]
fn checks_come_with_a_call_and_are_told_at_their_place() {
    on_both(async |shop| {
        let program = shop.program("counter").await;
        let bad = api_intake(
            &program,
            "k1",
            json!([{"cause": MUTE, "result": "found"}, {"cause": "x", "result": "y"}]),
        )
        .await;
        assert_eq!(bad.status.as_u16(), 422);
        assert!(bad.json.to_string().contains("/checks/1/cause"), "{}", bad.json);
        let made = api_intake(
            &program,
            "k2",
            json!([{"cause": MUTE, "result": "found", "minutes": 2}]),
        )
        .await;
        assert_eq!(
            (made.status.as_u16(), &made.json["stage"]),
            (201, &json!("inspecting")),
            "{}",
            made.json
        );
        assert_eq!(made.json["checks"][0]["minutes"], 2);
        assert_eq!(made.json["findings"][0]["cause"], MUTE);
        assert_eq!(
            Order::get(&shop.app.db, "10008")
                .await
                .expect("the order")
                .version,
            2
        );
    });
}
