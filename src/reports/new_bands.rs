//! New bands are counted in the background, month by month, while everybody works on and reads by the old ones.
//!
//! Each step is a transaction of its own, short, and alone with the counts: on SQLite there is one writer anyway, on
//! PostgreSQL whoever has counted is waited for and whoever is about to count waits. What an act counts it writes first,
//! and looks then how far the recount is ([`super::tally::Counts::keep_by`]): so each order is counted by the new bands
//! once, by the step of its month or by its act. Where it stands is kept with what it did, so it may be broken off at any
//! moment and taken up by whoever comes first, also by another program at the same database.

use std::time::Duration;

use sqlx::FromRow;
use tokio::time::{sleep, timeout};

use crate::app::App;
use crate::clock::YearMonth;
use crate::db::{Db, Tx};
use crate::error::Result;
use crate::words::count;

use super::history;
use super::new_window;
use super::recurrence::Totals;
use super::rules::{Next, Rules};
use super::tally::{Counts, TABLE, What};

/// All that new bands have counted anew.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct History {
    months: i64,
    orders: i64,
}

impl History {
    /// Nothing when nothing was inspected yet.
    ///
    /// # Errors
    /// What the database says.
    pub async fn read(db: &Db, rules: &Rules) -> Result<Option<History>> {
        let Some(reach) = rules.reach() else {
            return Ok(None);
        };
        let orders = Totals::read(db, reach, "").await?.inspected;
        let months = reach.months();
        Ok((orders > 0).then_some(History { months, orders }))
    }

    /// "5,312 orders of 72 months"
    #[must_use]
    pub fn words(&self) -> String {
        let orders = count(self.orders, "order", "orders");
        format!("{orders} of {}", count(self.months, "month", "months"))
    }

    /// How long that takes, about: "some seconds", "about a minute", "about 4 minutes". Carefully guessed: a tenth of a second
    /// for each month and a second for 5,000 orders, what is left to others between two steps with it.
    #[must_use]
    pub fn about(&self) -> String {
        match self.months / 10 + self.orders / 5000 {
            ..20 => "some seconds".to_owned(),
            20..=90 => "about a minute".to_owned(),
            seconds => format!("about {} minutes", (seconds + 30) / 60),
        }
    }
}

/// What one step did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// Nothing is to be done.
    None,
    /// Counted the comebacks by another window.
    Window,
    /// Took away some of what an earlier recount, or the one before the last, left.
    Cleared,
    /// Counted a month.
    Counted(YearMonth),
    /// All was counted: the new bands are in force.
    InForce,
    /// Somebody else was quicker, or the owner changed their mind meanwhile.
    Again,
}

/// Some counts that are kept no longer.
#[derive(FromRow)]
struct Left {
    family: String,
    months: i64,
    month: YearMonth,
}

/// The next of these counts in a place that is not read.
async fn left(tx: &mut Tx, place: What) -> Result<Option<Left>> {
    Ok(tx
        .query(
            "select family, months, month from tally_block where what = $1 and age_band <> ''
             order by what, family, months, month limit 1",
        )
        .bind(place.code())
        .optional()
        .await?)
}

/// Does the next that is to be done.
///
/// # Errors
/// What the database says; then nothing of this step is kept.
pub async fn step(db: &Db) -> Result<Step> {
    let mut tx = db.snapshot().await?; // nobody is held up only to find that there is nothing to do
    let rules = Rules::read(&mut tx).await?;
    let idle = rules.next().is_none()
        && rules.next_window().is_none()
        && left(&mut tx, rules.other_place()).await?.is_none();
    drop(tx);
    if idle {
        return Ok(Step::None);
    }
    let mut tx = db.begin().await?;
    tx.write_alone(TABLE).await?;
    let rules = Rules::read(&mut tx).await?;
    if let Some(window) = rules.next_window() {
        new_window::take(&mut tx, rules.window(), window).await?;
        tx.commit().await?;
        return Ok(Step::Window);
    }
    let step = match rules.next() {
        Some(next @ Next { done: Some(_), .. }) => go_on(&mut tx, &rules, &next).await?,
        next => match (left(&mut tx, rules.other_place()).await?, next) {
            (Some(left), _) => clear(&mut tx, rules.other_place(), &left).await?,
            (None, Some(next)) => go_on(&mut tx, &rules, &next).await?,
            (None, None) => Step::None,
        },
    };
    if step == Step::Again {
        return Ok(step); // and nothing is kept
    }
    tx.commit().await?;
    Ok(step)
}

async fn clear(tx: &mut Tx, place: What, left: &Left) -> Result<Step> {
    tx.query(
        "delete from tally_block where what = $1 and family = $2 and months = $3 and month = $4 and age_band <> ''",
    )
    .bind(place.code())
    .bind(left.family.clone())
    .bind(left.months)
    .bind(left.month)
    .execute()
    .await?;
    Ok(Step::Cleared)
}

/// Counts the next month, or puts the new bands in force when there is none.
async fn go_on(tx: &mut Tx, rules: &Rules, next: &Next) -> Result<Step> {
    let months = rules.reach().map(|reach| match next.done {
        Some(done) => (done.plus(1), reach.to),
        None => (reach.from, reach.to),
    });
    let Some((month, _)) = months.filter(|(month, last)| month <= last) else {
        return in_force(tx, rules, next).await;
    };
    let mut counts = Counts::default();
    for stood in history::of_month(tx, month).await? {
        counts.orders(stood.cell(), &stood.cause, stood.orders);
    }
    counts.keep_as(tx, &next.bands, rules.other_place()).await?;
    // Not if the owner wants others since: nobody holds this row while they are alone with the counts but whoever does.
    let rows = tx
        .query(
            "update counted set next_done = $1 where id = 1 and next_bounds = $2 and next_done is not distinct from $3",
        )
        .bind(month)
        .bind(next.bands.kept())
        .bind(next.done)
        .execute()
        .await?;
    Ok(if rows == 1 {
        Step::Counted(month)
    } else {
        Step::Again
    })
}

async fn in_force(tx: &mut Tx, rules: &Rules, next: &Next) -> Result<Step> {
    let rows = tx
        .query(
            "update counted set age_bounds = $1, ages_in = $2, next_bounds = null, next_done = null
             where id = 1 and next_bounds = $1 and next_done is not distinct from $3",
        )
        .bind(next.bands.kept())
        .bind(rules.other_place().code())
        .bind(next.done)
        .execute()
        .await?;
    Ok(if rows == 1 { Step::InForce } else { Step::Again })
}

/// So often it is looked whether another program at this database left something to do.
const LOOK: Duration = Duration::from_mins(1);
/// After a step that did not go, for somebody was in the way for long.
const WAIT: Duration = Duration::from_secs(1);
/// The least that is left to others between two steps; as a rule they have as long as the step took.
const PAUSE: Duration = Duration::from_millis(2);

/// Counts whatever is to be counted, as long as the shop is served.
pub async fn watch(app: App) {
    loop {
        let begun = tokio::time::Instant::now();
        match step(&app.db).await {
            Ok(Step::None) => {
                // Told of new bands, or looking by itself.
                let _ = timeout(LOOK, app.new_bands.notified()).await;
            }
            Ok(_) => sleep(begun.elapsed().max(PAUSE)).await,
            Err(problem) => {
                tracing::debug!(%problem, "the ages are counted on in a moment");
                sleep(WAIT).await;
            }
        }
    }
}
