//! The month is the owner's page: what keeps coming back over a month or any span, what it took, and what it brought.

use askama::Template;
use axum::extract::{Extension, RawQuery, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::Result;
use crate::form::{Form, Problems};
use crate::page::{Frame, html};
use crate::staff::Who;
use crate::words::count;

use super::ask::{Ask, Asked};
use super::corrected::{self, Corrected, ON_PAPER, corrected};
use super::month_csv::{CORRECTED, TABLES};
use super::report::{DRAWN, FEW_SHOWN, HEATED, JOBS_SHOWN, Report, SHOWN};
use super::reported::{self, Reported};

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
    /// What is not any more as it was reported last, or, of a report as it was, as it is now: the most telling first.
    corrected: Vec<Corrected>,
    /// So many more, and where all of them are.
    more: usize,
    all_corrected: String,
    /// What was told otherwise then.
    otherwise: String,
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
        more: 0,
        all_corrected: String::new(),
        otherwise: String::new(),
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

    /// "3 more figures" than the table shows.
    fn more_words(&self) -> String {
        count(
            i64::try_from(self.more).unwrap_or(i64::MAX),
            "more figure",
            "more figures",
        )
    }

    /// The same of what stands on paper; nothing where all of it does.
    fn more_off_paper(&self) -> Option<String> {
        let more = (self.corrected.len() + self.more).saturating_sub(ON_PAPER);
        let words = count(
            i64::try_from(more).unwrap_or(i64::MAX),
            "more figure",
            "more figures",
        );
        (more > 0).then_some(words)
    }

    async fn read(&mut self, app: &App, shop: Shop, asked: Asked, reported: &str) -> Result<()> {
        let mut shown = Report::read(app, shop.clone(), asked).await?;
        let all = reported::of_span(&app.db, asked).await?;
        let zone = shop.zone();
        let words = |kept: &Reported| format!("{} by {}", zone.words_with_year(kept.kept_at), kept.name);
        let address = |id: Uuid| format!("{}&reported={id}", shown.address(asked.span));
        let told = all.iter().map(|kept| Told {
            words: words(kept),
            address: address(kept.id),
        });
        self.reported = told.collect();
        if let Some((kept, was)) = reported::asked_for(&app.db, asked, reported, true).await? {
            self.corrected = corrected(&shop, &was, &shown.figures);
            self.more = self.corrected.len().saturating_sub(corrected::SHOWN);
            self.corrected.truncate(corrected::SHOWN);
            self.all_corrected = format!("{}&reported={}", shown.csv_address(CORRECTED), kept.id);
            self.otherwise = corrected::told_otherwise(&was, &shown.figures);
            if !reported.is_empty() {
                self.as_it_was = Some(words(&kept));
                shown = Report::as_it_was(asked, shop, &kept, was);
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

/// One cause, or all where none is named.
pub(super) fn one_of(cause: &str) -> Option<&str> {
    Some(cause).filter(|cause| !cause.is_empty())
}
