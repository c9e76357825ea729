//! The counts of the reports against recounts from the rows, and rows that fit together, by plain SQL.

use std::collections::BTreeMap;

use purfle::clock::{Day, YearMonth};
use purfle::counter::tag;
use purfle::db::Db;
use purfle::diagnosis::age::AgeBand;

use super::rows::all;
use super::{filled, wish};
use crate::shop::on_both;

const ORDERS: u64 = 300;

#[test]
fn the_counts_are_those_of_the_rows() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(ORDERS, 11)).await;
        assert_eq!(tally(db).await, recount(db).await);
        jobs(db).await;
        money(db).await;
        comebacks(db).await;
    });
}

/// Orders by month, family, age band and cause.
pub type Cells = BTreeMap<(i64, String, String, String), i64>;

pub async fn tally(db: &Db) -> Cells {
    type Row = (i64, String, String, String, i64);
    let rows: Vec<Row> = all(db, "select month, family, age_band, cause, orders from tally").await;
    rows.into_iter()
        .map(|row| ((row.0, row.1, row.2, row.3), row.4))
        .collect()
}

/// Inspected, and confirmed by cause, straight from orders and findings.
pub async fn recount(db: &Db) -> Cells {
    type Row = (Day, String, Option<i64>, String, i64);
    let inspected: Vec<Row> = all(
        db,
        "select o.received_on, i.family, i.year_made, '' as cause, count(*) from work_order o
         join instrument i on i.id = o.instrument where o.inspected_on is not null group by 1, 2, 3",
    )
    .await;
    let confirmed: Vec<Row> = all(
        db,
        "select received_on, family, year_made, cause, count(*) from (select distinct o.id, o.received_on, i.family,
         i.year_made, f.cause from finding f join work_order o on o.id = f.work_order
         join instrument i on i.id = o.instrument where f.certainty = 'confirmed' and not f.withdrawn) c
         group by 1, 2, 3, 4",
    )
    .await;
    assert!(inspected.len() > 5 && confirmed.len() > 5);
    let mut cells = Cells::new();
    for (day, family, year_made, cause, orders) in inspected.into_iter().chain(confirmed) {
        let band = AgeBand::at(year_made, day.year()).code().to_owned();
        *cells.entry((day.month().0, family, band, cause)).or_default() += orders;
    }
    cells
}

async fn jobs(db: &Db) {
    type Kept = (i64, String, i64, i64, i64);
    let kept: Vec<Kept> = all(
        db,
        "select month, job, steps, planned_minutes, actual_minutes from job_tally order by month, job",
    )
    .await;
    let done: Vec<(Day, String, i64, i64)> = all(
        db,
        "select done_on, coalesce(job, ''), planned_minutes, actual_minutes from repair_step where done_on is not null",
    )
    .await;
    let mut counted: BTreeMap<(i64, String), [i64; 3]> = BTreeMap::new();
    for (day, job, planned, actual) in done {
        let sums = counted.entry((day.month().0, job)).or_default();
        *sums = [sums[0] + 1, sums[1] + planned, sums[2] + actual];
    }
    let kept: BTreeMap<_, _> = kept
        .into_iter()
        .map(|row| ((row.0, row.1), [row.2, row.3, row.4]))
        .collect();
    assert_eq!(kept, counted);
}

/// Labour of each step rounded to the cent, parts as they are, tax once on both: they carry the same rate here.
async fn money(db: &Db) {
    let kept: Vec<(YearMonth, String, i64, i64)> =
        all(db, "select month, kind, amount, orders from money_tally").await;
    let kept: BTreeMap<_, _> = kept
        .into_iter()
        .map(|row| ((row.0, row.1), [row.2, row.3]))
        .collect();
    let charged: Vec<(Day, i64, i64)> = all(
        db,
        "select o.collected_on,
           cast(coalesce((select sum((s.planned_minutes * s.rate + 30) / 60) from repair_step s
             where s.work_order = o.id and s.done_at is not null and not s.free), 0) as bigint),
           cast(coalesce((select sum(p.quantity * p.unit_price) from part p join repair_step s on s.id = p.step
             where s.work_order = o.id and s.done_at is not null and not s.free), 0) as bigint)
         from work_order o where o.collected_on is not null",
    )
    .await;
    let mut counted: BTreeMap<(YearMonth, String), [i64; 2]> = BTreeMap::new();
    let mut count = |day: Day, kind: &str, amount: i64| {
        let sums = counted.entry((day.month(), kind.into())).or_default();
        *sums = [sums[0] + amount, sums[1] + 1];
    };
    for (day, labour, parts) in charged {
        count(day, "charged_labour", labour);
        count(day, "charged_parts", parts);
        count(
            day,
            "charged_tax",
            ((labour + parts) * 200_000 + 500_000) / 1_000_000,
        );
    }
    let paid: Vec<(Day, String, i64)> = all(db, "select paid_on, method, amount from payment").await;
    for (day, method, amount) in paid {
        count(day, &format!("taken_{method}"), amount);
    }
    assert_eq!(kept, counted);
}

