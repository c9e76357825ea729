//! Where it is measured: an invented shop on one of the two databases, served on a port.

use std::path::PathBuf;

use purfle::app::App;
use purfle::catalogue::seed;
use purfle::clock::{Clock, Day};
use purfle::counter::order::Order;
use purfle::counter::stage::Stage;
use purfle::db::Db;
use purfle::demo::{self, Wish};
use purfle::serve::{Patience, serve};
use purfle::staff::{Staff, session};
use tokio::net::TcpListener;
use uuid::Uuid;

/// What a page reads.
#[derive(Clone, Copy)]
pub enum Reads {
    /// All that an order's page shows.
    Order,
    /// All that is in the house.
    House,
}

pub struct Place {
    pub app: App,
    pub orders: usize,
    pub port: u16,
    /// Of the owner, who sees every page.
    pub cookie: String,
    /// Of the counter.
    pub token: String,
    /// An order in the middle of its life.
    pub order: Order,
    folder: Option<PathBuf>,
    url: String,
}

/// Fills a shop and serves it; nothing when there is no PostgreSQL to be measured.
pub async fn open(orders: usize, postgres: bool) -> Option<Place> {
    let (url, folder) = if postgres {
        (on_postgres().await?, None)
    } else {
        on_sqlite()
    };
    let db = Db::open(&url).await.expect("a database");
    seed::seed(&db).await.expect("the catalogue");
    let wish = Wish {
        seed: 1,
        orders: orders as u64,
        as_of: Day::parse("2026-02-20").expect("a day"),
    };
    let hash = purfle::staff::sign_in::hash_password("seven quiet strings").expect("a hash");
    let hashes = vec![hash; demo::shop::PEOPLE.len()];
    demo::fill(&db, wish, &hashes, |_| ())
        .await
        .expect("an invented shop");
    let clock = Clock::starting_at(demo::end_of(wish.as_of));
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
    let port = listener.local_addr().expect("its address").port();
    let app = App::new(db.clone(), clock.clone(), format!("http://127.0.0.1:{port}"));
    tokio::spawn(serve(listener, app.service(), Patience::default()));
    let people = Staff::all(&db).await.expect("the staff");
    let owner = people.iter().find(|person| person.owner).expect("an owner");
    let mut tx = db.begin().await.expect("a transaction");
    let secret = session::begin(&mut tx, owner.id, "bench", clock.now())
        .await
        .expect("a session");
    tx.commit().await.expect("kept");
    let token = purfle::api::token::add(&db, "bench", "counter", None, clock.now())
        .await
        .expect("a token");
    let open = Order::in_the_shop(&db).await.expect("open orders");
    let order = open
        .into_iter()
        .find(|order| order.stage == Stage::InRepair)
        .expect("one in repair");
    Some(Place {
        app,
        orders,
        port,
        cookie: format!("purfle={secret}"),
        token,
        order,
        folder,
        url,
    })
}

fn on_sqlite() -> (String, Option<PathBuf>) {
    // Beside the build, not in the system's scratch folder, which may be memory and keep nothing.
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(Uuid::new_v4().to_string());
    std::fs::create_dir_all(&folder).expect("a folder");
    (
        format!("sqlite:{}", folder.join("shop.db").display()),
        Some(folder),
    )
}

async fn on_postgres() -> Option<String> {
    let server = std::env::var("PURFLE_TEST_POSTGRES").ok()?;
    let name = format!("bench_{}", Uuid::new_v4().simple());
    let pool = sqlx::PgPool::connect(&server)
        .await
        .expect("the PostgreSQL of the measures");
    let create = sqlx::AssertSqlSafe(format!("create database {name}"));
    sqlx::raw_sql(create).execute(&pool).await.expect("a database");
    pool.close().await;
    let (host, _) = server.rsplit_once('/').expect("an address with a database");
    Some(format!("{host}/{name}"))
}

impl Place {
    /// Where its files are, on SQLite.
    pub fn folder(&self) -> Option<&std::path::Path> {
        self.folder.as_deref()
    }

    /// The address of its database.
    pub fn url(&self) -> &str {
        &self.url
    }

    pub fn kind(&self) -> &'static str {
        if self.app.db.is_sqlite() {
            "SQLite"
        } else {
            "PostgreSQL"
        }
    }

    /// Pages that are held against a bare handler.
    pub fn pages(&self) -> Vec<(&'static str, String, Reads)> {
        vec![
            ("order page", format!("/orders/{}", self.order.tag), Reads::Order),
            ("today", "/".to_owned(), Reads::House),
        ]
    }

    /// Pages whose time alone is told.
    pub fn other_pages(&self) -> Vec<(&'static str, String)> {
        let tag = &self.order.tag;
        vec![
            ("bench", "/bench".to_owned()),
            ("intake", format!("/intake?customer={}", self.order.customer)),
            ("customer", format!("/customers/{}", self.order.customer)),
            ("instrument", format!("/instruments/{}", self.order.instrument)),
            ("papers", format!("/orders/{tag}/papers")),
            ("tag", format!("/orders/{tag}/tag?size=label")),
            ("stub", format!("/orders/{tag}/stub?size=label")),
            ("summary", format!("/orders/{tag}/summary")),
            ("pickup", format!("/orders/{tag}/pickup")),
            ("catalogue", "/catalogue".to_owned()),
            ("month", "/month".to_owned()),
            ("month, all time", "/month?from=2020-02&to=2026-02".to_owned()),
            ("settings", "/settings".to_owned()),
            ("staff", "/staff".to_owned()),
        ]
    }

    /// A known customer with a known instrument and a few answers.
    pub fn intake_body(&self) -> String {
        serde_json::json!({
            "customer": {"id": self.order.customer},
            "instrument": {"id": self.order.instrument},
            "complaint": {
                "words": "It buzzes on the A string since the new strings.",
                "answers": {"onset": "sudden", "which_strings": "one", "tailpiece_touched": "yes"},
                "buzz_at": {"string": "A", "note": "B4"}
            },
            "items_left": ["Case", "Bow"],
            "authorised_limit": 8000
        })
        .to_string()
    }

    pub async fn close(&self) {
        self.app.db.close().await;
        if let Some(folder) = &self.folder {
            let _ = std::fs::remove_dir_all(folder);
        }
    }
}
