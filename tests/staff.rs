//! Staff: who gets in, and who does not.

use crate::shop::{PASSWORD, on_both};

#[test]
fn a_name_and_its_password_open_the_door() {
    on_both(async |shop| {
        let door = shop.stranger();
        let page = door
            .post("/sign-in", &[("name", " Counter "), ("password", PASSWORD)])
            .await;
        assert_eq!((page.status.as_u16(), page.location()), (303, "/"));
        let inside = door.keeping(&page);
        assert_eq!(inside.get("/sign-in").await.location(), "/");
    });
}

#[test]
fn a_wrong_password_keeps_the_name_and_says_what_to_do() {
    on_both(async |shop| {
        let page = shop
            .stranger()
            .post("/sign-in", &[("name", "counter"), ("password", "loud strings")])
            .await;
        assert_eq!(page.status.as_u16(), 422);
        assert!(page.body.contains("do not fit together"));
        assert_eq!(page.field("name"), "counter");
    });
}

#[test]
fn guessing_is_slowed_and_a_colleague_is_not_locked_out() {
    on_both(async |shop| {
        let door = shop.stranger();
        for _ in 0..10 {
            door.post("/sign-in", &[("name", "owner"), ("password", "guess")])
                .await;
        }
        let page = door
            .post("/sign-in", &[("name", "OWNER"), ("password", "guess")])
            .await;
        assert_eq!(page.status.as_u16(), 429);
        assert!(page.header("retry-after").parse::<u64>().expect("seconds") <= 10);
        let page = door
            .post("/sign-in", &[("name", "bench"), ("password", PASSWORD)])
            .await;
        assert_eq!(page.status.as_u16(), 303);
    });
}

#[test]
fn whoever_is_put_out_is_out_at_once() {
    on_both(async |shop| {
        let (owner, bench) = (shop.sign_in("owner").await, shop.sign_in("bench").await);
        assert_eq!(bench.get("/sign-in").await.location(), "/");
        let person = purfle::staff::Staff::named(&shop.app.db, "bench")
            .await
            .expect("read")
            .expect("bench");
        let fields = [
            ("name", "bench"),
            ("bench", "yes"),
            ("active", "no"),
            ("version", "1"),
        ];
        let page = owner.post(&format!("/staff/{}", person.id), &fields).await;
        assert_eq!(page.status.as_u16(), 303, "{}", page.body);
        assert_eq!(bench.get("/sign-in").await.status.as_u16(), 200);
    });
}

/// The version of somebody and the address of their page.
async fn page_of(shop: &crate::shop::Shop, name: &str) -> (String, String) {
    let person = purfle::staff::Staff::named(&shop.app.db, name)
        .await
        .expect("read")
        .expect("somebody");
    (format!("/staff/{}", person.id), person.version.to_string())
}

#[test]
fn the_owner_adds_somebody_who_can_sign_in() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let fields = [
            ("name", "Tomas"),
            ("bench", "yes"),
            ("password", "wood and more wood"),
        ];
        assert_eq!(owner.post("/staff", &fields).await.location(), "/staff");
        assert!(owner.get("/staff").await.body.contains("Tomas"));
        let sign_in = [("name", "ｔｏｍａｓ"), ("password", "wood and more wood")];
        assert_eq!(shop.stranger().post("/sign-in", &sign_in).await.location(), "/");
        let twice = [
            ("name", "TOMAS"),
            ("bench", "yes"),
            ("password", "wood and more wood"),
        ];
        let page = owner.post("/staff", &twice).await;
        assert!(page.status.as_u16() == 422 && page.body.contains("has that name already"));
        assert_eq!(page.field("name"), "TOMAS");
    });
}

#[test]
fn somebody_new_needs_a_part_and_a_password() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let page = owner
            .post("/staff", &[("name", "Tomas"), ("password", "short")])
            .await;
        assert_eq!((page.status.as_u16(), page.field("name")), (422, "Tomas"));
        assert!(page.body.contains("at least one part") && page.body.contains("at least 8 letters"));
        let fields = [("name", "Tomas"), ("owner", "yes"), ("password", "eleven sign")];
        assert!(
            owner
                .post("/staff", &fields)
                .await
                .body
                .contains("at least 12 letters")
        );
        assert_eq!(shop.count("staff").await, 3);
    });
}

#[test]
fn a_person_changed_meanwhile_is_shown_beside_what_was_typed() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let (path, version) = page_of(&shop, "bench").await;
        let fields = [
            ("name", "Bench two"),
            ("bench", "yes"),
            ("active", "yes"),
            ("version", &*version),
        ];
        assert_eq!(owner.post(&path, &fields).await.location(), "/staff");
        let page = owner
            .post(
                &path,
                &[
                    ("name", "Bench three"),
                    ("bench", "yes"),
                    ("active", "yes"),
                    ("version", &version),
                ],
            )
            .await;
        assert_eq!((page.status.as_u16(), page.field("name")), (412, "Bench three"));
        assert!(
            page.body
                .contains("<td>Bench two</td><td><mark>Bench three</mark>")
        );
    });
}

