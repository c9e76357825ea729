//! A row of the tally is what was counted of one thing in one place: the twelve months of a year, or of a decade, side by side.

use std::collections::BTreeMap;

use sqlx::FromRow;

use crate::clock::YearMonth;
use crate::db::{Query, Tx, upsert_rows};
use crate::error::Result;

use super::bands::Bands;
use super::block::{SIZES, first_of};
use super::group;
use super::rules::Rules;
use super::tally::What;

/// Orders of one month, family or other group, age and cause; of all that were inspected when the cause is empty.
pub type At = (YearMonth, String, Option<i64>, String);

/// What counts where a cause came back within the window alone: of one month, under a code, back after so many days.
pub type Back = (What, YearMonth, String, i64);

/// Which one.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Row {
    what: What,
    code: String,
    family: String,
    age_band: String,
    months: i64,
    first: YearMonth,
}

/// Rows with what is to be added to each month of them.
#[derive(Debug, Default)]
pub struct Rows(BTreeMap<Row, [i64; 12]>);

impl Rows {
    /// Adds to the blocks of these sizes in which a month lies: under a family, an age band and a code.
    pub fn add(&mut self, sizes: &[i64], what: What, month: YearMonth, at: (&str, &str, &str), n: i64) {
        let (family, age_band, code) = at;
        for &months in sizes {
            let row = Row {
                what,
                code: code.to_owned(),
                family: family.to_owned(),
                age_band: age_band.to_owned(),
                months,
                first: first_of(month, months),
            };
            let of_year = usize::from(month.month_number()) - 1;
            self.0.entry(row).or_default()[of_year] += n;
        }
    }

    /// Adds so many times what was counted by age, by some bands.
    pub fn add_ages<'a>(
        &mut self,
        orders: impl IntoIterator<Item = (&'a At, &'a i64)>,
        place: What,
        bands: &Bands,
        times: i64,
    ) {
        for ((month, group, age, cause), n) in orders {
            let at = (group.as_str(), &*bands.code(bands.of(*age)), cause.as_str());
            self.add(group::blocks(group), place, *month, at, n * times);
        }
    }

    /// Adds so many times what came back within a window.
    pub fn add_back<'a>(
        &mut self,
        back: impl IntoIterator<Item = (&'a Back, &'a i64)>,
        window: i64,
        times: i64,
    ) {
        for ((what, month, code, days), n) in back {
            if *days <= window {
                self.add(&SIZES, *what, *month, ("", "", code), n * times);
            }
        }
    }

    /// Takes in others so many times.
    pub fn join(&mut self, other: &Rows, times: i64) {
        for (row, months) in &other.0 {
            let sums = self.0.entry(row.clone()).or_default();
            for (sum, n) in sums.iter_mut().zip(months) {
                *sum += n * times;
            }
        }
    }

    /// Only what is of these kinds.
    pub fn retain(&mut self, kinds: &[What]) {
        self.0.retain(|row, _| kinds.contains(&row.what));
    }

    /// Adds them to the table, unless all are none.
    ///
    /// # Errors
    /// What the database says.
    pub async fn write(self, tx: &mut Tx) -> Result<bool> {
        let rows: Vec<(Row, [i64; 12])> = self.0.into_iter().filter(|row| row.1 != [0; 12]).collect();
        let Some(month) = rows.first().and_then(|row| row.1.iter().position(|n| *n != 0)) else {
            return Ok(false);
        };
        let others = |row: &[i64; 12]| row.iter().enumerate().any(|(at, n)| at != month && *n != 0);
        // All of an act falls into one month as a rule: then its column alone is sent.
        if rows.iter().any(|row| others(&row.1)) {
            upsert_rows(tx, INTO, 18, ADD, &rows, |query, (row, months)| {
                months.iter().fold(row.bind(query), |query, n| query.bind(*n))
            })
            .await?;
        } else {
            let (into, add) = OF_MONTH[month];
            upsert_rows(tx, into, 7, add, &rows, |query, (row, months)| {
                row.bind(query).bind(months[month])
            })
            .await?;
        }
        Ok(true)
    }
}

