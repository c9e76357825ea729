//! The second pair of ears as pages and programs meet it: ranked without being stored, taught by findings, and scored.

use purfle::act::{Act, Guard};
use purfle::bench::finding::{self, NewFinding};
use purfle::catalogue::cause::Cause;
use purfle::diagnosis::models::Stand;
use serde_json::{Value, json};

use crate::shop::{Shop, on_both};

async fn ranked(shop: &Shop, role: &str, noise: Value) -> Value {
    let answer = shop
        .program(role)
        .await
        .post("/api/v1/diagnosis", &[], &noise)
        .await;
    assert_eq!(answer.status.as_u16(), 200, "{}", answer.json);
    answer.json
}

fn place_of(diagnosis: &Value, cause: &str) -> usize {
    let ranking = diagnosis["ranking"].as_array().expect("a ranking");
    ranking
        .iter()
        .position(|entry| entry["cause"] == cause)
        .expect("ranked")
        + 1
}

async fn count(shop: &Shop, sql: &'static str) -> i64 {
    let (count,): (i64,) = shop.app.db.read(sql).one().await.expect("a count");
    count
}

/// The bench confirms a cause, and its id.
async fn found(shop: &Shop, tag: &str, cause: &str) -> uuid::Uuid {
    let mut act = Act::begin(&shop.app, &shop.who("bench").await, tag, Guard::default())
        .await
        .expect("an act");
    let new = NewFinding {
        cause: cause.into(),
        certainty: "confirmed".into(),
        ..NewFinding::default()
    };
    let finding = finding::log(&mut act, &new).await.expect("a finding");
    act.then("").await.expect("kept");
    finding.id
}

async fn take_back(shop: &Shop, tag: &str, id: uuid::Uuid) {
    let mut act = Act::begin(&shop.app, &shop.who("bench").await, tag, Guard::default())
        .await
        .expect("an act");
    finding::withdraw(&mut act, id).await.expect("withdrawn");
    act.then("").await.expect("kept");
}

#[test]
fn a_noise_is_ranked_with_reasons_and_nothing_is_stored() {
    on_both(async |shop| {
        let noise = json!({"family": "violin", "year_made": 1921, "on": "2026-02-10",
            "answers": {"pegbox_held": "yes", "pitch_spread": "few_notes", "character": "high_fizz", "onset": "not_sure"}});
        let diagnosis = ranked(&shop, "counter", noise).await;
        assert!(place_of(&diagnosis, "peg_pin_loose") <= 3);
        let ranking = diagnosis["ranking"].as_array().expect("a ranking");
        let sum: f64 = ranking
            .iter()
            .map(|entry| entry["probability"].as_f64().expect("p"))
            .sum();
        assert!((sum + diagnosis["none_of_these"].as_f64().expect("p") - 1.0).abs() < 1e-9);
        let first = &ranking[0];
        let answers = reasons(first).iter().filter(|reason| reason["kind"] == "answer");
        assert_eq!(answers.count(), 3, "not sure says nothing: {first}");
        assert!(first["decibans"].as_f64().expect("a weight") > 3.0);
        let mut next: Vec<u64> = ranking
            .iter()
            .map(|entry| entry["next"].as_u64().expect("a number"))
            .collect();
        next.sort_unstable();
        assert_eq!(next, (1..=ranking.len() as u64).collect::<Vec<u64>>());
        assert_eq!(
            (
                shop.count("work_order").await,
                count(&shop, "select count(*) from lesson").await
            ),
            (0, 0)
        );
    });
}

fn reasons(entry: &Value) -> &[Value] {
    entry["reasons"].as_array().expect("reasons")
}

