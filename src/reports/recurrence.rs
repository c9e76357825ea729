//! Recurrence is how often a cause turns up among the orders inspected, by the age of the instrument and the season.
//!
//! What is counted, and where, is defined in [`super::tally`]; here the tallies are read and put together.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use sqlx::FromRow;

use crate::clock::YearMonth;
use crate::db::Db;
use crate::error::Result;

use super::bands::{Band, Bands};
use super::calendar::Months;
use super::counted::{self, BY_BAND, OF_ALL_AGES, OfYear};
use super::season::{Season, Seasons};
use super::share::Share;
use super::span::Span;

/// Orders by age band and season.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Grid(Vec<[i64; 3]>);

/// A cause that was confirmed in the span.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Confirmed {
    pub cause: String,
    pub orders: Grid,
    /// The same by month of the year.
    pub months: Months,
}

#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Recurrence {
    /// By which ages are told; what was kept before the owner could set them was told by the usual ones.
    #[serde(default)]
    pub bands: Bands,
    pub inspected: Grid,
    /// The same by month of the year.
    pub inspected_months: Months,
    /// The most frequent first.
    pub causes: Vec<Confirmed>,
}

/// What was inspected and confirmed over a span, of all ages and seasons.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Totals {
    pub inspected: i64,
    pub confirmed: BTreeMap<String, i64>,
}

impl Grid {
    fn new(bands: &Bands) -> Grid {
        Grid(vec![[0; 3]; bands.count()])
    }

    fn add(&mut self, band: Band, season: Season, orders: i64) {
        if let Some(seasons) = self.0.get_mut(band.place()) {
            seasons[season as usize] += orders;
        }
    }

    #[must_use]
    pub fn at(&self, band: Band, season: Season) -> i64 {
        self.0
            .get(band.place())
            .map_or(0, |seasons| seasons[season as usize])
    }

    #[must_use]
    pub fn of_band(&self, band: Band) -> i64 {
        self.0.get(band.place()).map_or(0, |seasons| seasons.iter().sum())
    }

    #[must_use]
    pub fn all(&self) -> i64 {
        self.0.iter().flatten().sum()
    }
}

impl Recurrence {
    /// Puts together what was counted: a cause (empty for all inspected), an age band, and months from 0 for January,
    /// whatever the year. A band that is not known any more counts as unknown, so that all still adds up.
    #[must_use]
    pub fn assemble<'a, M: IntoIterator<Item = (i64, i64)>>(
        lines: impl IntoIterator<Item = (&'a str, &'a str, M)>,
        bands: &Bands,
        seasons: &Seasons,
    ) -> Recurrence {
        let season = |month: i64| {
            u8::try_from(month + 1)
                .ok()
                .and_then(|month| seasons.of_month(month))
                .unwrap_or(Season::Change)
        };
        let by_code: BTreeMap<String, Band> = bands.all().map(|band| (bands.code(band), band)).collect();
        let none = || (Grid::new(bands), [0; 12]);
        let mut all = none();
        let mut by_cause = BTreeMap::<&str, (Grid, Months)>::new();
        for (cause, band, months) in lines {
            let band = by_code.get(band).copied().unwrap_or(bands.unknown());
            let (grid, by_month) = match cause {
                "" => &mut all,
                cause => by_cause.entry(cause).or_insert_with(none),
            };
            for (month, orders) in months {
                grid.add(band, season(month), orders);
                if let Some(sum) = usize::try_from(month).ok().and_then(|at| by_month.get_mut(at)) {
                    *sum += orders;
                }
            }
        }
        let mut causes: Vec<Confirmed> = by_cause
            .into_iter()
            .filter(|(_, (orders, _))| orders.all() > 0)
            .map(|(cause, (orders, months))| Confirmed {
                cause: cause.to_owned(),
                orders,
                months,
            })
            .collect();
        causes.sort_by_key(|cause| Reverse(cause.orders.all()));
        Recurrence {
            bands: bands.clone(),
            inspected: all.0,
            inspected_months: all.1,
            causes,
        }
    }

    /// The figures of a span, of one family or of all when it is empty.
    ///
    /// # Errors
    /// What the database says.
    pub async fn read(db: &Db, span: Span, family: &str, seasons: &Seasons) -> Result<Recurrence> {
        let held = counted::read(db, &BY_BAND, span, family).await?;
        let lines = held
            .lines
            .iter()
            .map(|line| (line.code.as_str(), line.age_band.as_str(), line.months()));
        Ok(Recurrence::assemble(lines, &held.bands, seasons))
    }

    #[must_use]
    pub fn share(&self, cause: &Confirmed) -> Share {
        Share::new(cause.orders.all(), self.inspected.all())
    }

    #[must_use]
    pub fn of_band(&self, cause: &Confirmed, band: Band) -> Share {
        Share::new(cause.orders.of_band(band), self.inspected.of_band(band))
    }
}

impl Totals {
    /// # Errors
    /// What the database says.
    pub async fn read(db: &Db, span: Span, family: &str) -> Result<Totals> {
        let mut totals = Totals::default();
        for line in counted::read(db, &OF_ALL_AGES, span, family).await?.lines {
            let orders = line.all();
            totals.add(&line.code, orders);
        }
        Ok(totals)
    }

