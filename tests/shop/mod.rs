//! A shop of its own for each test, on SQLite and on PostgreSQL, with somebody of each part in it.

mod browser;
mod house;
pub mod order;
mod program;

use std::path::PathBuf;
use std::sync::OnceLock;

use axum::Router;
use purfle::admin::check::check;
use purfle::admin::shop::Shop as Settings;
use purfle::app::App;
use purfle::catalogue::seed;
use purfle::clock::{Clock, Moment};
use purfle::db::Db;
use purfle::money::{Money, Rate};
use purfle::reports::bands::Bands;
use purfle::reports::recount::{Amiss, Recount};
use purfle::staff::{Staff, name_key, session, sign_in};
use uuid::Uuid;

pub use browser::{Browser, Page};
pub use program::{Answer, Program};

/// Tue 10 Feb 2026, 10:00 in Vienna.
pub const NOW: Moment = Moment(1_770_714_000_000);
pub const ADDRESS: &str = "http://shop.test";
/// The password of everybody in a test's shop.
pub const PASSWORD: &str = "seven quiet strings";

pub struct Shop {
    pub app: App,
    pub service: Router,
    pub clock: Clock,
    /// Where its database is, as the command line takes it.
    pub url: String,
    place: Place,
}

/// Where the database is, taken away at the end.
enum Place {
    File(PathBuf),
    Postgres,
}
impl Drop for Place {
    fn drop(&mut self) {
        if let Place::File(path) = self {
            let _ = std::fs::remove_dir_all(path);
        }
    }
}

/// Runs a test on SQLite, and on PostgreSQL when there is one.
pub fn on_both(test: impl AsyncFn(Shop)) {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .expect("a runtime");
    runtime.block_on(async {
        test(Shop::on_sqlite().await).await;
        match std::env::var("PURFLE_TEST_POSTGRES") {
            Ok(url) => {
                let shop = Shop::on_postgres(&url).await;
                let db = shop.app.db.clone();
                test(shop).await;
                db.close().await;
            }
            Err(_) => assert!(
                std::env::var("PURFLE_TEST_REQUIRE_POSTGRES").is_err(),
                "PURFLE_TEST_POSTGRES must name a PostgreSQL server for the tests"
            ),
        }
    });
}

/// Runs a test of what only a server can do: go away. Without PostgreSQL nothing is shown, and said so.
pub fn on_postgres(test: impl AsyncFn(Shop)) {
    let Ok(url) = std::env::var("PURFLE_TEST_POSTGRES") else {
        assert!(
            std::env::var("PURFLE_TEST_REQUIRE_POSTGRES").is_err(),
            "PURFLE_TEST_POSTGRES must name a PostgreSQL server for the tests"
        );
        println!("left out: PURFLE_TEST_POSTGRES names no server");
        return;
    };
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .expect("a runtime");
    runtime.block_on(async {
        let shop = Shop::on_postgres(&url).await;
        let db = shop.app.db.clone();
        test(shop).await;
        db.close().await;
    });
}

/// Runs a test of what only files have: locks, markers, pragmas.
pub fn on_sqlite(test: impl AsyncFn(Shop)) {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .expect("a runtime");
    runtime.block_on(async { test(Shop::on_sqlite().await).await });
}

fn scratch() -> PathBuf {
    let path = std::env::temp_dir().join(format!("purfle-test-{}", Uuid::new_v4()));
    std::fs::create_dir_all(&path).expect("a scratch folder");
    path
}

impl Shop {
    /// Copies a database that was migrated, seeded and set up once.
    pub async fn on_sqlite() -> Shop {
        static TEMPLATE: tokio::sync::OnceCell<PathBuf> = tokio::sync::OnceCell::const_new();
        let template = TEMPLATE
            .get_or_init(|| async {
                let path = scratch().join("template.db");
                let db = Db::open(&format!("sqlite:{}", path.display()))
                    .await
                    .expect("a new database");
                furnish(&db).await;
                db.close().await;
                path
            })
            .await;
        let folder = scratch();
        let path = folder.join("shop.db");
        std::fs::copy(template, &path).expect("a copy of the template");
        let url = format!("sqlite:{}", path.display());
        Shop::around(url, Place::File(folder)).await
    }

    pub async fn on_postgres(server: &str) -> Shop {
        static TEMPLATE: tokio::sync::OnceCell<String> = tokio::sync::OnceCell::const_new();
        // One copy at a time: PostgreSQL refuses a template that somebody is connected to.
        static COPYING: tokio::sync::Mutex<()> = tokio::sync::Mutex::const_new(());
        let template = TEMPLATE
            .get_or_init(|| async {
                let name = format!("template_{}", Uuid::new_v4().simple());
                create_database(server, &name, None).await;
                let db = Db::open(&at(server, &name)).await.expect("a new database");
                furnish(&db).await;
                db.close().await;
                name
            })
            .await;
        let name = format!("shop_{}", Uuid::new_v4().simple());
        {
            let _copying = COPYING.lock().await;
            create_database(server, &name, Some(template)).await;
        }
        Shop::around(at(server, &name), Place::Postgres).await
    }

    /// In a database of PostgreSQL that is empty yet.
    pub async fn on_new(url: &str) -> Shop {
        let db = Db::open(url).await.expect("a new database");
        furnish(&db).await;
        db.close().await;
        Shop::around(url.to_owned(), Place::Postgres).await
    }

