//! The score: how good the ranking was on the orders in which a cause was confirmed later.
//!
//! An order counts once a finding is confirmed that settles it, if anything telling was answered before anybody looked. Ranked
//! are the answers of that time, never those added later, by the model as it stood before the order taught anything.
//! Beside it the same is kept for the catalogue alone, for the bare shares (no answers), and for the order in which
//! the bench really looked.

use std::collections::BTreeMap;

use sqlx::FromRow;
use uuid::Uuid;

use crate::act::Act;
use crate::bench::check::Check;
use crate::bench::finding::Finding;
use crate::clock::{Moment, YearMonth};
use crate::db::{Tx, insert_rows, upsert_rows};
use crate::error::Result;
use crate::old_book;

use super::evidence::{Told, first_answers, owner_kind};
use super::lesson;
use super::measure::{BINS, bin, brier};
use super::models::{Current, Stand};
use super::rank::{Evidence, Model, Ranking};
use super::temper::{Losses, log_loss, micro};

/// Places and counts beyond are kept as this.
const FAR: i64 = 999;

/// The rankings that are scored side by side.
pub const RANKINGS: [&str; 4] = ["shop", "catalogue", "shares", "bench"];

/// How one ranking did on one order; probabilities and Brier's score in millionths.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Mark {
    pub place: i64,
    pub p: i64,
    /// The probability of what stood first.
    pub top: i64,
    pub brier: i64,
}

/// How the rankings did on one order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Marks {
    pub month: YearMonth,
    pub cause: String,
    pub checks: i64,
    pub minutes: i64,
    /// Of the checks those whose minutes were written down.
    pub timed: i64,
    pub losses: Losses,
    /// In the order of [`RANKINGS`]; of the bench only the place is known.
    pub marks: [Mark; 4],
}

/// The marks of an order as they are kept.
#[derive(FromRow)]
pub(super) struct Scored {
    /// The number of the lesson by which it was scored.
    pub(super) lesson: i64,
    month: YearMonth,
    cause: String,
    checks: i64,
    minutes: i64,
    timed: i64,
    temper: String,
    marks: String,
}

/// What a change of the scored orders says of the temper, and of whom to follow.
#[derive(Clone, Debug, Default)]
pub struct Change {
    pub orders: i64,
    pub losses: Losses,
    /// As [`Marks::behind`].
    pub behind: i64,
}

impl Change {
    pub fn add(&mut self, marks: &Marks, times: i64) {
        self.orders += times;
        self.losses.add(&marks.losses, times);
        self.behind += times * marks.behind();
    }
}

/// The key of a sum: month, ranking, what, at.
pub type Key = (i64, &'static str, &'static str, i64);
/// Orders, hits, amount.
pub type Sum = [i64; 3];

impl Mark {
    fn of(ranking: &Ranking, cause: usize) -> Mark {
        let top = ranking
            .order
            .first()
            .map_or(0.0, |first| ranking.probability[*first]);
        let all = ranking.probability.iter().copied().chain([ranking.none_of_these]);
        Mark {
            place: i64::try_from(ranking.place(cause)).unwrap_or(FAR).min(FAR),
            p: micro(ranking.probability[cause]),
            top: micro(top),
            brier: micro(brier(all, cause)),
        }
    }
}

impl Mark {
    /// Its log loss, in millionths.
    fn loss(self) -> i64 {
        micro(log_loss(super::learn::real(self.p) / 1e6))
    }
}

impl Marks {
    /// How the rankings do on an order whose cause is known: `first` is what was known before anybody looked.
    #[must_use]
    pub fn of(
        current: &Current,
        family: &str,
        cause: &str,
        first: impl Fn(&Model) -> Evidence,
        month: YearMonth,
        looks: Looks,
    ) -> Option<Marks> {
        let (shop, catalogue) = (current.of_shop(family)?, current.of_catalogue(family)?);
        let at = shop.cause(cause)?; // one that was retired since is not ranked
        let evidence = first(shop);
        if evidence.answers.is_empty() {
            return None;
        }
        let unasked = Evidence {
            answers: Vec::new(),
            ..evidence.clone()
        };
        Some(Marks {
            month,
            cause: cause.to_owned(),
            checks: looks.checks.min(FAR),
            minutes: looks.minutes.min(FAR),
            timed: looks.timed.min(FAR),
            losses: Losses::of(shop, &evidence, at),
            marks: [
                Mark::of(&shop.rank(&evidence), at),
                Mark::of(&catalogue.rank(&evidence), at),
                Mark::of(&catalogue.rank(&unasked), at),
                Mark {
                    place: looks.place.min(FAR),
                    ..Mark::default()
                },
            ],
        })
    }

