//! How well it guesses: the owner's page, what it says of few and of many orders, and the settings behind it.

use axum::http::Method;
use purfle::act::{Act, Guard};
use purfle::app::App;
use purfle::bench::finding::{self, NewFinding};
use purfle::demo::Wish;
use purfle::diagnosis::models::Stand;
use purfle::staff::Staff;
use serde_json::{Value, json};
use uuid::Uuid;

use crate::demo::{AS_OF, filled};
use crate::shop::{Page, Program, Shop, on_both};

async fn page(shop: &Shop, query: &str) -> Page {
    shop.sign_in("owner").await.get(&format!("/ears{query}")).await
}

async fn put(program: &Program, etag: &str, body: &Value) -> (u16, Value) {
    let headers = [("if-match", etag)];
    let path = "/api/v1/diagnosis/settings";
    let answer = program
        .call(Method::PUT, path, &headers, Some(body.to_string()))
        .await;
    (answer.status.as_u16(), answer.json)
}

/// The shop of the tests with an invented history, and its people as they were.
pub async fn invented(shop: &Shop) -> Shop {
    let db = &shop.app.db;
    let people = Staff::all(db).await.expect("the staff");
    let wish = Wish {
        seed: 4,
        orders: 900,
        as_of: AS_OF,
    };
    filled(db, wish).await;
    let mut tx = db.begin().await.expect("begun");
    for person in people {
        assert!(person.insert(&mut tx).await.expect("a person"));
    }
    tx.commit().await.expect("kept");
    let app = App::new(db.clone(), shop.clock.clone(), shop.app.address.clone());
    shop.beside(app)
}

#[test]
fn few_orders_are_too_few_to_say() {
    on_both(async |shop| {
        let page = page(&shop, "").await;
        assert_eq!(page.status.as_u16(), 200);
        assert!(page.body.contains("Too few to say:") && page.body.contains("0 orders"));
        assert!(page.body.contains("Nothing yet that surely differs"));
        assert!(!page.body.contains("<svg class=\"chart\""));
        assert!(
            page.body
                .contains("from the catalogue, since nothing was found here yet")
        );
    });
}

#[test]
fn a_history_is_told_beside_its_baselines_with_its_calibration() {
    on_both(async |shop| {
        let shop = invented(&shop).await;
        let page = page(&shop, "?from=2024-03&to=2026-02").await;
        assert_eq!(page.status.as_u16(), 200, "{}", page.body);
        for words in [
            "stood first on",
            "With what the shop taught",
            "The catalogue alone",
            "Shares alone",
            "As the bench looked",
            "<svg class=\"chart tall\"",
            "Learned from",
        ] {
            assert!(page.body.contains(words), "{words} is not on the page");
        }
        let score = shop
            .program("owner")
            .await
            .get("/api/v1/diagnosis/score?from=2024-03&to=2026-02")
            .await;
        let (orders, baselines) = (&score.json["orders"], &score.json["baselines"]);
        assert!(
            orders.as_i64().is_some_and(|orders| orders > 100),
            "{score:?}",
            score = score.json
        );
        let loss = |of: &Value| of["log_loss"].as_f64().expect("a loss");
        assert!(
            loss(&score.json) < loss(&baselines["shares"]),
            "answers say something"
        );
        assert_eq!(&baselines["bench"]["orders"], orders);
    });
}

#[test]
fn a_span_that_is_none_is_told_at_its_field() {
    on_both(async |shop| {
        let page = page(&shop, "?from=soon&to=2026-02").await;
        assert_eq!(page.status.as_u16(), 422);
        assert!(page.body.contains("from-amiss"), "{}", page.body);
    });
}

#[test]
fn the_owner_switches_to_the_catalogue_alone_and_back() {
    on_both(async |shop| {
        let shop = invented(&shop).await;
        let owner = shop.sign_in("owner").await;
        let ranked = async || {
            let noise = json!({"family": "violin", "on": "2026-02-10"});
            shop.program("owner")
                .await
                .post("/api/v1/diagnosis", &[], &noise)
                .await
                .json
        };
        let shop_alone = [("follow", "shop"), ("pace", "as_measured"), ("version", "1")];
        owner.post("/ears", &shop_alone).await;
        let taught = ranked().await;
        let kept = owner
            .post(
                "/ears",
                &[("follow", "catalogue"), ("pace", "as_measured"), ("version", "2")],
            )
            .await;
        assert_eq!(
            (kept.status.as_u16(), kept.location()),
            (303, "/ears?kept=yes"),
            "{}",
            kept.body
        );
        assert_ne!(ranked().await, taught);
        let late = [("follow", "shop"), ("pace", "fast"), ("version", "1")];
        let late = owner.post("/ears", &late).await;
        assert_eq!(late.status.as_u16(), 412);
        assert!(late.body.contains("Somebody changed this") && late.field("version") == "3");
        let wrong = [("follow", "nobody"), ("pace", "fast"), ("version", "3")];
        assert_eq!(owner.post("/ears", &wrong).await.status.as_u16(), 422);
        let back = [("follow", "shop"), ("pace", "as_measured"), ("version", "3")];
        assert_eq!(owner.post("/ears", &back).await.status.as_u16(), 303);
        assert_eq!(ranked().await, taught);
    });
}