#[test]
fn all_reasons_of_a_cause_sum_up_to_its_weight() {
    on_both(async |shop| {
        let mut noise = json!({"family": "violin", "year_made": 1921, "student": false, "on": "2026-02-10",
            "answers": {"pegbox_held": "yes", "pitch_spread": "few_notes", "weather_link": "dry"},
            "checks": [{"cause": "seam_open_upper", "result": "not_found"}, {"cause": "nut_loose", "result": "not_found"}]});
        let kinds = |entry: &Value| -> Vec<String> {
            let all = reasons(entry).iter();
            all.filter_map(|reason| reason["kind"].as_str().map(str::to_owned))
                .collect()
        };
        for found in [false, true] {
            if found {
                noise["checks"][1]["result"] = json!("found");
            }
            let told = ranked(&shop, "bench", noise.clone()).await;
            for entry in told["ranking"].as_array().expect("a ranking") {
                let each = reasons(entry)
                    .iter()
                    .map(|reason| reason["decibans"].as_f64().expect("a weight"));
                let sum: f64 = each.clone().sum();
                let all = entry["decibans"].as_f64().expect("a weight");
                assert!((sum - all).abs() < 1e-4, "{sum} {entry}");
                // Nothing is said that is but rounding.
                assert!(
                    each.chain([all])
                        .all(|weight| weight == 0.0 || weight.abs() >= 1e-6)
                );
                assert!(!entry.to_string().contains("-0.0,") && !entry.to_string().contains("-0.0}"));
            }
            let seam = &told["ranking"][place_of(&told, "seam_open_upper") - 1];
            for kind in [
                "answer",
                "age",
                "season",
                "student",
                "check",
                "other_checks",
                "overlap",
            ] {
                assert!(kinds(seam).iter().any(|known| known == kind), "{kind} {seam}");
            }
            let look = reasons(seam)
                .iter()
                .find(|reason| reason["kind"] == "check")
                .expect("its look");
            // A look misses a seam in so many of a hundred: its odds are lowered by just that.
            let misses = purfle::catalogue::tie::misses(
                &Cause::get(&shop.app.db, "seam_open_upper")
                    .await
                    .expect("a cause"),
            );
            assert_eq!(look["answer"], "not_found");
            assert!((look["decibans"].as_f64().expect("a weight") - 10.0 * misses.log10()).abs() < 1e-4);
            let dry = reasons(seam)
                .iter()
                .find(|reason| reason["kind"] == "season")
                .expect("its season");
            assert!(
                dry["answer"] == "dry" && dry["decibans"].as_f64().expect("a weight") > 0.5,
                "{dry}"
            );
        }
    });
}

#[test]
fn those_that_one_look_settles_follow_each_other() {
    on_both(async |shop| {
        let noise = json!({"family": "violin", "on": "2026-02-10", "answers": {"edge_tapped": "yes"}, "place": "bench"});
        let told = ranked(&shop, "bench", noise).await;
        let next = |code: &str| {
            let entry = &told["ranking"][place_of(&told, code) - 1];
            assert_eq!(entry["alike"].as_array().map(Vec::len), Some(2), "{entry}");
            entry["next"].as_u64().expect("a number")
        };
        let mut seams = ["seam_open_upper", "seam_open_centre", "seam_open_lower"].map(next);
        seams.sort_unstable();
        assert_eq!(seams, [1, 2, 3]);
    });
}

#[test]
fn a_check_that_cannot_be_of_this_instrument_is_refused_at_its_place() {
    on_both(async |shop| {
        let bench = shop.program("bench").await;
        for result in ["found", "not_found"] {
            let noise = json!({"family": "violin", "checks": [{"cause": "nut_loose", "result": "not_found"},
                {"cause": "endpin_rattle", "result": result}]});
            let refused = bench.post("/api/v1/diagnosis", &[], &noise).await;
            assert_eq!(refused.status.as_u16(), 422, "{}", refused.json);
            assert_eq!(refused.json["errors"][0]["pointer"], "/checks/1/cause");
        }
        let cello = json!({"family": "cello", "checks": [{"cause": "endpin_rattle", "result": "found"}]});
        assert_eq!(
            ranked(&shop, "bench", cello).await["ranking"][0]["cause"],
            "endpin_rattle"
        );
    });
}

#[test]
fn a_check_moves_the_ranking_and_is_not_to_be_done_again() {
    on_both(async |shop| {
        let mut noise = json!({"family": "cello", "on": "2026-02-10", "answers": {"endpin_held": "yes"}});
        let before = ranked(&shop, "bench", noise.clone()).await;
        let first = before["ranking"][0]["cause"]
            .as_str()
            .expect("a cause")
            .to_owned();
        noise["checks"] = json!([{"cause": first, "result": "not_found"}]);
        let after = ranked(&shop, "bench", noise.clone()).await;
        let entry = &after["ranking"][place_of(&after, &first) - 1];
        assert!(place_of(&after, &first) > 1 && entry["next"].is_null(), "{entry}");
        noise["checks"] = json!([{"cause": first, "result": "found"}]);
        let found = ranked(&shop, "bench", noise).await;
        assert_eq!(place_of(&found, &first), 1);
        assert!(found["ranking"][0]["probability"].as_f64().expect("p") > 0.9);
    });
}

