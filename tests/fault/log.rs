//! The log is one line for one request, whatever people type: no line of somebody's own, no colours or commands for a terminal.

use std::sync::{Arc, Mutex};

use axum::response::IntoResponse;
use purfle::error::Error;
use tracing_subscriber::EnvFilter;

use super::running::{Running, program};
use crate::shop::on_sqlite;

/// A name that would write a line of its own, paint it, and clear the screen.
const FORGED: &str =
    "Nobody\r\n2026-02-10T09:00:00Z  INFO purfle: zyxoforged\u{1b}[31m red \u{1b}[2J\u{7}\u{85}\u{2028}end";

/// Nothing but the end of a line that a terminal would follow.
fn plain(c: char) -> bool {
    c == '\n' || !(c.is_control() || matches!(c, '\u{2028}' | '\u{2029}'))
}

async fn knock(server: &Running) {
    let form = form_urlencoded::Serializer::new(String::new())
        .extend_pairs([("name", FORGED), ("password", FORGED)])
        .finish();
    let client = reqwest::Client::builder()
        .redirect(reqwest::redirect::Policy::none())
        .build()
        .expect("a client");
    let sign_in = client
        .post(format!("{}/sign-in", server.address))
        .header("content-type", "application/x-www-form-urlencoded")
        .header("sec-fetch-site", "same-origin")
        .header("user-agent", "zyxoforged\u{9}agent")
        .body(form.clone())
        .send()
        .await
        .expect("an answer");
    assert_eq!(sign_in.status().as_u16(), 422, "nobody has that name");
    for path in [
        format!("/zyxoforged%0d%0aINFO%1b%5b31m?{form}"),
        format!("/orders/1%0azyxoforged%1b%5b2J?{form}"),
    ] {
        let answer = client.get(format!("{}{path}", server.address)).send().await;
        assert!(!answer.expect("an answer").status().is_server_error());
    }
}

#[test]
fn a_name_with_line_breaks_and_commands_for_a_terminal_makes_one_plain_line_of_the_log() {
    on_sqlite(async |shop| {
        for kind in ["text", "json"] {
            let mut command = program(
                &[],
                &[
                    "serve",
                    "--listen",
                    "127.0.0.1:0",
                    "--log",
                    kind,
                    "--database",
                    &shop.url,
                ],
            );
            command.env("PURFLE_LOG", "info");
            let mut server = Running::from(command);
            knock(&server).await;
            assert_eq!(server.stop().code(), Some(0));
            let said = server.said();
            let answered: Vec<&str> = said.lines().filter(|line| line.contains("answered")).collect();
            assert_eq!(answered.len(), 3, "{said}");
            assert_eq!(said.matches("/sign-in").count(), 1, "{said}");
            assert!(!said.contains("zyxoforged"), "{said}");
            assert!(said.chars().all(plain), "{said:?}");
            for line in answered {
                let whole = serde_json::from_str::<serde_json::Value>(line).is_ok();
                assert_eq!(whole, kind == "json", "{line}");
            }
        }
    });
}

/// What was written down.
#[derive(Clone, Default)]
struct Page(Arc<Mutex<Vec<u8>>>);

impl std::io::Write for Page {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().expect("the page").extend(bytes);
        Ok(bytes.len())
    }
    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[test]
fn what_a_database_or_a_file_says_is_escaped_in_the_one_line_of_its_fault() {
    for kind in ["text", "json"] {
        let page = Page::default();
        let writer = page.clone();
        let log = purfle::log::to(kind, EnvFilter::new("info"), false, move || writer.clone());
        tracing::subscriber::with_default(log, || {
            let _ = Error::fault(format!("it said: {FORGED}")).into_response();
            let _ = Error::from(sqlx::Error::Protocol(format!("it said: {FORGED}"))).into_response();
            let full = std::io::Error::other(format!("it said: {FORGED}"));
            let _ = Error::from(sqlx::Error::Io(full)).into_response();
        });
        let said = String::from_utf8(page.0.lock().expect("the page").clone()).expect("text");
        assert_eq!(said.lines().count(), 3, "{kind}: {said}");
        assert!(said.lines().all(|line| line.contains("zyxoforged")), "{said}");
        assert!(said.chars().all(plain), "{kind}: {said:?}");
    }
}

/// What it says when it listens there.
fn said_at(listen: &str, more: &[&str], url: &str) -> String {
    let words = [&["serve", "--listen", listen, "--database", url], more].concat();
    let mut server = Running::from(program(&[], &words));
    server.kill();
    server.said()
}

#[test]
fn plain_http_beyond_this_machine_is_warned_of_at_the_start() {
    on_sqlite(async |shop| {
        let warned = |listen, more: &[&str]| {
            said_at(listen, more, &shop.url)
                .contains("Without https everybody on this network can read along.")
        };
        assert!(warned("0.0.0.0:0", &[]));
        assert!(warned("0.0.0.0:0", &["--address", "http://shop.example"]));
        assert!(!warned("127.0.0.1:0", &[]));
        assert!(!warned("0.0.0.0:0", &["--address", "https://shop.example"]));
    });
}
