//! The ceiling: the same rows into empty tables with the same indexes, by the database alone.

use std::time::Instant;

use purfle::db::Db;
use sqlx::{AssertSqlSafe, ConnectOptions, Connection, Executor};

use crate::place::Place;

/// What a visit of the book leaves rows in.
const TABLES: [&str; 14] = [
    "customer",
    "instrument",
    "work_order",
    "finding",
    "repair_step",
    "part",
    "payment",
    "story",
    "lesson",
    "old_book",
    "repaired",
    "find",
    "taught_answer",
    "tally_block",
];

/// How many rows there are, and how long copying them took, in seconds.
pub async fn copied(place: &Place) -> (i64, f64) {
    let mut rows = 0;
    for table in TABLES {
        // Safe: the names are literals above.
        let sql: &'static str = Box::leak(format!("select count(*) from {table}").into_boxed_str());
        let (count,): (i64,) = place.app.db.read(sql).one().await.expect("a count");
        rows += count;
    }
    let seconds = if place.app.db.is_sqlite() {
        on_sqlite(place).await
    } else {
        on_postgres(place).await
    };
    (rows, seconds)
}

async fn on_sqlite(place: &Place) -> f64 {
    let folder = place.folder().expect("a folder");
    let (full, bare) = (folder.join("shop.db"), folder.join("bare.db"));
    // As a shop that has nothing yet, but for the tables.
    let db = Db::open(&format!("sqlite:{}", bare.display()))
        .await
        .expect("a database");
    db.close().await;
    let options = sqlx::sqlite::SqliteConnectOptions::new()
        .filename(&bare)
        .foreign_keys(false)
        .journal_mode(sqlx::sqlite::SqliteJournalMode::Wal);
    let mut on = options.connect().await.expect("open");
    let attach = format!("attach '{}' as full_shop", full.display());
    on.execute(AssertSqlSafe(attach)).await.expect("attached");
    let begun = Instant::now();
    on.execute("begin immediate").await.expect("begun");
    for table in TABLES {
        let all = format!("insert or replace into main.{table} select * from full_shop.{table}");
        on.execute(AssertSqlSafe(all)).await.expect(table);
    }
    on.execute("commit").await.expect("kept");
    let seconds = begun.elapsed().as_secs_f64();
    on.close().await.expect("closed");
    seconds
}

async fn on_postgres(place: &Place) -> f64 {
    let mut on = sqlx::PgConnection::connect(place.url()).await.expect("connected");
    on.execute("create schema bare").await.expect("a schema");
    for table in TABLES {
        let like = format!("create table bare.{table} (like public.{table} including all)");
        on.execute(AssertSqlSafe(like)).await.expect(table);
    }
    let begun = Instant::now();
    on.execute("begin").await.expect("begun");
    for table in TABLES {
        let all = format!("insert into bare.{table} select * from public.{table}");
        on.execute(AssertSqlSafe(all)).await.expect(table);
    }
    on.execute("commit").await.expect("kept");
    let seconds = begun.elapsed().as_secs_f64();
    on.close().await.expect("closed");
    seconds
}
