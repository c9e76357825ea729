//! A bow is tried, not played: nothing on its order speaks of it as of a fiddle.

use serde_json::json;

use crate::api::{Visit, take_in, violin};
use crate::shop::on_both;

/// What is said of instruments alone.
const OF_A_FIDDLE: [&str; 8] = [
    "To be played",
    "play it again",
    "Play it",
    "Play tests",
    "Played",
    "let them play",
    "play-tested",
    "upper bout",
];

#[test]
fn a_bow_is_tried_wherever_its_order_is_told() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let mut body = violin();
        body["instrument"] = json!({"family": "bow", "size": "4/4"});
        body["complaint"] = json!({"words": "A rehair, please."});
        let taken = take_in(&owner, "a bow", &body).await;
        let customer = taken.json["customer"]["id"].as_str().expect("an id").to_owned();
        let mut visit = Visit::of(&taken);
        let early = visit
            .tries(&owner, "play_test", &json!({"result": "quiet"}))
            .await;
        assert!(
            early.json["detail"]
                .as_str()
                .is_some_and(|words| words.contains("cannot be tried now")),
            "{}",
            early.json
        );
        let step = visit
            .does(&owner, "steps", json!({"title": "Rehair", "planned_minutes": 30}))
            .await;
        let done = format!("steps/{}/done", step["id"].as_str().expect("an id"));
        visit.does(&owner, &done, json!({"actual_minutes": 30})).await;
        let (browser, path) = (shop.sign_in("owner").await, visit.path.replace("/api/v1", ""));
        let pages = [
            path.clone(),
            "/".into(),
            "/bench".into(),
            format!("/customers/{customer}"),
        ];
        for page in &pages {
            let shown = browser.get(page).await.body;
            assert!(shown.contains("To be tried"), "{page}: {shown}");
            for words in OF_A_FIDDLE {
                assert!(!shown.contains(words), "{words} on {page}: {shown}");
            }
        }
        let found = browser.post("/find", &[("q", "ada")]).await.body;
        assert!(
            found.contains("To be tried") && !found.contains("To be played"),
            "{found}"
        );
        let bench = browser.get("/bench").await.body;
        assert!(bench.contains("try it"), "{bench}");
        visit.does(&owner, "play_test", json!({"result": "quiet"})).await;
        for page in [path.clone(), format!("{path}/pickup"), format!("{path}/summary")] {
            let shown = browser.get(&page).await.body;
            for words in OF_A_FIDDLE {
                assert!(
                    !shown.to_lowercase().contains(&words.to_lowercase()),
                    "{words} on {page}: {shown}"
                );
            }
        }
        let pickup = browser.get(&format!("{path}/pickup")).await.body;
        assert!(pickup.contains("Let them try it here first."), "{pickup}");
    });
}
