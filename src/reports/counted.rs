//! Counted is what the blocks of a span hold: the rows of the tally, with the months of the span alone.

use crate::clock::YearMonth;
use crate::db::Db;
use crate::error::Result;

use super::bands::Bands;
use super::block::{Run, SIZES, cover};
use super::group;
use super::rules::Rules;
use super::span::Span;
use super::tally::What;

/// What was counted under one code, over some or all years of a span.
#[derive(Clone, Debug)]
pub struct Line {
    pub what: What,
    pub code: String,
    /// Empty for all of them.
    pub age_band: String,
    run: Run,
    months: [i64; 12],
}

/// What a span holds.
#[derive(Debug)]
pub struct Held {
    /// By which ages are told.
    pub bands: Bands,
    /// In no order; a code may come more than once.
    pub lines: Vec<Line>,
}

/// Which rows are wanted, and the statements that read them: one month of one block, one block, the sum of several.
pub struct Of {
    /// Which are to be read, and added up, where these are not kept: of decades, and of sizes and accounts.
    longer: Option<&'static Of>,
    month: [&'static str; 12],
    one: &'static str,
    several: &'static str,
}

/// All rows come in one text, a line each: the driver hands row by row from one thread to another, and with some hundred
/// rows that took most of the time. Codes have neither tabs nor line ends.
macro_rules! in_one {
    ($line:expr, $from:expr) => {
        concat!("select string_agg(", $line, ", '\n') from ", $from)
    };
}

/// As [`in_one`], beside the bands in force.
macro_rules! by_bands {
    ($line:expr, $from:expr) => {
        concat!(
            "select (select age_bounds from counted where id = 1), string_agg(",
            $line,
            ", '\n') from ",
            $from
        )
    };
}

macro_rules! of_month {
    ($which:literal, $($month:literal)*) => {
        [$(by_bands!(
            concat!("what || '\t' || code || '\t' || age_band || '\t' || ", $month),
            concat!("tally_block where family = $1 and months = $2 and month = $3 and ", $month, " <> 0 and ", $which)
        )),*]
    };
}

macro_rules! of {
    ($which:literal) => {
        Of {
            longer: None,
            month: of_month!($which, "jan" "feb" "mar" "apr" "may" "jun" "jul" "aug" "sep" "oct" "nov" "dec"),
            one: by_bands!(
                "what || '\t' || code || '\t' || age_band || '\t' || jan || '\t' || feb || '\t' || mar || '\t' || apr || '\t' || may
                 || '\t' || jun || '\t' || jul || '\t' || aug || '\t' || sep || '\t' || oct || '\t' || nov || '\t' || dec",
                concat!("tally_block where family = $1 and months = $2 and month = $3 and ", $which)
            ),
            several: by_bands!(
                "what || '\t' || code || '\t' || age_band || '\t' || jan || '\t' || feb || '\t' || mar || '\t' || apr || '\t' || may
                 || '\t' || jun || '\t' || jul || '\t' || aug || '\t' || sep || '\t' || oct || '\t' || nov || '\t' || dec",
                concat!(
                    "(select what, code, age_band, cast(sum(jan) as bigint) as jan, cast(sum(feb) as bigint) as feb,
                     cast(sum(mar) as bigint) as mar, cast(sum(apr) as bigint) as apr, cast(sum(may) as bigint) as may,
                     cast(sum(jun) as bigint) as jun, cast(sum(jul) as bigint) as jul, cast(sum(aug) as bigint) as aug,
                     cast(sum(sep) as bigint) as sep, cast(sum(oct) as bigint) as oct, cast(sum(nov) as bigint) as nov,
                     cast(sum(dec) as bigint) as dec
                     from tally_block where family = $1 and months = $2 and month >= $3 and month <= $4 and ",
                    $which,
                    " group by what, code, age_band) several"
                )
            ),
        }
    };
}

/// Inspected and confirmed, by age band, wherever the bands in force stand.
pub static BY_BAND: Of = of!("what = (select ages_in from counted where id = 1) and age_band <> ''");
/// Inspected and confirmed, of all ages.
pub static OF_ALL_AGES: Of = Of {
    longer: Some(&BY_BAND),
    ..of!("what = 'orders' and age_band = ''")
};
/// Work, money and comebacks.
pub static WORK: Of = of!("what in ('comebacks', 'steps', 'planned', 'actual', 'amount', 'times')");

/// As [`in_one`], with the meant months of each row as one sum: spreads have many rows, and nobody asks them by month.
macro_rules! sums {
    ($which:literal) => {
        in_one!(
            "what || '\t' || code || '\t' || n",
            concat!(
                "(select what, code, jan * $4 + feb * $5 + mar * $6 + apr * $7 + may * $8 + jun * $9 + jul * $10 + aug * $11 +
                 sep * $12 + oct * $13 + nov * $14 + dec * $15 as n from tally_block
                  where family = '' and months = $1 and month >= $2 and month <= $3 and ",
                $which,
                ") meant where n <> 0"
            )
        )
    };
}

/// Steps done by what was planned and what they took, orders handed back by their days, and what their causes cost.
pub const TIME: &str = sums!("what in ('minutes', 'days', 'cost')");

/// What was counted under one code, over some or all years of a span.
#[derive(Clone, Debug)]
pub struct Sum {
    pub what: What,
    pub code: String,
    pub n: i64,
}

/// All that a span holds, in no order; a code may come more than once.
///
/// # Errors
/// What the database says.
pub async fn sums(db: &Db, of: &'static str, span: Span) -> Result<Vec<Sum>> {
    let Some(reach) = reach(db).await? else {
        return Ok(Vec::new());
    };
    let mut sums = Vec::new();
    for run in cover(span, reach, &SIZES) {
        let query = db.read(of).bind(run.months).bind(run.from).bind(run.to);
        let query = (0..12).fold(query, |query, month| query.bind(i64::from(run.means(month))));
        let (rows,): (Option<String>,) = query.one().await?;
        sums.extend(rows.iter().flat_map(|rows| rows.lines()).filter_map(Sum::of));
    }
    Ok(sums)
}

impl Sum {
    /// Nothing when it is of a kind that is not known any more.
    fn of(row: &str) -> Option<Sum> {
        let mut parts = row.split('\t');
        Some(Sum {
            what: What::of_code(parts.next()?)?,
            code: parts.next()?.to_owned(),
            n: parts.next()?.parse().ok()?,
        })
    }
}

/// The months between which all lies that was ever counted; nothing while nothing was.
///
/// # Errors
/// What the database says.
pub async fn reach(db: &Db) -> Result<Option<Span>> {
    Ok(Rules::read(db).await?.reach())
}

/// All that a span holds of a group.
///
/// # Errors
/// What the database says.
pub async fn read(db: &Db, of: &Of, span: Span, group: &str) -> Result<Held> {
    loop {
        let rules = Rules::read(db).await?;
        if let Some(lines) = lines(db, of, span, group, &rules).await? {
            let bands = rules.bands();
            return Ok(Held { bands, lines });
        }
    }
}

/// Nothing when other bands came into force between one block and the next.
async fn lines(db: &Db, of: &Of, span: Span, group: &str, rules: &Rules) -> Result<Option<Vec<Line>>> {
    let mut lines = Vec::new();
    let sizes = group::blocks(group);
    for run in rules
        .reach()
        .map_or(Vec::new(), |reach| cover(span, reach, sizes))
    {
        // Neither decades nor the years of a size or an account are kept of all ages together.
        let of = if run.months > SIZES[0] || sizes.len() == 1 {
            of.longer.unwrap_or(of)
        } else {
            of
        };
        let query = match run.month() {
            Some(month) => db.read(of.month[month]),
            None if run.is_one() => db.read(of.one),
            None => db.read(of.several),
        };
        let query = query.bind(group.to_owned()).bind(run.months).bind(run.from);
        let query = if run.is_one() { query } else { query.bind(run.to) };
        let (bounds, rows): (String, Option<String>) = query.one().await?;
        if !rules.told_by(&bounds) {
            return Ok(None);
        }
        lines.extend(
            rows.iter()
                .flat_map(|rows| rows.lines())
                .filter_map(|row| Line::of(row, run)),
        );
    }
    Ok(Some(lines))
}

/// The numbers of a line, from a month on: the others are none.
fn numbers<'a>(parts: impl Iterator<Item = &'a str>, from: usize) -> Option<[i64; 12]> {
    let mut months = [0; 12];
    for (month, part) in months.iter_mut().skip(from).zip(parts) {
        *month = part.parse().ok()?;
    }
    Some(months)
}

