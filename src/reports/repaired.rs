//! Repaired is a cause that was put right on an order and went home: what may come back, and the day on which it did.
//!
//! The definition is here and nowhere else. A cause is **repaired** on an order once the order is collected with a
//! confirmed finding of it that stands, and with a step done that was planned for it, or for no finding in particular.
//! Its **job** is that of the step that took longest among those planned for it, or else among the others; free words are
//! a job without a name. It is **back** on the day on which the next visit was received on which the same cause was
//! confirmed on this instrument, not before the day of the pickup.

use std::collections::HashSet;

use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::{Day, YearMonth};
use crate::db::{Query, Read, Tx, insert_rows};
use crate::error::Result;

use super::bands::age;
use super::group;
use super::recount::{Amiss, Counted, PAGE, Recount};

/// One cause, repaired on one order.
#[derive(Clone, Debug, PartialEq, Eq, Hash, FromRow)]
pub struct Repaired {
    pub work_order: Uuid,
    pub instrument: Uuid,
    pub cause: String,
    pub family: String,
    /// Empty for free words.
    pub job: String,
    /// At intake, in years; nothing if it is not known.
    pub age: Option<i64>,
    /// The group of its size, as it is known now.
    pub size: String,
    /// That of the account whose order it is, as it is known now.
    pub account: String,
    /// Of the day it was received, 0 for January.
    pub month: i64,
    /// Who did that job; nobody where a program with a token did.
    pub technician: Option<Uuid>,
    pub collected_on: Day,
    pub back_on: Option<Day>,
    /// From when on the instrument was seen no longer.
    pub gone_on: Option<Day>,
}

/// Of which causes an act changes what was repaired on an instrument, or whether it came back.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Repairs {
    #[default]
    Unchanged,
    /// Of one: the others of the instrument need no look.
    Of(String),
    All,
}

impl Repairs {
    /// Those of one cause, too.
    pub fn and_of(&mut self, cause: &str) {
        *self = match self {
            Repairs::Unchanged => Repairs::Of(cause.to_owned()),
            Repairs::Of(known) if known == cause => return,
            _ => Repairs::All,
        };
    }
}

/// As it follows from the history.
#[derive(FromRow)]
struct Due {
    work_order: Uuid,
    instrument: Uuid,
    cause: String,
    family: String,
    size: String,
    year_made: Option<i64>,
    kind: String,
    job: String,
    technician: Option<Uuid>,
    received_on: Day,
    collected_on: Day,
    back_on: Option<Day>,
    gone_on: Option<Day>,
}

/// Every step that may be the main one, the main one of each order and cause first.
///
/// The cross joins have SQLite begin with the findings that are meant, and the sum with nothing has PostgreSQL not begin with
/// all that was ever collected: neither knows how much there is in a shop that filled up today.
macro_rules! due {
    ($which:literal) => {
        concat!(
            "select o.id as work_order, o.instrument, f.cause, i.family, i.size, i.year_made, c.kind,
             coalesce(s.job, '') as job,
             s.done_by as technician, o.received_on, o.collected_on,
             (select min(n.received_on) from finding g cross join work_order n
              where n.id = g.work_order and g.instrument = f.instrument and g.cause = f.cause
              and g.certainty = 'confirmed' and not g.withdrawn
              and n.received_at > o.received_at and n.received_on >= o.collected_on) as back_on,
             case when w.gone_on >= o.collected_on then w.gone_on end as gone_on
             from finding f cross join work_order o cross join instrument i left join gone w on w.instrument = i.id
             cross join customer c cross join repair_step s
             where o.id = f.work_order and i.id = o.instrument and c.id = o.customer and s.work_order = o.id and s.done_at is not null
             and (s.finding is null or s.finding = f.id)
             and f.certainty = 'confirmed' and not f.withdrawn and o.stage || '' = 'collected' and ",
            $which,
            " order by o.id, f.cause, case when s.finding is null then 1 else 0 end, s.actual_minutes desc,
             s.position, s.id"
        )
    };
}

/// The main step of each order and cause.
fn mains(rows: Vec<Due>) -> Vec<Repaired> {
    let mut mains: Vec<Repaired> = Vec::with_capacity(rows.len());
    for due in rows {
        let same = |last: &Repaired| last.work_order == due.work_order && last.cause == due.cause;
        if !mains.last().is_some_and(same) {
            mains.push(due.into());
        }
    }
    mains
}

impl From<Due> for Repaired {
    fn from(due: Due) -> Repaired {
        let [size, account] = group::of_order(&due.family, &due.size, &due.kind);
        Repaired {
            work_order: due.work_order,
            instrument: due.instrument,
            cause: due.cause,
            family: due.family,
            job: due.job,
            age: age(due.year_made, due.received_on.year()),
            size: size.to_owned(),
            account: account.to_owned(),
            month: month_of(due.received_on),
            technician: due.technician,
            collected_on: due.collected_on,
            back_on: due.back_on,
            gone_on: due.gone_on,
        }
    }
}

