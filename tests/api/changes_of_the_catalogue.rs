//! The catalogue changed by an owner's program: added, worded, retired and brought back, as on its pages.

use serde_json::{Value, json};

use super::changes::{changed, is_guarded, is_refused_at};
use super::refusals::is_problem;
use crate::shop::{Program, on_both};

const CAUSES: &str = "/api/v1/catalogue/causes";
const JOBS: &str = "/api/v1/catalogue/jobs";
const QUESTIONS: &str = "/api/v1/catalogue/descriptors";

fn mute() -> Value {
    json!({
        "name": "Practice mute left on", "region": "bridge", "families": ["cello", "violin"],
        "how_it_sounds": "A dull rattle.", "common": "rare", "look": "Look behind the bridge.", "check_minutes": 1,
        "check_place": "counter", "remedy": "Take it off.", "season_tie": "none", "age_tie": "any"
    })
}

fn polish() -> Value {
    json!({
        "name": "Polish the frog", "who": "bench_technician", "minutes_low": 5, "minutes_high": 20, "materials": "low",
        "factor_bass": 1.5,
        "steps": [{"step": "Take the hair off", "minutes": 4}, {"step": "Polish", "minutes": 6, "wait_hours": 0.5}]
    })
}

/// Adds it twice under one key: it is there once.
pub async fn added(owner: &Program, path: &str, body: &Value) -> String {
    let key = [("idempotency-key", "new")];
    let first = owner.post(path, &key, body).await;
    let again = owner.post(path, &key, body).await;
    assert_eq!(first.status.as_u16(), 201, "{}", first.json);
    assert_eq!((&first.json, first.etag()), (&again.json, again.etag()));
    let here = format!("{path}/{}", first.json["code"].as_str().expect("a code"));
    assert_eq!(owner.get(&here).await.json, first.json);
    let taken = owner.post(path, &[], body).await;
    is_problem(&taken, 422);
    let named = taken.json["errors"][0]["pointer"].as_str();
    assert!(named.is_some_and(|at| at == "/name" || at == "/question"));
    here
}

/// It is retired and brought back, with care.
pub async fn comes_and_goes(owner: &Program, path: &str) {
    let retired = format!("{path}/retired");
    let etag = owner.get(path).await.etag();
    is_problem(&owner.post(&retired, &[], &json!({"retired": true})).await, 428);
    for (body, pointer) in [
        (json!({}), "/retired"),
        (json!({"retired": "yes"}), "/retired"),
        (json!({"retired": true, "why": "x"}), "/why"),
    ] {
        let refused = owner.post(&retired, &[("if-match", &etag)], &body).await;
        is_problem(&refused, 422);
        assert_eq!(refused.json["errors"][0]["pointer"], pointer);
    }
    let headers = [("if-match", etag.as_str()), ("idempotency-key", "out")];
    let out = owner.post(&retired, &headers, &json!({"retired": true})).await;
    assert_eq!(
        (out.status.as_u16(), &out.json["retired"]),
        (200, &json!(true)),
        "{}",
        out.json
    );
    let again = owner.post(&retired, &headers, &json!({"retired": true})).await;
    assert_eq!((&again.json, again.etag()), (&out.json, out.etag()));
    is_problem(
        &owner
            .post(&retired, &[("if-match", &etag)], &json!({"retired": false}))
            .await,
        412,
    );
    let back = owner
        .post(&retired, &[("if-match", &out.etag())], &json!({"retired": false}))
        .await;
    assert_eq!(back.json["retired"], json!(false), "{}", back.json);
}

