//! What is said in the shop stays in the shop: nothing people type, and no secret, reaches the log or the counts.

use std::process::Command;
use std::time::Duration;

use reqwest::header::{COOKIE, LOCATION, SET_COOKIE};

use super::running::{Running, program};
use crate::shop::on_sqlite;

/// What people type, each unlike anything else.
const NAME: &str = "Zyxomarkname";
const PHONE: &str = "0999 777 555 333";
const EMAIL: &str = "zyxomarkmail@fenwick.example";
const WORDS: &str = "zyxomarkwords";
const NOTE: &str = "zyxomarknote";
const PERSON: &str = "Zyxomarkperson";
const PASSWORD: &str = "zyxomarkpassword quiet";
const WRONG: &str = "zyxomarkwrong password";
const ONCE: &str = "zyxomarkonce";

struct Tablet {
    client: reqwest::Client,
    address: String,
    cookie: String,
}

impl Tablet {
    async fn post(&mut self, path: &str, fields: &[(&str, &str)]) -> (u16, String, String) {
        let body = form_urlencoded::Serializer::new(String::new())
            .extend_pairs(fields)
            .finish();
        let answer = self
            .client
            .post(format!("{}{path}", self.address))
            .header("content-type", "application/x-www-form-urlencoded")
            .header("sec-fetch-site", "same-origin")
            .header(COOKIE, &self.cookie)
            .body(body)
            .send()
            .await
            .expect("an answer");
        let said = |name| {
            answer
                .headers()
                .get(name)
                .and_then(|value| value.to_str().ok())
                .map(str::to_owned)
        };
        let (cookie, location) = (said(SET_COOKIE), said(LOCATION).unwrap_or_default());
        if let Some(cookie) = cookie.as_deref().and_then(|cookie| cookie.split(';').next()) {
            cookie.clone_into(&mut self.cookie);
        }
        (
            answer.status().as_u16(),
            location,
            answer.text().await.expect("a page"),
        )
    }

    async fn get(&self, path: &str, header: (&str, &str)) -> (u16, String) {
        let request = self
            .client
            .get(format!("{}{path}", self.address))
            .header(COOKIE, &self.cookie);
        let answer = request
            .header(header.0, header.1)
            .send()
            .await
            .expect("an answer");
        (answer.status().as_u16(), answer.text().await.expect("a page"))
    }
}

const SHOP: [(&str, &str); 15] = [
    ("name", "Linden Yard Violins"),
    ("address", "2 Linden Yard"),
    ("phone", "01 555 0190"),
    ("zone", "Europe/Vienna"),
    ("hemisphere", "northern"),
    ("currency", "EUR"),
    ("labour_rate", "72"),
    ("tax_name", "VAT"),
    ("tax_labour", "20"),
    ("tax_parts", "20"),
    ("comeback_days", "90"),
    ("stub_terms", "Bring this."),
    ("owner", PERSON),
    ("password", PASSWORD),
    ("seasons", "dddccchhcccd"),
];