async fn comebacks(db: &Db) {
    let kept: Vec<(YearMonth, String, i64)> =
        all(db, "select month, cause, orders from comeback_tally").await;
    let kept: BTreeMap<_, _> = kept.into_iter().map(|row| ((row.0, row.1), row.2)).collect();
    // The newest pickup before, on which the same cause had been repaired.
    let found: Vec<(Day, String, Option<i64>, Option<i64>)> = all(
        db,
        "select o.received_on, f.cause, o.received_on - (select max(e.collected_on) from finding g
           join work_order e on e.id = g.work_order where g.instrument = f.instrument and g.cause = f.cause
           and g.certainty = 'confirmed' and e.id <> o.id and e.stage = 'collected' and e.collected_on <= o.received_on
           and exists (select 1 from repair_step s where s.work_order = e.id and s.done_at is not null
             and (s.finding is null or s.finding = g.id))), f.comeback_days
         from finding f join work_order o on o.id = f.work_order where f.certainty = 'confirmed'",
    )
    .await;
    assert!(found.iter().any(|row| row.2.is_some()), "nothing came back");
    let mut counted: BTreeMap<(YearMonth, String), i64> = BTreeMap::new();
    for (day, cause, days, said) in found {
        assert_eq!(days, said);
        if days.is_some_and(|days| days <= 90) {
            *counted.entry((day.month(), cause)).or_default() += 1;
        }
    }
    assert_eq!(kept, counted);
}

/// Each names orders that cannot be; there are none.
const IMPOSSIBLE: [(&str, &str); 16] = [
    ("taken in, yet something stands on it", "select count(*) from work_order o where stage = 'received' and (inspected_on is not null
       or exists (select 1 from repair_step s where s.work_order = o.id) or exists (select 1 from cause_check c where c.work_order = o.id))"),
    ("looked at, yet nobody looked", "select count(*) from work_order o where stage = 'inspecting' and not exists
       (select 1 from cause_check c where c.work_order = o.id) and not exists (select 1 from finding f where f.work_order = o.id)"),
    ("inspected without a check, a finding or nothing found, or the other way round", "select count(*) from work_order o
       join instrument i on i.id = o.instrument where (inspected_on is not null) <> (i.family <> 'bow' and (coalesce(returned_why, '') = 'nothing_found'
       or exists (select 1 from cause_check c where c.work_order = o.id) or exists (select 1 from finding f where f.work_order = o.id)))"),
    ("waits for an answer without need", "select count(*) from work_order where stage = 'awaiting_approval' and estimate <= greatest_agreed"),
    ("goes ahead beyond what was agreed", "select count(*) from work_order where stage in ('approved', 'in_repair') and estimate > greatest_agreed"),
    ("goes ahead with nothing to do, or with something done", "select count(*) from work_order o where stage = 'approved' and (not exists
       (select 1 from repair_step s where s.work_order = o.id and s.done_at is null) or exists (select 1 from repair_step s where s.work_order = o.id and s.done_at is not null))"),
    ("in repair with nothing left or nothing done", "select count(*) from work_order o where stage = 'in_repair' and (not exists
       (select 1 from repair_step s where s.work_order = o.id and s.done_at is null) or not exists (select 1 from repair_step s where s.work_order = o.id and s.done_at is not null))"),
    ("ready or collected without a quiet play test, or not ready on a day", "select count(*) from work_order o where stage in ('ready', 'collected') and (ready_on is null
       or not exists (select 1 from play_test p where p.work_order = o.id and p.result = 'quiet'))"),
    ("collected or not, and both", "select count(*) from work_order where (stage = 'collected' and collected_at is null) or ((collected_at is null) <> (collected_on is null))
       or ((collected_at is null) <> (collected_by = '')) or (collected_at is not null and stage not in ('collected', 'returned'))"),
    ("returned without a reason, or with one and not returned", "select count(*) from work_order where (stage = 'returned') <> (returned_why is not null)"),
    ("days out of order", "select count(*) from work_order where inspected_on < received_on or ready_on < received_on or collected_on < received_on
       or collected_on < ready_on or promised_on < received_on"),
    ("taken in again before it went home", "select count(*) from work_order a join work_order b on b.instrument = a.instrument and b.id <> a.id
       and b.received_at > a.received_at where a.collected_at is null or b.received_at < a.collected_at"),
    ("somebody else's instrument", "select count(*) from work_order o join instrument i on i.id = o.instrument where o.customer <> i.customer"),
    ("a cause that the family cannot have", "select count(*) from finding f join instrument i on i.id = f.instrument join cause c on c.code = f.cause
       where ';' || c.families || ';' not like '%;' || i.family || ';%'"),
    ("made after it came", "select count(*) from work_order o join instrument i on i.id = o.instrument where i.year_made > 1970 + o.received_on / 365.2425"),
    (
        "paid more than was charged, though nothing was declined",
        "select count(*) from work_order o where stage = 'collected'
         and not exists (select 1 from approval a where a.work_order = o.id and a.decision = 'declined')
         and (select coalesce(sum(p.amount), 0) from payment p where p.work_order = o.id) > (select
           coalesce(sum((s.planned_minutes * s.rate + 30) / 60), 0) * 12 / 10 + 1
           + coalesce(sum((select coalesce(sum(p.quantity * p.unit_price), 0) from part p where p.step = s.id)), 0) * 12 / 10 + 1
           from repair_step s where s.work_order = o.id and s.done_at is not null and not s.free)",
    ),
];

#[test]
fn every_order_is_one_that_can_be() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(ORDERS, 12)).await;
        for (what, sql) in IMPOSSIBLE {
            let agreed =
                "(case when coalesce(approved_up_to, 0) > coalesce(authorised_limit, 0) then approved_up_to
                           else coalesce(authorised_limit, 0) end)";
            let sql: &'static str = sql.replace("greatest_agreed", agreed).leak();
            let found: Vec<(i64,)> = all(db, sql).await;
            assert_eq!(found[0].0, 0, "{what}");
        }
        let tags: Vec<(String,)> = all(db, "select tag from work_order order by received_at, id").await;
        for (tag, number) in tags.iter().zip(1000..) {
            assert_eq!(tag.0, tag::from_number(number), "tags in the order of intake");
        }
        let next: Vec<(i64,)> = all(db, "select next from tag_counter").await;
        assert_eq!(next[0].0, 1000 + i64::try_from(tags.len()).expect("a count"));
    });
}