#[test]
fn a_cause_of_the_shops_own_is_added_changed_and_retired() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let path = added(&owner, CAUSES, &mute()).await;
        let told = owner.get(&path).await.json;
        assert_eq!(
            (&told["families"], &told["common"], &told["needs_luthier"]),
            (&json!(["violin", "cello"]), &json!("rare"), &json!(false))
        );
        let told = changed(
            &owner,
            &path,
            &json!({"remedy_jobs": ["inspect_buzz"], "other_ways": [["inspect_buzz", "adjust_post"]], "look": "Look."}),
        )
        .await;
        assert_eq!(
            (
                &told.json["remedy_jobs"],
                &told.json["other_ways"],
                &told.json["name"]
            ),
            (
                &json!(["inspect_buzz"]),
                &json!([["inspect_buzz", "adjust_post"]]),
                &mute()["name"]
            )
        );
        is_guarded(&owner, &path, &json!({"caution": "None."})).await;
        comes_and_goes(&owner, &path).await;
    });
}

#[test]
fn a_cause_fits_into_the_catalogue() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let path = format!("{CAUSES}/peg_collar_loose");
        let cases = [
            (json!({"name": null}), "/name"),
            (json!({"region": "roof"}), "/region"),
            (json!({"families": []}), "/families"),
            (json!({"families": ["violin", "bow"]}), "/families/1"),
            (json!({"families": "violin"}), "/families"),
            (json!({"common": "often"}), "/common"),
            (json!({"check_minutes": null}), "/check_minutes"),
            (json!({"check_minutes": 241}), "/check_minutes"),
            (json!({"check_minutes": 1.5}), "/check_minutes"),
            (json!({"check_place": "street"}), "/check_place"),
            (json!({"needs_luthier": "yes"}), "/needs_luthier"),
            (
                json!({"remedy_jobs": ["inspect_buzz", "no_such"]}),
                "/remedy_jobs/1",
            ),
            (json!({"remedy_jobs": ["a", "b", "c", "d"]}), "/remedy_jobs"),
            (
                json!({"other_ways": [["inspect_buzz"], ["a+b"]]}),
                "/other_ways/1",
            ),
            (json!({"season_tie": "spring"}), "/season_tie"),
            (json!({"age_tie": "ripe"}), "/age_tie"),
            (json!({"prior_share": 1.0}), "/prior_share"),
            (json!({"code": "x"}), "/code"),
        ];
        is_refused_at(&owner, &path, &cases).await;
        let before = owner.get(&path).await.json;
        let told = changed(&owner, &path, &json!({"caution": "Mind the string."})).await;
        for stays in [
            "name",
            "families",
            "prior_share",
            "remedy_jobs",
            "other_ways",
            "look",
            "structural",
        ] {
            assert_eq!(told.json[stays], before[stays], "{stays}");
        }
    });
}

#[test]
fn a_job_of_the_shops_own_is_added_changed_and_retired() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let path = added(&owner, JOBS, &polish()).await;
        let told = owner.get(&path).await.json;
        assert_eq!(
            (
                &told["minutes"],
                &told["wait_hours"],
                &told["factor_cello"],
                &told["factor_bass"]
            ),
            (&json!(10), &json!(0.5), &json!(1.0), &json!(1.5))
        );
        let told = changed(
            &owner,
            &path,
            &json!({"steps": [{"step": "Polish all", "minutes": 7}]}),
        )
        .await;
        assert_eq!(
            (&told.json["minutes"], told.json["steps"].as_array().map(Vec::len)),
            (&json!(7), Some(1))
        );
        let told = changed(&owner, &path, &json!({"minutes_high": 30})).await;
        assert_eq!(told.json["steps"][0]["step"], "Polish all");
        assert_eq!(told.json["hazards"], json!([]));
        let told = changed(&owner, &path, &json!({"hazards": ["blade"]})).await;
        assert_eq!(told.json["hazards"], json!(["blade"]));
        is_guarded(&owner, &path, &json!({"materials": "none"})).await;
        comes_and_goes(&owner, &path).await;
    });
}

