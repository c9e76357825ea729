//! Questions of the shop's own, by an owner's program: added, answered in the shop's words, and what their answers tell.

use axum::http::Method;
use serde_json::{Value, json};

use super::changes::{changed, is_guarded, is_refused_at};
use super::changes_of_the_catalogue::{added, comes_and_goes};
use super::refusals::is_problem;
use crate::shop::{Answer, Program, Shop, on_both};

const QUESTIONS: &str = "/api/v1/catalogue/descriptors";
const MUTE: &str = "what_does_the_mute_do_to_it";
const OF_NUT: &str = "/api/v1/catalogue/causes/nut_loose/answers";

fn mute() -> Value {
    json!({
        "question": "What does the mute do to it?", "about": "with a mute", "asked_of": "counter", "minutes": 0.2,
        "choices": [{"words": "It is gone", "percent": 50}, {"words": "It stays"}]
    })
}

async fn put(owner: &Program, path: &str, etag: &str, body: &Value) -> Answer {
    let headers = [("if-match", etag)];
    owner
        .call(Method::PUT, path, &headers, Some(body.to_string()))
        .await
}

/// What the ranking says with this answer about the mute: how likely it is the nut, and what asking is worth.
async fn ranked(shop: &Shop, answer: Option<&str>) -> (f64, Option<f64>) {
    let mut noise = json!({"family": "violin"});
    if let Some(answer) = answer {
        noise["answers"] = json!({MUTE: answer});
    }
    let counter = shop.program("counter").await;
    let told = counter.post("/api/v1/diagnosis", &[], &noise).await;
    assert_eq!(told.status.as_u16(), 200, "{}", told.json);
    let find = |list: &str, name: &str, code: &str, figure: &str| {
        let all = told.json[list].as_array().expect("a list");
        let one = all.iter().find(|one| one[name] == code)?;
        one[figure].as_f64()
    };
    (
        find("ranking", "cause", "nut_loose", "probability").expect("ranked"),
        find("questions", "descriptor", MUTE, "bits_a_minute"),
    )
}

#[test]
fn a_question_of_the_shops_own_is_asked_and_ranks_at_once() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let (before, worth) = ranked(&shop, None).await;
        assert_eq!(worth, None, "nobody asks it yet");
        added(&owner, QUESTIONS, &mute()).await;
        let (same, worth) = ranked(&shop, None).await;
        assert!((same - before).abs() < 1e-12 && worth.is_some_and(|bits| bits < 1e-9));
        assert!((ranked(&shop, Some("it_is_gone")).await.0 - before).abs() < 1e-9);
        let path = format!("{OF_NUT}/{MUTE}");
        let told = put(&owner, &path, "\"0\"", &json!({"answers": {"it_is_gone": 90}})).await;
        assert_eq!(
            (told.status.as_u16(), told.etag().as_str()),
            (200, "\"1\""),
            "{}",
            told.json
        );
        assert!(ranked(&shop, None).await.1.is_some_and(|bits| bits > 1e-4));
        let gone = ranked(&shop, Some("it_is_gone")).await.0;
        assert!(gone > before && ranked(&shop, Some("it_stays")).await.0 < before);
        // Rarer in general, it tells more of the nut.
        let answers = json!({"choices": [{"code": "it_is_gone", "words": "It is gone", "percent": 10}, {"code": "it_stays", "words": "It stays"}]});
        changed(&owner, &format!("{QUESTIONS}/{MUTE}"), &answers).await;
        assert!(ranked(&shop, Some("it_is_gone")).await.0 > gone);
        comes_and_goes(&owner, &format!("{QUESTIONS}/{MUTE}")).await;
    });
}

#[test]
fn the_owners_pages_move_the_ranking_as_the_calls_do() {
    on_both(async |shop| {
        added(&shop.program("owner").await, QUESTIONS, &mute()).await;
        let (before, _) = ranked(&shop, Some("it_is_gone")).await;
        let owner = shop.sign_in("owner").await;
        let path = format!("/catalogue/causes/nut_loose/answers/{MUTE}");
        owner
            .post(&path, &[("percent.it_is_gone", "90"), ("version", "0")])
            .await;
        assert!(ranked(&shop, Some("it_is_gone")).await.0 > before);
        let retire = format!("/catalogue/questions/{MUTE}/retired");
        owner.post(&retire, &[("retired", "yes"), ("version", "1")]).await;
        assert_eq!(ranked(&shop, None).await.1, None);
    });
}

