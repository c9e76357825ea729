//! The recurrence report beside a plain GROUP BY of orders and findings on the same database and beside DuckDB on the same
//! rows, the comebacks of all time, and findings with their counts kept beside findings without: in one run.
//!
//! `cargo bench --bench recurrence` fills an invented shop of 100,000 orders, or of as many as `PURFLE_BENCH_ORDERS` says
//! ("100000,1000000"), on SQLite, and on PostgreSQL where `PURFLE_TEST_POSTGRES` names a server, and prints a table. DuckDB
//! takes part where it is installed in `target/tools/duckdb`: a virtual environment of Python with what
//! `benches/recurrence/requirements.txt` says.

#[path = "recurrence/back.rs"]
mod back;
#[path = "service/client.rs"]
#[expect(dead_code, reason = "the other bench compares bodies too")]
mod client;
#[path = "recurrence/duck.rs"]
mod duck;
#[path = "recurrence/keeping.rs"]
mod keeping;
#[path = "service/place.rs"]
#[expect(dead_code, reason = "the other bench measures all pages")]
mod place;
#[path = "recurrence/plain.rs"]
mod plain;

use std::fmt::{self, Display, Formatter};
use std::future::Future;
use std::time::{Duration, Instant};

use client::Client;
use duck::Duck;
use place::{Place, open};
use purfle::clock::YearMonth;
use purfle::demo::chance::Chance;
use purfle::reports::recurrence::Recurrence;
use purfle::reports::season::Seasons;
use purfle::reports::span::Span;

const FAMILIES: [&str; 5] = ["", "violin", "viola", "cello", "bass"];
/// So many spans of each kind, taken at random.
const SPANS: usize = 40;

const HEAD: &str = "| database | orders | what | figures, ms: median, worst | GROUP BY, ms | ours to it | DuckDB, ms | ours to it \
                    | page, ms: median, worst |";

fn main() {
    // `cargo test --benches` only wants to know that it starts.
    if std::env::args().any(|word| word == "--test") {
        return;
    }
    let sizes = std::env::var("PURFLE_BENCH_ORDERS").unwrap_or("100000".into());
    let sizes: Vec<usize> = sizes
        .split(',')
        .map(|size| size.trim().parse().expect("a number of orders"))
        .collect();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .expect("a runtime");
    runtime.block_on(async {
        println!("{HEAD}");
        println!("|---|---|---|---|---|---|---|---|---|");
        for orders in sizes {
            for postgres in [false, true] {
                if let Some(place) = open(orders, postgres).await {
                    reads(&place).await;
                    back::measure(&place).await;
                    keeping::measure(&place).await;
                    place.close().await;
                }
            }
        }
    });
}

/// Each kind of span, with one taken at random; the shop's history runs from February 2020 to February 2026.
type Kind = (&'static str, fn(&mut Chance) -> Span);
const KINDS: [Kind; 5] = [
    ("any month", |chance| {
        Span::month(YearMonth(2020 * 12 + chance.range(1, 73)))
    }),
    ("any year", |chance| Span::year(chance.range(2020, 2025))),
    ("any twelve months", |chance| {
        Span::up_to(YearMonth(2020 * 12 + chance.range(12, 73)), 12)
    }),
    ("any span", |chance| {
        let from = YearMonth(2020 * 12 + chance.range(1, 73));
        Span {
            from,
            to: from.plus(chance.range(0, 72)),
        }
    }),
    ("all time", |_| Span::parse("2020-02", "2026-02").expect("a span")),
];

async fn reads(place: &Place) {
    let (db, seasons) = (&place.app.db, Seasons::northern());
    let mut client = Client::connect(place.port).await;
    let head = format!("cookie: {}\r\n", place.cookie);
    let mut duck = Duck::open(db).await;
    for (name, span) in KINDS {
        let mut chance = Chance::of(1, name, 0);
        let (mut ours, mut plain, mut ducks, mut page) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for which in 0..SPANS {
            let (span, family) = (span(&mut chance), chance.pick(&FAMILIES));
            let (ms, figures) = timed(Recurrence::read(db, span, family, &seasons)).await;
            let figures = figures.expect("figures");
            ours.push(ms);
            ducks.extend(duck.as_mut().map(|duck| duck.ask(span, family, &figures)));
            let path = format!("/month?{}&family={family}", span.query());
            let (ms, status) = timed(client.send("GET", &path, &head, "")).await;
            assert_eq!(status, 200, "the page is there");
            page.push(ms);
            // A plain count takes long: a few are enough, and both must say the same.
            if which % 8 == 0 {
                let (ms, counted) = timed(plain::read(db, span, family, &seasons)).await;
                assert_eq!(figures, counted, "{span} {family}");
                plain.push(ms);
            }
        }
        let (ours, plain) = (Times::of(ours), Times::of(plain));
        let beside = if ducks.is_empty() {
            " | ".to_owned()
        } else {
            let duck = Times::of(ducks).median;
            format!("{duck:.2} | {:.2}", ours.median / duck)
        };
        println!(
            "| {} | {} | {name} | {ours} | {:.1} | {:.4} | {beside} | {} |",
            place.kind(),
            place.orders,
            plain.median,
            ours.median / plain.median,
            Times::of(page),
        );
    }
}

/// The middle one of several times and the worst, in milliseconds.
pub struct Times {
    pub median: f64,
    worst: f64,
}

impl Times {
    pub fn of(mut times: Vec<f64>) -> Times {
        Times {
            median: median(&mut times),
            worst: times[times.len() - 1],
        }
    }
}

impl Display for Times {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        write!(f, "{:.2}, {:.2}", self.median, self.worst)
    }
}

pub async fn timed<T>(what: impl Future<Output = T>) -> (f64, T) {
    let start = Instant::now();
    let done = what.await;
    (ms(start.elapsed()), done)
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1000.0
}

pub fn median(of: &mut [f64]) -> f64 {
    of.sort_by(f64::total_cmp);
    of[of.len() / 2]
}
