//! The rules are what orders are counted by, and what they are being counted anew by meanwhile: the bands of age, and the window
//! of comebacks.
//!
//! There are two places for the counts by age ([`What::Orders`] and [`What::OrdersOther`]): one holds them by the bands in
//! force and is read, the other is empty, or is being filled by those to come ([`super::new_bands`]).

use sqlx::FromRow;

use crate::clock::YearMonth;
use crate::db::{Read, Tx};
use crate::error::Result;

use super::bands::Bands;
use super::span::Span;
use super::tally::What;

/// As they stand in one moment.
#[derive(Clone, Debug, PartialEq, Eq, FromRow)]
pub struct Rules {
    age_bounds: String,
    ages_in: String,
    next_bounds: Option<String>,
    next_done: Option<YearMonth>,
    comeback_window: i64,
    next_window: Option<i64>,
    first_month: Option<YearMonth>,
    last_month: Option<YearMonth>,
}

/// Bands to come, and how far it is with them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Next {
    pub bands: Bands,
    /// Up to this month all is counted by them; nothing while the place for it is still being cleared.
    pub done: Option<YearMonth>,
}

/// How far a recount is, in months.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    pub done: i64,
    pub all: i64,
}

impl Progress {
    /// "14 of 72 months"
    #[must_use]
    pub fn words(&self) -> String {
        let months = if self.all == 1 { "month" } else { "months" };
        format!("{} of {} {months}", self.done, self.all)
    }
}

impl Next {
    /// Whether a month is counted by them already: then acts count by them too.
    #[must_use]
    pub fn holds(&self, month: YearMonth) -> bool {
        self.done.is_some_and(|done| month <= done)
    }
}

impl Rules {
    /// Of a shop that has counted nothing yet.
    #[must_use]
    pub fn new(bands: &Bands, window: i64) -> Rules {
        Rules {
            age_bounds: bands.kept(),
            ages_in: What::Orders.code().to_owned(),
            next_bounds: None,
            next_done: None,
            comeback_window: window,
            next_window: None,
            first_month: None,
            last_month: None,
        }
    }

    /// # Errors
    /// What the database says.
    pub async fn read(mut on: impl Read) -> Result<Rules> {
        Ok(on
            .read(
                "select age_bounds, ages_in, next_bounds, next_done, comeback_window, next_window, first_month, last_month
                 from counted where id = 1",
            )
            .one()
            .await?)
    }

    /// In force: what is shown is told by these.
    #[must_use]
    pub fn bands(&self) -> Bands {
        // Kept by us alone; should they be unreadable all the same, what is counted is told as not known.
        Bands::parse(&self.age_bounds).unwrap_or_default()
    }

    /// Whether these bounds, as they are kept, are those in force.
    #[must_use]
    pub fn told_by(&self, bounds: &str) -> bool {
        self.age_bounds == bounds
    }

    /// Where the counts by these stand.
    #[must_use]
    pub fn place(&self) -> What {
        if self.ages_in == What::OrdersOther.code() {
            What::OrdersOther
        } else {
            What::Orders
        }
    }

    /// Where those by the bands to come do.
    #[must_use]
    pub fn other_place(&self) -> What {
        match self.place() {
            What::OrdersOther => What::Orders,
            _ => What::OrdersOther,
        }
    }

    #[must_use]
    pub fn next(&self) -> Option<Next> {
        let bands = Bands::parse(self.next_bounds.as_deref()?).ok()?;
        Some(Next {
            bands,
            done: self.next_done,
        })
    }

    /// What the owner wants: the bands to come, or else those in force.
    #[must_use]
    pub fn wanted(&self) -> Bands {
        self.next().map_or_else(|| self.bands(), |next| next.bands)
    }

    /// So many days after a pickup what is back counts as a comeback.
    #[must_use]
    pub fn window(&self) -> i64 {
        self.comeback_window
    }

    /// Another window, by which the comebacks are not counted yet.
    #[must_use]
    pub fn next_window(&self) -> Option<i64> {
        self.next_window
    }

    /// Whether counts were made by the same bands and window, and put in the same place.
    #[must_use]
    pub fn count_as(&self, other: &Rules) -> bool {
        self.age_bounds == other.age_bounds
            && self.ages_in == other.ages_in
            && self.comeback_window == other.comeback_window
    }

    /// The months between which all lies that was ever counted; nothing while nothing was.
    #[must_use]
    pub fn reach(&self) -> Option<Span> {
        let (from, to) = self.first_month.zip(self.last_month)?;
        Some(Span { from, to })
    }

    /// How far a recount is; nothing while there is none, or no history to count.
    #[must_use]
    pub fn progress(&self) -> Option<Progress> {
        let (next, reach) = self.next().zip(self.reach())?;
        let all = reach.months();
        let done = next
            .done
            .map_or(0, |done| (done.0 - reach.from.0 + 1).clamp(0, all));
        Some(Progress { done, all })
    }

    /// An age that stands for all that these rules cannot tell from it, so that sums over many orders stay small.
    #[must_use]
    pub fn coarse(&self, age: Option<i64>) -> Option<i64> {
        let age = age.filter(|age| *age >= 0)?;
        let (now, next) = (self.bands(), self.next());
        let next = next.as_ref().map_or(&[][..], |next| next.bands.bounds());
        let bounds = now.bounds().iter().chain(next);
        bounds.copied().filter(|bound| *bound <= age).max().or(Some(0))
    }

    /// Widens the months between which all lies that was counted; mostly they are wide enough, and nothing is written.
    ///
    /// # Errors
    /// What the database says.
    pub async fn widen(&self, tx: &mut Tx, (first, last): (YearMonth, YearMonth)) -> Result<()> {
        if self
            .reach()
            .is_some_and(|reach| reach.from <= first && last <= reach.to)
        {
            return Ok(());
        }
        tx.query(
            "update counted set
             first_month = case when first_month < $1 then first_month else $1 end,
             last_month = case when last_month > $2 then last_month else $2 end
             where id = 1 and (first_month is null or first_month > $1 or last_month < $2)",
        )
        .bind(first)
        .bind(last)
        .execute()
        .await?;
        Ok(())
    }
}

/// The owner wants other bands: what was begun for others is left, and all is counted anew in the background. Those that
/// are in force need no recount.
///
/// # Errors
/// What the database says.
pub async fn want(tx: &mut Tx, bands: &Bands) -> Result<()> {
    tx.query(
        "update counted set next_bounds = case when age_bounds = $1 then null else $1 end, next_done = null
         where id = 1 and coalesce(next_bounds, age_bounds) <> $1",
    )
    .bind(bands.kept())
    .execute()
    .await?;
    Ok(())
}

/// The owner wants another comeback window: what came back between the two is counted anew in the background.
///
/// # Errors
/// What the database says.
pub async fn want_window(tx: &mut Tx, days: i64) -> Result<()> {
    tx.query(
        "update counted set next_window = case when comeback_window = $1 then null else $1 end
         where id = 1 and coalesce(next_window, comeback_window) <> $1",
    )
    .bind(days)
    .execute()
    .await?;
    Ok(())
}

/// The window of a shop that is new: nothing is counted by another.
///
/// # Errors
/// What the database says.
pub async fn begin_window(tx: &mut Tx, days: i64) -> Result<()> {
    tx.query("update counted set comeback_window = $1, next_window = null where id = 1")
        .bind(days)
        .execute()
        .await?;
    Ok(())
}
