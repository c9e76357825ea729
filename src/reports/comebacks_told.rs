//! What is told of the comebacks: sentences made from the figures, and a line of the table for each group.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use uuid::Uuid;

use crate::db::Db;
use crate::error::Result;
use crate::words::{count, grouped};

use super::bands::Bands;
use super::comebacks::{self, By, DAYS, Group};
use super::comebacks_ask::Asked;
use super::curves::{LAST, MOST};
use super::figures::survival::{Curve, LogRank};
use super::group;
use super::recurrence::Names;
use super::rules::Rules;
use super::season::{Season, Seasons};
use super::sentence::{COUNTED, Piece, Sentence};
use super::share::{TOO_FEW, TOO_FEW_WORDS};
use super::tally;
use super::unlike::unlike;

/// Less likely by chance than this is said to be a difference.
pub const LEVEL: f64 = 0.05;

/// So many groups stand in the table; the rest folds away.
pub const SHOWN: usize = 12;
/// The table of the groups, and that of the others.
const GROUPS: &str = "groups";
const OTHERS: &str = "others";

/// A group of repairs with its name.
pub struct Named {
    pub name: String,
    pub group: Group,
    curve: Curve,
}

/// How many came back by a day, as it stands in the table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ByDay {
    /// "3.2 %", or why nothing is said.
    pub words: String,
    /// "2.1 to 4.6"
    pub range: String,
    pub few: bool,
}

/// All that there is to tell.
pub struct Told {
    pub asked: Asked,
    pub groups: Vec<Named>,
    pub together: Named,
    /// Small groups taken together.
    pub compared: Option<LogRank>,
    /// After so many days a return may be nature's; empty where the shop answers for all of them.
    pub natures: RangeInclusive<i64>,
}

impl Named {
    #[must_use]
    pub fn new(name: String, group: Group) -> Named {
        let curve = Curve::of(&group.watched);
        Named { name, group, curve }
    }

    #[must_use]
    pub fn repaired(&self) -> String {
        grouped(self.group.repaired())
    }

    #[must_use]
    pub fn back(&self) -> String {
        grouped(self.group.back())
    }

    #[must_use]
    pub fn seasonal(&self) -> String {
        grouped(self.group.seasonal)
    }

    /// By each of the days.
    #[must_use]
    pub fn by(&self) -> Vec<ByDay> {
        DAYS.map(|day| self.by_day(day)).into()
    }

    fn by_day(&self, day: i64) -> ByDay {
        let not = |words: &str| ByDay {
            words: words.to_owned(),
            range: String::new(),
            few: true,
        };
        match self.curve.at(day) {
            None => not("not watched that long"),
            Some(_) if self.is_few(day) => not(TOO_FEW_WORDS),
            Some((survival, range)) => ByDay {
                words: if survival < 1.0 {
                    percent(1.0 - survival)
                } else {
                    "none".to_owned()
                },
                range: range.map_or(String::new(), |range| {
                    format!("{} to {}", plain(1.0 - range.high), plain(1.0 - range.low))
                }),
                few: false,
            },
        }
    }

    fn is_few(&self, day: i64) -> bool {
        self.group.watched.at_risk(day) < TOO_FEW.unsigned_abs()
    }

    /// "3.2 % within 90 days (2.1 to 4.6)", where it can be said.
    fn within(&self, day: i64, words: &str) -> Option<String> {
        let by = self.by_day(day);
        let range = if by.range.is_empty() {
            String::new()
        } else {
            format!(" ({})", by.range)
        };
        (!by.few).then(|| format!("{} within {words}{range}", by.words))
    }

    /// At least so many of it came back by a day, as far as can be said.
    fn at_least(&self, day: i64) -> f64 {
        let range = self
            .curve
            .at(day)
            .and_then(|at| at.1)
            .filter(|_| !self.is_few(day));
        range.map_or(0.0, |range| 1.0 - range.high)
    }
}

impl Told {
    /// # Errors
    /// What the database says.
    pub async fn read(db: &Db, asked: Asked, rules: &Rules, seasons: &Seasons) -> Result<Told> {
        let groups = comebacks::read(db, &asked, rules, seasons).await?;
        let bands = rules.bands();
        let names = names(db, asked.by, &bands).await?;
        let together = Named::new("All together".to_owned(), comebacks::together(&groups));
        let compared = unlike(&groups);
        let named = groups
            .into_iter()
            .map(|group| Named::new(names(&group.key), group));
        Ok(Told {
            asked,
            groups: named.collect(),
            together,
            compared,
            natures: tally::seasonal(rules.window()),
        })
    }

    /// At most three.
    #[must_use]
    pub fn sentences(&self) -> Vec<Sentence> {
        let sentences = [Some(self.so_far()), self.apart(), self.seasonal()];
        sentences.into_iter().flatten().collect()
    }