impl Line {
    /// Nothing when it is of a kind that is not known any more.
    fn of(row: &str, run: Run) -> Option<Line> {
        let mut parts = row.split('\t');
        let (what, code, age_band) = (parts.next()?, parts.next()?, parts.next()?);
        Some(Line {
            what: What::of_code(what)?,
            code: code.to_owned(),
            age_band: age_band.to_owned(),
            run,
            months: numbers(parts, run.month().unwrap_or(0))?,
        })
    }

    /// Each month that is meant, from 0 for January whatever the year, with what was counted in it.
    pub fn months(&self) -> impl Iterator<Item = (i64, i64)> {
        self.run.meant(self.months)
    }

    #[must_use]
    pub fn all(&self) -> i64 {
        self.months().map(|month| month.1).sum()
    }
}

/// What was counted under one code in one year, of all ages.
#[derive(Clone, Debug)]
pub struct OfYear {
    /// January of it.
    pub year: YearMonth,
    pub code: String,
    pub months: [i64; 12],
}

macro_rules! each_year {
    ($from:expr) => {
        in_one!(
            "month || '\t' || code || '\t' || jan || '\t' || feb || '\t' || mar || '\t' || apr || '\t' || may || '\t' || jun
             || '\t' || jul || '\t' || aug || '\t' || sep || '\t' || oct || '\t' || nov || '\t' || dec",
            $from
        )
    };
}