    /// What it adds to the sums, in their order.
    pub fn sums(&self, times: i64, sums: &mut BTreeMap<Key, Sum>) {
        let mut add = |ranking, what, at, [orders, hits, amount]: Sum| {
            let sum = sums.entry((self.month.0, ranking, what, at)).or_default();
            *sum = [
                sum[0] + times * orders,
                sum[1] + times * hits,
                sum[2] + times * amount,
            ];
        };
        for (ranking, mark) in RANKINGS.into_iter().zip(self.marks) {
            add(ranking, "place", mark.place, [1, 0, 0]);
            if ranking == "bench" {
                add(ranking, "checks", self.checks, [1, 0, 0]);
                add(ranking, "minutes", self.minutes, [1, 0, 0]);
                add(ranking, "timed", 0, [self.checks, self.timed, 0]);
            } else {
                let real = |micro: i64| super::learn::real(micro) / 1e6;
                let bin = i64::try_from(bin(real(mark.top), BINS)).unwrap_or(0);
                add(ranking, "bin", bin, [1, i64::from(mark.place == 1), mark.top]);
                add(ranking, "brier", 0, [1, 0, mark.brier]);
                add(ranking, "log_loss", 0, [1, 0, mark.loss()]);
            }
        }
    }

    /// How much more the shop's ranking lost on it than the catalogue's alone, in millionths of a nat.
    #[must_use]
    pub fn behind(&self) -> i64 {
        let [shop, catalogue, ..] = self.marks;
        shop.loss() - catalogue.loss()
    }

    #[must_use]
    pub fn marks_text(&self) -> String {
        let text = |mark: &Mark| format!("{},{},{},{}", mark.place, mark.p, mark.top, mark.brier);
        self.marks.iter().map(text).collect::<Vec<_>>().join(";")
    }
}

/// Keeps the marks of many orders at once that were not scored before.
///
/// # Errors
/// What the database says.
pub async fn insert(tx: &mut Tx, lesson: i64, scored: &[(Uuid, Marks)]) -> Result<()> {
    let into =
        "insert into scored (work_order, month, cause, checks, minutes, timed, temper, marks, lesson) values";
    insert_rows(tx, into, 9, scored, |query, (order, marks)| {
        query
            .bind(*order)
            .bind(marks.month)
            .bind(marks.cause.clone())
            .bind(marks.checks)
            .bind(marks.minutes)
            .bind(marks.timed)
            .bind(marks.losses.text())
            .bind(marks.marks_text())
            .bind(lesson)
    })
    .await?;
    Ok(())
}

impl From<Scored> for Marks {
    fn from(row: Scored) -> Marks {
        let mut marks = [Mark::default(); 4];
        for (mark, kept) in marks.iter_mut().zip(row.marks.split(';')) {
            let mut numbers = kept.split(',').map(|number| number.parse().unwrap_or(0));
            let mut next = || numbers.next().unwrap_or(0);
            *mark = Mark {
                place: next(),
                p: next(),
                top: next(),
                brier: next(),
            };
        }
        Marks {
            month: row.month,
            cause: row.cause,
            checks: row.checks,
            minutes: row.minutes,
            timed: row.timed,
            losses: Losses::read(&row.temper),
            marks,
        }
    }
}

/// How the bench came to the cause.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Looks {
    /// The place of the cause among those looked at.
    pub place: i64,
    pub checks: i64,
    pub minutes: i64,
    /// Checks whose minutes were written down.
    pub timed: i64,
}

impl Looks {
    /// What was looked at until the finding. A finding without a check was one look more; a check whose minutes were
    /// not noted took its usual ones.
    #[must_use]
    pub fn until(cause: &str, found_at: Moment, checks: &[Check], usual: impl Fn(&str) -> i64) -> Looks {
        let mut looks = Looks::default();
        let mut seen: Vec<&str> = Vec::new();
        for check in checks.iter().filter(|check| check.at <= found_at) {
            looks.checks += 1;
            looks.minutes += check.minutes.unwrap_or_else(|| usual(&check.cause));
            looks.timed += i64::from(check.minutes.is_some());
            if !seen.contains(&check.cause.as_str()) {
                seen.push(&check.cause);
            }
            if check.cause == cause && check.result == "found" {
                break;
            }
        }
        if !seen.contains(&cause) {
            seen.push(cause);
            looks.checks += 1;
            looks.minutes += usual(cause);
        }
        let place = seen.iter().position(|seen| *seen == cause).unwrap_or(0) + 1;
        looks.place = i64::try_from(place).unwrap_or(FAR);
        looks
    }
}

/// Scores the order, in a lesson whose number was taken, by the first finding that settled it; what was scored before by another is
/// taken out.
///
/// # Errors
/// What the database says.
pub async fn again(
    act: &mut Act,
    current: &Current,
    findings: &[Finding],
    settled: Option<&Finding>,
    stand: &Stand,
) -> Result<Change> {
    let order = act.order.id;
    let before = of_order(&mut act.tx, order).await?;
    if before.as_ref().map(|scored| &scored.cause) == settled.map(|finding| &finding.cause) {
        return Ok(Change::default());
    }
    let after = match settled {
        Some(finding) => mark(act, current, finding, findings).await?,
        None => None,
    };
    keep(&mut act.tx, order, stand, (before, after)).await
}