#[test]
fn figures_of_a_cause_are_said_with_care() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let path = format!("{OF_NUT}/onset");
        let before = owner.get(&path).await;
        assert_eq!(before.etag(), "\"0\"");
        let without = owner
            .call(Method::PUT, &path, &[], Some(json!({"answers": {}}).to_string()))
            .await;
        is_problem(&without, 428);
        for stale in ["\"1\"", "*"] {
            is_problem(&put(&owner, &path, stale, &json!({"answers": {}})).await, 412);
        }
        for (body, pointer) in [
            (json!({}), "/answers"),
            (json!({"answers": []}), "/answers"),
            (json!({"answers": {}, "version": 0}), "/version"),
            (json!({"answers": {"no_such": 5}}), "/answers/no_such"),
            (json!({"answers": {"not_sure": 5}}), "/answers/not_sure"),
            (json!({"answers": {"sudden": "5"}}), "/answers/sudden"),
            (json!({"answers": {"sudden": 100}}), "/answers/sudden"),
            (
                json!({"answers": {"sudden": 70, "always": 60}}),
                "/answers/sudden",
            ),
        ] {
            let refused = put(&owner, &path, "\"0\"", &body).await;
            is_problem(&refused, 422);
            assert_eq!(refused.json["errors"][0]["pointer"], pointer, "{body}");
        }
        assert_eq!(owner.get(&path).await.json, before.json);
        for missing in [
            "no_such/answers/onset",
            "nut_loose/answers/no_such",
            "%00/answers",
        ] {
            let path = format!("/api/v1/catalogue/causes/{missing}");
            is_problem(&owner.get(&path).await, 404);
        }
    });
}

#[test]
fn figures_of_a_cause_are_told_as_they_were_said() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let path = format!("{OF_NUT}/onset");
        let said = put(
            &owner,
            &path,
            "\"0\"",
            &json!({"answers": {"sudden": 70.5, "always": null}}),
        )
        .await;
        let now = owner.get(&path).await;
        assert_eq!((&said.json, said.etag()), (&now.json, now.etag()));
        let percents: Vec<&Value> = (0..3).map(|at| &now.json["answers"][at]["percent"]).collect();
        assert_eq!(percents, [&json!(70.5), &Value::Null, &Value::Null]);
        let list = owner.get(OF_NUT).await.json;
        let listed = list["items"].as_array().expect("a list");
        assert!(listed.contains(&now.json));
        let none = put(&owner, &path, &now.etag(), &json!({"answers": {}})).await;
        assert_eq!(none.json["version"], 2, "as in general, because the shop said so");
        let again = put(&owner, &path, &none.etag(), &json!({"answers": {}})).await;
        assert_eq!(again.json["version"], 2, "nothing new");
    });
}

#[test]
fn answers_are_worded_and_added_by_call_and_none_is_lost() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let path = added(&owner, QUESTIONS, &mute()).await;
        let told = owner.get(&path).await.json;
        assert_eq!(told["choices"][1]["code"], "it_stays");
        assert_eq!(
            (&told["says_nothing"], &told["about"], &told["minutes"]),
            (&json!("not_sure"), &json!("with a mute"), &json!(0.2))
        );
        let new = json!({"choices": [
            {"code": "it_stays", "words": "No change", "percent": 30}, {"words": "It is worse", "percent": 20}]});
        let told = changed(&owner, &path, &new).await.json;
        let answers: Vec<(&str, f64)> = told["choices"]
            .as_array()
            .expect("answers")
            .iter()
            .map(|own| {
                (
                    own["code"].as_str().unwrap_or_default(),
                    own["percent"].as_f64().unwrap_or_default(),
                )
            })
            .collect();
        assert_eq!(
            answers,
            [("it_stays", 30.0), ("it_is_worse", 20.0), ("it_is_gone", 50.0)]
        );
        is_guarded(&owner, &path, &json!({"hint": "Any mute."})).await;
        let one = |answer: Value| json!({"choices": [answer]});
        let cases = [
            (json!({"question": null}), "/question"),
            (json!({"asked_of": "anybody"}), "/asked_of"),
            (json!({"minutes": 61}), "/minutes"),
            (json!({"about": "x".repeat(61)}), "/about"),
            (
                one(json!({"code": "no_such", "words": "x", "percent": 1})),
                "/choices/0/code",
            ),
            (one(json!({"code": "it_stays"})), "/choices/0/words"),
            (one(json!({"words": "Not sure"})), "/choices/0/words"),
            (one(json!({"words": "It is gone"})), "/choices"),
            (one(json!({"words": "x", "percent": 0.1})), "/choices/0/percent"),
            (one(json!({"words": "x", "share": 1})), "/choices/0/share"),
        ];
        is_refused_at(&owner, &path, &cases).await;
    });
}

#[test]
fn every_question_can_be_sent_back_as_it_was_told_and_follows_the_editions_still() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let all = owner.get(QUESTIONS).await.json;
        for told in all["items"].as_array().expect("questions") {
            let path = format!("{QUESTIONS}/{}", told["code"].as_str().expect("a code"));
            let mut body = told.clone();
            for not_said in ["code", "answers", "says_nothing", "retired", "version"] {
                body.as_object_mut().expect("members").remove(not_said);
            }
            let mut now = changed(&owner, &path, &body).await.json;
            now["version"] = told["version"].clone();
            assert_eq!(now, *told);
        }
        let own = "select (select count(*) from background where own) + (select count(*) from answer_words where changed)";
        let (own,): (i64,) = shop.app.db.read(own).one().await.expect("a count");
        assert_eq!(own, 0);
    });
}