/// The month of a day whatever the year, 0 for January.
#[must_use]
pub fn month_of(day: Day) -> i64 {
    let YearMonth(month) = day.month();
    month.rem_euclid(12)
}

/// Whoever changes what an instrument's visits say of it waits here for the other who does; before anything of its
/// orders is written, so that two acts never wait for each other.
///
/// # Errors
/// What the database says.
pub async fn begin(tx: &mut Tx, instrument: Uuid) -> Result<()> {
    tx.query("update instrument set version = version where id = $1")
        .bind(instrument)
        .execute()
        .await?;
    Ok(())
}

/// Keeps what the history of an instrument says now of these causes, once the act has written all else.
///
/// # Errors
/// What the database says.
pub async fn keep(tx: &mut Tx, instrument: Uuid, repairs: &Repairs) -> Result<()> {
    let (due, kept) = match repairs {
        Repairs::Unchanged => return Ok(()),
        Repairs::All => (
            tx.query(due!("f.instrument = $1")).bind(instrument).all().await?,
            tx.query("select * from repaired where instrument = $1")
                .bind(instrument)
                .all()
                .await?,
        ),
        Repairs::Of(cause) => (
            tx.query(due!("f.instrument = $1 and f.cause = $2"))
                .bind(instrument)
                .bind(cause.clone())
                .all()
                .await?,
            tx.query("select * from repaired where instrument = $1 and cause = $2")
                .bind(instrument)
                .bind(cause.clone())
                .all()
                .await?,
        ),
    };
    settle(tx, &mains(due), &kept).await
}

/// As [`keep`], for every instrument after one and up to another, which are not so many that they are too many at once.
///
/// # Errors
/// What the database says.
pub async fn keep_between(tx: &mut Tx, after: Uuid, last: Uuid) -> Result<()> {
    let due = tx.query(due!("f.instrument > $1 and f.instrument <= $2"));
    let due = due.bind(after).bind(last).all().await?;
    let kept = tx.query("select * from repaired where instrument > $1 and instrument <= $2");
    let kept = kept.bind(after).bind(last).all().await?;
    settle(tx, &mains(due), &kept).await
}

/// Takes away what is not due, and adds what is not kept.
async fn settle(tx: &mut Tx, due: &[Repaired], kept: &[Repaired]) -> Result<()> {
    let (is, was): (HashSet<_>, HashSet<_>) = (due.iter().collect(), kept.iter().collect());
    for gone in kept.iter().filter(|row| !is.contains(row)) {
        tx.query("delete from repaired where work_order = $1 and cause = $2")
            .bind(gone.work_order)
            .bind(gone.cause.clone())
            .execute()
            .await?;
    }
    let new: Vec<Repaired> = due.iter().filter(|row| !was.contains(row)).cloned().collect();
    insert(tx, &new).await
}

/// # Errors
/// What the database says.
pub async fn insert(tx: &mut Tx, rows: &[Repaired]) -> Result<()> {
    let into = "insert into repaired (work_order, instrument, cause, family, job, age, size, account, month,
                technician, collected_on, back_on, gone_on) values";
    insert_rows(tx, into, 13, rows, bind).await?;
    Ok(())
}

fn bind<'c>(query: Query<'c>, row: &Repaired) -> Query<'c> {
    query
        .bind(row.work_order)
        .bind(row.instrument)
        .bind(row.cause.clone())
        .bind(row.family.clone())
        .bind(row.job.clone())
        .bind(row.age)
        .bind(row.size.clone())
        .bind(row.account.clone())
        .bind(row.month)
        .bind(row.technician)
        .bind(row.collected_on)
        .bind(row.back_on)
        .bind(row.gone_on)
}

/// Whose orders a customer's are, as it was corrected.
///
/// # Errors
/// What the database says.
pub async fn move_account(tx: &mut Tx, customer: Uuid, kind: &str) -> Result<()> {
    tx.query("update repaired set account = $2 where work_order in (select id from work_order where customer = $1)")
        .bind(customer)
        .bind(group::of_account(kind))
        .execute()
        .await?;
    Ok(())
}

/// Puts everything repaired into the group of its size.
///
/// # Errors
/// What the database says.
pub async fn size_anew(tx: &mut Tx) -> Result<()> {
    let sizes: Vec<(String, String)> = tx
        .query("select distinct i.family, i.size from instrument i join repaired r on r.instrument = i.id")
        .all()
        .await?;
    for (family, size) in sizes {
        let [group, _] = group::of_order(&family, &size, "");
        tx.query(
            "update repaired set size = $3 where size <> $3
             and instrument in (select id from instrument where family = $1 and size = $2)",
        )
        .bind(family)
        .bind(size)
        .bind(group)
        .execute()
        .await?;
    }
    Ok(())
}