#[test]
fn what_cannot_be_ranked_is_told_or_ranked_sanely() {
    on_both(async |shop| {
        let program = shop.program("counter").await;
        let refused = [
            (json!({"family": "lute"}), "family"),
            (
                json!({"family": "violin", "answers": {"colour": "red"}}),
                "colour",
            ),
            (
                json!({"family": "violin", "answers": {"onset": "yesterday"}}),
                "onset",
            ),
            (
                json!({"family": "violin", "checks": [{"cause": "gremlins", "result": "found"}]}),
                "checks",
            ),
            (
                json!({"family": "violin", "checks": [{"cause": "nut_loose", "result": "perhaps"}]}),
                "result",
            ),
            (json!({"family": "violin", "year_made": 2031}), "year_made"),
            (json!({"family": "violin", "on": "tomorrow"}), "on"),
            (json!({"family": "violin", "prior": "gut feeling"}), "prior"),
            (json!({"family": "violin", "mood": "good"}), "mood"),
        ];
        for (noise, field) in refused {
            let answer = program.post("/api/v1/diagnosis", &[], &noise).await;
            assert_eq!(answer.status.as_u16(), 422, "{noise}");
            assert!(
                answer.json["errors"].to_string().contains(field),
                "{field}: {}",
                answer.json
            );
        }
        let bow = ranked(&shop, "counter", json!({"family": "bow"})).await;
        assert_eq!(
            (
                bow["ranking"].as_array().map(Vec::len),
                bow["none_of_these"].as_f64()
            ),
            (Some(0), Some(1.0))
        );
        // A question that makes no sense for a cello says nothing of one.
        let bare = ranked(&shop, "counter", json!({"family": "cello", "on": "2026-02-10"})).await;
        let chin = json!({"family": "cello", "on": "2026-02-10", "answers": {"chin_rest_held": "yes", "onset": "not_sure"}});
        assert_eq!(ranked(&shop, "counter", chin).await, bare);
    });
}

#[test]
fn a_finding_teaches_and_one_that_is_taken_back_is_unlearned_to_the_last_count() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        let noise = json!({"family": "violin", "on": "2026-02-10", "prior": "shop"});
        let p = async |shop: &Shop| {
            let diagnosis = ranked(shop, "bench", noise.clone()).await;
            let at = place_of(&diagnosis, "label_loose") - 1;
            diagnosis["ranking"][at]["probability"].as_f64().expect("p")
        };
        let before = p(&shop).await;
        let id = found(&shop, &order.tag, "label_loose").await;
        let taught = p(&shop).await;
        assert!(taught > before, "{before} {taught}");
        let catalogue = json!({"family": "violin", "on": "2026-02-10", "prior": "catalogue"});
        let alone = ranked(&shop, "bench", catalogue).await;
        let at = place_of(&alone, "label_loose") - 1;
        assert!((alone["ranking"][at]["probability"].as_f64().expect("p") - before).abs() < 1e-12);
        take_back(&shop, &order.tag, id).await;
        assert!((p(&shop).await - before).abs() < 1e-12);
        for sql in [
            "select count(*) from taught_share where orders <> 0",
            "select count(*) from taught_answer where orders <> 0",
            "select count(*) from score_tally where orders <> 0 or hits <> 0 or amount <> 0",
            "select count(*) from lesson",
            "select count(*) from scored",
        ] {
            assert_eq!(count(&shop, sql).await, 0, "{sql}");
        }
        let stand = Stand::get(&shop.app.db).await.expect("the stand");
        assert_eq!((stand.tempered, stand.lessons), (0, 2));
        assert!(
            stand.temper.split(';').all(|loss| loss == "0"),
            "{}",
            stand.temper
        );
    });
}

#[test]
fn what_was_found_ends_the_search_however_unlikely_it_was() {
    on_both(async |shop| {
        for family in ["violin", "cello"] {
            let noise = json!({"family": family, "on": "2026-02-10"});
            let before = ranked(&shop, "bench", noise.clone()).await;
            assert!(before["expected_minutes"].as_f64().expect("minutes") > 0.0);
            for cause in before["ranking"].as_array().expect("a ranking").iter().step_by(7) {
                let mut found = noise.clone();
                found["checks"] = json!([{"cause": cause["cause"], "result": "found"}]);
                let found = ranked(&shop, "bench", found).await;
                let all = found["ranking"].as_array().expect("a ranking");
                assert_eq!(all[0]["cause"], cause["cause"]);
                assert!((all[0]["probability"].as_f64().expect("p") - 0.99).abs() < 1e-9);
                assert!(all.iter().all(|entry| entry["next"].is_null()));
                assert_eq!(found["expected_minutes"], 0.0);
            }
        }
    });
}

