//! The database: what it promises is asked of it, not hoped for.

use purfle::db::Db;

use crate::shop::{on_both, on_sqlite};

#[test]
fn sqlite_writes_ahead_keeps_fully_and_minds_its_keys_on_every_connection() {
    on_sqlite(async |shop| {
        let path = shop.folder().join("fresh.db");
        let db = Db::open(&format!("sqlite:{}", path.display()))
            .await
            .expect("a new database");
        let (version,): (String,) = db.read("select sqlite_version()").one().await.expect("a version");
        let parts: Vec<u64> = version
            .split('.')
            .map(|part| part.parse().expect("a number"))
            .collect();
        assert!(parts >= vec![3, 51, 3], "{version}");
        let ask = async |db: &Db| {
            let (journal,): (String,) = db
                .read("select * from pragma_journal_mode")
                .one()
                .await
                .expect("asked");
            let (synchronous,): (i64,) = db
                .read("select * from pragma_synchronous")
                .one()
                .await
                .expect("asked");
            let (keys,): (i64,) = db
                .read("select * from pragma_foreign_keys")
                .one()
                .await
                .expect("asked");
            assert_eq!((&*journal, synchronous, keys), ("wal", 2, 1));
        };
        // Several at once, so that all of the readers' connections answer.
        tokio::join!(ask(&db), ask(&db), ask(&db), ask(&db));
        let mut tx = db.begin().await.expect("a transaction");
        let (journal,): (String,) = tx
            .query("select * from pragma_journal_mode")
            .one()
            .await
            .expect("asked");
        let (synchronous,): (i64,) = tx
            .query("select * from pragma_synchronous")
            .one()
            .await
            .expect("asked");
        let (keys,): (i64,) = tx
            .query("select * from pragma_foreign_keys")
            .one()
            .await
            .expect("asked");
        assert_eq!((&*journal, synchronous, keys), ("wal", 2, 1));
        drop(tx);
        db.close().await;
    });
}

#[test]
fn a_reader_of_sqlite_cannot_write() {
    on_sqlite(async |shop| {
        let read = shop.app.db.read("update shop set name = 'Taken'").execute().await;
        let words = read.expect_err("refused").to_string();
        assert!(words.contains("readonly"), "{words}");
        let (name,): (String,) = shop
            .app
            .db
            .read("select name from shop")
            .one()
            .await
            .expect("the name");
        assert_eq!(name, "Linden Yard Violins");
    });
}

#[test]
fn a_row_that_belongs_to_nothing_is_refused() {
    on_both(async |shop| {
        let orphan = shop
            .app
            .db
            .write("insert into session (token_hash, staff, device, created_at, seen_at) values ('x', $1, '', 0, 0)")
            .bind(uuid::Uuid::new_v4())
            .execute()
            .await;
        assert!(
            orphan
                .expect_err("refused")
                .as_database_error()
                .is_some_and(sqlx::error::DatabaseError::is_foreign_key_violation)
        );
        assert_eq!(shop.count("session").await, 0);
    });
}
