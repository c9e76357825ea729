//! All rows of a shop, each as text, in an order that both databases give.

use purfle::admin::shop::Shop;
use purfle::bench::approval::Approval;
use purfle::bench::check::Check;
use purfle::bench::finding::Finding;
use purfle::bench::play_test::PlayTest;
use purfle::bench::step::{Part, Step};
use purfle::climate::day::AirDay;
use purfle::climate::reading::Reading;
use purfle::clock::YearMonth;
use purfle::counter::customer::Customer;
use purfle::counter::instrument::Instrument;
use purfle::counter::order::Order;
use purfle::counter::pickup::Payment;
use purfle::counter::story::Story;
use purfle::db::{Db, Record};
use purfle::diagnosis::learn::TaughtAnswer;
use purfle::diagnosis::lesson::Lesson;
use purfle::diagnosis::models::Stand;
use purfle::staff::Staff;
use sha2::{Digest, Sha256};
use uuid::Uuid;

type Cell = (YearMonth, String, String, String, i64);
type Job = (YearMonth, String, i64, i64, i64);
type Money = (YearMonth, String, i64, i64);
type Back = (YearMonth, String, i64);
/// What was repaired; that some are gone is not told by an act on an order.
type Watched = (
    String,
    String,
    String,
    String,
    Option<i64>,
    i64,
    Option<String>,
    i64,
    Option<i64>,
);

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
    let sql = "select o.tag, r.cause, r.family, r.job, r.age, r.month, s.name, r.collected_on, r.back_on from repaired r
               join work_order o on o.id = r.work_order left join staff s on s.id = r.technician";
    lines.extend(texts(all::<Watched>(db, sql).await));
    let sql = "select family, cause, age_band, month, orders, lesson from taught_share where orders <> 0";
    let shares: Vec<(String, String, String, i64, i64, i64)> = all(db, sql).await;
    let last = shares.iter().map(|row| row.5).max().unwrap_or(0);
    lines.extend(texts(
        shares.into_iter().map(|row| (row.0, row.1, row.2, row.3, row.4)),
    ));
    let answers: Vec<TaughtAnswer> = all(
        db,
        "select cause, descriptor, answer, orders from taught_answer where orders <> 0",
    )
    .await;
    lines.extend(texts(answers));
    let sql = "select month, ranking, what, at, orders, hits, amount from score_tally";
    lines.extend(texts(
        all::<(YearMonth, String, String, i64, i64, i64, i64)>(db, sql).await,
    ));
    let stand: Stand = all(db, "select * from diagnosis").await.remove(0);
    assert_eq!(stand.lessons, last, "the last lesson stands on what it changed");
    lines.push(format!(
        "{} {} {} {}",
        stand.lessons, stand.tempered, stand.temper, stand.behind
    ));
    lines.sort();
    lines
}

/// What an order taught, and how it was scored.
pub async fn taught(db: &Db, order: Uuid) -> String {
    let lesson: Option<(String, String, i64, String, String)> = db
        .read("select family, age_band, month, causes, answers from lesson where work_order = $1")
        .bind(order)
        .optional()
        .await
        .expect("a lesson");
    let scored: Option<(YearMonth, String, i64, i64, String, String)> = db
        .read("select month, cause, checks, minutes, temper, marks from scored where work_order = $1")
        .bind(order)
        .optional()
        .await
        .expect("marks");
    format!("{lesson:?} {scored:?}")
}

fn texts<T: std::fmt::Debug>(rows: impl IntoIterator<Item = T>) -> impl Iterator<Item = String> {
    rows.into_iter().map(|row| format!("{row:?}"))
}

/// One number for everything but the passwords.
pub async fn hash(db: &Db) -> String {
    type Scored = (Uuid, YearMonth, String, i64, i64, String, String);
    let mut lines = counts(db).await;
    let mut staff: Vec<Staff> = all(db, "select * from staff order by id").await;
    for person in &mut staff {
        person.password_hash.clear();
    }
    lines.extend(texts(staff));
    lines.extend(texts(
        Shop::find(db)
            .await
            .expect("the shop")
            .into_iter()
            .collect::<Vec<_>>(),
    ));
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
    lines.extend(texts(
        all::<Lesson>(db, "select * from lesson order by work_order").await,
    ));
    lines.extend(texts(
        all::<Reading>(db, "select * from reading order by at").await,
    ));
    lines.extend(texts(
        all::<AirDay>(db, "select * from air_day order by day").await,
    ));
    let sql =
        "select work_order, month, cause, checks, minutes, temper, marks from scored order by work_order";
    lines.extend(texts(all::<Scored>(db, sql).await));
    let mut sum = Sha256::new();
    for line in lines {
        sum.update(line.as_bytes());
        sum.update(b"\n");
    }
    format!("{:x?}", sum.finalize())
}
