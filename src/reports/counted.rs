//! Counted is what the blocks of a span hold: the rows of the tally, with the months of the span alone.

use crate::clock::YearMonth;
use crate::db::Db;
use crate::error::Result;

use super::block::{Run, SIZES, cover};
use super::span::Span;
use super::tally::What;

/// A row as it is read: three texts, and January to December.
type Row = (
    String,
    String,
    String,
    i64,
    i64,
    i64,
    i64,
    i64,
    i64,
    i64,
    i64,
    i64,
    i64,
    i64,
    i64,
);

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

/// Which rows are wanted, and the statements that read them: one month of one block, one block, the sum of several.
pub struct Of {
    /// Which are to be read of blocks longer than a year, where others are.
    longer: Option<&'static Of>,
    month: [&'static str; 12],
    one: &'static str,
    several: &'static str,
}

macro_rules! of_month {
    ($which:literal, $($month:literal)*) => {
        [$(concat!(
            "select what, code, age_band, ", $month,
            " from tally_block where family = $1 and months = $2 and month = $3 and ", $month, " <> 0 and ", $which
        )),*]
    };
}

macro_rules! of {
    ($which:literal) => {
        Of {
            longer: None,
            month: of_month!($which, "jan" "feb" "mar" "apr" "may" "jun" "jul" "aug" "sep" "oct" "nov" "dec"),
            one: concat!(
                "select what, code, age_band, jan, feb, mar, apr, may, jun, jul, aug, sep, oct, nov, dec
                 from tally_block where family = $1 and months = $2 and month = $3 and ",
                $which
            ),
            several: concat!(
                "select what, code, age_band, cast(sum(jan) as bigint), cast(sum(feb) as bigint), cast(sum(mar) as bigint), cast(sum(apr) as bigint),
                 cast(sum(may) as bigint), cast(sum(jun) as bigint), cast(sum(jul) as bigint), cast(sum(aug) as bigint),
                 cast(sum(sep) as bigint), cast(sum(oct) as bigint), cast(sum(nov) as bigint), cast(sum(dec) as bigint)
                 from tally_block where family = $1 and months = $2 and month >= $3 and month <= $4 and ",
                $which,
                " group by what, code, age_band"
            ),
        }
    };
}

/// Inspected and confirmed, by age band.
pub static BY_BAND: Of = of!("what = 'orders' and age_band <> ''");
/// Inspected and confirmed, of all ages.
pub static OF_ALL_AGES: Of = Of {
    longer: Some(&BY_BAND),
    ..of!("what = 'orders' and age_band = ''")
};
/// Work, money and comebacks.
pub static WORK: Of = of!("what in ('comebacks', 'steps', 'planned', 'actual', 'amount', 'times')");

/// The months between which all lies that was ever counted; nothing while nothing was.
///
/// # Errors
/// What the database says.
pub async fn reach(db: &Db) -> Result<Option<Span>> {
    let (from, to): (Option<YearMonth>, Option<YearMonth>) = db
        .read("select first_month, last_month from counted where id = 1")
        .one()
        .await?;
    Ok(from.zip(to).map(|(from, to)| Span { from, to }))
}

/// All that a span holds, in no order; a code may come more than once.
///
/// # Errors
/// What the database says.
pub async fn read(db: &Db, of: &Of, span: Span, family: &str) -> Result<Vec<Line>> {
    let Some(reach) = reach(db).await? else {
        return Ok(Vec::new());
    };
    let mut lines = Vec::new();
    for run in cover(span, reach) {
        // Decades are not kept of all ages together.
        let of = if run.months > SIZES[0] {
            of.longer.unwrap_or(of)
        } else {
            of
        };
        if let Some(month) = run.month() {
            let query = db.read(of.month[month]);
            let query = query.bind(family.to_owned()).bind(run.months).bind(run.from);
            let rows: Vec<(String, String, String, i64)> = query.all().await?;
            lines.extend(rows.into_iter().filter_map(|row| {
                let mut months = [0; 12];
                months[month] = row.3;
                Line::new((row.0, row.1, row.2), months, run)
            }));
            continue;
        }
        let query = if run.is_one() {
            db.read(of.one)
        } else {
            db.read(of.several)
        };
        let query = query.bind(family.to_owned()).bind(run.months).bind(run.from);
        let query = if run.is_one() { query } else { query.bind(run.to) };
        let rows: Vec<Row> = query.all().await?;
        lines.extend(rows.into_iter().filter_map(|row| {
            let months = [
                row.3, row.4, row.5, row.6, row.7, row.8, row.9, row.10, row.11, row.12, row.13, row.14,
            ];
            Line::new((row.0, row.1, row.2), months, run)
        }));
    }
    Ok(lines)
}

impl Line {
    /// Nothing when it is of a kind that is not known any more.
    fn new((what, code, age_band): (String, String, String), months: [i64; 12], run: Run) -> Option<Line> {
        Some(Line {
            what: What::of_code(&what)?,
            code,
            age_band,
            run,
            months,
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

/// Each year from one to another by itself, of one cause and all that were inspected, or of every cause when it is empty.
///
/// # Errors
/// What the database says.
pub async fn by_year(db: &Db, family: &str, years: (i64, i64), cause: &str) -> Result<Vec<OfYear>> {
    let rows: Vec<YearRow> = db
        .read(
            "select month, code, jan, feb, mar, apr, may, jun, jul, aug, sep, oct, nov, dec from tally_block
             where what = 'orders' and family = $1 and months = 12 and month >= $2 and month <= $3 and age_band = ''
             and ($4 = '' or code = $4 or code = '')",
        )
        .bind(family.to_owned())
        .bind(years.0 * 12)
        .bind(years.1 * 12)
        .bind(cause.to_owned())
        .all()
        .await?;
    Ok(rows.into_iter().map(OfYear::from).collect())
}

type YearRow = (
    i64,
    String,
    i64,
    i64,
    i64,
    i64,
    i64,
    i64,
    i64,
    i64,
    i64,
    i64,
    i64,
    i64,
);

impl From<YearRow> for OfYear {
    fn from(row: YearRow) -> OfYear {
        OfYear {
            year: YearMonth(row.0),
            code: row.1,
            months: [
                row.2, row.3, row.4, row.5, row.6, row.7, row.8, row.9, row.10, row.11, row.12, row.13,
            ],
        }
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
