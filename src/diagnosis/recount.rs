//! The recount of what was taught and scored: lessons from the findings, counts from the lessons, sums from the marks.

use std::collections::BTreeMap;

use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::{Day, YearMonth};
use crate::db::Tx;
use crate::diagnosis::age::AgeBand;
use crate::error::Result;
use crate::reports::recount::{Counted, PAGE, Recount, add};
use crate::settled_sql;

use super::learn::{TaughtAnswer, TaughtShare};
use super::lesson::{Answers, Lesson, NONE_WORD, Shares};
use super::models::Stand;
use super::score::{Change, Key, Marks, Scored, Sum};
use super::temper::Losses;

/// An order as far as it says what must have been learned from it.
#[derive(FromRow)]
struct Teaches {
    id: Uuid,
    received_on: Day,
    family: String,
    year_made: Option<i64>,
    nothing_found: bool,
}

/// All counts of this part of the house, counted anew.
///
/// # Errors
/// What the database says.
pub async fn all(tx: &mut Tx) -> Result<Vec<Recount>> {
    let (lessons, shares, answers) = lessons(tx).await?;
    let (sums, temper) = score(tx).await?;
    Ok(vec![lessons, shares, answers, sums, temper])
}

/// Lessons against the findings that stand; and what all lessons together come to.
async fn lessons(tx: &mut Tx) -> Result<(Recount, Recount, Recount)> {
    let (mut kept, mut due) = (Counted::new(), Counted::new());
    let (mut shares, mut answers) = (Shares::new(), Answers::new());
    let mut after = Uuid::nil();
    loop {
        let orders: Vec<Teaches> = tx
            .query(
                "select o.id, o.received_on, i.family, i.year_made,
                 (o.stage = 'returned' and coalesce(o.returned_why, '') = 'nothing_found') as nothing_found
                 from work_order o join instrument i on i.id = o.instrument where o.id > $1 order by o.id limit $2",
            )
            .bind(after)
            .bind(PAGE)
            .all()
            .await?;
        let Some(last) = orders.last().map(|order| order.id) else {
            break;
        };
        let found: Vec<(Uuid, String)> = tx
            .query(
                concat!(
                    "select distinct f.work_order, f.cause from finding f where f.work_order > $1 and f.work_order <= $2 and ",
                    settled_sql!(),
                    " order by f.work_order, f.cause"
                ),
            )
            .bind(after)
            .bind(last)
            .all()
            .await?;
        let lessons: Vec<Lesson> = tx
            .query("select * from lesson where work_order > $1 and work_order <= $2")
            .bind(after)
            .bind(last)
            .all()
            .await?;
        compare(&orders, found, &lessons, &mut kept, &mut due);
        for lesson in &lessons {
            lesson.counts(1, &mut shares, &mut answers);
        }
        after = last;
    }
    Ok((
        Recount::new(
            "orders that taught something, by what was found on them",
            kept,
            due,
        ),
        taught_shares(tx, shares).await?,
        taught_answers(tx, answers).await?,
    ))
}

/// An order teaches what is confirmed on it, in the family, the age and the month it came in.
fn compare(
    orders: &[Teaches],
    found: Vec<(Uuid, String)>,
    lessons: &[Lesson],
    kept: &mut Counted,
    due: &mut Counted,
) {
    let mut causes: BTreeMap<Uuid, Vec<String>> = BTreeMap::new();
    for (order, cause) in found {
        causes.entry(order).or_default().push(cause);
    }
    let key = |family: &str, band: &str, month: i64, causes: &str| {
        format!("{family} {band} month {:02} {causes}", month + 1)
    };
    for lesson in lessons {
        let key = key(&lesson.family, &lesson.age_band, lesson.month, &lesson.causes);
        add(kept, key, [1, 0, 0]);
    }
    for order in orders.iter().filter(|order| order.family != "bow") {
        let found = match causes.get(&order.id) {
            Some(causes) => causes.join(";"),
            None if order.nothing_found => NONE_WORD.to_owned(),
            None => continue,
        };
        let band = AgeBand::at(order.year_made, order.received_on.year()).code();
        let month = i64::from(order.received_on.month().month_number()) - 1;
        add(due, key(&order.family, band, month, &found), [1, 0, 0]);
    }
}

