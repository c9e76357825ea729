//! The month is the owner's page: what keeps coming back over a month or any span, what it took, and what it brought.

use askama::Template;
use axum::extract::{Extension, RawQuery, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::page::{Frame, html};
use crate::staff::Who;

use super::ask::Ask;
use super::recurrence::{self, Names, Recurrence, Totals};
use super::report::{DRAWN, FEW_SHOWN, HEATED, JOBS_SHOWN, Report, SHOWN};
use super::table_csv;
use super::takings::Takings;

#[derive(Template)]
#[template(path = "reports/month.html")]
struct MonthPage {
    frame: Frame,
    ask: Ask,
    problems: Problems,
    report: Option<Report>,
}

/// `GET /month?from=2025-12&to=2026-02&family=cello`
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
    let name = shop.name.clone();
    let (title, report, problems) = match ask.understand(shop.today(app.clock.now())) {
        Ok(asked) => {
            (ask.from, ask.to) = (asked.span.from.iso(), asked.span.to.iso());
            let report = Report::read(&app, shop, asked).await?;
            (asked.span.title(), Some(report), Problems::default())
        }
        Err(problems) => ("The month".to_owned(), None, problems),
    };
    let status = if report.is_some() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = MonthPage {
        frame: Frame::new(title, name, &who, "month"),
        ask,
        problems,
        report,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /month.csv?from=2025-12&to=2026-02&family=cello&table=cells`
///
/// # Errors
/// Problems with what was asked, or what the database says.
pub async fn csv(State(app): State<App>, RawQuery(query): RawQuery) -> Result<Response> {
    let ask = Ask::read(query.as_deref())?;
    let shop = Shop::get(&app.db).await?;
    let asked = ask.understand(shop.today(app.clock.now()))?;
    let (db, span) = (&app.db, asked.span);
    let names = Names::of_causes(db).await?;
    let kept = ask.table.as_str();
    let table = match kept {
        "cells" => table_csv::cells(
            &Recurrence::read(db, span, asked.family, &shop.seasons()).await?,
            &names,
        ),
        "causes" => table_csv::causes(
            &Recurrence::read(db, span, asked.family, &shop.seasons()).await?,
            &names,
            shop.seasons(),
        ),
        "months" => table_csv::months(
            &Recurrence::read(db, span, asked.family, &shop.seasons()).await?,
            &names,
            shop.seasons(),
        ),
        "years" => {
            let mut spans = vec![(span, Totals::read(db, span, asked.family).await?)];
            spans.extend(recurrence::earlier(db, span, asked.family).await?);
            table_csv::years(&spans, &names)
        }
        "jobs" => table_csv::jobs(&Takings::read(db, span).await?, &Names::of_jobs(db).await?),
        "money" => table_csv::money(&Takings::read(db, span).await?, &shop.currency()),
        "comebacks" => {
            let every_family = Totals::read(db, span, "").await?;
            table_csv::comebacks(&Takings::read(db, span).await?, &every_family, &names)
        }
        _ => return Err(no_such_table()),
    };
    let family = if asked.family.is_empty() {
        "all"
    } else {
        asked.family
    };
    table.answer(&format!("{kept}-{family}-{span}"))
}

fn no_such_table() -> Error {
    let mut problems = Problems::default();
    problems.add(
        "table",
        format!("Choose one of the tables: {}.", table_csv::TABLES.join(", ")),
    );
    problems.into()
}
