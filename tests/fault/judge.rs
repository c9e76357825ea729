//! What must hold of a database after any fault: nothing half, nothing twice, every count as a recount finds it.

use purfle::db::Db;

use crate::shop::Shop;

async fn number(db: &Db, sql: &'static str) -> i64 {
    let (number,): (i64,) = db
        .read(sql)
        .one()
        .await
        .unwrap_or_else(|why| panic!("{sql}: {why}"));
    number
}

/// So many orders, all of them whole.
pub async fn whole(db: &Db) -> i64 {
    if db.is_sqlite() {
        let (found,): (String,) = db
            .read("select integrity_check from pragma_integrity_check")
            .one()
            .await
            .expect("looked through");
        assert_eq!(found, "ok");
        assert_eq!(
            number(db, "select count(*) from pragma_foreign_key_check").await,
            0
        );
    }
    for (sql, what) in [
        ("select count(*) - count(distinct tag) from work_order", "tags twice"),
        (
            "select count(*) from work_order o where 1 <>
             (select count(*) from story s where s.work_order = o.id and s.words = 'Taken in')",
            "orders without the first line of their story",
        ),
        (
            "select count(*) from instrument i where not exists
             (select 1 from work_order o where o.instrument = i.id)",
            "instruments without an order",
        ),
        (
            "select count(*) from customer c where not exists
             (select 1 from instrument i where i.customer = c.id)",
            "customers without an instrument",
        ),
        (
            "select (select cast(coalesce(sum(orders), 0) as bigint) from tally where cause = '')
             - (select count(*) from work_order where inspected_on is not null)",
            "inspected orders counted too many",
        ),
        (
            "select (select cast(coalesce(sum(orders), 0) as bigint) from tally where cause <> '')
             - (select count(*) from (select distinct work_order, cause from finding
                                      where certainty = 'confirmed' and not withdrawn) confirmed)",
            "confirmed causes counted too many",
        ),
        (
            "select (select cast(coalesce(sum(amount), 0) as bigint) from money_tally where kind like 'taken_%')
             - (select cast(coalesce(sum(amount), 0) as bigint) from payment)",
            "money counted too much",
        ),
        ("select count(*) from once where status = 0", "acts kept without their answer"),
    ] {
        assert_eq!(number(db, sql).await, 0, "{what}");
    }
    number(db, "select count(*) from work_order").await
}

/// How many orders say these words.
pub async fn saying(db: &Db, words: &str) -> i64 {
    let (orders,): (i64,) = db
        .read("select count(*) from work_order where words = $1")
        .bind(words.to_owned())
        .one()
        .await
        .expect("a count");
    orders
}

/// The shop's database opened anew, as the next server would.
pub async fn anew(shop: &Shop) -> Db {
    Db::open(&shop.url).await.expect("it opens")
}
