//! A lesson is what one order teaches: its confirmed causes with its answers, or that it was none of the catalogue's.
//!
//! What was found, and still buzzed once it was mended, was not what was heard: it teaches nothing, however real it was.
//!
//! It is kept beside the order, so that a finding that is taken back is unlearned to the last count, in the
//! transaction of the act that takes it back.

use std::collections::BTreeMap;

use sqlx::FromRow;
use uuid::Uuid;

use crate::act::Act;
use crate::bench::finding::Finding;
use crate::bench::play_test::PlayTest;
use crate::counter::instrument::Instrument;
use crate::counter::order::Order;
use crate::counter::stage::Stage;
use crate::db::{Tx, insert_rows, upsert_rows};
use crate::diagnosis::age::AgeBand;
use crate::error::Result;

use super::evidence::first_answers_kept;
use super::learn::{self, NONE, TaughtAnswer, TaughtShare};
use super::models::Stand;
use super::score;
use super::temper::Losses;

/// How "none of the catalogue's" is kept among the causes of a lesson.
pub(super) const NONE_WORD: &str = "none";

/// Counts of confirmed orders: by family, cause, age band, and month in two digits.
pub type Shares = BTreeMap<[String; 4], i64>;
/// Counts of answers on confirmed orders: by cause, question, answer.
pub type Answers = BTreeMap<[String; 3], i64>;

#[derive(Clone, Debug, PartialEq, Eq, FromRow)]
pub struct Lesson {
    pub work_order: Uuid,
    pub family: String,
    pub age_band: String,
    /// Of the year, 0 for January.
    pub month: i64,
    /// Joined by `;`.
    pub causes: String,
    /// As on an order.
    pub answers: String,
}

impl Lesson {
    /// What an order teaches with these causes confirmed on it; nothing if there are none, and nothing was found
    /// neither.
    #[must_use]
    pub fn of(order: &Order, instrument: &Instrument, confirmed: &[String]) -> Option<Lesson> {
        let nothing_found =
            order.stage == Stage::Returned && order.returned_why.as_deref() == Some("nothing_found");
        let causes = match confirmed {
            [] if nothing_found => NONE_WORD.to_owned(),
            [] => return None,
            causes => causes.join(";"),
        };
        (!instrument.is_bow()).then(|| Lesson {
            work_order: order.id,
            family: instrument.family.clone(),
            age_band: AgeBand::at(instrument.year_made, order.received_on.year())
                .code()
                .to_owned(),
            month: i64::from(order.received_on.month().month_number()) - 1,
            causes,
            answers: order.answers.clone(),
        })
    }

    fn causes(&self) -> impl Iterator<Item = &str> {
        self.causes
            .split(';')
            .map(|cause| if cause == NONE_WORD { NONE } else { cause })
    }

    /// As the counts learn it.
    #[must_use]
    pub fn learned(&self) -> learn::Lesson {
        let band = AgeBand::of_code(&self.age_band).unwrap_or(AgeBand::Unknown);
        learn::Lesson {
            family: self.family.clone(),
            band: band as usize,
            month: usize::try_from(self.month).unwrap_or(0),
            causes: self.causes().map(str::to_owned).collect(),
            answers: crate::counter::order::answers_of(&self.answers),
        }
    }

    /// The counts it adds to, `orders` times.
    pub fn counts(&self, orders: i64, shares: &mut Shares, answers: &mut Answers) {
        for cause in self.causes() {
            let month = format!("{:02}", self.month);
            let of = [
                self.family.clone(),
                cause.to_owned(),
                self.age_band.clone(),
                month,
            ];
            *shares.entry(of).or_default() += orders;
            for (question, answer) in self.answers.split(';').filter_map(|pair| pair.split_once('=')) {
                if !crate::catalogue::descriptor::SAYS_NOTHING.contains(&answer) {
                    let of = [cause.to_owned(), question.to_owned(), answer.to_owned()];
                    *answers.entry(of).or_default() += orders;
                }
            }
        }
    }

    /// Keeps many at once that nothing was learned from before.
    ///
    /// # Errors
    /// What the database says.
    pub async fn insert(tx: &mut Tx, lessons: &[Lesson]) -> Result<()> {
        let into = "insert into lesson (work_order, family, age_band, month, causes, answers) values";
        insert_rows(tx, into, 6, lessons, |query, lesson| {
            query
                .bind(lesson.work_order)
                .bind(lesson.family.clone())
                .bind(lesson.age_band.clone())
                .bind(lesson.month)
                .bind(lesson.causes.clone())
                .bind(lesson.answers.clone())
        })
        .await?;
        Ok(())
    }

