//! The shop's settings and its people changed by an owner's program; no password is told, and one owner stays.

use serde_json::{Value, json};

use super::changes::{changed, is_guarded, is_refused_at};
use super::fields;
use super::refusals::is_problem;
use crate::shop::{Program, Shop, on_both};

const SHOP: &str = "/api/v1/shop";
const STAFF: &str = "/api/v1/staff";
const NEW_PASSWORD: &str = "nine loud pegs";

/// The path of somebody, by name.
async fn path_of(owner: &Program, name: &str) -> String {
    let people = owner.get(STAFF).await.json;
    let people = people["items"].as_array().expect("people").clone();
    let person = people.iter().find(|person| person["name"] == name);
    let id = person.expect("somebody of that name")["id"]
        .as_str()
        .expect("an id");
    format!("{STAFF}/{id}")
}

async fn may_sign_in(shop: &Shop, name: &str, password: &str) -> bool {
    let form = [("name", name), ("password", password)];
    let page = shop.stranger().post("/sign-in", &form).await;
    page.status.as_u16() == 303
}

#[test]
fn the_settings_are_changed_and_what_is_left_out_stays() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let before = owner.get(SHOP).await.json;
        assert_eq!(
            (&before["currency"], &before["labour_rate"], &before["tax_labour"]),
            (&json!("EUR"), &json!(7200), &json!(200_000))
        );
        let told = changed(
            &owner,
            SHOP,
            &json!({"labour_rate": 8000, "tax_parts": 100_000, "seasons": null}),
        )
        .await;
        assert_eq!(
            (
                &told.json["labour_rate"],
                &told.json["tax_parts"],
                &told.json["name"]
            ),
            (&json!(8000), &json!(100_000), &before["name"])
        );
        let south = changed(&owner, SHOP, &json!({"hemisphere": "southern"})).await;
        assert_ne!(
            south.json["seasons"], told.json["seasons"],
            "the months follow the hemisphere"
        );
        let page = shop.sign_in("owner").await.get("/settings").await;
        assert_eq!(page.field("labour_rate"), "80.00");
        is_guarded(&owner, SHOP, &json!({"phone": "01 555 0100"})).await;
    });
}

#[test]
fn the_settings_are_those_of_a_shop() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let cases = [
            (json!({"name": null}), "/name"),
            (json!({"zone": "Vienna"}), "/zone"),
            (json!({"hemisphere": "eastern"}), "/hemisphere"),
            (json!({"seasons": "dry"}), "/seasons"),
            (json!({"labour_rate": -1}), "/labour_rate"),
            (json!({"labour_rate": null}), "/labour_rate"),
            (json!({"labour_rate": 100_000_000}), "/labour_rate"),
            (json!({"labour_rate": "80.00"}), "/labour_rate"),
            (json!({"tax_labour": 1_000_001}), "/tax_labour"),
            (json!({"tax_parts": -1}), "/tax_parts"),
            (json!({"comeback_days": 731}), "/comeback_days"),
            (json!({"currency": "USD"}), "/currency"),
            (json!({"house": "x"}), "/house"),
        ];
        is_refused_at(&owner, SHOP, &cases).await;
        let counter = shop.program("counter").await;
        is_problem(&counter.get(SHOP).await, 403);
        is_problem(&counter.patch(SHOP, "\"1\"", &json!({})).await, 403);
    });
}

#[test]
fn a_person_is_added_once_and_signs_in() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let ines = json!({"name": "Ines", "password": NEW_PASSWORD, "bench": true});
        let key = [("idempotency-key", "ines")];
        let first = owner.post(STAFF, &key, &ines).await;
        assert_eq!(first.status.as_u16(), 201, "{}", first.json);
        let again = owner.post(STAFF, &key, &ines).await;
        assert_eq!((&again.json, again.etag()), (&first.json, first.etag()));
        assert_eq!(shop.count("staff").await, 4);
        assert!(may_sign_in(&shop, "Ines", NEW_PASSWORD).await);
        let told = owner.get(&path_of(&owner, "Ines").await).await.json;
        let members: Vec<&String> = told.as_object().expect("a person").keys().collect();
        assert_eq!(
            members,
            [
                "active",
                "bench",
                "counter",
                "created_at",
                "first_password",
                "id",
                "name",
                "owner",
                "version"
            ]
        );
        for (body, field) in [
            (json!({}), "name"),
            (
                json!({"name": "INES", "password": NEW_PASSWORD, "bench": true}),
                "name",
            ),
            (json!({"name": "Bo", "password": NEW_PASSWORD}), "counter"),
            (
                json!({"name": "Bo", "password": "short", "bench": true}),
                "password",
            ),
            (
                json!({"name": "Bo", "password": "ten signs!", "owner": true}),
                "password",
            ),
            (
                json!({"name": "Bo", "password": NEW_PASSWORD, "bench": true, "active": true}),
                "active",
            ),
            (
                json!({"name": "Bo", "password": NEW_PASSWORD, "bench": "yes"}),
                "bench",
            ),
        ] {
            let refused = owner.post(STAFF, &[], &body).await;
            is_problem(&refused, 422);
            assert_eq!(fields(&refused)[0], field, "{body}");
        }
        assert_eq!(shop.count("staff").await, 4);
    });
}

