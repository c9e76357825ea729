//! Killed in the middle of work, again and again: each act that was acknowledged is there once.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use super::judge;
use super::running::{Reply, Running};
use crate::shop::{Shop, on_both};

const CYCLES: usize = 6;

/// One call, as its sender remembers it: with the answer, or without any.
#[derive(Clone)]
struct Sent {
    path: String,
    key: String,
    version: String,
    body: String,
    answer: Option<Reply>,
}

/// What the clients remember. They judge; the server's own memory does not count.
type Ledger = Arc<Mutex<Vec<Sent>>>;

impl Sent {
    fn new(path: &str, key: String, version: &str, body: &Value) -> Sent {
        Sent {
            path: path.into(),
            key,
            version: version.into(),
            body: body.to_string(),
            answer: None,
        }
    }

    async fn send(&self, server: &Running, token: &str) -> Option<Reply> {
        let mut headers = vec![("idempotency-key", self.key.as_str())];
        if !self.version.is_empty() {
            headers.push(("if-match", self.version.as_str()));
        }
        server.call(token, &self.path, &headers, &self.body).await
    }
}

pub fn intake(words: &str) -> Value {
    json!({
        "customer": {"name": "Ada Fenwick", "phone": "01 555 0142"},
        "instrument": {"family": "violin", "size": "4/4", "year_made": 1920, "year_certainty": "circa"},
        "complaint": {"words": words},
        "authorised_limit": 5_000
    })
}

/// Takes in, finds and is paid, until no answer comes.
async fn work(server: &Running, token: &str, name: &str, ledger: &Ledger, stop: &AtomicBool) {
    for n in 0.. {
        if stop.load(Ordering::SeqCst) {
            return;
        }
        let words = format!("{name}-{n}");
        let taken = Sent::new("/api/v1/orders", words.clone(), "", &intake(&words));
        let Some(order) = done(server, token, ledger, taken).await else {
            return;
        };
        let path = format!("/api/v1/orders/{}", order.json()["tag"].as_str().expect("a tag"));
        let finding = json!({"cause": "seam_open_lower", "certainty": "confirmed"});
        let found = Sent::new(
            &format!("{path}/findings"),
            format!("{words}-found"),
            &order.etag,
            &finding,
        );
        let Some(found) = done(server, token, ledger, found).await else {
            return;
        };
        let deposit = json!({"amount": 1500, "method": "cash"});
        let paid = Sent::new(
            &format!("{path}/payments"),
            format!("{words}-paid"),
            &found.etag,
            &deposit,
        );
        if done(server, token, ledger, paid).await.is_none() {
            return;
        }
    }
}

async fn done(server: &Running, token: &str, ledger: &Ledger, mut sent: Sent) -> Option<Reply> {
    sent.answer = sent.send(server, token).await;
    let answer = sent.answer.clone();
    ledger.lock().expect("the ledger").push(sent);
    let answer = answer?;
    assert!(matches!(answer.status, 200 | 201), "{answer:?}");
    Some(answer)
}

/// Kills the server after a while of work, starts it again, and asks it about all that was sent.
async fn cycle(shop: &Shop, token: &str, cycle: usize, ledger: &Ledger) -> usize {
    let mut server = Running::on(&shop.url);
    let before = ledger.lock().expect("the ledger").len();
    let stop = AtomicBool::new(false);
    let clients = (0..4).map(|client| format!("cycle {cycle} client {client}"));
    let names: Vec<String> = clients.collect();
    let client = |n: usize| work(&server, token, &names[n], ledger, &stop);
    let working = async { tokio::join!(client(0), client(1), client(2), client(3)) };
    let id = server.id().to_string();
    let killing = async {
        // Not the same moment each time, and never before the first work was done.
        tokio::time::sleep(Duration::from_millis(150 + 97 * cycle as u64)).await;
        let killed = std::process::Command::new("kill").args(["-KILL", &id]).status();
        assert!(killed.expect("kill").success());
        stop.store(true, Ordering::SeqCst);
    };
    tokio::join!(working, killing);
    server.kill();
    let start = Instant::now();
    let server = Running::on(&shop.url);
    assert!(start.elapsed() < Duration::from_secs(10), "slow to come back");
    let mut sent: Vec<Sent> = ledger.lock().expect("the ledger").split_off(before);
    let unheard = sent.iter().filter(|sent| sent.answer.is_none()).count();
    for sent in &mut sent {
        let again = sent.send(&server, token).await.expect("an answer");
        assert!(matches!(again.status, 200 | 201), "{}: {again:?}", sent.key);
        if let Some(first) = &sent.answer {
            assert!(again.replay, "{} was done anew", sent.key);
            assert_eq!(
                (again.status, &again.text, &again.etag),
                (first.status, &first.text, &first.etag)
            );
        }
        sent.answer = Some(again);
    }
    ledger.lock().expect("the ledger").extend(sent);
    unheard
}

#[test]
fn what_was_acknowledged_before_a_kill_is_there_once_and_a_retry_gets_the_first_answer() {
    on_both(async |shop| {
        let token = purfle::api::token::add(&shop.app.db, "load", "owner", None, shop.clock.now());
        let token = token.await.expect("a token");
        shop.app.db.close().await;
        let ledger = Ledger::default();
        let mut unheard = 0;
        for n in 0..CYCLES {
            unheard += cycle(&shop, &token, n, &ledger).await;
        }
        // Otherwise every kill came in a pause, and nothing was shown.
        assert!(unheard > 0, "no call was under way when the server was killed");
        let db = judge::anew(&shop).await;
        let ledger = ledger.lock().expect("the ledger").clone();
        let intakes: Vec<&Sent> = ledger.iter().filter(|sent| sent.version.is_empty()).collect();
        assert_eq!(
            judge::whole(&db).await,
            i64::try_from(intakes.len()).expect("few")
        );
        for sent in &intakes {
            assert_eq!(judge::saying(&db, &sent.key).await, 1, "{}", sent.key);
        }
        let rows: (i64, i64) = db
            .read("select (select count(*) from finding), (select count(*) from payment)")
            .one()
            .await
            .expect("counts");
        let sent = |what: &str| ledger.iter().filter(|sent| sent.path.ends_with(what)).count();
        assert_eq!(
            rows,
            (
                i64::try_from(sent("findings")).expect("few"),
                i64::try_from(sent("payments")).expect("few")
            )
        );
        println!(
            "{} acts acknowledged over {CYCLES} kills, {unheard} of them only when sent again",
            ledger.len()
        );
        db.close().await;
    });
}