    async fn keep(&self, tx: &mut Tx) -> Result<()> {
        tx.query(
            "insert into lesson (work_order, family, age_band, month, causes, answers) values ($1, $2, $3, $4, $5, $6)
             on conflict (work_order) do update set family = excluded.family, age_band = excluded.age_band,
             month = excluded.month, causes = excluded.causes, answers = excluded.answers",
        )
        .bind(self.work_order)
        .bind(self.family.clone())
        .bind(self.age_band.clone())
        .bind(self.month)
        .bind(self.causes.clone())
        .bind(self.answers.clone())
        .execute()
        .await?;
        Ok(())
    }
}

/// The confirmed findings that stand and were not followed by a play test that still buzzed, as they were made.
#[must_use]
pub fn settled<'a>(findings: &'a [Finding], play_tests: &[PlayTest]) -> Vec<&'a Finding> {
    let buzzed = play_tests
        .iter()
        .filter(|test| test.result == "still_buzzes")
        .map(|test| test.at)
        .max();
    let settles =
        |finding: &&Finding| finding.is_confirmed() && buzzed.is_none_or(|buzzed| finding.at >= buzzed);
    findings.iter().filter(settles).collect()
}

/// As [`settled`] has it, of a finding `f` in a statement.
#[macro_export]
macro_rules! settled_sql {
    () => {
        "f.certainty = 'confirmed' and not f.withdrawn and not exists (select 1 from play_test p
         where p.work_order = f.work_order and p.result = 'still_buzzes' and p.at > f.at)"
    };
}

/// Learns what the order teaches now, and unlearns what it taught before.
///
/// # Errors
/// What the database says.
pub async fn learn(act: &mut Act) -> Result<()> {
    let before = of_order(&mut act.tx, act.order.id).await?;
    let findings = Finding::of(&mut act.tx, act.order.id).await?;
    let play_tests = PlayTest::of(&mut act.tx, act.order.id).await?;
    let settled = settled(&findings, &play_tests);
    let mut after = Lesson::of(&act.order, &act.instrument, &causes(&settled));
    // Answers added once somebody had looked teach nothing: what was seen leads what is asked and answered.
    if let Some(after) = &mut after {
        after.answers = match &before {
            Some(before) => before.answers.clone(),
            None => first_answers_kept(&mut act.tx, &act.order).await?,
        };
    }
    if before == after {
        return Ok(());
    }
    let models = act.models.clone();
    let taught = before.as_ref().map(Lesson::learned);
    let current = models.without(&mut act.tx, taught.as_ref()).await?;
    let stand = next(&mut act.tx).await?;
    let scored = score::again(act, &current, &findings, settled.first().copied(), &stand).await?;
    let lessons = (act.order.id, before.as_ref(), after.as_ref());
    change(&mut act.tx, &stand, &scored, lessons).await
}

/// What an order taught so far.
///
/// # Errors
/// What the database says.
pub(super) async fn of_order(tx: &mut Tx, order: Uuid) -> Result<Option<Lesson>> {
    let kept = tx.query("select * from lesson where work_order = $1").bind(order);
    Ok(kept.optional().await?)
}

/// The causes of findings, each once, in order.
#[must_use]
pub(super) fn causes(findings: &[&Finding]) -> Vec<String> {
    let mut causes: Vec<String> = findings.iter().map(|finding| finding.cause.clone()).collect();
    causes.sort_unstable();
    causes.dedup();
    causes
}

/// Keeps what an order teaches from now on, in place of what it taught before: the lesson whose number was taken.
///
/// # Errors
/// What the database says.
pub(super) async fn change(
    tx: &mut Tx,
    stand: &Stand,
    scored: &score::Change,
    (order, before, after): (Uuid, Option<&Lesson>, Option<&Lesson>),
) -> Result<()> {
    sum_up(tx, stand, scored).await?;
    teach(tx, stand.lessons, before, after).await?;
    if let Some(after) = after {
        return after.keep(tx).await;
    }
    tx.query("delete from lesson where work_order = $1")
        .bind(order)
        .execute()
        .await?;
    Ok(())
}

/// Takes the number of the next lesson; who takes another waits until this one is kept.
///
/// # Errors
/// What the database says.
pub(super) async fn next(tx: &mut Tx) -> Result<Stand> {
    Ok(tx
        .query("update diagnosis set lessons = lessons + 1 where id = 1 returning *")
        .one()
        .await?)
}