#[test]
fn what_still_buzzed_is_unlearned_and_taught_again_when_it_is_found_again() {
    on_both(async |shop| {
        let order = shop
            .order(|intake| {
                let answers = [("which_strings".to_owned(), "all".to_owned())];
                intake.complaint.answers = answers.into();
            })
            .await;
        let later = || shop.clock.set(purfle::clock::Moment(shop.clock.now().0 + 60_000));
        let (lessons, scored) = ("select count(*) from lesson", "select count(*) from scored");
        let stand = async || (count(&shop, lessons).await, count(&shop, scored).await);
        found(&shop, &order.tag, "label_loose").await;
        assert_eq!(stand().await, (1, 1));
        later();
        let bench = shop.program("bench").await;
        let path = format!("/api/v1/orders/{}", order.tag);
        let play = format!("{path}/play_test");
        let etag = bench.get(&path).await.etag();
        let buzzes = json!({"result": "still_buzzes"});
        let played = bench.post(&play, &[("if-match", &etag)], &buzzes).await;
        assert_eq!(played.status.as_u16(), 200, "{}", played.json);
        assert_eq!(stand().await, (0, 0));
        later();
        let again = found(&shop, &order.tag, "label_loose").await;
        assert_eq!(stand().await, (1, 1));
        shop.is_well().await;
        take_back(&shop, &order.tag, again).await;
        assert_eq!(stand().await, (0, 0));
        shop.is_well().await;
    });
}

/// How what was learned is laid aside, and put back as a program left it that learned otherwise.
macro_rules! learned {
    ($($table:literal)*) => {
        [$((
            concat!("create table aside_", $table, " as select * from ", $table),
            [
                concat!("delete from ", $table),
                concat!("insert into ", $table, " select * from aside_", $table),
                concat!("drop table aside_", $table),
            ],
        )),*]
    };
}

async fn learned(shop: &Shop, back: bool) {
    let tables = learned!("lesson" "taught_share" "taught_answer" "scored" "score_tally" "diagnosis");
    for (aside, put_back) in tables {
        let all = if back { put_back.to_vec() } else { vec![aside] };
        for sql in all {
            shop.app.db.write(sql).execute().await.expect("written");
        }
    }
}

/// The play test after a minute, and what was found another minute later, if anything.
async fn still_buzzes(shop: &Shop, tag: &str, then: Option<&str>) {
    let later = || shop.clock.set(purfle::clock::Moment(shop.clock.now().0 + 60_000));
    later();
    let bench = shop.program("bench").await;
    let path = format!("/api/v1/orders/{tag}");
    let etag = bench.get(&path).await.etag();
    let buzzes = json!({"result": "still_buzzes"});
    let played = bench
        .post(&format!("{path}/play_test"), &[("if-match", &etag)], &buzzes)
        .await;
    assert_eq!(played.status.as_u16(), 200, "{}", played.json);
    later();
    if let Some(cause) = then {
        found(shop, tag, cause).await;
    }
}

#[test]
fn a_shop_that_learned_from_what_still_buzzed_learns_anew_when_it_is_opened() {
    on_both(async |shop| {
        let mut tags = Vec::new();
        for _ in 0..3 {
            let order = shop
                .order(|intake| {
                    let answers = [("which_strings".to_owned(), "all".to_owned())];
                    intake.complaint.answers = answers.into();
                })
                .await;
            found(&shop, &order.tag, "label_loose").await;
            tags.push(order.tag);
        }
        learned(&shop, false).await;
        still_buzzes(&shop, &tags[1], None).await;
        still_buzzes(&shop, &tags[2], Some("nut_slot_low")).await;
        let by_tag = "select o.tag, l.causes, l.answers from lesson l join work_order o on o.id = l.work_order order by o.tag";
        let lessons = async || -> Vec<(String, String, String)> {
            shop.app.db.read(by_tag).all().await.expect("lessons")
        };
        let right = lessons().await;
        assert_eq!(
            right.iter().map(|lesson| &*lesson.1).collect::<Vec<_>>(),
            ["label_loose", "nut_slot_low"]
        );
        shop.is_well().await;
        learned(&shop, true).await;
        let now = "update counted set taught_as = 0";
        shop.app.db.write(now).execute().await.expect("an older shop");
        let amiss = purfle::admin::check::check(&shop.app.db).await.expect("a check");
        assert!(!amiss.is_well(), "what an older program left was not found");
        assert_eq!(count(&shop, "select count(*) from scored").await, 3);
        for _ in 0..2 {
            purfle::diagnosis::learned_before::learn_anew(&shop.app.db)
                .await
                .expect("learned anew");
            assert_eq!(lessons().await, right);
            shop.is_well().await;
        }
        assert_eq!(count(&shop, "select count(*) from scored").await, 1);
    });
}

