//! Comebacks are the repairs that were in vain: how many came back by a day, by cause, job, age, season or technician.
//!
//! Each cause that was repaired is watched from its pickup until the same cause is back on the same instrument, or until
//! the instrument is gone, or else until the day of the report; what comes after that day is not known on it. What counts
//! as repaired, and as back, is defined in [`super::repaired`]; what is a seasonal return, in [`super::tally`].

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use uuid::Uuid;

use crate::clock::Day;
use crate::db::{Db, Tx};
use crate::error::Result;

use super::comebacks_ask::Asked;
use super::figures::survival::{LogRank, Watched, log_rank};
use super::group;
use super::repaired::month_of;
use super::rules::Rules;
use super::season::{Season, Seasons};
use super::tally::seasonal;

/// The days by which it is told how many came back.
pub const DAYS: [i64; 3] = [30, 90, 365];

/// By what the repairs are told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    Cause,
    Job,
    AgeBand,
    Size,
    Account,
    Season,
    Technician,
}

impl By {
    pub const ALL: [By; 7] = [
        By::Cause,
        By::Job,
        By::AgeBand,
        By::Size,
        By::Account,
        By::Season,
        By::Technician,
    ];

    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            By::Cause => "cause",
            By::Job => "job",
            By::AgeBand => "age_band",
            By::Size => "size",
            By::Account => "account",
            By::Season => "season",
            By::Technician => "technician",
        }
    }

    #[must_use]
    pub fn of_code(code: &str) -> Option<By> {
        By::ALL.into_iter().find(|by| by.code() == code)
    }

    /// At the head of a table.
    #[must_use]
    pub fn heading(self) -> &'static str {
        match self {
            By::Cause => "Cause",
            By::Job => "Main job",
            By::AgeBand => "Age at intake",
            By::Size => "Size",
            By::Account => "Account",
            By::Season => "Season of the intake",
            By::Technician => "Technician",
        }
    }

    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            By::Cause => "cause",
            By::Job => "job",
            By::AgeBand => "age",
            By::Size => "size",
            By::Account => "account",
            By::Season => "season",
            By::Technician => "technician",
        }
    }
}

/// The repairs that are alike.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Group {
    /// The code of the cause, job, band, size, account or season, or the id of the technician; empty for free words, and for a program.
    pub key: String,
    pub watched: Watched,
    /// Of those that came back: how many about a year later in the same season.
    pub seasonal: u64,
}

impl Group {
    #[must_use]
    pub fn repaired(&self) -> u64 {
        self.watched.all()
    }

    #[must_use]
    pub fn back(&self) -> u64 {
        self.watched.back()
    }
}

/// One statement for each, of every cause or of one: the days on which any went home, packed into one text for each key, so
/// that a million repairs are read as a few rows; and, in the same way, those whose watch ended before the shop's.
struct Sql {
    home: &'static str,
    ended: &'static str,
}

macro_rules! sql {
    ($key:literal, $which:literal) => {
        Sql {
            home: concat!(
                "select ",
                $key,
                " as key, string_agg(cast(collected_on as text), ' ') as packed from repaired
                 where collected_on <= $1 and ",
                $which,
                " group by ",
                $key
            ),
            // Apart from the grouping, since its index would lead to the rows of all that are still out.
            ended: concat!(
                "with ended as materialized (select ",
                $key,
                " as key, cast(((collected_on * 65536 + coalesce(back_on - collected_on + 1, 0)) * 65536
                 + coalesce(gone_on - collected_on + 1, 0)) * 12 + month as text) as one from repaired
                 where (back_on is not null or gone_on is not null) and +collected_on <= $1 and ",
                $which,
                ") select key, string_agg(one, ' ') as packed from ended group by key"
            ),
        }
    };
}

macro_rules! both {
    ($key:literal) => {
        [sql!($key, "$2 = ''"), sql!($key, "cause = $2")]
    };
}

/// In the order of [`By::ALL`].
static SQL: [[Sql; 2]; 7] = [
    both!("cause"),
    both!("job"),
    both!("age"),
    both!("size"),
    both!("account"),
    both!("month"),
    both!("technician"),
];

/// A repair whose watch ended, with the days counted from 1970.
struct Ended {
    home_on: i64,
    back: Option<i64>,
    gone: Option<i64>,
    /// In which it was received, 0 for January.
    month: i64,
}

impl Ended {
    /// As the statement made one number of it; both days are kept as days after the pickup, 0 for none.
    fn of(one: i64) -> Ended {
        // Days before 1970 count below nothing.
        let (rest, month) = (one.div_euclid(12), one.rem_euclid(12));
        let home_on = rest.div_euclid(65536 * 65536);
        let after = |days: i64| (days > 0).then(|| home_on + days - 1);
        Ended {
            home_on,
            back: after(rest.div_euclid(65536).rem_euclid(65536)),
            gone: after(rest.rem_euclid(65536)),
            month,
        }
    }
}

/// What each key holds.
#[derive(Debug, Default)]
struct Packed {
    home: String,
    ended: String,
}

