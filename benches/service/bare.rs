//! The ceilings: no pages, no checks, no sessions; the same rows and the same bytes.

use std::time::{Duration, Instant};

use axum::Router;
use axum::http::header::CONTENT_TYPE;
use axum::routing::get;
use purfle::counter::order::{self, Order};
use purfle::counter::order_sheet::Sheet;
use purfle::counter::owed::{Owed, Sum};
use purfle::counter::story::Story;
use purfle::db::{Db, insert_rows};
use tokio::net::TcpListener;
use uuid::Uuid;

use crate::client::Client;
use crate::place::{Place, Reads};

/// Intakes a second by a bare loop: the key, the tag, the order, its first line and the answer, committed.
pub async fn intakes(place: &Place, clients: usize, round: Duration) -> f64 {
    let start = Instant::now();
    let clients: Vec<_> = (0..clients)
        .map(|_| {
            let (db, known) = (place.app.db.clone(), place.order.clone());
            tokio::spawn(async move {
                let mut done = 0_u32;
                while start.elapsed() < round {
                    intake(&db, &known).await;
                    done += 1;
                }
                done
            })
        })
        .collect();
    let mut done = 0;
    for client in clients {
        done += client.await.expect("a client that ends");
    }
    f64::from(done) / start.elapsed().as_secs_f64()
}

async fn intake(db: &Db, known: &Order) {
    let mut tx = db.begin().await.expect("a transaction");
    let key = Uuid::new_v4();
    tx.query(
        "insert into once (actor, key, fingerprint, status, answer, at) values ($1, $2, $3, 201, $4, $5)",
    )
    .bind(key)
    .bind(key.to_string())
    .bind("f".repeat(64))
    .bind("a".repeat(1200))
    .bind(known.received_at)
    .execute()
    .await
    .expect("a key");
    let next = "update tag_counter set next = next + 1 where id = 1 returning next - 1";
    let (number,): (i64,) = tx.query(next).one().await.expect("a number");
    let tag = purfle::counter::tag::from_number(number);
    let order = Order {
        id: Uuid::now_v7(),
        tag,
        ..known.clone()
    };
    insert_rows(
        &mut tx,
        order::INSERT,
        order::COLUMNS,
        std::slice::from_ref(&order),
        order::bind,
    )
    .await
    .expect("an order");
    let line = Story {
        id: Uuid::now_v7(),
        work_order: order.id,
        at: order.received_at,
        by_name: "bare".into(),
        words: "Taken in".into(),
    };
    Story::insert(&mut tx, &[line]).await.expect("a line");
    tx.commit().await.expect("kept");
}

/// Serves the bytes of a page after the reads it needs, on a port of its own.
pub async fn page(place: &Place, path: &str, reads: Reads) -> u16 {
    let mut client = Client::connect(place.port).await;
    let bytes = client.fetch(path, &format!("cookie: {}\r\n", place.cookie)).await;
    let (app, tag) = (place.app.clone(), place.order.tag.clone());
    let answer = move || {
        let (app, tag, bytes) = (app.clone(), tag.clone(), bytes.clone());
        async move {
            match reads {
                Reads::Order => drop(Sheet::of(&app, &tag).await.expect("the order")),
                Reads::House => {
                    let shop = purfle::admin::shop::Shop::get(&app.db).await.expect("the shop");
                    drop(
                        purfle::bench::waits::rows(&app.db, &shop, app.clock.now())
                            .await
                            .expect("the rows"),
                    );
                    let longest = Owed::longest(&app.db, None, None, 3).await;
                    let sum = Sum::of_all(&app.db).await;
                    drop((longest.expect("what is owed"), sum.expect("its sum")));
                }
            }
            ([(CONTENT_TYPE, "text/html; charset=utf-8")], bytes)
        }
    };
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
    let port = listener.local_addr().expect("its address").port();
    tokio::spawn(async move { axum::serve(listener, Router::new().route("/", get(answer))).await });
    port
}
