//! The page of time and money, for the owner.

use askama::Template;
use axum::extract::{Extension, RawQuery, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::Result;
use crate::form::Problems;
use crate::page::{Frame, html};
use crate::reports::ask::Ask;
use crate::reports::choice::{self, Choice};
use crate::reports::counted;
use crate::staff::Who;

use super::Work;
use super::tables::{TABLES, table};

/// So many stand in a table; the rest folds away.
const SHOWN: usize = 12;

#[derive(Template)]
#[template(path = "reports/work.html")]
struct WorkPage {
    frame: Frame,
    ask: Ask,
    problems: Problems,
    choices: Vec<Choice>,
    work: Option<Work>,
}

/// `GET /work?from=2025-01&to=2025-12`
///
/// # Errors
/// What the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    RawQuery(query): RawQuery,
) -> Result<Response> {
    let mut ask = Ask::read(query.as_deref())?;
    let shop = Shop::get(&app.db).await?;
    let today = shop.today(app.clock.now());
    let frame = Frame::new("Time and money", shop.name.clone(), &who, "month");
    let (mut problems, mut choices, mut work) = (Problems::default(), Vec::new(), None);
    match super::span(&ask, today) {
        Ok(span) => {
            (ask.from, ask.to) = (span.from.iso(), span.to.iso());
            let all = counted::reach(&app.db).await?;
            choices = choice::offered("/work?", span, all, today);
            work = Some(Work::read(&app, shop, span).await?);
        }
        Err(amiss) => problems = amiss,
    }
    let status = if work.is_some() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = WorkPage {
        frame,
        ask,
        problems,
        choices,
        work,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /work.csv?from=2025-01&to=2025-12&table=minutes`
///
/// # Errors
/// Problems with what was asked, or what the database says.
pub async fn csv(State(app): State<App>, RawQuery(query): RawQuery) -> Result<Response> {
    let ask = Ask::read(query.as_deref())?;
    let shop = Shop::get(&app.db).await?;
    let span = super::span(&ask, shop.today(app.clock.now()))?;
    let work = Work::read(&app, shop, span).await?;
    let Some(table) = table(&work, &ask.table) else {
        let mut problems = Problems::default();
        problems.add(
            "table",
            format!("Choose one of the tables: {}.", TABLES.join(", ")),
        );
        return Err(problems.into());
    };
    table.answer(&format!("work-{}-{span}", ask.table))
}