    /// The same shop as another server of it sees it.
    #[must_use]
    pub fn beside(&self, app: App) -> Shop {
        Shop {
            service: app.service(),
            app,
            clock: self.clock.clone(),
            url: self.url.clone(),
            place: Place::Postgres,
        }
    }

    async fn around(url: String, place: Place) -> Shop {
        let db = Db::open(&url).await.expect("the copied database");
        let clock = Clock::standing(NOW);
        let app = App::new(db, clock.clone(), ADDRESS.into());
        Shop {
            service: app.service(),
            app,
            clock,
            url,
            place,
        }
    }

    /// The folder of an SQLite shop.
    pub fn folder(&self) -> &std::path::Path {
        match &self.place {
            Place::File(path) => path,
            Place::Postgres => panic!("PostgreSQL has no folder here"),
        }
    }

    /// A browser in which somebody of this part signed in: `counter`, `bench` or `owner`.
    pub async fn sign_in(&self, role: &str) -> Browser {
        let person = Staff::named(&self.app.db, role)
            .await
            .expect("the staff")
            .expect("somebody of that part");
        let mut tx = self.app.db.begin().await.expect("a transaction");
        let secret = session::begin(&mut tx, person.id, "test", self.clock.now())
            .await
            .expect("a session");
        tx.commit().await.expect("kept");
        Browser::new(self.service.clone(), Some(secret))
    }

    /// A browser nobody signed in with.
    pub fn stranger(&self) -> Browser {
        Browser::new(self.service.clone(), None)
    }

    /// A program with a token of this role.
    pub async fn program(&self, role: &str) -> Program {
        let token = purfle::api::token::add(&self.app.db, role, role, None, self.clock.now())
            .await
            .expect("a token");
        Program::new(self.service.clone(), Some(token))
    }

    /// Every count that is kept is what a recount finds.
    pub async fn is_well(&self) {
        let checked = check(&self.app.db).await.expect("a check");
        let of = |recount: &Recount| {
            let said = |amiss: &Amiss| format!("{}: {}", recount.words, amiss.said());
            recount.amiss.iter().map(said).collect::<Vec<_>>()
        };
        let amiss: Vec<String> = checked.recounts.iter().flat_map(of).collect();
        assert_eq!(amiss, Vec::<String>::new());
        assert!(checked.is_well());
    }

    /// How many rows a table has.
    pub async fn count(&self, table: &'static str) -> i64 {
        let sql = match table {
            "work_order" => "select count(*) from work_order",
            "customer" => "select count(*) from customer",
            "instrument" => "select count(*) from instrument",
            "cause_check" => "select count(*) from cause_check",
            "finding" => "select count(*) from finding",
            "repair_step" => "select count(*) from repair_step",
            "payment" => "select count(*) from payment",
            "story" => "select count(*) from story",
            "staff" => "select count(*) from staff",
            "session" => "select count(*) from session",
            other => panic!("say how to count {other}"),
        };
        let (count,): (i64,) = self.app.db.read(sql).one().await.expect("a count");
        count
    }
}

async fn create_database(server: &str, name: &str, template: Option<&String>) {
    let url = at(server, "postgres");
    let pool = sqlx::PgPool::connect(&url)
        .await
        .expect("the PostgreSQL of the tests");
    let from = template.map_or(String::new(), |template| format!(" template \"{template}\""));
    sqlx::raw_sql(sqlx::AssertSqlSafe(format!("create database \"{name}\"{from}")))
        .execute(&pool)
        .await
        .expect("a database");
    pool.close().await;
}

/// The server's address with another database's name.
fn at(server: &str, name: &str) -> String {
    let (base, query) = server
        .split_once('?')
        .map_or((server, None), |(base, query)| (base, Some(query)));
    let (host, _) = base.rsplit_once('/').expect("an address with a database");
    query.map_or(format!("{host}/{name}"), |query| format!("{host}/{name}?{query}"))
}

/// The catalogue, a shop in Vienna, and one person for each part, named after it.
async fn furnish(db: &Db) {
    static HASH: OnceLock<String> = OnceLock::new();
    seed::seed(db).await.expect("the catalogue");
    let hash = HASH.get_or_init(|| sign_in::hash_password(PASSWORD).expect("a hash"));
    let mut tx = db.begin().await.expect("a transaction");
    let settings = Settings {
        house: Uuid::new_v4(),
        name: "Linden Yard Violins".into(),
        address: "2 Linden Yard\nOverbrook".into(),
        phone: "01 555 0190".into(),
        zone: "Europe/Vienna".into(),
        hemisphere: "northern".into(),
        seasons: "dddccchhcccd".into(),
        currency: "EUR".into(),
        labour_rate: Money(7200),
        tax_name: "VAT".into(),
        tax_labour: Rate(200_000),
        tax_parts: Rate(200_000),
        comeback_days: 90,
        rules: purfle::reports::rules::Rules::new(&Bands::default(), 90),
        counter_fee: Money::ZERO,
        stub_terms: purfle::admin::shop::DEFAULT_TERMS.into(),
        version: 1,
        created_at: NOW,
    };
    settings.insert(&mut tx).await.expect("a shop");
    for role in ["counter", "bench", "owner"] {
        let person = Staff {
            id: Uuid::now_v7(),
            name: role.into(),
            name_key: name_key(role),
            password_hash: hash.clone(),
            counter: role == "counter",
            bench: role == "bench",
            owner: role == "owner",
            active: true,
            first_password: false,
            version: 1,
            created_at: NOW,
        };
        assert!(person.insert(&mut tx).await.expect("a person"));
    }
    tx.commit().await.expect("kept");
}
