//! One side goes away: a server that is asked to stop lets what runs finish, a client that leaves leaves nothing half.

use std::time::Duration;

use purfle::serve::{Patience, serve};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

use super::judge;
use super::kill::intake;
use super::running::Running;
use crate::shop::{Program, on_both};

/// An intake as it goes over the line.
fn request(token: &str, key: &str) -> Vec<u8> {
    let body = intake(key).to_string();
    format!(
        "POST /api/v1/orders HTTP/1.1\r\nHost: shop.test\r\nAuthorization: Bearer {token}\r\nIdempotency-Key: {key}\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    )
    .into_bytes()
}

#[test]
fn a_server_that_is_asked_to_stop_takes_nobody_new_and_finishes_what_it_began() {
    on_both(async |shop| {
        let token = purfle::api::token::add(&shop.app.db, "load", "counter", None, shop.clock.now()).await;
        let token = token.expect("a token");
        shop.app.db.close().await;
        let mut server = Running::on(&shop.url);
        let at = server.address.trim_start_matches("http://").to_owned();
        let mut slow = TcpStream::connect(&at).await.expect("a connection");
        let request = request(&token, "slow");
        let (first, rest) = request.split_at(request.len() - 40);
        slow.write_all(first).await.expect("sent");
        tokio::time::sleep(Duration::from_millis(200)).await;
        server.ask_to_stop();
        let mut refused = false;
        for _ in 0..100 {
            refused = TcpStream::connect(&at).await.is_err();
            if refused {
                break;
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        assert!(refused, "it still takes connections");
        assert!(
            server.ends_within(Duration::from_millis(300)).is_none(),
            "it did not wait"
        );
        slow.write_all(rest).await.expect("sent");
        let mut answer = String::new();
        slow.read_to_string(&mut answer).await.expect("an answer");
        assert!(answer.starts_with("HTTP/1.1 201"), "{answer}");
        let end = server.ends_within(Duration::from_secs(5)).expect("it ends");
        assert_eq!(end.code(), Some(0), "{}", server.said());
        let db = judge::anew(&shop).await;
        assert_eq!(
            (judge::whole(&db).await, judge::saying(&db, "slow").await),
            (1, 1)
        );
        db.close().await;
    });
}

#[test]
fn a_client_that_leaves_in_the_middle_leaves_an_order_or_none_and_can_ask_again() {
    const TRIES: usize = 48;
    on_both(async |shop| {
        let token = purfle::api::token::add(&shop.app.db, "load", "counter", None, shop.clock.now()).await;
        let token = token.expect("a token");
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
        let at = listener.local_addr().expect("its address");
        tokio::spawn(serve(listener, shop.service.clone(), Patience::default()));
        let (mut whole, mut begun) = (0, 0);
        for n in 0..TRIES {
            let request = request(&token, &format!("try {n}"));
            // Every third is not sent whole; the others leave after 0 to 15 ms.
            let part = if n % 3 == 0 {
                request.len() * (n + 1) / (TRIES + 1)
            } else {
                request.len()
            };
            let mut stream = TcpStream::connect(at).await.expect("a connection");
            stream.write_all(&request[..part]).await.expect("sent");
            tokio::time::sleep(Duration::from_millis(n as u64 % 16)).await;
            drop(stream);
            let sent = if part == request.len() {
                &mut whole
            } else {
                &mut begun
            };
            *sent += 1;
        }
        tokio::time::sleep(Duration::from_millis(500)).await;
        let kept = judge::whole(&shop.app.db).await;
        assert!(
            kept <= whole,
            "{kept} orders of {whole} requests, {begun} more were not sent whole"
        );
        println!("{kept} orders of {whole} whole requests, {begun} broken ones");
        let program = Program::new(shop.service.clone(), Some(token));
        for n in 0..TRIES {
            let key = format!("try {n}");
            let answer = program
                .post("/api/v1/orders", &[("idempotency-key", &key)], &intake(&key))
                .await;
            assert_eq!(answer.status.as_u16(), 201, "{}", answer.json);
            assert_eq!(judge::saying(&shop.app.db, &key).await, 1);
        }
        assert_eq!(
            judge::whole(&shop.app.db).await,
            i64::try_from(TRIES).expect("few")
        );
    });
}