async fn taught_shares(tx: &mut Tx, lessons: Shares) -> Result<Recount> {
    let rows: Vec<TaughtShare> = tx
        .query("select family, cause, age_band, month, orders from taught_share")
        .all()
        .await?;
    let (mut kept, mut counted) = (Counted::new(), Counted::new());
    for row in rows {
        let month = format!("{:02}", row.month);
        let key = [row.family, row.cause, row.age_band, month].join(" ");
        add(&mut kept, key, [row.orders, 0, 0]);
    }
    for (key, orders) in lessons {
        add(&mut counted, key.join(" "), [orders, 0, 0]);
    }
    let words = "confirmed orders the ranking learned from, by family, cause, age and month";
    Ok(Recount::new(words, kept, counted))
}

async fn taught_answers(tx: &mut Tx, lessons: Answers) -> Result<Recount> {
    let rows: Vec<TaughtAnswer> = tx
        .query("select cause, descriptor, answer, orders from taught_answer")
        .all()
        .await?;
    let (mut kept, mut counted) = (Counted::new(), Counted::new());
    for row in rows {
        let key = [row.cause, row.descriptor, row.answer].join(" ");
        add(&mut kept, key, [row.orders, 0, 0]);
    }
    for (key, orders) in lessons {
        add(&mut counted, key.join(" "), [orders, 0, 0]);
    }
    let words = "answers the ranking learned from, by cause and question";
    Ok(Recount::new(words, kept, counted))
}

/// The sums of the score, and of the temper, from the marks of each order.
async fn score(tx: &mut Tx) -> Result<(Recount, Recount)> {
    let stand = Stand::get(&mut *tx).await?;
    let (mut sums, mut change) = (BTreeMap::<Key, Sum>::new(), Change::default());
    let mut after = Uuid::nil();
    loop {
        let page: Vec<(Uuid,)> = tx
            .query("select work_order from scored where work_order > $1 order by work_order limit $2")
            .bind(after)
            .bind(PAGE)
            .all()
            .await?;
        let Some(&(last,)) = page.last() else {
            break;
        };
        let rows: Vec<Scored> = tx
            .query(
                "select lesson, month, cause, checks, minutes, timed, temper, marks from scored
                 where work_order > $1 and work_order <= $2",
            )
            .bind(after)
            .bind(last)
            .all()
            .await?;
        for scored in rows {
            let summed_up = scored.lesson > stand.begun;
            let marks = Marks::from(scored);
            marks.sums(1, &mut sums);
            if summed_up {
                change.add(&marks, 1);
            }
        }
        after = last;
    }
    let rows: Vec<(YearMonth, String, String, i64, i64, i64, i64)> = tx
        .query("select month, ranking, what, at, orders, hits, amount from score_tally")
        .all()
        .await?;
    let (mut kept, mut counted) = (Counted::new(), Counted::new());
    for (month, ranking, what, at, orders, hits, amount) in rows {
        let key = format!("{} {ranking} {what} {at}", month.iso());
        add(&mut kept, key, [orders, hits, amount]);
    }
    for ((month, ranking, what, at), sum) in sums {
        let key = format!("{} {ranking} {what} {at}", YearMonth(month).iso());
        add(&mut counted, key, sum);
    }
    let words = "how well it guessed, by month and ranking";
    let sums = Recount::new(words, kept, counted);
    Ok((sums, temper(&stand, &change)))
}

fn temper(stand: &Stand, change: &Change) -> Recount {
    let kept_losses = Losses::read(&stand.temper);
    let (mut kept, mut counted) = (Counted::new(), Counted::new());
    add(&mut kept, "orders".to_owned(), [stand.tempered, 0, 0]);
    add(&mut counted, "orders".to_owned(), [change.orders, 0, 0]);
    add(&mut kept, "the shop behind".to_owned(), [stand.behind, 0, 0]);
    add(&mut counted, "the shop behind".to_owned(), [change.behind, 0, 0]);
    for (at, (was, is)) in (1..).zip(kept_losses.0.into_iter().zip(change.losses.0)) {
        add(&mut kept, format!("power {at:02}"), [was, 0, 0]);
        add(&mut counted, format!("power {at:02}"), [is, 0, 0]);
    }
    Recount::new(
        "what fits how much the answers say, and whom to follow",
        kept,
        counted,
    )
}