#[test]
fn an_owner_cannot_take_their_own_key_away() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let (path, version) = page_of(&shop, "owner").await;
        let fields = [
            ("name", "owner"),
            ("counter", "yes"),
            ("active", "yes"),
            ("version", &*version),
        ];
        let page = owner.post(&path, &fields).await;
        assert!(page.status.as_u16() == 422 && page.body.contains("your own key"));
        assert_eq!(owner.get("/staff").await.status.as_u16(), 200);
        assert_eq!(owner.get("/staff/no-such-id").await.status.as_u16(), 404);
        assert_eq!(
            owner
                .get("/staff/00000000-0000-4000-8000-000000000000")
                .await
                .status
                .as_u16(),
            404
        );
    });
}

#[test]
fn a_new_password_of_ones_own_ends_the_other_sessions() {
    on_both(async |shop| {
        let (here, there) = (shop.sign_in("bench").await, shop.sign_in("bench").await);
        let fields = [("present", PASSWORD), ("password", "nine loud strings")];
        let page = here.post("/me/password", &fields).await;
        assert_eq!(page.location(), "/me?kept=yes", "{}", page.body);
        assert!(
            here.get(page.location())
                .await
                .body
                .contains("new password holds")
        );
        assert_eq!(there.get("/me").await.location(), "/sign-in");
        let door = shop.stranger();
        let old = [("name", "bench"), ("password", PASSWORD)];
        assert_eq!(door.post("/sign-in", &old).await.status.as_u16(), 422);
        let new = [("name", "bench"), ("password", "nine loud strings")];
        assert_eq!(door.post("/sign-in", &new).await.status.as_u16(), 303);
    });
}

#[test]
fn guessing_the_present_password_is_refused_with_words_and_slowed() {
    on_both(async |shop| {
        let here = shop.sign_in("bench").await;
        let wrong = [("present", "a guess"), ("password", "nine loud strings")];
        let page = here.post("/me/password", &wrong).await;
        assert!(page.status.as_u16() == 422 && page.body.contains("This is not your password now."));
        assert!(!page.body.contains("nine loud strings") && !page.body.contains("a guess"));
        let same = [("present", PASSWORD), ("password", PASSWORD)];
        assert!(
            here.post("/me/password", &same)
                .await
                .body
                .contains("the one you have. Choose another.")
        );
        for _ in 0..8 {
            here.post("/me/password", &wrong).await;
        }
        assert_eq!(here.post("/me/password", &wrong).await.status.as_u16(), 429);
        let sign_in = [("name", "bench"), ("password", "a guess")];
        assert_eq!(
            shop.stranger().post("/sign-in", &sign_in).await.status.as_u16(),
            429
        );
    });
}

#[test]
fn signing_out_is_done_at_once() {
    on_both(async |shop| {
        let here = shop.sign_in("counter").await;
        assert!(here.get("/me").await.body.contains("Sign out"));
        assert_eq!(here.post("/sign-out", &[]).await.location(), "/sign-in");
        assert_eq!(here.get("/me").await.location(), "/sign-in");
    });
}

#[test]
fn a_password_that_everybody_guesses_first_is_refused() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        for common in ["password1", "12345678", "QwertyUiop", "iloveyou2", "basketball"] {
            let fields = [("name", "Ada"), ("bench", "yes"), ("password", common)];
            let page = owner.post("/staff", &fields).await;
            assert_eq!(page.status.as_u16(), 422, "{common}");
            assert!(page.body.contains("Everybody guesses this one first"), "{common}");
            assert_eq!(page.field("name"), "Ada");
        }
        // Judged by length and the list alone: no rules on which signs.
        for (which, fine) in [
            "aaaaabbbbbccccc dddd",
            "918273645546372",
            "🎻🎻🎻🎻🎻🎻🎻🎻",
            " a blank before",
        ]
        .iter()
        .enumerate()
        {
            let name = format!("Person {which}");
            let page = owner
                .post(
                    "/staff",
                    &[("name", &*name), ("bench", "yes"), ("password", fine)],
                )
                .await;
            assert_eq!(page.status.as_u16(), 303, "{fine}");
        }
    });
}

#[test]
fn a_sign_that_one_database_could_not_hold_is_refused_on_both() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        for path in ["/find", "/intake/matches", "/sign-in"] {
            let page = counter
                .post(
                    path,
                    &[
                        ("q", "a\0b"),
                        ("name", "a\0b"),
                        ("customer.name", "a\0b"),
                        ("password", "x"),
                    ],
                )
                .await;
            assert!(!page.status.is_server_error(), "{path}: {}", page.status);
        }
    });
}

