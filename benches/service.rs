//! The service beside its ceilings, in one run: intake beside a bare loop that commits the same rows, the order page
//! beside a bare handler that makes the same reads and sends the same bytes. What lasts of it are the ratios.
//!
//! `cargo bench` fills an invented shop of 10,000 and of 100,000 orders on SQLite, and on PostgreSQL where
//! `PURFLE_TEST_POSTGRES` names a server, and prints a table.

#[path = "service/bare.rs"]
mod bare;
#[path = "service/client.rs"]
mod client;
#[path = "service/place.rs"]
#[expect(dead_code, reason = "the bench of the old book asks where its files are")]
mod place;

use std::time::{Duration, Instant};

use client::Client;
use place::{Place, open};

const SIZES: [usize; 2] = [10_000, 100_000];
/// Eight tablets at once.
const CLIENTS: usize = 8;
/// Ours and the ceiling's turn and turn about, so that a slow minute of the machine hits both.
const ROUNDS: usize = 5;
const ROUND: Duration = Duration::from_millis(1500);

fn main() {
    // `cargo test --benches` only wants to know that it starts.
    if std::env::args().any(|word| word == "--test") {
        return;
    }
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .expect("a runtime");
    runtime.block_on(async {
        println!(
            "| database | orders | what | ours, a second | ceiling, a second | ratio | one at a time, ms |"
        );
        println!("|---|---|---|---|---|---|---|");
        for orders in SIZES {
            for postgres in [false, true] {
                if let Some(place) = open(orders, postgres).await {
                    measure(&place).await;
                    place.close().await;
                }
            }
        }
    });
}

async fn measure(place: &Place) {
    for (name, path, same) in place.pages() {
        let bare = bare::page(place, &path, same).await;
        let (mut ours, mut ceiling) = (Vec::new(), Vec::new());
        for _ in 0..ROUNDS {
            ours.push(reads(place, place.port, &path).await);
            ceiling.push(reads(place, bare, "/").await);
        }
        let alone = alone(place, &path).await;
        tell(place, name, &mut ours, &mut ceiling, Some(alone));
    }
    for (name, path) in place.other_pages() {
        let alone = alone(place, &path).await;
        println!(
            "| {} | {} | {name} | | | | {alone:.2} |",
            place.kind(),
            place.orders
        );
    }
    // Last, since it leaves thousands of instruments in the house, which no shop has.
    let (mut ours, mut ceiling) = (Vec::new(), Vec::new());
    for _ in 0..ROUNDS {
        ours.push(intakes(place).await);
        ceiling.push(bare::intakes(place, CLIENTS, ROUND).await);
    }
    tell(place, "intake", &mut ours, &mut ceiling, None);
}

/// Intakes a second through the whole service.
async fn intakes(place: &Place) -> f64 {
    let clients = (0..CLIENTS).map(|which| {
        let (port, token, body) = (place.port, place.token.clone(), place.intake_body());
        tokio::spawn(async move {
            let mut client = Client::connect(port).await;
            let (start, mut done) = (Instant::now(), 0_u32);
            while start.elapsed() < ROUND {
                let key = format!("{which}-{done}-{start:?}");
                let head = format!("authorization: Bearer {token}\r\nidempotency-key: {key}\r\ncontent-type: application/json\r\n");
                let status = client.send("POST", "/api/v1/orders", &head, &body).await;
                assert_eq!(status, 201, "an intake is taken in");
                done += 1;
            }
            done
        })
    });
    rate(clients.collect()).await
}

/// Pages a second.
async fn reads(place: &Place, port: u16, path: &str) -> f64 {
    let clients = (0..CLIENTS).map(|_| {
        let (cookie, path) = (place.cookie.clone(), path.to_owned());
        tokio::spawn(async move {
            let mut client = Client::connect(port).await;
            let (start, mut done) = (Instant::now(), 0_u32);
            while start.elapsed() < ROUND {
                let status = client
                    .send("GET", &path, &format!("cookie: {cookie}\r\n"), "")
                    .await;
                assert_eq!(status, 200, "the page is there");
                done += 1;
            }
            done
        })
    });
    rate(clients.collect()).await
}

/// Milliseconds of one page while nobody else asks: the median of many.
async fn alone(place: &Place, path: &str) -> f64 {
    let mut client = Client::connect(place.port).await;
    let head = format!("cookie: {}\r\n", place.cookie);
    let mut times = Vec::new();
    for _ in 0..60 {
        let start = Instant::now();
        let status = client.send("GET", path, &head, "").await;
        assert_eq!(status, 200, "the page is there");
        times.push(start.elapsed().as_secs_f64() * 1000.0);
    }
    median(&mut times)
}

async fn rate(clients: Vec<tokio::task::JoinHandle<u32>>) -> f64 {
    let start = Instant::now();
    let mut done = 0;
    for client in clients {
        done += client.await.expect("a client that ends");
    }
    f64::from(done) / start.elapsed().as_secs_f64()
}

fn median(of: &mut [f64]) -> f64 {
    of.sort_by(f64::total_cmp);
    of[of.len() / 2]
}

fn tell(place: &Place, what: &str, ours: &mut [f64], ceiling: &mut [f64], alone: Option<f64>) {
    let (ours, ceiling) = (median(ours), median(ceiling));
    let alone = alone.map_or(String::new(), |ms| format!("{ms:.2}"));
    let ratio = ours / ceiling;
    println!(
        "| {} | {} | {what} | {ours:.0} | {ceiling:.0} | {ratio:.2} | {alone} |",
        place.kind(),
        place.orders
    );
}
