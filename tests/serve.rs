//! The loop that takes connections: slow, large and broken requests, and the end.

use std::time::Duration;

use axum::body::Body;
use axum::http::Request;
use purfle::serve::{Patience, serve};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

use crate::shop::{Shop, on_both};

/// Serves the shop on a port of its own, and connects to it.
async fn connect(shop: &Shop, headers: Duration) -> TcpStream {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
    let address = listener.local_addr().expect("its address");
    let patience = Patience {
        headers,
        drain: Duration::from_secs(1),
    };
    tokio::spawn(serve(listener, shop.service.clone(), patience));
    TcpStream::connect(address).await.expect("a connection")
}

/// What comes back until the other side closes.
async fn answer(stream: &mut TcpStream) -> String {
    let mut text = Vec::new();
    let read = tokio::time::timeout(Duration::from_secs(20), stream.read_to_end(&mut text)).await;
    read.expect("the other side closes")
        .expect("what was sent can be read");
    String::from_utf8_lossy(&text).into_owned()
}

#[test]
fn half_a_header_is_not_waited_for() {
    on_both(async |shop| {
        let mut stream = connect(&shop, Duration::from_millis(300)).await;
        stream
            .write_all(b"GET /sign-in HTTP/1.1\r\nHost: shop.te")
            .await
            .expect("sent");
        let text = answer(&mut stream).await;
        assert!(text.is_empty() || text.starts_with("HTTP/1.1 408"), "{text}");
    });
}

#[test]
fn headers_beyond_the_limit_are_refused() {
    on_both(async |shop| {
        let mut stream = connect(&shop, Duration::from_secs(5)).await;
        let long = format!(
            "GET /sign-in HTTP/1.1\r\nHost: shop.test\r\nX-Long: {}\r\n\r\n",
            "x".repeat(60_000)
        );
        // It may close before everything was sent.
        let _ = stream.write_all(long.as_bytes()).await;
        let mut text = [0; 64];
        let read = stream.read(&mut text).await.unwrap_or(0);
        let text = String::from_utf8_lossy(&text[..read]);
        assert!(text.is_empty() || text.starts_with("HTTP/1.1 431"), "{text}");
    });
}

#[test]
fn two_lengths_are_not_one_request() {
    on_both(async |shop| {
        let mut stream = connect(&shop, Duration::from_secs(5)).await;
        let twice = "POST /sign-in HTTP/1.1\r\nHost: shop.test\r\nContent-Length: 6\r\nContent-Length: 60\r\n\r\nname=x";
        stream.write_all(twice.as_bytes()).await.expect("sent");
        let text = answer(&mut stream).await;
        assert!(text.is_empty() || text.starts_with("HTTP/1.1 400"), "{text}");
    });
}

#[test]
fn a_body_that_is_too_long_is_told_so() {
    on_both(async |shop| {
        let long = format!("name={}", "x".repeat(300_000));
        let request = Request::post("/sign-in").header("content-type", "application/x-www-form-urlencoded");
        let page = shop
            .stranger()
            .send(request.body(Body::from(long)).expect("a request"))
            .await;
        assert_eq!(page.status.as_u16(), 413);
        assert!(page.body.contains("Make it smaller"));
    });
}

#[test]
fn a_stop_lets_what_runs_finish_and_ends_well() {
    let folder = std::env::temp_dir().join(format!("purfle-test-{}", uuid::Uuid::new_v4()));
    let start = || {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_purfle"));
        command
            .args(["serve", "--listen", "127.0.0.1:0", "--data"])
            .arg(&folder)
            .env_remove("DATABASE_URL");
        command
            .stdout(std::process::Stdio::piped())
            .stderr(std::process::Stdio::piped());
        command
    };
    let mut first = start().spawn().expect("the program");
    let mut line = String::new();
    let mut out = std::io::BufReader::new(first.stdout.take().expect("its words"));
    std::io::BufRead::read_line(&mut out, &mut line).expect("a line");
    assert!(
        line.starts_with("The shop is open at http://127.0.0.1:"),
        "{line}"
    );
    // The folder is taken: a second server is refused with words.
    let second = start().output().expect("the program");
    assert_eq!(second.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&second.stderr).contains("Another Purfle is serving from"));
    let stopped = std::process::Command::new("kill")
        .args(["-TERM", &first.id().to_string()])
        .status()
        .expect("kill");
    assert!(stopped.success());
    assert_eq!(first.wait().expect("its end").code(), Some(0));
    let _ = std::fs::remove_dir_all(&folder);
}

/// What the program has held at most so far, in KiB, as the system counts it.
#[cfg(target_os = "linux")]
fn most_held(program: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{program}/status")).expect("its status");
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let number = line.and_then(|line| line.split_whitespace().next()?.parse().ok());
    number.expect("a number of KiB")
}

#[cfg(target_os = "linux")]
#[test]
fn a_morning_on_which_all_sign_in_at_once_does_not_take_the_memory() {
    use std::io::{BufRead, BufReader, Read, Write};
    let folder = std::env::temp_dir().join(format!("purfle-test-{}", uuid::Uuid::new_v4()));
    let mut serving = std::process::Command::new(env!("CARGO_BIN_EXE_purfle"))
        .args(["serve", "--listen", "127.0.0.1:0", "--data"])
        .arg(&folder)
        .env_remove("DATABASE_URL")
        .stdout(std::process::Stdio::piped())
        .spawn()
        .expect("the program");
    let mut out = BufReader::new(serving.stdout.take().expect("its words"));
    let mut line = String::new();
    out.read_line(&mut line).expect("a line");
    let address = line
        .trim()
        .rsplit_once("//")
        .expect("an address")
        .1
        .trim_end_matches('/')
        .to_owned();
    let sign_in = |number: usize| {
        let address = address.clone();
        std::thread::spawn(move || {
            let mut stream = std::net::TcpStream::connect(&address).expect("a connection");
            let body = format!("name=nobody-{number}&password=not+the+password");
            let head = "Content-Type: application/x-www-form-urlencoded\r\nConnection: close";
            let length = body.len();
            let request = format!(
                "POST /sign-in HTTP/1.1\r\nHost: {address}\r\n{head}\r\nContent-Length: {length}\r\n\r\n{body}"
            );
            stream.write_all(request.as_bytes()).expect("sent");
            let mut answer = String::new();
            stream.read_to_string(&mut answer).expect("an answer");
            answer
        })
    };
    let before = most_held(serving.id());
    let all: Vec<_> = (0..120).map(sign_in).collect();
    for one in all {
        let answer = one.join().expect("an answer");
        assert!(answer.starts_with("HTTP/1.1 422"), "{answer}");
    }
    let grown = most_held(serving.id()).saturating_sub(before);
    serving.kill().expect("the end");
    serving.wait().expect("its end");
    let _ = std::fs::remove_dir_all(&folder);
    // Four passwords are hashed at once in 19 MiB each. Beside that 120 connections and as many threads have half a MiB
    // each. Freed for each thread anew it was more than 1 GiB.
    let hashing = 4 * 19 * 1024;
    println!("grown by {grown} KiB");
    assert!(
        (hashing / 2..hashing + 120 * 512).contains(&grown),
        "{grown} KiB more"
    );
}