    fn so_far(&self) -> Sentence {
        let (all, back) = (self.together.group.repaired(), self.together.group.back());
        let repairs = count(signed(all), "repair", "repairs");
        let lead = match (all, back) {
            (0, _) => "Nothing repaired has gone home yet.".to_owned(),
            (_, 0) => format!("Of {repairs} none came back so far."),
            (_, back) => format!("Of {repairs} {} came back so far.", grouped(back)),
        };
        let (soon, year) = (
            self.together.within(90, "90 days"),
            self.together.within(365, "a year"),
        );
        let rest = match (soon, year) {
            _ if back == 0 => String::new(),
            (Some(soon), Some(year)) => format!(" {soon}, {year}."),
            (Some(soon), None) => format!(" {soon}; a year is not watched yet."),
            _ => " It is too early to say what share.".to_owned(),
        };
        let part = if all == 0 { COUNTED } else { GROUPS };
        Piece::new(lead, rest, part).into()
    }

    fn apart(&self) -> Option<Sentence> {
        let test = self.compared.as_ref()?;
        let by = self.asked.by.words();
        let p = p_words(test.p_value);
        if test.p_value >= LEVEL {
            let lead = format!("By {by} no difference shows that chance would not make");
            return Some(Piece::new(lead, format!(" (log-rank, {p})."), GROUPS).into());
        }
        let differ = format!("By {by} the repairs differ more than chance would make them");
        let most = (self.groups.iter().enumerate())
            .max_by(|one, other| one.1.at_least(90).total_cmp(&other.1.at_least(90)))
            .filter(|most| most.1.at_least(90) > 0.0);
        let told = most.and_then(|(at, most)| Some((at, most, most.within(90, "90 days")?)));
        let Some((at, most, within)) = told else {
            return Some(Piece::new(differ, format!(" (log-rank, {p})."), GROUPS).into());
        };
        let lead = format!("Surest to come back: {}, {within}.", most.name);
        let part = if at < SHOWN { GROUPS } else { OTHERS };
        Some(Piece::new(lead, format!(" {differ} (log-rank, {p})."), part).into())
    }

    fn seasonal(&self) -> Option<Sentence> {
        let late = self.together.group.watched.back_within(self.natures.clone());
        let seasonal = self.together.group.seasonal;
        let days = format!("{} to {} days", self.natures.start(), self.natures.end());
        let said = match (late, seasonal) {
            (0, _) => return None,
            (late, 0) => (
                format!("{} came back after {days},", grouped(late)),
                " none of them in the same season.".to_owned(),
            ),
            (late, seasonal) => (
                format!(
                    "Of {} that came back after {days}, {} came in the same season:",
                    grouped(late),
                    grouped(seasonal)
                ),
                " nature’s, not the shop’s.".to_owned(),
            ),
        };
        Some(Piece::new(said.0, said.1, GROUPS).into())
    }

    /// The groups that are drawn: those of which most came back, in the order of the table.
    #[must_use]
    pub fn drawn(&self) -> Vec<&Named> {
        let enough = |named: &&Named| named.group.repaired() >= TOO_FEW.unsigned_abs();
        let mut most: Vec<&Named> = self.groups.iter().filter(enough).collect();
        most.sort_by_key(|named| std::cmp::Reverse(named.group.watched.back_within(0..=LAST)));
        most.truncate(MOST);
        if most.iter().all(|named| named.group.back() == 0) {
            return Vec::new();
        }
        self.groups
            .iter()
            .filter(|named| most.iter().any(|drawn| drawn.group.key == named.group.key))
            .collect()
    }
}

/// What the keys are called.
async fn names(db: &Db, by: By, bands: &Bands) -> Result<impl Fn(&str) -> String> {
    let bands = bands.clone();
    let names = match by {
        By::Cause => Some(Names::of_causes(db).await?),
        By::Job => Some(Names::of_jobs(db).await?),
        _ => None,
    };
    let mut people: BTreeMap<String, String> = BTreeMap::new();
    if by == By::Technician {
        let staff: Vec<(Uuid, String)> = db.read("select id, name from staff").all().await?;
        people.extend(staff.into_iter().map(|(id, name)| (id.to_string(), name)));
        people.insert(String::new(), "A program".to_owned());
    }
    Ok(move |key: &str| match by {
        By::AgeBand => bands
            .of_code(key)
            .map_or_else(|| key.to_owned(), |band| bands.words(band)),
        By::Size | By::Account => {
            group::of_code(key).map_or_else(|| key.to_owned(), |group| group.words.to_owned())
        }
        By::Season => Season::of_code(key).map_or_else(|| key.to_owned(), |season| season.words().to_owned()),
        By::Technician => people.get(key).cloned().unwrap_or_else(|| key.to_owned()),
        By::Cause | By::Job => names.as_ref().map_or(key.to_owned(), |names| names.of(key)),
    })
}

fn signed(n: u64) -> i64 {
    i64::try_from(n).unwrap_or(i64::MAX)
}

/// A share in percent, with a tenth where it is under ten: comebacks are seldom.
fn plain(share: f64) -> String {
    let percent = share * 100.0;
    if percent < 9.95 && percent > 0.0 {
        format!("{percent:.1}")
    } else {
        format!("{percent:.0}")
    }
}

fn percent(share: f64) -> String {
    if share > 0.0 && share < 0.0005 {
        return "under\u{a0}0.1\u{a0}%".to_owned();
    }
    format!("{}\u{a0}%", plain(share))
}

/// "p 0.034"
#[must_use]
pub fn p_words(p: f64) -> String {
    match p {
        _ if p < 0.001 => "p under 0.001".to_owned(),
        _ if p < 0.1 => format!("p {p:.3}"),
        _ => format!("p {p:.2}"),
    }
}
