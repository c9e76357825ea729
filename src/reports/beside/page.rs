//! The page on which the groups stand side by side, for the owner, and its CSV.

use askama::Template;
use axum::extract::{Extension, RawQuery, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::Day;
use crate::error::Result;
use crate::form::Problems;
use crate::page::{Frame, html};
use crate::reports::ask::Ask;
use crate::reports::choice::{self, Choice};
use crate::reports::sentence::Piece;
use crate::reports::{counted, share, tally};
use crate::staff::Who;

use super::rows::{Part, Row};
use super::table::table;
use super::{Beside, By, READING, sentences, understand};

/// So many causes stand in the table; the rest folds away.
const SHOWN: usize = 10;

#[derive(Template)]
#[template(path = "reports/beside.html")]
struct BesidePage {
    frame: Frame,
    ask: Ask,
    by: By,
    problems: Problems,
    choices: Vec<Choice>,
    shop: Shop,
    today: Day,
    told: Option<Beside>,
}

impl BesidePage {
    fn sentences(&self, told: &Beside) -> Vec<Piece> {
        sentences::sentences(told)
    }

    /// What the table is of alone, out of all that is defined.
    fn definitions(&self) -> impl Iterator<Item = &'static (&'static str, &'static str)> {
        let by = self.by;
        let defined = move |word: &str| match word {
            "Inspected" | "Month and season" | "Confirmed" => true,
            "Size" => by == By::Size,
            "Account" => by == By::Account,
            _ => false,
        };
        let counted = tally::DEFINITIONS.iter().filter(move |line| defined(line.0));
        counted.chain(&share::READING).chain(&READING)
    }

    fn marked(&self, rows: &[Row]) -> usize {
        rows.iter().filter(|row| row.is_marked()).count()
    }
}

/// `GET /month/beside?by=family&from=2025-01&to=2025-12`
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
    let frame = Frame::new("Side by side", shop.name.clone(), &who, "month");
    let mut page = BesidePage {
        frame,
        by: By::of_code(&ask.by).unwrap_or(By::Family),
        ask: Ask::default(),
        problems: Problems::default(),
        choices: Vec::new(),
        told: None,
        shop,
        today,
    };
    match understand(&ask, today) {
        Ok((by, span)) => {
            (ask.from, ask.to) = (span.from.iso(), span.to.iso());
            let told = Beside::read(&app, &page.shop, by, span).await?;
            let at = format!("/month/beside?by={}&", by.code());
            page.choices = choice::offered(&at, span, counted::reach(&app.db).await?, today);
            page.told = Some(told);
        }
        Err(problems) => page.problems = problems,
    }
    page.ask = ask;
    let status = if page.told.is_some() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /month/beside.csv?by=family&from=2025-01&to=2025-12`
///
/// # Errors
/// Problems with what was asked, or what the database says.
pub async fn csv(State(app): State<App>, RawQuery(query): RawQuery) -> Result<Response> {
    let ask = Ask::read(query.as_deref())?;
    let shop = Shop::get(&app.db).await?;
    let (by, span) = understand(&ask, shop.today(app.clock.now()))?;
    let told = Beside::read(&app, &shop, by, span).await?;
    table(&told).answer(&format!("beside-{}-{span}", by.code()))
}