#[test]
fn a_student_instrument_brings_its_ties_only_when_it_is_said() {
    on_both(async |shop| {
        let tied: Vec<String> = Cause::all(&shop.app.db)
            .await
            .expect("causes")
            .into_iter()
            .filter(|cause| cause.age_tie == "student" && cause.in_family("violin"))
            .map(|cause| cause.code)
            .collect();
        assert!(!tied.is_empty());
        let mut noise = json!({"family": "violin", "on": "2026-02-10", "prior": "catalogue"});
        let mut shares = Vec::new();
        for student in [Some(false), None, Some(true)] {
            noise["student"] = json!(student);
            let ranking = ranked(&shop, "counter", noise.clone()).await["ranking"].take();
            let ranking = ranking.as_array().expect("a ranking").iter();
            let tied = ranking.filter(|entry| tied.iter().any(|code| entry["cause"] == code.as_str()));
            shares.push(
                tied.map(|entry| entry["probability"].as_f64().expect("p"))
                    .sum::<f64>(),
            );
        }
        assert!(shares[0] < shares[1] && shares[1] < shares[2], "{shares:?}");
    });
}

/// The odds of a cause after a look that found nothing, over those before.
async fn not_this(shop: &Shop, cause: &str) -> f64 {
    let mut noise = json!({"family": "violin", "on": "2026-02-10"});
    let mut odds = Vec::new();
    for checks in [json!([]), json!([{"cause": cause, "result": "not_found"}])] {
        noise["checks"] = checks;
        let told = ranked(shop, "bench", noise.clone()).await;
        let p = told["ranking"][place_of(&told, cause) - 1]["probability"]
            .as_f64()
            .expect("p");
        odds.push(p / (1.0 - p));
    }
    odds[1] / odds[0]
}

#[test]
fn the_owner_says_how_often_a_look_misses_a_cause() {
    on_both(async |shop| {
        let path = "/api/v1/catalogue/causes/nut_loose";
        let owner = shop.program("owner").await;
        let kept = owner.get(path).await;
        assert_eq!(kept.json["check_misses"], Value::Null);
        assert!((not_this(&shop, "nut_loose").await - 0.15).abs() < 1e-9);
        let more = json!({"check_misses": 60});
        let said = owner.patch(path, &kept.etag(), &more).await;
        assert_eq!(
            (said.status.as_u16(), &said.json["check_misses"]),
            (200, &json!(60))
        );
        assert!((not_this(&shop, "nut_loose").await - 0.6).abs() < 1e-9);
        let page = shop
            .sign_in("bench")
            .await
            .get("/catalogue/causes/nut_loose")
            .await;
        assert!(
            page.body.contains("Looking misses it 60 times in 100"),
            "{}",
            page.body
        );
        for amiss in [json!({"check_misses": 0}), json!({"check_misses": 91})] {
            let refused = owner.patch(path, &said.etag(), &amiss).await;
            assert_eq!(refused.json["errors"][0]["pointer"], "/check_misses");
        }
        let usual = json!({"check_misses": null});
        owner.patch(path, &said.etag(), &usual).await;
        assert!((not_this(&shop, "nut_loose").await - 0.15).abs() < 1e-9);
    });
}

/// The bench looks for a cause, and writes down how long it took or not.
async fn looked(shop: &Shop, tag: &str, check: Value) {
    let path = format!("/api/v1/orders/{tag}/checks");
    let bench = shop.program("bench").await;
    let etag = bench.get(&format!("/api/v1/orders/{tag}")).await.etag();
    let answer = bench.post(&path, &[("if-match", &etag)], &check).await;
    assert!(answer.status.is_success(), "{}", answer.json);
}

