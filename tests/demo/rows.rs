//! All rows of a shop, each as text, in an order that both databases give.

use purfle::admin::shop::Shop;
use purfle::bench::approval::Approval;
use purfle::bench::check::Check;
use purfle::bench::finding::Finding;
use purfle::bench::play_test::PlayTest;
use purfle::bench::step::{Part, Step};
use purfle::clock::YearMonth;
use purfle::counter::customer::Customer;
use purfle::counter::instrument::Instrument;
use purfle::counter::order::Order;
use purfle::counter::pickup::Payment;
use purfle::counter::story::Story;
use purfle::db::{Db, Record};
use purfle::staff::Staff;
use sha2::{Digest, Sha256};
use uuid::Uuid;

type Cell = (YearMonth, String, String, String, i64);
type Job = (YearMonth, String, i64, i64, i64);
type Money = (YearMonth, String, i64, i64);
type Back = (YearMonth, String, i64);

pub async fn all<T: Record>(db: &Db, sql: &'static str) -> Vec<T> {
    db.read(sql).all().await.expect(sql)
}

/// The counts of the reports, a line each.
pub async fn counts(db: &Db) -> Vec<String> {
    let mut lines = Vec::new();
    let sql = "select month, cause, family, age_band, orders from tally where orders <> 0 order by month, cause, family, age_band";
    lines.extend(texts(all::<Cell>(db, sql).await));
    let sql = "select month, job, steps, planned_minutes, actual_minutes from job_tally order by month, job";
    lines.extend(texts(all::<Job>(db, sql).await));
    let sql = "select month, kind, amount, orders from money_tally order by month, kind";
    lines.extend(texts(all::<Money>(db, sql).await));
    let sql = "select month, cause, orders from comeback_tally where orders <> 0 order by month, cause";
    lines.extend(texts(all::<Back>(db, sql).await));
    lines.sort();
    lines
}

fn texts<T: std::fmt::Debug>(rows: Vec<T>) -> impl Iterator<Item = String> {
    rows.into_iter().map(|row| format!("{row:?}"))
}

/// One number for everything but the passwords.
pub async fn hash(db: &Db) -> String {
    let mut lines = counts(db).await;
    let mut staff: Vec<Staff> = all(db, "select * from staff order by id").await;
    for person in &mut staff {
        person.password_hash.clear();
    }
    lines.extend(texts(staff));
    lines.extend(texts(all::<Shop>(db, "select * from shop").await));
    lines.extend(texts(
        all::<Customer>(db, "select * from customer order by id").await,
    ));
    lines.extend(texts(
        all::<Instrument>(db, "select * from instrument order by id").await,
    ));
    let mut found: Vec<(String, Uuid, Option<Uuid>)> =
        all(db, "select key, customer, instrument from find").await;
    found.sort();
    lines.extend(texts(found));
    lines.extend(texts(
        all::<Order>(db, "select * from work_order order by id").await,
    ));
    lines.extend(texts(
        all::<Check>(db, "select * from cause_check order by id").await,
    ));
    lines.extend(texts(
        all::<Finding>(db, "select * from finding order by id").await,
    ));
    lines.extend(texts(
        all::<Step>(db, "select * from repair_step order by id").await,
    ));
    lines.extend(texts(all::<Part>(db, "select * from part order by id").await));
    lines.extend(texts(
        all::<Approval>(db, "select * from approval order by id").await,
    ));
    lines.extend(texts(
        all::<PlayTest>(db, "select * from play_test order by id").await,
    ));
    lines.extend(texts(
        all::<Payment>(db, "select * from payment order by id").await,
    ));
    lines.extend(texts(all::<Story>(db, "select * from story order by id").await));
    lines.extend(texts(all::<(i64,)>(db, "select next from tag_counter").await));
    let mut sum = Sha256::new();
    for line in lines {
        sum.update(line.as_bytes());
        sum.update(b"\n");
    }
    format!("{:x?}", sum.finalize())
}