/// Notes the day on which what was repaired on a visit came back, unless it did before: for many orders written at once.
///
/// # Errors
/// What the database says.
pub async fn comes_back(tx: &mut Tx, visit: Uuid, cause: &str, day: Day) -> Result<()> {
    tx.query("update repaired set back_on = $3 where work_order = $1 and cause = $2 and back_on is null")
        .bind(visit)
        .bind(cause.to_owned())
        .bind(day)
        .execute()
        .await?;
    Ok(())
}

/// The last visit on which a cause was repaired on an instrument, and when it went home: not after a day.
#[derive(Clone, Debug, FromRow)]
pub struct Earlier {
    pub cause: String,
    pub work_order: Uuid,
    pub tag: String,
    pub collected_on: Day,
}

/// What was repaired on an instrument by a day, on other visits than one: of each cause the last time, newest first.
///
/// # Errors
/// What the database says.
pub async fn earlier(mut on: impl Read, instrument: Uuid, by: Day, but: Uuid) -> Result<Vec<Earlier>> {
    let mut all: Vec<Earlier> = on
        .read(
            "select r.cause, r.work_order, o.tag, r.collected_on from repaired r join work_order o on o.id = r.work_order
             where r.instrument = $1 and r.collected_on <= $2 and r.work_order <> $3
             order by r.collected_on desc, r.work_order desc",
        )
        .bind(instrument)
        .bind(by)
        .bind(but)
        .all()
        .await?;
    let mut said: Vec<String> = Vec::new();
    all.retain(|earlier| {
        let new = !said.contains(&earlier.cause);
        said.push(earlier.cause.clone());
        new
    });
    Ok(all)
}

/// The last time that a cause was repaired on an instrument by a day, on another visit than one.
///
/// # Errors
/// What the database says.
pub async fn last(
    mut on: impl Read,
    instrument: Uuid,
    cause: &str,
    (by, but): (Day, Uuid),
) -> Result<Option<Earlier>> {
    Ok(on.read(
        "select r.cause, r.work_order, o.tag, r.collected_on from repaired r join work_order o on o.id = r.work_order
         where r.instrument = $1 and r.cause = $2 and r.collected_on <= $3 and r.work_order <> $4
         order by r.collected_on desc, r.work_order desc limit 1",
    )
    .bind(instrument)
    .bind(cause.to_owned())
    .bind(by)
    .bind(but)
    .optional()
    .await?)
}

/// What was repaired since a day on the instruments of a customer, newest first: which one, the cause by name, the day.
///
/// # Errors
/// What the database says.
pub async fn of_customer(mut on: impl Read, customer: Uuid, since: Day) -> Result<Vec<(Uuid, String, Day)>> {
    Ok(on
        .read(
            "select r.instrument, c.name, max(r.collected_on) from repaired r join instrument i on i.id = r.instrument
             join cause c on c.code = r.cause where i.customer = $1 and r.collected_on >= $2
             group by r.instrument, c.name order by 3 desc, 2",
        )
        .bind(customer)
        .bind(since)
        .all()
        .await?)
}

/// All that is kept beside the same made out of the history once more, page by page.
///
/// # Errors
/// What the database says.
pub async fn recount(tx: &mut Tx) -> Result<Recount> {
    let words = "causes repaired, and the day they came back";
    let mut all = Recount::new(words, Counted::new(), Counted::new());
    let mut after = Uuid::nil();
    loop {
        let page: Vec<(Uuid,)> = tx
            .query("select id from work_order where id > $1 order by id limit $2")
            .bind(after)
            .bind(PAGE)
            .all()
            .await?;
        let Some(&(last,)) = page.last() else {
            return Ok(all);
        };
        let due = tx.query(due!("f.work_order > $1 and f.work_order <= $2"));
        let due = mains(due.bind(after).bind(last).all().await?);
        let kept: Vec<Repaired> = tx
            .query("select * from repaired where work_order > $1 and work_order <= $2")
            .bind(after)
            .bind(last)
            .all()
            .await?;
        let page = Recount::new(words, counted(&kept), counted(&due));
        all.figures += page.figures;
        all.amiss.extend::<Vec<Amiss>>(page.amiss);
        after = last;
    }
}

fn counted(rows: &[Repaired]) -> Counted {
    let key = |row: &Repaired| {
        let by = row.technician.map_or(String::new(), |by| by.to_string());
        let age = row.age.map_or("unknown".to_owned(), |age| age.to_string());
        let Repaired {
            work_order,
            instrument,
            cause,
            family,
            job,
            size,
            account,
            month,
            ..
        } = row;
        format!("{work_order} {instrument} {cause} {family} {job} {age} {size} {account} {month} {by}")
    };
    let day = |day: Option<Day>| day.map_or(0, |day| day.0);
    let days = |row: &Repaired| [row.collected_on.0, day(row.back_on), day(row.gone_on)];
    rows.iter().map(|row| (key(row), days(row))).collect()
}