#[test]
fn a_tap_notes_no_minutes_and_the_score_says_how_many_checks_had_theirs() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        for check in [
            json!({"cause": "nut_loose", "result": "not_found"}),
            json!({"cause": "label_loose", "result": "not_found", "minutes": 9}),
            json!({"cause": "string_worn_false", "result": "unclear", "minutes": 0}),
        ] {
            looked(&shop, &order.tag, check).await;
        }
        let id = found(&shop, &order.tag, "string_worn_false").await;
        let owner = shop.program("owner").await;
        let score = async || {
            owner
                .get("/api/v1/diagnosis/score?from=2026-02&to=2026-02")
                .await
                .json
        };
        let told = score().await;
        assert_eq!(
            (&told["checks"], &told["checks_timed"]),
            (&json!(3), &json!(2)),
            "{told}"
        );
        // The look at the nut counts with the 2 minutes of its cause in the catalogue.
        assert_eq!(told["median_minutes"], json!(11), "{told}");
        take_back(&shop, &order.tag, id).await;
        let told = score().await;
        assert_eq!(
            (&told["checks"], &told["checks_timed"]),
            (&json!(0), &json!(0)),
            "{told}"
        );
    });
}

#[test]
fn the_score_is_of_what_was_known_before_anybody_looked() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        found(&shop, &order.tag, "string_worn_false").await;
        let silent = shop.order(|intake| intake.complaint.answers.clear()).await;
        found(&shop, &silent.tag, "nut_loose").await;
        let answer = shop
            .program("owner")
            .await
            .get("/api/v1/diagnosis/score?from=2026-02&to=2026-02")
            .await;
        assert_eq!(answer.status.as_u16(), 200, "{}", answer.json);
        let score = &answer.json;
        assert_eq!(
            score["orders"], 1,
            "an order without answers is not scored: {score}"
        );
        assert_eq!(
            (&score["median_checks"], &score["baselines"]["bench"]["hit_at_1"]),
            (&json!(1), &json!(1.0))
        );
        let noise = json!({"family": "violin", "year_made": 1921, "on": "2026-02-10", "prior": "catalogue",
            "answers": {"which_strings": "one", "worst_string": "top"}});
        let ranked = ranked(&shop, "owner", noise).await;
        let top_three = place_of(&ranked, "string_worn_false") <= 3;
        assert_eq!(
            score["baselines"]["catalogue"]["hit_at_3"],
            json!(f64::from(u8::from(top_three)))
        );
        assert!(score["log_loss"].as_f64().expect("a loss") > 0.0);
        assert_eq!(score["calibration"].as_array().map(Vec::len), Some(1));
        let none = shop
            .program("owner")
            .await
            .get("/api/v1/diagnosis/score?from=2020-01&to=2020-12")
            .await;
        assert_eq!(
            (&none.json["orders"], &none.json["hit_at_1"]),
            (&json!(0), &Value::Null)
        );
    });
}

#[test]
fn a_changed_catalogue_is_followed_at_once() {
    on_both(async |shop| {
        let noise = json!({"family": "violin", "on": "2026-02-10"});
        let before = ranked(&shop, "owner", noise.clone()).await;
        let mut tx = shop.app.db.begin().await.expect("begun");
        let mut cause = purfle::catalogue::cause::Cause::get(&mut tx, "nut_loose")
            .await
            .expect("a cause");
        cause.retired = true;
        assert!(cause.update(&mut tx).await.expect("kept"));
        tx.commit().await.expect("kept");
        let after = ranked(&shop, "owner", noise.clone()).await;
        let length = |ranked: &Value| ranked["ranking"].as_array().map(Vec::len).expect("a ranking");
        assert_eq!(length(&after) + 1, length(&before));
        // A check of a cause retired since says nothing.
        let mut checked = noise;
        checked["checks"] = json!([{"cause": "nut_loose", "result": "not_found"}]);
        assert_eq!(ranked(&shop, "owner", checked.clone()).await, after);
        // But that it was found is not swallowed.
        checked["checks"][0]["result"] = json!("found");
        let refused = shop
            .program("owner")
            .await
            .post("/api/v1/diagnosis", &[], &checked)
            .await;
        assert_eq!(
            refused.json["errors"][0]["pointer"], "/checks/0/cause",
            "{}",
            refused.json
        );
    });
}