#[test]
fn at_another_pace_it_is_found_out_anew_what_fits_and_who_is_ahead() {
    on_both(async |shop| {
        let shop = invented(&shop).await;
        let owner = shop.sign_in("owner").await;
        let stand = async || Stand::get(&shop.app.db).await.expect("the stand");
        let before = stand().await;
        assert!(before.tempered > 100 && before.begun == 0);
        let others = [("follow", "catalogue"), ("pace", "as_measured"), ("version", "1")];
        owner.post("/ears", &others).await;
        assert_eq!(
            (stand().await.tempered, stand().await.begun),
            (before.tempered, 0)
        );
        let slow = [("follow", "better"), ("pace", "slow"), ("version", "2")];
        assert_eq!(owner.post("/ears", &slow).await.status.as_u16(), 303);
        let after = stand().await;
        assert_eq!((after.tempered, after.behind, &*after.temper), (0, 0, ""));
        assert_eq!(after.begun, before.lessons);
        shop.is_well().await;
        // What was scored at the pace before is taken out of the score alone; what comes is summed up.
        let (order, finding): (Uuid, Uuid) = shop
            .app
            .db
            .read(
                "select s.work_order, f.id from scored s join finding f on f.work_order = s.work_order and f.cause = s.cause
                 where f.certainty = 'confirmed' and not f.withdrawn order by s.work_order limit 1",
            )
            .one()
            .await
            .expect("a scored order");
        let act = async |order: &str| {
            let who = shop.who("owner").await;
            Act::begin(&shop.app, &who, order, Guard::default())
                .await
                .expect("an act")
        };
        let mut back = act(&order.to_string()).await;
        finding::withdraw(&mut back, finding).await.expect("taken back");
        back.then("/").await.expect("kept");
        assert_eq!(stand().await.tempered, 0);
        shop.is_well().await;
        let answers = [("which_strings".to_owned(), "one".to_owned())];
        let order = shop
            .order(|intake| intake.complaint.answers = answers.into())
            .await;
        let mut found = act(&order.tag).await;
        let seam = NewFinding {
            cause: "seam_open_lower".into(),
            certainty: "confirmed".into(),
            ..NewFinding::default()
        };
        finding::log(&mut found, &seam).await.expect("a finding");
        found.then("/").await.expect("kept");
        assert_eq!(stand().await.tempered, 1);
        shop.is_well().await;
    });
}

#[test]
fn programs_read_and_set_the_settings_at_their_version() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let read = owner.get("/api/v1/diagnosis/settings").await;
        assert_eq!(read.json["pace"], "as_measured");
        assert_eq!(
            (&read.json["share_strength"], &read.json["power"]),
            (&json!(300), &json!(0.85))
        );
        let before = Stand::get(&shop.app.db).await.expect("the stand");
        let slow = json!({"follow": "shop", "pace": "slow"});
        let (status, told) = put(&owner, &read.etag(), &slow).await;
        assert_eq!(
            (status, &told["share_strength"], &told["answer_strength"]),
            (200, &json!(900), &json!(90))
        );
        let after = Stand::get(&shop.app.db).await.expect("the stand");
        assert_eq!(
            after.catalogue,
            before.catalogue + 1,
            "so that every cache is renewed"
        );
        assert_eq!(put(&owner, &read.etag(), &slow).await.0, 412);
        for (body, field) in [
            (json!({"follow": "me", "pace": "slow"}), "follow"),
            (json!({"follow": "shop", "pace": "at once"}), "pace"),
            (json!({"follow": "shop"}), "pace"),
            (json!({"follow": "shop", "pace": "slow", "mood": 1}), "mood"),
        ] {
            let (status, told) = put(&owner, "\"2\"", &body).await;
            assert_eq!(status, 422, "{body}");
            assert!(told["errors"].to_string().contains(field), "{told}");
        }
        let headless = owner.call(
            Method::PUT,
            "/api/v1/diagnosis/settings",
            &[],
            Some(slow.to_string()),
        );
        assert_eq!(headless.await.status.as_u16(), 428);
    });
}
