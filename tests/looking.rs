//! Looking changes nothing: every address that can be read, on orders of every stage, and the database as it was.

use std::collections::BTreeMap;

use purfle::db::Db;
use purfle::routes::all;
use uuid::Uuid;

use crate::ears_page::invented;
use crate::shop::{NOW, on_both};

/// The only columns that looking may change: when somebody was last seen.
const LAST_SEEN: [(&str, &str); 1] = [("session", "seen_at")];

async fn column(db: &Db, sql: String) -> Vec<String> {
    // Made of the names that the database itself told; kept until the tests end.
    let sql: &'static str = Box::leak(sql.into_boxed_str());
    let rows: Vec<(String,)> = db.read(sql).all().await.expect("rows");
    rows.into_iter().map(|row| row.0).collect()
}

/// Every row of every table, as text.
pub async fn rows(db: &Db) -> BTreeMap<String, Vec<String>> {
    let sqlite = matches!(db, Db::Sqlite { .. });
    let (tables, quote) = if sqlite {
        (
            "select name from sqlite_master where type = 'table' and name not like 'sqlite_%'",
            "quote",
        )
    } else {
        (
            "select cast(table_name as text) from information_schema.tables
             where table_schema = current_schema() and table_type = 'BASE TABLE'",
            "quote_nullable",
        )
    };
    let mut all = BTreeMap::new();
    for table in column(db, tables.to_owned()).await {
        let named = if sqlite {
            format!("select name from pragma_table_info('{table}')")
        } else {
            format!(
                "select cast(column_name as text) from information_schema.columns where table_schema = current_schema() and table_name = '{table}'"
            )
        };
        let columns = column(db, named).await;
        let kept = columns
            .iter()
            .filter(|name| !LAST_SEEN.contains(&(&*table, name.as_str())));
        let parts: Vec<String> = kept.map(|name| format!("{quote}(\"{name}\")")).collect();
        let mut rows = column(
            db,
            format!("select {} from \"{table}\"", parts.join(" || '|' || ")),
        )
        .await;
        rows.sort_unstable();
        all.insert(table, rows);
    }
    all
}

async fn an_id(db: &Db, sql: &'static str) -> String {
    let (id,): (Uuid,) = db.read(sql).one().await.expect("one");
    id.to_string()
}

/// The addresses of the list with what is there in their places; those of an order once for each stage.
async fn addresses(db: &Db) -> Vec<String> {
    let tags = column(db, "select min(tag) from work_order group by stage".into()).await;
    assert!(tags.len() > 6, "orders of most stages: {tags:?}");
    let customer = an_id(db, "select id from customer order by id limit 1").await;
    let instrument = an_id(db, "select id from instrument order by id limit 1").await;
    let person = an_id(db, "select id from staff order by id limit 1").await;
    let there = [
        ("/customers/{id}", format!("/customers/{customer}")),
        ("/instruments/{id}", format!("/instruments/{instrument}")),
        ("/staff/{id}", format!("/staff/{person}")),
        ("{customer}", customer),
        ("{instrument}", instrument),
        ("{person}", person),
        ("/causes/{code}", "/causes/nut_loose".into()),
        ("/jobs/{code}", "/jobs/reglue_nut".into()),
        ("/questions/{code}", "/questions/character".into()),
        ("{cause}", "nut_loose".into()),
        ("{job}", "reglue_nut".into()),
        ("{question}", "character".into()),
        ("{descriptor}", "character".into()),
    ];
    let beside = "/api/v1/reports/recurrence/beside?by=size&from=2025-12&to=2026-01";
    let mut addresses: Vec<String> = [
        "/api/v1/reports/recurrence",
        "/api/v1/diagnosis/score",
        "/month",
        "/ears",
    ]
    .map(|path| format!("{path}?from=2025-12&to=2026-01"))
    .into();
    addresses.push(beside.to_owned());
    for (_, path) in all().list {
        let filled = there
            .iter()
            .fold(path.to_owned(), |path, (from, to)| path.replace(from, to));
        for tag in &tags {
            addresses.push(filled.replace("{tag}", tag).replace("{order}", tag));
        }
    }
    addresses.sort_unstable();
    addresses.dedup();
    addresses
}

#[test]
fn whatever_is_only_looked_at_stays_as_it_is() {
    on_both(async |shop| {
        let shop = invented(&shop).await;
        let (owner, program) = (shop.sign_in("owner").await, shop.program("owner").await);
        let addresses = addresses(&shop.app.db).await;
        let before = rows(&shop.app.db).await;
        // Later, so that the session is seen anew.
        shop.clock.set(NOW.plus_ms(3_600_000));
        let mut seen = BTreeMap::new();
        for path in &addresses {
            let status = if path.starts_with("/api/v1/") {
                program.get(path).await.status
            } else {
                owner.get(path).await.status
            };
            assert!(!status.is_server_error(), "{status} at {path}");
            *seen.entry(status.as_u16()).or_insert(0) += 1;
        }
        assert!(seen[&200] > 100, "{seen:?}");
        let after = rows(&shop.app.db).await;
        assert!(before["work_order"].len() > 100 && before["story"].len() > 500);
        for (table, rows) in &before {
            assert!(*rows == after[table], "{table} was changed by looking");
        }
        assert_eq!(before.len(), after.len());
        let asked = "select count(*) from session where seen_at > created_at";
        let (seen_anew,): (i64,) = shop.app.db.read(asked).one().await.expect("a count");
        assert_eq!(seen_anew, 1);
    });
}
