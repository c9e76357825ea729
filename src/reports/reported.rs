//! What was reported is a span's figures as they stood on the day the owner kept them, beside what was corrected since.

use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::Moment;
use crate::db::{Db, Tx};
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::staff::Who;

use super::ask::Asked;
use super::report::{Figures, Report};

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

/// The one that is asked for by its id, if any is; or else the last, where that is wanted.
///
/// # Errors
/// Not found, or what the database says.
pub async fn asked_for(
    db: &Db,
    asked: Asked,
    id: &str,
    or_last: bool,
) -> Result<Option<(Reported, Figures)>> {
    let id = match id {
        "" if or_last => of_span(db, asked).await?.first().map(|last| last.id),
        "" => None,
        id => Some(id.parse().map_err(|_| Error::NotFound)?),
    };
    match id {
        Some(id) => as_it_was(db, asked, id).await.map(Some),
        None => Ok(None),
    }
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