/// Sums up what a lesson says of the temper, and of whom to follow.
async fn sum_up(tx: &mut Tx, stand: &Stand, change: &score::Change) -> Result<()> {
    if change.orders == 0 && change.behind == 0 && change.losses == Losses::default() {
        return Ok(());
    }
    let mut sums = Losses::read(&stand.temper);
    sums.add(&change.losses, 1);
    tx.query("update diagnosis set tempered = tempered + $1, behind = behind + $2, temper = $3 where id = 1")
        .bind(change.orders)
        .bind(change.behind)
        .bind(sums.text())
        .execute()
        .await?;
    Ok(())
}

/// Moves the counts from what an order taught before to what it teaches now.
async fn teach(tx: &mut Tx, number: i64, before: Option<&Lesson>, after: Option<&Lesson>) -> Result<()> {
    let (mut shares, mut answers) = (BTreeMap::new(), BTreeMap::new());
    if let Some(before) = before {
        before.counts(-1, &mut shares, &mut answers);
    }
    if let Some(after) = after {
        after.counts(1, &mut shares, &mut answers);
    }
    add(tx, number, shares, answers).await
}

/// Adds to both counts, in sorted order, so that two acts at once never wait for each other.
///
/// # Errors
/// What the database says.
pub async fn add(tx: &mut Tx, number: i64, shares: Shares, answers: Answers) -> Result<()> {
    let shares: Vec<TaughtShare> = shares
        .into_iter()
        .filter(|(_, orders)| *orders != 0)
        .map(|([family, cause, age_band, month], orders)| TaughtShare {
            family,
            cause,
            age_band,
            month: month.parse().unwrap_or(0),
            orders,
        })
        .collect();
    let answers: Vec<TaughtAnswer> = answers
        .into_iter()
        .filter(|(_, orders)| *orders != 0)
        .map(|([cause, descriptor, answer], orders)| TaughtAnswer {
            cause,
            descriptor,
            answer,
            orders,
        })
        .collect();
    add_shares(tx, number, &shares).await?;
    add_answers(tx, number, &answers).await
}

/// Adds to the counts of confirmed orders.
///
/// # Errors
/// What the database says.
async fn add_shares(tx: &mut Tx, number: i64, rows: &[TaughtShare]) -> Result<()> {
    upsert_rows(
        tx,
        "insert into taught_share (family, cause, age_band, month, orders, lesson) values",
        6,
        " on conflict (family, cause, age_band, month) do update set
         orders = taught_share.orders + excluded.orders, lesson = excluded.lesson",
        rows,
        |query, row| {
            query
                .bind(row.family.clone())
                .bind(row.cause.clone())
                .bind(row.age_band.clone())
                .bind(row.month)
                .bind(row.orders)
                .bind(number)
        },
    )
    .await?;
    Ok(())
}

/// Adds to the counts of answers given on confirmed orders.
///
/// # Errors
/// What the database says.
async fn add_answers(tx: &mut Tx, number: i64, rows: &[TaughtAnswer]) -> Result<()> {
    upsert_rows(
        tx,
        "insert into taught_answer (cause, descriptor, answer, orders, lesson) values",
        5,
        " on conflict (cause, descriptor, answer) do update set
         orders = taught_answer.orders + excluded.orders, lesson = excluded.lesson",
        rows,
        |query, row| {
            query
                .bind(row.cause.clone())
                .bind(row.descriptor.clone())
                .bind(row.answer.clone())
                .bind(row.orders)
                .bind(number)
        },
    )
    .await?;
    Ok(())
}

/// Moves what an instrument's orders taught to the age band that follows from its year as it was corrected.
///
/// # Errors
/// What the database says.
pub async fn move_band(tx: &mut Tx, after: &Instrument) -> Result<()> {
    let orders: Vec<Order> = tx
        .query(
            "select o.* from work_order o join lesson l on l.work_order = o.id where o.instrument = $1 order by o.id",
        )
        .bind(after.id)
        .all()
        .await?;
    for order in orders {
        let lesson: Lesson = tx
            .query("select * from lesson where work_order = $1")
            .bind(order.id)
            .one()
            .await?;
        let moved = Lesson {
            age_band: AgeBand::at(after.year_made, order.received_on.year())
                .code()
                .to_owned(),
            ..lesson.clone()
        };
        if moved != lesson {
            let number = next(tx).await?.lessons;
            teach(tx, number, Some(&lesson), Some(&moved)).await?;
            moved.keep(tx).await?;
        }
    }
    Ok(())
}