/// Signs in with a password, and the browser that is then signed in.
async fn signed_in(shop: &crate::shop::Shop, name: &str, password: &str) -> crate::shop::Browser {
    let door = shop.stranger();
    let page = door
        .post("/sign-in", &[("name", name), ("password", password)])
        .await;
    assert_eq!(page.status.as_u16(), 303, "{name}: {}", page.body);
    door.keeping(&page)
}

const GIVEN: &str = "given by the owner";

#[test]
fn whoever_was_given_a_password_chooses_their_own_before_anything_else() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let fields = [
            ("name", "Tomas"),
            ("counter", "yes"),
            ("bench", "yes"),
            ("password", GIVEN),
        ];
        owner.post("/staff", &fields).await;
        assert!(
            owner
                .get("/staff")
                .await
                .body
                .contains("has not chosen a password yet")
        );
        let tomas = signed_in(&shop, "Tomas", GIVEN).await;
        for path in ["/", "/intake", "/bench", "/catalogue", "/no/such/page"] {
            assert_eq!(tomas.get(path).await.location(), "/me", "{path}");
        }
        let note = [
            ("customer.name", "Marta"),
            ("instrument.family", "violin"),
            ("once", "k"),
        ];
        assert_eq!(tomas.post("/intake", &note).await.location(), "/me");
        assert_eq!(shop.count("work_order").await, 0);
        assert!(
            tomas
                .get("/me")
                .await
                .body
                .contains("Choose your own password first.")
        );
        let own = |password: &'static str| [("present", GIVEN), ("password", password)];
        assert_eq!(tomas.post("/me/password", &own(GIVEN)).await.status.as_u16(), 422);
        assert_eq!(tomas.get("/").await.location(), "/me");
        assert_eq!(
            tomas
                .post("/me/password", &own("a word of my own"))
                .await
                .location(),
            "/me?kept=yes"
        );
        assert_eq!(tomas.get("/").await.status.as_u16(), 200);
        assert!(
            !tomas
                .get("/me")
                .await
                .body
                .contains("Choose your own password first.")
        );
        assert!(
            !owner
                .get("/staff")
                .await
                .body
                .contains("has not chosen a password yet")
        );
    });
}

#[test]
fn a_password_that_somebody_else_sets_anew_is_a_first_one_again() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let (path, version) = page_of(&shop, "bench").await;
        let fields = [
            ("name", "bench"),
            ("bench", "yes"),
            ("active", "yes"),
            ("version", &*version),
        ];
        owner
            .post(&path, &[&fields[..], &[("password", GIVEN)]].concat())
            .await;
        let bench = signed_in(&shop, "bench", GIVEN).await;
        assert_eq!(bench.get("/bench").await.location(), "/me");
        assert_eq!(bench.post("/sign-out", &[]).await.location(), "/sign-in");
        let program = shop.program("owner").await;
        let (path, _) = page_of(&shop, "counter").await;
        let path = format!("/api/v1{path}");
        let etag = program.get(&path).await.etag();
        let told = program
            .patch(&path, &etag, &serde_json::json!({"password": GIVEN}))
            .await;
        assert_eq!(
            (told.status.as_u16(), &told.json["first_password"]),
            (200, &true.into())
        );
        assert_eq!(
            signed_in(&shop, "counter", GIVEN).await.get("/").await.location(),
            "/me"
        );
        let named = serde_json::json!({"name": "Counter two"});
        let told = program.patch(&path, &told.etag(), &named).await;
        assert_eq!(told.json["first_password"], true, "another name is no password");
    });
}

#[test]
fn a_password_given_at_the_machine_itself_holds_as_it_is() {
    on_both(async |shop| {
        let run = |words: &[&str]| {
            let words = [words, &["--database", &shop.url, "--password", GIVEN]].concat();
            let ended = crate::fault::running::program(&["timeout", "20"], &words)
                .output()
                .expect("the program");
            assert!(
                ended.status.success(),
                "{}",
                String::from_utf8_lossy(&ended.stderr)
            );
        };
        run(&["staff", "add", "--name", "Ines", "--role", "counter,bench"]);
        assert_eq!(
            signed_in(&shop, "Ines", GIVEN)
                .await
                .get("/bench")
                .await
                .status
                .as_u16(),
            200
        );
        run(&["staff", "password", "--name", "bench"]);
        assert_eq!(
            signed_in(&shop, "bench", GIVEN)
                .await
                .get("/bench")
                .await
                .status
                .as_u16(),
            200
        );
    });
}