    /// Of figures that were read already.
    #[must_use]
    pub fn of_figures(figures: &Recurrence) -> Totals {
        let confirmed = figures.causes.iter();
        Totals {
            inspected: figures.inspected.all(),
            confirmed: confirmed
                .map(|cause| (cause.cause.clone(), cause.orders.all()))
                .collect(),
        }
    }

    /// An empty cause is all that were inspected.
    fn add(&mut self, cause: &str, orders: i64) {
        if cause.is_empty() {
            self.inspected += orders;
        } else if orders != 0 {
            *self.confirmed.entry(cause.to_owned()).or_default() += orders;
        }
    }

    #[must_use]
    pub fn share(&self, cause: &str) -> Share {
        let confirmed = self.confirmed.get(cause).copied().unwrap_or_default();
        Share::new(confirmed, self.inspected)
    }

    /// All confirmed causes together; an order with two of them counts twice.
    #[must_use]
    pub fn all_confirmed(&self) -> i64 {
        self.confirmed.values().sum()
    }
}

/// Some years of the tally side by side, of all ages.
#[derive(Debug, Default)]
pub struct Years(Vec<OfYear>);

impl Years {
    /// Both ends included; of one cause and all that were inspected, or of every cause when it is empty.
    ///
    /// # Errors
    /// What the database says.
    pub async fn read(db: &Db, family: &str, years: (i64, i64), cause: &str) -> Result<Years> {
        Ok(Years(counted::by_year(db, family, years, cause).await?))
    }

    #[must_use]
    pub fn totals(&self, span: Span) -> Totals {
        let mut totals = Totals::default();
        for year in &self.0 {
            totals.add(&year.code, year.within(span).map(|month| month.1).sum());
        }
        totals
    }

    /// Each year of each cause.
    pub(super) fn each(&self) -> &[OfYear] {
        &self.0
    }

    /// The totals of some spans that lie in these years.
    #[must_use]
    pub fn of(&self, spans: Vec<Span>) -> Vec<(Span, Totals)> {
        spans.into_iter().map(|span| (span, self.totals(span))).collect()
    }

    /// Each month of a span, empty ones too.
    #[must_use]
    pub fn months(&self, span: Span) -> Vec<(YearMonth, Totals)> {
        (span.from.0..=span.to.0)
            .map(|month| (YearMonth(month), self.totals(Span::month(YearMonth(month)))))
            .collect()
    }
}

/// The same months of earlier years, latest first, back to the first that the shop counted in.
#[must_use]
pub fn earlier_spans(span: Span, reach: Span) -> Vec<Span> {
    span.earlier()
        .take_while(|before| before.to >= reach.from)
        .collect()
}

/// The same months of earlier years, latest first, with their totals.
///
/// # Errors
/// What the database says.
pub async fn earlier(db: &Db, span: Span, family: &str) -> Result<Vec<(Span, Totals)>> {
    let Some(reach) = counted::reach(db).await? else {
        return Ok(Vec::new());
    };
    let spans = earlier_spans(span, reach);
    let Some(oldest) = spans.last() else {
        return Ok(Vec::new());
    };
    if span.years_apart() == 1 {
        let years = Years::read(db, family, (oldest.from.year(), span.to.year()), "").await?;
        return Ok(years.of(spans));
    }
    let mut earlier = Vec::new();
    for before in spans {
        earlier.push((before, Totals::read(db, before, family).await?));
    }
    Ok(earlier)
}

/// Each month of a span with its totals, empty ones too.
///
/// # Errors
/// What the database says.
pub async fn by_month(db: &Db, span: Span, family: &str) -> Result<Vec<(YearMonth, Totals)>> {
    let years = Years::read(db, family, (span.from.year(), span.to.year()), "").await?;
    Ok(years.months(span))
}

/// What the codes of a tally are called.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Names(BTreeMap<String, String>);

#[derive(FromRow)]
struct Named {
    code: String,
    name: String,
}

impl Names {
    /// Of all causes, retired ones too.
    ///
    /// # Errors
    /// What the database says.
    pub async fn of_causes(db: &Db) -> Result<Names> {
        Ok(Names::from(
            db.read("select code, name from cause").all::<Named>().await?,
        ))
    }

    /// Of all jobs, retired ones too.
    ///
    /// # Errors
    /// What the database says.
    pub async fn of_jobs(db: &Db) -> Result<Names> {
        let mut names = Names::from(db.read("select code, name from job").all::<Named>().await?);
        names.0.insert(String::new(), "In free words".to_owned());
        Ok(names)
    }

    #[must_use]
    pub fn has(&self, code: &str) -> bool {
        self.0.contains_key(code)
    }

    #[must_use]
    pub fn of(&self, code: &str) -> String {
        self.known(code).unwrap_or(code).to_owned()
    }

    /// Nothing where the code is not kept.
    #[must_use]
    pub fn known(&self, code: &str) -> Option<&str> {
        self.0.get(code).map(String::as_str)
    }
}

impl From<Vec<Named>> for Names {
    fn from(rows: Vec<Named>) -> Names {
        Names(rows.into_iter().map(|row| (row.code, row.name)).collect())
    }
}

impl<const N: usize> From<[(&str, &str); N]> for Names {
    fn from(rows: [(&str, &str); N]) -> Names {
        Names(
            rows.into_iter()
                .map(|row| (row.0.to_owned(), row.1.to_owned()))
                .collect(),
        )
    }
}