/// Of all instruments or a family: they stand there.
const OF_FAMILY: &str = each_year!(
    "tally_block where what = 'orders' and family = $1 and months = 12 and month >= $2 and month <= $3 and age_band = ''
     and ($4 = '' or code = $4 or code = '')"
);
/// Of a size or an account: the ages are added up.
const OF_GROUP: &str = each_year!(
    "(select month, code, cast(sum(jan) as bigint) as jan, cast(sum(feb) as bigint) as feb,
      cast(sum(mar) as bigint) as mar, cast(sum(apr) as bigint) as apr, cast(sum(may) as bigint) as may,
      cast(sum(jun) as bigint) as jun, cast(sum(jul) as bigint) as jul, cast(sum(aug) as bigint) as aug,
      cast(sum(sep) as bigint) as sep, cast(sum(oct) as bigint) as oct, cast(sum(nov) as bigint) as nov,
      cast(sum(dec) as bigint) as dec
      from tally_block where what = (select ages_in from counted where id = 1) and family = $1 and months = 12
      and month >= $2 and month <= $3 and age_band <> '' and ($4 = '' or code = $4 or code = '') group by month, code) each_year"
);

/// Each year up to one by itself, of all codes of a kind that is not counted by family or age.
///
/// # Errors
/// What the database says.
pub async fn years_of(db: &Db, what: What, years: (i64, i64)) -> Result<Vec<OfYear>> {
    let (rows,): (Option<String>,) = db
        .read(each_year!(
            "tally_block where what = $1 and family = '' and months = 12 and month >= $2 and month <= $3"
        ))
        .bind(what.code())
        .bind(years.0 * 12)
        .bind(years.1 * 12)
        .one()
        .await?;
    let rows = rows.as_deref().unwrap_or_default().lines();
    Ok(rows.filter_map(OfYear::of).collect())
}

/// Each year from one to another by itself, of one cause and all that were inspected, or of every cause when it is empty.
///
/// # Errors
/// What the database says.
pub async fn by_year(db: &Db, group: &str, years: (i64, i64), cause: &str) -> Result<Vec<OfYear>> {
    let by_age_alone = group::blocks(group).len() == 1;
    let (rows,): (Option<String>,) = db
        .read(if by_age_alone { OF_GROUP } else { OF_FAMILY })
        .bind(group.to_owned())
        .bind(years.0 * 12)
        .bind(years.1 * 12)
        .bind(cause.to_owned())
        .one()
        .await?;
    let rows = rows.as_deref().unwrap_or_default().lines();
    Ok(rows.filter_map(OfYear::of).collect())
}

impl OfYear {
    fn of(row: &str) -> Option<OfYear> {
        let mut parts = row.split('\t');
        Some(OfYear {
            year: YearMonth(parts.next()?.parse().ok()?),
            code: parts.next()?.to_owned(),
            months: numbers(parts, 0)?,
        })
    }
}

impl OfYear {
    /// The months that lie in a span, with what was counted in each.
    pub fn within(&self, span: Span) -> impl Iterator<Item = (YearMonth, i64)> {
        let year = self.year.0;
        (year..)
            .zip(self.months)
            .map(|month| (YearMonth(month.0), month.1))
            .filter(move |month| month.0 >= span.from && month.0 <= span.to)
    }
}
