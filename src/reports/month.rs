//! The month is the owner's page: what keeps coming back over a month or any span, what it took, and what it brought.

use askama::Template;
use axum::extract::{Extension, RawQuery, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::{Error, Result};
use crate::form::{Form, Problems};
use crate::page::{Frame, html};
use crate::staff::Who;

use super::ask::{Ask, Asked};
use super::recurrence::{self, Names, Recurrence, Totals};
use super::report::{DRAWN, FEW_SHOWN, HEATED, JOBS_SHOWN, Report, SHOWN};
use super::reported::{self, Corrected, Reported};
use super::table_csv;
use super::takings::Takings;

#[derive(Template)]
#[template(path = "reports/month.html")]
struct MonthPage {
    frame: Frame,
    ask: Ask,
    problems: Problems,
    report: Option<Report>,
    /// When it was reported, the latest first.
    reported: Vec<Told>,
    /// It is shown as it was then.
    as_it_was: Option<String>,
    /// What is not any more as it was reported last, or, of a report as it was, as it is now.
    corrected: Vec<Corrected>,
    /// The bands that the ages were told by then, where they are others now.
    bands_then: Option<String>,
}

/// A report that was kept: when and by whom, and where it is shown.
struct Told {
    words: String,
    address: String,
}

/// What to keep as reported.
#[derive(Debug, Default, Deserialize)]
pub struct KeepForm {
    #[serde(default)]
    from: String,
    #[serde(default)]
    to: String,
    #[serde(default)]
    group: String,
}

/// `GET /month?from=2025-12&to=2026-02&family=cello`, or `&size=fractional`, or `&account=school`
///
/// # Errors
/// What the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    RawQuery(query): RawQuery,
) -> Result<Response> {
    let ask = Ask::read(query.as_deref())?;
    let shop = Shop::get(&app.db).await?;
    let name = shop.name.clone();
    let mut page = MonthPage {
        frame: Frame::new("The month".to_owned(), name.clone(), &who, "month"),
        ask: ask.clone(),
        problems: Problems::default(),
        report: None,
        reported: Vec::new(),
        as_it_was: None,
        corrected: Vec::new(),
        bands_then: None,
    };
    match ask.understand(shop.today(app.clock.now())) {
        Ok(asked) => {
            page.frame = Frame::new(asked.span.title(), name, &who, "month");
            (page.ask.from, page.ask.to) = (asked.span.from.iso(), asked.span.to.iso());
            asked.group.code.clone_into(&mut page.ask.group);
            page.read(&app, shop, asked, &ask.reported).await?;
        }
        Err(problems) => page.problems = problems,
    }
    let status = if page.report.is_some() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    Ok((status, html(page)?).into_response())
}

impl MonthPage {
    /// The name of the list of groups: what is amiss with one points there.
    fn group_field(&self) -> &'static str {
        ["account", "size", "family"]
            .into_iter()
            .find(|by| !self.problems.at(by).is_empty())
            .unwrap_or("group")
    }

    async fn read(&mut self, app: &App, shop: Shop, asked: Asked, reported: &str) -> Result<()> {
        let now = Report::read(app, shop.clone(), asked).await?;
        let all = reported::of_span(&app.db, asked).await?;
        let words =
            |kept: &Reported| format!("{} by {}", shop.zone().words_with_year(kept.kept_at), kept.name);
        let of = if reported.is_empty() {
            all.first().map(|last| last.id)
        } else {
            Some(reported.parse().map_err(|_| Error::NotFound)?)
        };
        self.reported = all
            .iter()
            .map(|kept| Told {
                words: words(kept),
                address: format!("{}&reported={}", now.address(asked.span), kept.id),
            })
            .collect();
        let mut shown = now;
        if let Some(id) = of {
            let (kept, was) = reported::as_it_was(&app.db, asked, id).await?;
            self.corrected = reported::corrected(&shop, &was, &shown.figures);
            let then = &was.recurrence.bands;
            self.bands_then = (*then != shown.figures.recurrence.bands).then(|| then.told());
            if !reported.is_empty() {
                self.as_it_was = Some(words(&kept));
                shown = Report::new(asked, shop.today(kept.kept_at), shop, was);
            }
        }
        self.report = Some(shown);
        Ok(())
    }
}

/// `POST /month`: keeps the months as reported.
///
/// # Errors
/// A problem when they are not over, or what the database says.
pub async fn keep(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    form: Form<KeepForm>,
) -> Result<Response> {
    let ask = Ask {
        from: form.of.from,
        to: form.of.to,
        group: form.of.group,
        ..Ask::default()
    };
    let shop = Shop::get(&app.db).await?;
    let asked = ask.understand(shop.today(app.clock.now()))?;
    let report = Report::read(&app, shop, asked).await?;
    let mut tx = app.db.begin().await?;
    reported::keep(&mut tx, &who, app.clock.now(), &report).await?;
    tx.commit().await?;
    Ok(Redirect::to(&report.address(asked.span)).into_response())
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
    let (names, seasons) = (Names::of_causes(db).await?, shop.seasons());
    let (kept, group) = (ask.table.as_str(), asked.group);
    let of_group = async || Recurrence::read(db, span, group.code, &seasons).await;
    let table = match kept {
        "cells" => table_csv::cells(&of_group().await?, one_of(&ask.cause), &names).of(group),
        "causes" => table_csv::causes(&of_group().await?, &names, seasons).of(group),
        "months" => table_csv::months(&of_group().await?, &names, seasons).of(group),
        "years" => {
            let mut spans = vec![(span, Totals::read(db, span, group.code).await?)];
            spans.extend(recurrence::earlier(db, span, group.code).await?);
            table_csv::years(&spans, &names).of(group)
        }
        "jobs" => table_csv::jobs(&Takings::read(db, span).await?, &Names::of_jobs(db).await?),
        "money" => table_csv::money(&Takings::read(db, span).await?, &shop.currency()),
        "comebacks" => {
            let whole_shop = Totals::read(db, span, "").await?;
            table_csv::comebacks(&Takings::read(db, span).await?, &whole_shop, &names)
        }
        _ => return Err(no_such_table()),
    };
    // Work, money and comebacks are of the whole shop, whichever group was asked for.
    let of = table.of_what();
    table.answer(&format!("{kept}-{of}-{span}"))
}

/// One cause, or all where none is named.
pub(super) fn one_of(cause: &str) -> Option<&str> {
    Some(cause).filter(|cause| !cause.is_empty())
}

fn no_such_table() -> Error {
    let mut problems = Problems::default();
    problems.add(
        "table",
        format!("Choose one of the tables: {}.", table_csv::TABLES.join(", ")),
    );
    problems.into()
}