/// Takes out what was scored, unless it was by this cause.
///
/// # Errors
/// What the database says.
pub(super) async fn unless(tx: &mut Tx, order: Uuid, cause: Option<&str>, stand: &Stand) -> Result<Change> {
    let before = of_order(tx, order).await?;
    match &before {
        Some(scored) if cause != Some(&*scored.cause) => keep(tx, order, stand, (before, None)).await,
        _ => Ok(Change::default()),
    }
}

/// Counts a guess in another month, where what settled it was found on another day than was written. It is as good as it was.
///
/// # Errors
/// What the database says.
pub async fn move_month(tx: &mut Tx, order: Uuid, month: YearMonth) -> Result<()> {
    let Some(before) = of_order(tx, order).await?.filter(|scored| scored.month != month) else {
        return Ok(());
    };
    lesson::next(tx).await?;
    tx.query("update scored set month = $2 where work_order = $1")
        .bind(order)
        .bind(month)
        .execute()
        .await?;
    let before = Marks::from(before);
    let after = Marks {
        month,
        ..before.clone()
    };
    let mut sums = BTreeMap::new();
    before.sums(-1, &mut sums);
    after.sums(1, &mut sums);
    let sums: Vec<(Key, Sum)> = sums.into_iter().collect();
    add_sums(tx, &sums).await
}

async fn of_order(tx: &mut Tx, order: Uuid) -> Result<Option<Scored>> {
    Ok(tx
        .query("select lesson, month, cause, checks, minutes, timed, temper, marks from scored where work_order = $1")
        .bind(order)
        .optional()
        .await?)
}

async fn mark(
    act: &mut Act,
    current: &Current,
    finding: &Finding,
    findings: &[Finding],
) -> Result<Option<Marks>> {
    // What came out of the old book was never ranked before it was known.
    if old_book::brought(&mut act.tx, act.order.id).await? {
        return Ok(None);
    }
    let answers = first_answers(&mut act.tx, &act.order).await?;
    let checks = Check::of(&mut act.tx, act.order.id).await?;
    let owner_kind = owner_kind(&mut act.tx, act.order.customer).await?;
    let usual = |code: &str| current.cause(code).map_or(2, |cause| cause.check_minutes);
    let told = Told {
        order: &act.order,
        instrument: &act.instrument,
        owner_kind: &owner_kind,
        checks: &checks,
        findings,
        play_tests: &[],
    };
    Ok(Marks::of(
        current,
        &act.instrument.family,
        &finding.cause,
        |model| told.at_first(model, &current.seasons, &answers),
        finding.found_on.month(),
        Looks::until(&finding.cause, finding.at, &checks, usual),
    ))
}

/// Keeps the second in place of the first; the change is that of the sums, which began after a lesson.
async fn keep(
    tx: &mut Tx,
    order: Uuid,
    stand: &Stand,
    (before, after): (Option<Scored>, Option<Marks>),
) -> Result<Change> {
    tx.query("delete from scored where work_order = $1")
        .bind(order)
        .execute()
        .await?;
    let (mut sums, mut change) = (BTreeMap::new(), Change::default());
    if let Some(before) = before {
        let summed_up = before.lesson > stand.begun;
        let before = Marks::from(before);
        before.sums(-1, &mut sums);
        if summed_up {
            change.add(&before, -1);
        }
    }
    if let Some(after) = after {
        after.sums(1, &mut sums);
        change.add(&after, 1);
        insert(tx, stand.lessons, &[(order, after)]).await?;
    }
    let sums: Vec<(Key, Sum)> = sums.into_iter().collect();
    add_sums(tx, &sums).await?;
    Ok(change)
}

/// Adds to the sums; they come in the order of their keys.
///
/// # Errors
/// What the database says.
pub async fn add_sums(tx: &mut Tx, sums: &[(Key, Sum)]) -> Result<()> {
    upsert_rows(
        tx,
        "insert into score_tally (month, ranking, what, at, orders, hits, amount) values",
        7,
        " on conflict (month, ranking, what, at) do update set orders = score_tally.orders + excluded.orders,
         hits = score_tally.hits + excluded.hits, amount = score_tally.amount + excluded.amount",
        sums,
        |query, ((month, ranking, what, at), [orders, hits, amount])| {
            query
                .bind(*month)
                .bind((*ranking).to_owned())
                .bind((*what).to_owned())
                .bind(*at)
                .bind(*orders)
                .bind(*hits)
                .bind(*amount)
        },
    )
    .await?;
    Ok(())
}