#[test]
fn a_person_gets_other_parts_and_a_new_password_and_is_put_out() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let path = path_of(&owner, "bench").await;
        let open = shop.sign_in("bench").await;
        let told = changed(&owner, &path, &json!({"counter": true})).await;
        assert_eq!(
            (&told.json["counter"], &told.json["bench"], &told.json["name"]),
            (&json!(true), &json!(true), &json!("bench"))
        );
        assert_eq!(open.get("/bench").await.status.as_u16(), 200);
        changed(&owner, &path, &json!({"password": NEW_PASSWORD})).await;
        assert_eq!(open.get("/bench").await.location(), "/sign-in");
        assert!(may_sign_in(&shop, "bench", NEW_PASSWORD).await);
        let told = changed(&owner, &path, &json!({"active": false})).await;
        assert_eq!(told.json["active"], false);
        assert!(!may_sign_in(&shop, "bench", NEW_PASSWORD).await);
        assert_eq!(shop.count("session").await, 0);
        changed(&owner, &path, &json!({"active": true})).await;
        is_guarded(&owner, &path, &json!({"name": "Bench One"})).await;
        let cases = [
            (json!({"name": null}), "/name"),
            (json!({"name": "Owner"}), "/name"),
            (json!({"password": ""}), "/password"),
            (json!({"owner": true, "password": "ten signs!"}), "/password"),
            (json!({"counter": false, "bench": false}), "/counter"),
            (json!({"active": "no"}), "/active"),
            (json!({"active": null}), "/active"),
        ];
        is_refused_at(&owner, &path, &cases).await;
    });
}

#[test]
fn the_last_owner_stays_though_a_program_asks() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let path = path_of(&owner, "owner").await;
        for body in [json!({"active": false}), json!({"owner": false, "counter": true})] {
            let refused = owner.patch(&path, "\"1\"", &body).await;
            is_problem(&refused, 422);
            assert_eq!(refused.json["errors"][0]["pointer"], "/owner");
        }
        let second = path_of(&owner, "counter").await;
        changed(&owner, &second, &json!({"owner": true})).await;
        let told = changed(&owner, &path, &json!({"active": false})).await;
        assert_eq!(told.json["active"], false);
    });
}

#[test]
fn two_owners_who_put_each_other_out_at_once_leave_one() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let (first, second) = (path_of(&owner, "owner").await, path_of(&owner, "counter").await);
        changed(&owner, &second, &json!({"owner": true})).await;
        let out = json!({"active": false});
        let (one, other) = tokio::join!(
            owner.patch(&first, "\"1\"", &out),
            owner.patch(&second, "\"2\"", &out)
        );
        let mut statuses = [one.status.as_u16(), other.status.as_u16()];
        statuses.sort_unstable();
        assert_eq!(statuses, [200, 422]);
    });
}

#[test]
fn no_answer_about_people_holds_a_password_or_its_hash() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let bo = json!({"name": "Bo", "password": NEW_PASSWORD, "counter": true});
        let added = owner.post(STAFF, &[("idempotency-key", "bo")], &bo).await;
        let path = path_of(&owner, "Bo").await;
        let put = changed(&owner, &path, &json!({"password": "ten more loud pegs"})).await;
        let refused = owner
            .patch(
                &path,
                "\"2\"",
                &json!({"password": "ten more loud pegs", "name": ""}),
            )
            .await;
        let said: [Value; 5] = [
            added.json,
            put.json,
            refused.json,
            owner.get(STAFF).await.json,
            owner.get(&path).await.json,
        ];
        for told in said {
            let text = told.to_string();
            for secret in ["$argon2", "hash", "pegs", "session", "key"] {
                assert!(!text.contains(secret), "{secret} in {text}");
            }
        }
        // What is kept beside the key is not made of the password: with another one the act is the same.
        let other = json!({"name": "Bo", "password": "quite another one", "counter": true});
        let again = owner.post(STAFF, &[("idempotency-key", "bo")], &other).await;
        assert_eq!(again.status.as_u16(), 201);
        assert!(!may_sign_in(&shop, "Bo", "quite another one").await);
    });
}
