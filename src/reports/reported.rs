//! What was reported is a span's figures as they stood on the day the owner kept them, beside what was corrected since.

use serde::{Deserialize, Serialize};
use sqlx::FromRow;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::clock::Moment;
use crate::db::{Db, Tx};
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::staff::Who;

use super::ask::Asked;
use super::bands::Band;
use super::recurrence::Grid;
use super::report::{Figures, Report};
use super::takings::total;

/// As it is kept, without its figures: many may be listed.
#[derive(Clone, Debug, FromRow)]
pub struct Reported {
    pub id: Uuid,
    pub kept_at: Moment,
    pub name: String,
}

#[derive(FromRow)]
struct WithFigures {
    id: Uuid,
    kept_at: Moment,
    name: String,
    figures: String,
}

/// A figure that is not what it was when it was reported.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct Corrected {
    /// What was counted, in words.
    pub what: String,
    pub was: String,
    pub is: String,
}

/// Keeps the figures of a span as reported. Kept twice with nothing changed between, they are there once.
///
/// # Errors
/// A problem when the span is not over, or what the database says.
pub async fn keep(tx: &mut Tx, who: &Who, now: Moment, report: &Report) -> Result<Reported> {
    if report.so_far() {
        let mut problems = Problems::default();
        problems.add("to", "These months are not over yet. Keep them when they are.");
        return Err(problems.into());
    }
    let figures = serde_json::to_string(&report.figures).map_err(Error::fault)?;
    let (span, family) = (report.span(), report.asked.group.code);
    let last: Option<WithFigures> = tx
        .query(
            "select id, kept_at, name, figures from reported where from_month = $1 and to_month = $2 and family = $3
             order by kept_at desc, id desc limit 1",
        )
        .bind(span.from)
        .bind(span.to)
        .bind(family)
        .optional()
        .await?;
    // Read and written once more, since there may be more figures now than there were then.
    let same = |last: &WithFigures| {
        let was: Option<Figures> = serde_json::from_str(&last.figures).ok();
        was.and_then(|was| serde_json::to_string(&was).ok()).as_ref() == Some(&figures)
    };
    if let Some(last) = last.filter(same) {
        return Ok(last.without_figures());
    }
    let reported = Reported {
        id: Uuid::now_v7(),
        kept_at: now,
        name: who.name.clone(),
    };
    tx.query("insert into reported (id, from_month, to_month, family, kept_at, name, figures) values ($1, $2, $3, $4, $5, $6, $7)")
        .bind(reported.id)
        .bind(span.from)
        .bind(span.to)
        .bind(family)
        .bind(reported.kept_at)
        .bind(reported.name.clone())
        .bind(figures)
        .execute()
        .await?;
    Ok(reported)
}

/// So many are listed.
const LISTED: i64 = 12;

/// When a span was reported, the latest first.
///
/// # Errors
/// What the database says.
pub async fn of_span(db: &Db, asked: Asked) -> Result<Vec<Reported>> {
    Ok(db
        .read(
            "select id, kept_at, name from reported where from_month = $1 and to_month = $2 and family = $3
         order by kept_at desc, id desc limit $4",
        )
        .bind(asked.span.from)
        .bind(asked.span.to)
        .bind(asked.group.code)
        .bind(LISTED)
        .all()
        .await?)
}

/// The figures of a span as they were kept.
///
/// # Errors
/// Not found, or what the database says.
pub async fn as_it_was(db: &Db, asked: Asked, id: Uuid) -> Result<(Reported, Figures)> {
    let kept: WithFigures = db
        .read(
            "select id, kept_at, name, figures from reported where id = $1 and from_month = $2 and to_month = $3
             and family = $4",
        )
        .bind(id)
        .bind(asked.span.from)
        .bind(asked.span.to)
        .bind(asked.group.code)
        .optional()
        .await?
        .ok_or(Error::NotFound)?;
    let figures = serde_json::from_str(&kept.figures).map_err(Error::fault)?;
    Ok((kept.without_figures(), figures))
}

impl WithFigures {
    fn without_figures(self) -> Reported {
        Reported {
            id: self.id,
            kept_at: self.kept_at,
            name: self.name,
        }
    }
}

/// How often a cause was confirmed; where it never was, nothing is found.
fn confirmed<'a>(figures: &'a Figures, cause: &str) -> Option<&'a Grid> {
    let mut causes = figures.recurrence.causes.iter();
    let found = causes.find(|confirmed| confirmed.cause == cause);
    found.map(|confirmed| &confirmed.orders)
}

/// What is not any more as it was reported; amounts are said in the shop's money. Where as many were counted as then, it is
/// looked whether they are as old as then; but not where the ages were told by other bands.
#[must_use]
pub fn corrected(shop: &Shop, was: &Figures, is: &Figures) -> Vec<Corrected> {
    let mut all = Vec::new();
    let mut compare = |what: &str, of: &dyn Fn(&Figures) -> String| {
        let (was, is) = (of(was), of(is));
        let same = was == is;
        if !same {
            let what = what.to_owned();
            all.push(Corrected { what, was, is });
        }
        same
    };
    let orders = |n: i64| crate::words::grouped(n.max(0).unsigned_abs());
    let bands = &is.recurrence.bands;
    let told: Vec<Band> = if was.recurrence.bands == *bands {
        bands.all().collect()
    } else {
        Vec::new()
    };
    let mut counted = |what: &str, of: &dyn Fn(&Figures) -> Option<&Grid>| {
        if compare(what, &|figures| orders(of(figures).map_or(0, Grid::all))) {
            for band in &told {
                let what = format!("{what}, {}", bands.words(*band));
                compare(&what, &|figures| {
                    orders(of(figures).map_or(0, |grid| grid.of_band(*band)))
                });
            }
        }
    };
    counted("Inspected", &|figures| Some(&figures.recurrence.inspected));
    let mut causes: Vec<&String> = [was, is]
        .iter()
        .flat_map(|figures| figures.recurrence.causes.iter().map(|confirmed| &confirmed.cause))
        .collect();
    causes.sort_unstable();
    causes.dedup();
    for cause in causes {
        counted(&is.names.of(cause), &|figures| confirmed(figures, cause));
    }
    compare("Comebacks", &|figures| orders(figures.takings.all_comebacks()));
    compare("Charged", &|figures| {
        shop.money(&total(&figures.takings.charged()))
    });
    compare("Taken", &|figures| shop.money(&total(&figures.takings.taken())));
    all
}
