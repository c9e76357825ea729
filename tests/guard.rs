//! The guard at the door: cookies, sessions and passwords, and requests that try to be two.

use std::collections::HashSet;

use axum::body::Body;
use axum::http::Request;
use purfle::app::App;
use purfle::serve::{Patience, serve};
use purfle::staff::{session, sign_in};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

use crate::shop::{Browser, PASSWORD, on_both, on_sqlite};

#[test]
fn the_cookie_is_bound_to_the_browser_and_to_tls_where_there_is_tls() {
    on_both(async |shop| {
        let app = App::new(
            shop.app.db.clone(),
            shop.clock.clone(),
            "https://shop.test".into(),
        );
        let fields = [("name", "counter"), ("password", PASSWORD)];
        let tls = Browser::new(app.service(), None).post("/sign-in", &fields).await;
        let cookie = tls.header("set-cookie");
        assert!(cookie.starts_with("__Host-purfle="), "{cookie}");
        for part in ["HttpOnly", "SameSite=Lax", "Secure", "Path=/"] {
            assert!(cookie.contains(part), "{cookie}");
        }
        assert!(!cookie.contains("Domain"), "{cookie}");
        let plain = shop.stranger().post("/sign-in", &fields).await;
        let cookie = plain.header("set-cookie");
        assert!(
            cookie.starts_with("purfle=") && cookie.contains("HttpOnly"),
            "{cookie}"
        );
    });
}

#[test]
fn whoever_signs_in_where_others_can_read_along_is_told_so() {
    on_sqlite(async |shop| {
        for (address, told) in [
            ("http://192.168.7.20:8080", true),
            ("http://shop-pc.local:8080", true),
            ("https://shop.test", false),
            ("http://127.0.0.1:8080", false),
            ("http://localhost:8080", false),
            ("http://[::1]:8080", false),
        ] {
            let app = App::new(shop.app.db.clone(), shop.clock.clone(), address.into());
            let page = Browser::new(app.service(), None).get("/sign-in").await;
            let says = page.body.contains("Others on this network can read along.");
            assert_eq!(says, told, "{address}");
        }
    });
}

#[test]
fn a_session_is_a_fresh_secret_that_is_kept_as_a_hash() {
    on_both(async |shop| {
        let fields = [("name", "counter"), ("password", PASSWORD)];
        let chosen = Browser::new(shop.service.clone(), Some("chosen-by-somebody-else".into()));
        let mut secrets = HashSet::new();
        for _ in 0..2 {
            let page = chosen.post("/sign-in", &fields).await;
            let cookie = page.header("set-cookie").to_owned();
            let secret = cookie
                .trim_start_matches("purfle=")
                .split(';')
                .next()
                .expect("a secret");
            assert!(
                secret.len() >= 43 && secrets.insert(secret.to_owned()),
                "{cookie}"
            );
        }
        assert_eq!(chosen.get("/me").await.location(), "/sign-in");
        let kept: Vec<(String,)> = shop
            .app
            .db
            .read("select token_hash from session")
            .all()
            .await
            .expect("kept");
        assert_eq!(kept.len(), 2);
        assert!(kept.iter().all(|(hash,)| !secrets.contains(hash)));
        // What a stolen backup holds opens nothing.
        let thief = Browser::new(shop.service.clone(), Some(kept[0].0.clone()));
        assert_eq!(thief.get("/me").await.location(), "/sign-in");
    });
}

#[test]
fn a_session_ends_when_nobody_touches_it_and_after_two_weeks_in_any_case() {
    const HOUR: i64 = 3_600_000;
    on_both(async |shop| {
        let (start, idle, busy) = (
            shop.clock.now(),
            shop.sign_in("bench").await,
            shop.sign_in("counter").await,
        );
        for hours in (11..14 * 24).step_by(11) {
            shop.clock.set(start.plus_ms(hours * HOUR));
            assert_eq!(busy.get("/me").await.status.as_u16(), 200, "after {hours} h");
            if hours == 11 {
                shop.clock.set(start.plus_ms(12 * HOUR + 1));
                assert_eq!(idle.get("/me").await.location(), "/sign-in");
            }
        }
        shop.clock.set(start.plus_ms(14 * 24 * HOUR + 1));
        assert_eq!(busy.get("/me").await.location(), "/sign-in");
    });
}

#[test]
fn a_password_counts_as_it_was_typed_to_the_last_sign_and_is_hashed_slowly() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let long = format!(" {}tail", "quiet strings ".repeat(6));
        let fields = [("name", "Ada"), ("bench", "yes"), ("password", &long)];
        assert_eq!(owner.post("/staff", &fields).await.status.as_u16(), 303);
        let door = async |password: &str| {
            let page = shop
                .stranger()
                .post("/sign-in", &[("name", "Ada"), ("password", password)])
                .await;
            page.status.as_u16()
        };
        assert_eq!(door(&long).await, 303);
        for near in [
            long.trim(),
            &long[..long.len() - 1],
            &long.to_uppercase(),
            &format!("{long} "),
        ] {
            assert_eq!(door(near).await, 422, "{near}");
        }
    });
    let hash = sign_in::hash_password(PASSWORD).expect("a hash");
    assert!(hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{hash}");
    let secrets: HashSet<String> = (0..10_000)
        .map(|_| session::secret().expect("a secret"))
        .collect();
    assert_eq!(secrets.len(), 10_000);
}

#[test]
fn what_a_stranger_says_of_themselves_in_headers_opens_nothing() {
    on_both(async |shop| {
        for (name, value) in [
            ("x-forwarded-for", "127.0.0.1"),
            ("forwarded", "for=127.0.0.1;proto=https"),
            ("x-forwarded-user", "owner"),
            ("x-user", "owner"),
            ("x-role", "owner"),
            ("x-http-method-override", "DELETE"),
            ("x-original-url", "/sign-in"),
        ] {
            let request = Request::get("/settings").header(name, value).body(Body::empty());
            let page = shop.stranger().send(request.expect("a request")).await;
            assert_eq!(
                (page.status.as_u16(), page.location()),
                (303, "/sign-in"),
                "{name}"
            );
        }
    });
}

#[test]
fn a_request_that_hides_a_second_one_is_answered_once_at_most() {
    on_sqlite(async |shop| {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
        let at = listener.local_addr().expect("its address");
        tokio::spawn(serve(listener, shop.service.clone(), Patience::default()));
        let hidden = "GET /healthz HTTP/1.1\r\nHost: shop.test\r\nConnection: close\r\n\r\n";
        for framing in [
            "Content-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
            "Transfer-Encoding: chunked, identity\r\n\r\n0\r\n\r\n",
            "Transfer-Encoding : chunked\r\n\r\n0\r\n\r\n",
            "Content-Length: 0\r\nContent-Length: 5\r\n\r\n",
            "Content-Length: +0\r\n\r\n",
            "X: a\r\n b: c\r\nContent-Length: 0\r\n\r\n",
        ] {
            let sent = format!("POST /sign-in HTTP/1.1\r\nHost: shop.test\r\n{framing}{hidden}");
            let mut stream = TcpStream::connect(at).await.expect("a connection");
            stream.write_all(sent.as_bytes()).await.expect("sent");
            let mut answer = Vec::new();
            let read = stream.read_to_end(&mut answer);
            let _ = tokio::time::timeout(std::time::Duration::from_secs(3), read).await;
            let answer = String::from_utf8_lossy(&answer);
            assert!(!answer.contains("alive"), "{framing:?}: {answer}");
        }
    });
}