/// The repairs that went home by a day, told apart, as they were known on it; the largest groups first, ages and seasons
/// in their own order.
///
/// # Errors
/// What the database says.
pub async fn read(db: &Db, asked: &Asked, rules: &Rules, seasons: &Seasons) -> Result<Vec<Group>> {
    let Asked { as_of, by, cause } = asked;
    let (as_of, by, bands) = (*as_of, *by, &rules.bands());
    let natures = seasonal(rules.window());
    let sql = &SQL[by as usize][usize::from(!cause.is_empty())];
    let mut keys: BTreeMap<String, Packed> = BTreeMap::new();
    let mut tx = db.snapshot().await?; // so that nothing comes back between the two
    for (key, packed) in rows(&mut tx, by, sql.home, as_of, cause).await? {
        keys.entry(key).or_default().home = packed;
    }
    for (key, packed) in rows(&mut tx, by, sql.ended, as_of, cause).await? {
        keys.entry(key).or_default().ended = packed;
    }
    let mut groups: BTreeMap<String, Group> = BTreeMap::new();
    for (key, packed) in keys {
        // Months are those of the shop's seasons, ages those of its bands; a key without any is none.
        let key = match by {
            By::AgeBand => bands.code(bands.of(key.parse().ok())),
            By::Season => key
                .parse()
                .map_or(Season::Change, |month| season(seasons, month))
                .code()
                .to_owned(),
            _ => key,
        };
        let group = groups.entry(key.clone()).or_default();
        group.key = key;
        group.unpack(&packed, as_of, seasons, &natures);
    }
    let mut groups: Vec<Group> = groups
        .into_values()
        .filter(|group| group.repaired() > 0)
        .collect();
    match by {
        By::AgeBand => {
            groups.sort_by_key(|group| bands.of_code(&group.key));
        }
        By::Size | By::Account => {
            groups.sort_by_key(|one| group::GROUPS.iter().position(|group| group.code == one.key));
        }
        By::Season => {
            groups.sort_by_key(|group| Season::ALL.iter().position(|season| season.code() == group.key));
        }
        _ => groups.sort_by_key(|group| (std::cmp::Reverse(group.repaired()), group.key.clone())),
    }
    Ok(groups)
}

async fn rows(
    tx: &mut Tx,
    by: By,
    sql: &'static str,
    as_of: Day,
    cause: &str,
) -> Result<Vec<(String, String)>> {
    let query = tx.query(sql).bind(as_of).bind(cause.to_owned());
    Ok(match by {
        By::Technician => {
            let rows: Vec<(Option<Uuid>, String)> = query.all().await?;
            let told = |key: Option<Uuid>| key.map_or(String::new(), |key| key.to_string());
            rows.into_iter()
                .map(|(key, packed)| (told(key), packed))
                .collect()
        }
        By::Season | By::AgeBand => {
            let rows: Vec<(Option<i64>, String)> = query.all().await?;
            let told = |key: Option<i64>| key.map_or(String::new(), |key| key.to_string());
            rows.into_iter()
                .map(|(key, packed)| (told(key), packed))
                .collect()
        }
        _ => query.all().await?,
    })
}

pub(super) fn season(seasons: &Seasons, month: i64) -> Season {
    let month = u8::try_from(month + 1).ok();
    month
        .and_then(|month| seasons.of_month(month))
        .unwrap_or(Season::Change)
}

impl Group {
    /// A return after so many days may be nature's.
    fn unpack(&mut self, packed: &Packed, as_of: Day, seasons: &Seasons, natures: &RangeInclusive<i64>) {
        let mut days: Vec<i64> = packed
            .home
            .split(' ')
            .filter_map(|day| day.parse().ok())
            .collect();
        days.sort_unstable(); // mostly they come in order
        let runs = days.chunk_by(|one, other| one == other);
        let mut home: BTreeMap<i64, u64> = runs.map(|run| (run[0], run.iter().map(|_| 1).sum())).collect();
        let ended = packed.ended.split(' ').filter_map(|word| word.parse().ok());
        for Ended {
            home_on,
            back,
            gone,
            month,
        } in ended.map(Ended::of)
        {
            let Some((until, is_back)) = end_of_watch(back, gone, as_of) else {
                continue; // on that day it was still out, as far as anybody knew
            };
            let days = until - home_on;
            self.watched.add(days, u64::from(is_back), u64::from(!is_back));
            if let Some(still) = home.get_mut(&home_on) {
                *still = still.saturating_sub(1);
            }
            let again = || season(seasons, month_of(Day(until)));
            let may_be = is_back && natures.contains(&days) && seasons.are_several();
            if may_be && season(seasons, month) == again() {
                self.seasonal += 1;
            }
        }
        for (home_on, n) in home.into_iter().filter(|home| home.1 > 0) {
            self.watched.add(as_of.0 - home_on, 0, n);
        }
    }
}

/// The day on which a watch ended, as it was known on a day, and whether by coming back; nothing while it is still out.
pub(super) fn end_of_watch(back: Option<i64>, gone: Option<i64>, as_of: Day) -> Option<(i64, bool)> {
    let known = |day: Option<i64>| day.filter(|day| *day <= as_of.0);
    let (back, gone) = (known(back), known(gone));
    let back = back.filter(|back| gone.is_none_or(|gone| *back <= gone));
    back.map(|day| (day, true)).or(gone.map(|day| (day, false)))
}

/// All groups as one.
#[must_use]
pub fn together(groups: &[Group]) -> Group {
    let mut all = Group::default();
    for group in groups {
        all.watched.add_all(&group.watched);
        all.seasonal += group.seasonal;
    }
    all
}

/// Whether the groups come back alike.
#[must_use]
pub fn compared(groups: &[Group]) -> Option<LogRank> {
    log_rank(&groups.iter().map(|group| &group.watched).collect::<Vec<_>>())
}
