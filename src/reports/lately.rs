//! Lately is how repairs of the leading causes held that went home in the two years up to a span's end.
//!
//! The curves of all time are the comebacks' own page; these stand with the month, and are few enough to be read with it: of
//! three causes, of two years, by the index; in a shop that repairs very many, of every so many days.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::clock::Day;
use crate::db::Db;
use crate::error::Result;
use crate::page::Markup;

use super::comebacks::{Group, end_of_watch};
use super::comebacks_csv;
use super::comebacks_told::Named;
use super::curves::{self, Line};
use super::figures::survival::Watched;
use super::recurrence::Names;
use super::report::Figures;
use super::share::TOO_FEW;
use super::span::Span;
use super::table_csv::Table;

/// So many causes, the leading ones.
pub const MOST: usize = 3;
/// So many days of pickups, up to the span's end.
const WINDOW: i64 = 730;

/// Each repair is one number: the day it went home, and the days after it on which it was back or gone, one more than they
/// are, with nought for never.
macro_rules! packed {
    ($from:literal, $which:literal) => {
        concat!(
            $from,
            "select cause, string_agg(cast((collected_on * 65536 + coalesce(back_on - collected_on + 1, 0)) * 65536
             + coalesce(gone_on - collected_on + 1, 0) as text), ' ') as packed from ",
            $which,
            " group by cause"
        )
    };
}

/// Of all days between two.
const OF_ALL: &str = packed!(
    "",
    "repaired where cause in ($1, $2, $3) and collected_on >= $4 and collected_on <= $5"
);
/// Of every so many of them, each looked up by itself; the cross join has SQLite begin with the days.
const OF_SOME: &str = packed!(
    "with recursive days (day) as (
       select cast($4 as bigint) union all select day + $6 from days where day + $6 <= $5
     ) ",
    "days cross join repaired where collected_on = day and cause in ($1, $2, $3)"
);
/// About so many repairs are read with the month: the range of a share among so many is one in a hundred wide at the most.
const READ: i64 = 8000;

/// A day after the pickup, how many came back on it, and how many were watched no longer.
type Left = (i64, u64, u64);

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lately {
    /// The pickups, both ends included.
    pub from: Day,
    pub to: Day,
    /// What came later is not known.
    pub as_of: Day,
    /// The pickups of every so many days, 1 for all.
    #[serde(default = "all")]
    pub every: i64,
    /// As they lead.
    causes: Vec<(String, Vec<Left>)>,
}

impl Lately {
    /// Of these causes, as known on a day; nothing where none of them can be told of. `a_month` is about how often they are
    /// confirmed in a month, together.
    ///
    /// # Errors
    /// What the database says.
    pub async fn read(
        db: &Db,
        span: Span,
        (causes, a_month): (&[&str], i64),
        as_of: Day,
    ) -> Result<Option<Lately>> {
        let Some(first) = causes.first().filter(|_| span.from <= as_of.month()) else {
            return Ok(None);
        };
        let to = span.to.last_day().min(as_of);
        let from = to.plus(1 - WINDOW);
        let every = every(a_month * (WINDOW / 30));
        let cause = |at: usize| (*causes.get(at).unwrap_or(first)).to_owned();
        let query = db.read(if every == 1 { OF_ALL } else { OF_SOME });
        let query = query
            .bind(cause(0))
            .bind(cause(1))
            .bind(cause(2))
            .bind(from)
            .bind(to);
        let rows: Vec<(String, String)> = if every == 1 {
            query.all().await?
        } else {
            query.bind(every).all().await?
        };
        let mut packed: BTreeMap<String, String> = rows.into_iter().collect();
        let held = causes.iter().take(MOST).filter_map(|cause| {
            let left = unpacked(&packed.remove(*cause)?, as_of);
            is_enough(&left).then(|| ((*cause).to_owned(), left))
        });
        let causes: Vec<(String, Vec<Left>)> = held.collect();
        Ok((!causes.is_empty()).then_some(Lately {
            from,
            to,
            as_of,
            every,
            causes,
        }))
    }

    /// "repairs that went home in the two years up to Sat 31 Jan 2026"; of which days, where not of all.
    #[must_use]
    pub fn of_what(&self) -> String {
        let to = self.to.with_year();
        if self.every == 1 {
            return format!("repairs that went home in the two years up to {to}");
        }
        format!(
            "repairs that went home on one day in {} of the two years up to {to}",
            self.every
        )
    }

    /// Each cause with its figures.
    #[must_use]
    pub fn named(&self, names: &Names) -> Vec<Named> {
        let named = |(cause, left): &(String, Vec<Left>)| {
            let group = Group {
                key: cause.clone(),
                watched: left.iter().copied().collect(),
                seasonal: 0,
            };
            Named::new(names.of(cause), group)
        };
        self.causes.iter().map(named).collect()
    }
}

/// What was kept before was of all days.
fn all() -> i64 {
    1
}

/// Of every how many days the pickups are read; never of each week the same days.
fn every(repairs: i64) -> i64 {
    let every = (repairs / READ).max(1);
    if every % 7 == 0 { every + 1 } else { every }
}

fn unpacked(packed: &str, as_of: Day) -> Vec<Left> {
    let mut left: BTreeMap<i64, (u64, u64)> = BTreeMap::new();
    for one in packed.split(' ').filter_map(|one| one.parse::<i64>().ok()) {
        let (home, gone) = (one.div_euclid(65536), one.rem_euclid(65536));
        let (home, back) = (home.div_euclid(65536), home.rem_euclid(65536));
        let after = |days: i64| (days > 0).then(|| home + days - 1);
        let (until, is_back) = end_of_watch(after(back), after(gone), as_of).unwrap_or((as_of.0, false));
        let day = left.entry(until - home).or_default();
        day.0 += u64::from(is_back);
        day.1 += u64::from(!is_back);
    }
    left.into_iter()
        .map(|(day, (back, lost))| (day, back, lost))
        .collect()
}

/// Whether as many are watched beyond the day of the pickup as a curve needs.
fn is_enough(left: &[Left]) -> bool {
    let watched: Watched = left.iter().copied().collect();
    watched.at_risk(1) >= TOO_FEW.unsigned_abs()
}

/// The curves, and how high their picture is.
#[must_use]
pub fn drawn(held: &[Named]) -> (Markup, u32) {
    let mut lines = Vec::with_capacity(held.len());
    for named in held {
        lines.push(Line {
            name: named.name.clone(),
            watched: &named.group.watched,
        });
    }
    (curves::small(&lines), curves::small_height(lines.len()))
}

/// As CSV: each day on which any came back, as the comebacks hand out theirs.
#[must_use]
pub fn table(figures: &Figures) -> Table {
    let held = figures.lately.as_ref().map(|lately| lately.named(&figures.names));
    comebacks_csv::curves(held.unwrap_or_default().iter())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_are_read_unless_there_are_very_many_and_then_every_weekday_alike() {
        for (repairs, due) in [
            (0, 1),
            (7_999, 1),
            (15_999, 1),
            (16_000, 2),
            (56_000, 8),
            (80_000, 10),
        ] {
            assert_eq!(every(repairs), due, "{repairs}");
        }
        for repairs in (0..400_000).step_by(1000) {
            let every = every(repairs);
            assert!(every % 7 != 0 && repairs / every < 2 * READ, "{repairs}");
        }
    }
}