/// The end of the link that is printed after the address.
async fn set_up_link(server: &Running) -> String {
    for _ in 0..100 {
        let said = server.said();
        let line = said.lines().find_map(|line| line.split_once("/set-up/"));
        if let Some((_, link)) = line {
            return link.to_owned();
        }
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    panic!("no set-up link: {}", server.said());
}

/// A day with all of it, also with what goes wrong. Gives back the secrets that came up on the way.
async fn day(server: &Running, folder: &str) -> Vec<String> {
    let link = set_up_link(server).await;
    let no_redirect = reqwest::redirect::Policy::none();
    let mut tablet = Tablet {
        client: reqwest::Client::builder()
            .redirect(no_redirect)
            .build()
            .expect("a client"),
        address: server.address.clone(),
        cookie: String::new(),
    };
    let (status, _, page) = tablet.post(&format!("/set-up/{link}"), &SHOP).await;
    assert_eq!(status, 303, "{page}");
    let mut secrets = vec![link.clone(), tablet.cookie.clone()];
    assert_eq!(
        tablet
            .post("/sign-in", &[("name", PERSON), ("password", WRONG)])
            .await
            .0,
        422
    );
    assert_eq!(
        tablet
            .post("/sign-in", &[("name", PERSON), ("password", PASSWORD)])
            .await
            .0,
        303
    );
    secrets.push(tablet.cookie.clone());
    let taken = [
        ("customer.name", NAME),
        ("customer.phone", PHONE),
        ("customer.email", EMAIL),
        ("instrument.family", "violin"),
        ("instrument.size", "4/4"),
        ("complaint.words", WORDS),
        ("condition", NOTE),
        ("once", ONCE),
    ];
    let (status, location, page) = tablet.post("/intake", &taken).await;
    assert_eq!(status, 303, "{page}");
    for (path, fields) in [
        ("/intake", &[("customer.name", NAME), ("customer.phone", "")][..]),
        ("/intake/matches", &[("customer.name", NAME)]),
        ("/find", &[("q", PHONE)]),
        ("/find", &[("no_such_field", NOTE)]),
        ("/me/password", &[("present", WRONG), ("password", PASSWORD)]),
        (
            "/staff",
            &[("name", PERSON), ("password", PASSWORD), ("counter", "yes")],
        ),
        (&format!("/set-up/{link}"), &SHOP),
    ] {
        tablet.post(path, fields).await;
    }
    let token = Command::new(env!("CARGO_BIN_EXE_purfle"))
        .args([
            "token", "add", "--name", PERSON, "--role", "owner", "--data", folder,
        ])
        .env_remove("DATABASE_URL")
        .output()
        .expect("the program");
    let token = String::from_utf8(token.stdout).expect("text").trim().to_owned();
    assert!(token.starts_with("purfle_"), "{token}");
    let bearer = format!("Bearer {token}");
    for path in [
        &location,
        &format!("/no/such/{NOTE}"),
        &format!("/intake?customer={NOTE}"),
        &format!("/orders/{NOTE}"),
        &format!("/api/v1/orders?q={NAME}"),
        &format!("/api/v1/orders?{NOTE}={WORDS}"),
        &format!("/api/v1/orders/{NOTE}"),
    ] {
        tablet.get(path, ("authorization", &bearer)).await;
    }
    let found = tablet
        .get(&format!("/api/v1/orders?q={NAME}"), ("authorization", &bearer))
        .await;
    assert!(found.0 == 200 && found.1.contains(WORDS), "{}", found.1);
    server
        .call(
            &token,
            "/api/v1/orders",
            &[("idempotency-key", ONCE)],
            &format!("{{\"{NOTE}\": {WORDS}"),
        )
        .await;
    secrets.push(token);
    secrets
}

#[test]
fn nothing_typed_and_no_secret_reaches_the_log_or_the_counts() {
    for kind in ["text", "json"] {
        on_sqlite(async |shop| {
            let folder = shop.folder().join("data").display().to_string();
            let words = [
                "serve",
                "--listen",
                "127.0.0.1:0",
                "--log",
                kind,
                "--data",
                &folder,
            ];
            let mut command = program(&[], &words);
            command.env("PURFLE_LOG", "debug");
            let mut server = Running::from(command);
            let secrets = day(&server, &folder).await;
            let counts = server.get("/metrics", &[]).await.expect("the counts").text;
            assert_eq!(server.stop().code(), Some(0));
            let said = server.said();
            // It was listened at all, and in detail.
            assert!(
                said.matches("answered").count() > 15 && said.contains("/orders/{tag}/papers"),
                "{said}"
            );
            assert!(said.contains("sqlx"), "{said}");
            assert!(counts.contains("purfle_answers_total{status=\"303\"}"));
            // The set-up link is printed, once: it is how the owner comes in.
            assert_eq!(said.matches(&secrets[0]).count(), 1, "{said}");
            let bare = |secret: &String| secret.trim_start_matches("purfle=").to_owned();
            let typed = [NAME, PHONE, EMAIL, WORDS, NOTE, PERSON, PASSWORD, WRONG, ONCE].map(str::to_owned);
            for marker in typed.into_iter().chain(secrets[1..].iter().map(bare)) {
                for form in [
                    marker.clone(),
                    marker.replace(' ', "+"),
                    marker.replace('@', "%40"),
                ] {
                    assert!(
                        !said.to_lowercase().contains(&form.to_lowercase()),
                        "{form} in the log: {said}"
                    );
                    assert!(!counts.contains(&form), "{form} in the counts");
                }
            }
            assert!(!said.contains(&PHONE.replace(' ', "")), "the phone in the log");
        });
    }
}