/// A row of the table as it is read back.
#[derive(FromRow)]
struct Kept {
    what: String,
    family: String,
    months: i64,
    month: YearMonth,
    age_band: String,
    code: String,
    jan: i64,
    feb: i64,
    mar: i64,
    apr: i64,
    may: i64,
    jun: i64,
    jul: i64,
    aug: i64,
    sep: i64,
    oct: i64,
    nov: i64,
    dec: i64,
}

/// What is counted, where it stands, in words, and the count.
pub type Figure = (What, String, i64);

/// Where a count stands, in words: "orders of a year from 2026-01, violin, 20_to_79, nut_loose, in month 3".
fn place(months: i64, first: YearMonth, at: [&str; 3], month: usize) -> String {
    let span = if months == 12 { "a year" } else { "a decade" };
    let [family, band, code] = at.map(|of| if of.is_empty() { "all" } else { of });
    format!(
        "{span} from {}, {family}, {band}, {code}, month {}",
        first.iso(),
        month + 1
    )
}

impl Rows {
    /// All that is not nothing, in words.
    #[must_use]
    pub fn figures(&self) -> Vec<Figure> {
        let figures = self.0.iter().flat_map(|(row, counted)| {
            let at = [row.family.as_str(), row.age_band.as_str(), row.code.as_str()];
            let some = counted.iter().enumerate().filter(|count| *count.1 != 0);
            some.map(move |(month, n)| (row.what, place(row.months, row.first, at, month), *n))
        });
        figures.collect()
    }
}

/// All that is kept but zeroes, for a recount; not what an earlier recount left in the place that is not read.
///
/// # Errors
/// What the database says.
pub async fn kept(tx: &mut Tx, rules: &Rules) -> Result<Vec<Figure>> {
    let mut figures = Vec::new();
    let is_read = rules.next().is_some_and(|next| next.done.is_some());
    for what in What::ALL {
        let rows: Vec<Kept> = tx
            .query("select * from tally_block where what = $1")
            .bind(what.code())
            .all()
            .await?;
        let left = |row: &Kept| what == rules.other_place() && !is_read && !row.age_band.is_empty();
        for row in rows.into_iter().filter(|row| !left(row)) {
            let counted = [
                row.jan, row.feb, row.mar, row.apr, row.may, row.jun, row.jul, row.aug, row.sep, row.oct,
                row.nov, row.dec,
            ];
            let at = [row.family.as_str(), row.age_band.as_str(), row.code.as_str()];
            let some = counted.into_iter().enumerate().filter(|count| count.1 != 0);
            figures.extend(some.map(|(month, n)| {
                let place = place(row.months, row.month, at, month);
                (What::of_code(&row.what).unwrap_or(what), place, n)
            }));
        }
    }
    Ok(figures)
}

impl Row {
    fn bind<'c>(&self, query: Query<'c>) -> Query<'c> {
        query
            .bind(self.what.code())
            .bind(self.family.clone())
            .bind(self.months)
            .bind(self.first)
            .bind(self.age_band.clone())
            .bind(self.code.clone())
    }
}

macro_rules! of_month {
    ($($month:literal)*) => {
        [$((
            concat!("insert into tally_block (what, family, months, month, age_band, code, ", $month, ") values"),
            concat!(
                " on conflict (what, family, months, month, age_band, code) do update set ",
                $month, " = tally_block.", $month, " + excluded.", $month
            ),
        )),*]
    };
}

/// Of each month: where it goes, and that it is added to what is there.
const OF_MONTH: [(&str, &str); 12] =
    of_month!("jan" "feb" "mar" "apr" "may" "jun" "jul" "aug" "sep" "oct" "nov" "dec");
const INTO: &str = "insert into tally_block (what, family, months, month, age_band, code,
    jan, feb, mar, apr, may, jun, jul, aug, sep, oct, nov, dec) values";
const ADD: &str = " on conflict (what, family, months, month, age_band, code) do update set
    jan = tally_block.jan + excluded.jan, feb = tally_block.feb + excluded.feb, mar = tally_block.mar + excluded.mar,
    apr = tally_block.apr + excluded.apr, may = tally_block.may + excluded.may, jun = tally_block.jun + excluded.jun,
    jul = tally_block.jul + excluded.jul, aug = tally_block.aug + excluded.aug, sep = tally_block.sep + excluded.sep,
    oct = tally_block.oct + excluded.oct, nov = tally_block.nov + excluded.nov, dec = tally_block.dec + excluded.dec";