#[test]
fn a_job_has_steps_that_can_be_done() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let path = added(&owner, JOBS, &polish()).await;
        let step = |change: Value| {
            let mut step = json!({"step": "Polish", "minutes": 8});
            for (name, value) in change.as_object().expect("members") {
                step[name] = value.clone();
            }
            json!({"steps": [{"step": "Begin", "minutes": 1}, step]})
        };
        let cases = [
            (json!({"steps": []}), "/steps"),
            (
                json!({"steps": vec![json!({"step": "x", "minutes": 0}); 41]}),
                "/steps",
            ),
            (step(json!({"minutes": null})), "/steps/1/minutes"),
            (step(json!({"minutes": 1441})), "/steps/1/minutes"),
            (step(json!({"step": " "})), "/steps/1/step"),
            (step(json!({"wait_hours": -1})), "/steps/1/wait_hours"),
            (step(json!({"wait_hours": "1"})), "/steps/1/wait_hours"),
            (step(json!({"place": 1})), "/steps/1/place"),
            (json!({"minutes_low": 11}), "/minutes_low"),
            (json!({"minutes_high": 9}), "/minutes_high"),
            (json!({"who": "anybody"}), "/who"),
            (json!({"materials": null}), "/materials"),
            (json!({"hazards": ["blade", "no_such"]}), "/hazards/1"),
            (json!({"hazards": "blade"}), "/hazards"),
            (json!({"factor_cello": 0.1}), "/factor_cello"),
            (json!({"minutes": 10}), "/minutes"),
        ];
        is_refused_at(&owner, &path, &cases).await;
    });
}

#[test]
fn a_question_is_worded_anew_and_retired_and_its_answers_stay() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let path = format!("{QUESTIONS}/onset");
        let before = owner.get(&path).await.json;
        let told = changed(&owner, &path, &json!({"question": "Since when?"})).await;
        assert_eq!(
            (&told.json["question"], &told.json["answers"], &told.json["hint"]),
            (&json!("Since when?"), &before["answers"], &before["hint"])
        );
        assert_eq!(
            changed(&owner, &path, &json!({"hint": null})).await.json["hint"],
            ""
        );
        is_guarded(&owner, &path, &json!({"hint": "Ask gently."})).await;
        let cases = [
            (json!({"question": null}), "/question"),
            (json!({"question": "x".repeat(201)}), "/question"),
            (json!({"answers": []}), "/answers"),
        ];
        is_refused_at(&owner, &path, &cases).await;
        comes_and_goes(&owner, &path).await;
    });
}

#[test]
fn an_entry_that_is_not_there_is_not_found_and_what_is_no_cause_is_told() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        for list in [CAUSES, JOBS, QUESTIONS] {
            for code in ["no_such", "%00", "new"] {
                let path = format!("{list}/{code}");
                is_problem(&owner.get(&path).await, 404);
                is_problem(&owner.patch(&path, "\"1\"", &json!({})).await, 404);
                let retire = json!({"retired": true});
                let path = format!("{path}/retired");
                is_problem(&owner.post(&path, &[("if-match", "\"1\"")], &retire).await, 404);
            }
        }
        let mut wrong = mute();
        wrong["id"] = json!(1);
        is_problem(&owner.post(CAUSES, &[], &wrong).await, 422);
        let empty = owner.post(JOBS, &[], &json!({})).await;
        is_problem(&empty, 422);
        assert!(empty.json["errors"].as_array().is_some_and(|all| all.len() >= 5));
    });
}

#[test]
fn a_retired_cause_is_ranked_no_more_until_it_is_back() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let ranked = async || {
            let noise = json!({"family": "violin"});
            let told = owner.post("/api/v1/diagnosis", &[], &noise).await.json;
            told["ranking"].to_string().contains("\"peg_collar_loose\"")
        };
        let path = format!("{CAUSES}/peg_collar_loose");
        assert!(ranked().await);
        for (retired, there) in [(true, false), (false, true)] {
            let etag = owner.get(&path).await.etag();
            let headers = [("if-match", etag.as_str())];
            let done = owner
                .post(&format!("{path}/retired"), &headers, &json!({"retired": retired}))
                .await;
            assert_eq!(done.status.as_u16(), 200, "{}", done.json);
            assert_eq!(ranked().await, there, "retired: {retired}");
        }
    });
}
