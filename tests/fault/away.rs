//! PostgreSQL goes away and comes back: told in words, nothing typed is lost, nothing is done twice.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use purfle::app::App;
use purfle::db::Db;

use super::cluster::Cluster;
use super::judge;
use super::kill::intake;
use super::proxy::Proxy;
use crate::shop::{Browser, Page, Program, Shop, on_postgres};

const TYPED: [(&str, &str); 6] = [
    ("customer.name", "Marta \"Ellie\" Ellingworth"),
    ("customer.phone", "0170 555 0142"),
    ("instrument.family", "violin"),
    ("instrument.size", "4/4"),
    ("complaint.words", "It fizzes <up high>\r\nsince the new E."),
    ("once", "typed once"),
];

/// The page keeps all that was typed, and its button sends the same again.
fn typed_again(page: &Page) -> Vec<(String, String)> {
    assert_eq!(page.status.as_u16(), 503, "{}", page.body);
    assert!(!page.header("retry-after").is_empty());
    assert!(
        page.body.contains("action=\"/intake\"") && page.body.contains("Try again"),
        "{}",
        page.body
    );
    let plain = |text: &str| {
        let marks = [("&#60;", "<"), ("&#62;", ">"), ("&#34;", "\""), ("&#38;", "&")];
        marks
            .iter()
            .fold(text.to_owned(), |text, (from, to)| text.replace(from, to))
    };
    let fields: Vec<_> = TYPED
        .map(|(name, _)| (name.to_owned(), plain(page.field(name))))
        .into();
    assert_eq!(
        fields,
        TYPED.map(|(name, value)| (name.to_owned(), value.to_owned()))
    );
    fields
}

async fn send(browser: &Browser, fields: &[(String, String)]) -> Page {
    let fields: Vec<_> = fields
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .collect();
    browser.post("/intake", &fields).await
}

/// Sends an intake until it is acknowledged; counts how often it had to be sent again.
async fn persist(program: &Program, key: &str, refused: &AtomicUsize) {
    let start = Instant::now();
    loop {
        let answer = program
            .post("/api/v1/orders", &[("idempotency-key", key)], &intake(key))
            .await;
        match answer.status.as_u16() {
            201 => return,
            503 => {
                assert!(!answer.header("retry-after").is_empty());
                assert!(
                    answer.json["detail"]
                        .as_str()
                        .is_some_and(|words| words.len() > 20)
                );
                refused.fetch_add(1, Ordering::SeqCst);
            }
            other => panic!("{other}: {}", answer.json),
        }
        assert!(start.elapsed() < Duration::from_secs(30), "{key} is never taken");
    }
}

#[test]
fn connections_that_are_ended_in_the_middle_cost_a_retry_and_nothing_else() {
    on_postgres(async |shop| {
        let program = shop.program("counter").await;
        let (done, refused) = (AtomicBool::new(false), AtomicUsize::new(0));
        let working = async {
            let client = async |name: &str| {
                for n in 0..40 {
                    persist(&program, &format!("{name}{n}"), &refused).await;
                }
            };
            tokio::join!(client("a"), client("b"), client("c"), client("d"));
            done.store(true, Ordering::SeqCst);
        };
        let ending = async {
            let other = Db::open(&shop.url).await.expect("PostgreSQL");
            let sql = "select count(pg_terminate_backend(pid)) from pg_stat_activity
                       where datname = current_database() and pid <> pg_backend_pid()";
            while !done.load(Ordering::SeqCst) {
                let (_ended,): (i64,) = other.read(sql).one().await.expect("ended");
                tokio::time::sleep(Duration::from_millis(25)).await;
            }
            other.close().await;
        };
        tokio::join!(working, ending);
        let refused = refused.into_inner();
        assert!(refused > 0, "no act was under way when its connection was ended");
        println!("160 intakes, sent again {refused} times");
        assert_eq!(judge::whole(&shop.app.db).await, 160);
    });
}

#[test]
fn a_server_that_was_stopped_and_started_is_found_again_and_what_was_typed_is_kept_so_long() {
    let runtime = tokio::runtime::Runtime::new().expect("a runtime");
    let Some(cluster) = Cluster::begin() else { return };
    runtime.block_on(async {
        let shop = Shop::on_new(&cluster.url()).await;
        let (counter, program) = (shop.sign_in("counter").await, shop.program("counter").await);
        assert_eq!(counter.get("/readyz").await.status.as_u16(), 200);
        cluster.stop();
        let start = Instant::now();
        let body = intake("by a program");
        let key = [("idempotency-key", "by a program")];
        let (page, call, today, ready) = tokio::join!(
            counter.post("/intake", &TYPED),
            program.post("/api/v1/orders", &key, &body),
            counter.get("/"),
            counter.get("/readyz"),
        );
        assert!(start.elapsed() < Duration::from_secs(8), "{:?}", start.elapsed());
        assert_eq!(
            (call.status.as_u16(), today.status.as_u16(), ready.status.as_u16()),
            (503, 503, 503)
        );
        assert!(
            today.body.contains("We could not reach the database."),
            "{}",
            today.body
        );
        let fields = typed_again(&page);
        cluster.start();
        let start = Instant::now();
        // By itself: nobody restarts the service.
        let first = loop {
            let page = send(&counter, &fields).await;
            if page.status.as_u16() == 303 {
                break page;
            }
            assert_eq!(page.status.as_u16(), 503);
            assert!(start.elapsed() < Duration::from_secs(10), "it does not find back");
        };
        assert_eq!(send(&counter, &fields).await.location(), first.location());
        assert_eq!(
            program.post("/api/v1/orders", &key, &body).await.status.as_u16(),
            201
        );
        assert_eq!(judge::whole(&shop.app.db).await, 2);
        assert_eq!(
            judge::saying(&shop.app.db, "It fizzes <up high>\nsince the new E.").await,
            1
        );
        shop.app.db.close().await;
    });
}

#[test]
fn a_commit_whose_answer_was_lost_is_not_called_undone_and_is_not_done_twice() {
    on_postgres(async |shop| {
        let (user, at) = shop.url.rsplit_once('@').expect("postgres://USER@HOST:PORT/NAME");
        let (server, database) = at.split_once('/').expect("a database");
        let proxy = Proxy::to(server.to_owned()).await;
        let joint = if database.contains('?') { '&' } else { '?' };
        let url = format!("{user}@127.0.0.1:{}/{database}{joint}sslmode=disable", proxy.port);
        let db = Db::open(&url).await.expect("the database, through the proxy");
        let there = shop.beside(App::new(db, shop.clock.clone(), crate::shop::ADDRESS.into()));
        let (counter, program) = (there.sign_in("counter").await, there.program("counter").await);

        proxy.lose_one_answer();
        let page = counter.post("/intake", &TYPED).await;
        assert!(proxy.has_lost_it());
        assert!(
            page.body.contains("before it said whether this was kept"),
            "{}",
            page.body
        );
        assert!(!page.body.contains("Nothing was kept"));
        let fields = typed_again(&page);
        assert_eq!(send(&counter, &fields).await.location(), "/orders/10008/papers");

        proxy.lose_one_answer();
        let (key, body) = ([("idempotency-key", "k")], intake("by a program"));
        let lost = program.post("/api/v1/orders", &key, &body).await;
        assert_eq!(lost.status.as_u16(), 503, "{}", lost.json);
        let again = program.post("/api/v1/orders", &key, &body).await;
        assert_eq!(
            (again.status.as_u16(), again.header("idempotent-replay")),
            (201, "true")
        );
        assert_eq!(judge::whole(&shop.app.db).await, 2);
        there.app.db.close().await;
    });
}
