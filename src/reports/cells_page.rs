//! The cells are the finest that is told of recurrence: each cause by the age of the instrument and the season together.

use askama::Template;
use axum::extract::{Extension, RawQuery, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::Result;
use crate::form::Problems;
use crate::page::{Frame, html};
use crate::staff::Who;
use crate::words::{count, grouped};

use super::ask::{Ask, Asked};
use super::month::one_of;
use super::recurrence::{Names, Recurrence};
use super::season::Season;
use super::sentences::of_age;
use super::share::{Share, percent};
use super::weigh::{self, Cell, Way, Weighed};

/// So many are shown of all causes; the rest is in the CSV.
const SHOWN: usize = 40;

#[derive(Template)]
#[template(path = "reports/cells_page.html")]
struct CellsPage {
    frame: Frame,
    ask: Ask,
    problems: Problems,
    told: Option<Told>,
}

/// All that is told of a span.
struct Told {
    asked: Asked,
    shop: Shop,
    names: Names,
    figures: Recurrence,
    /// One cause alone.
    cause: Option<String>,
}

/// A cell as it stands in the table.
struct Row {
    cause: String,
    age: String,
    season: &'static str,
    share: Share,
    /// What is to be expected there: it leans on the cause's other cells.
    expected: Option<f64>,
    way: Option<Way>,
    elsewhere: Share,
}

/// Its opening stands out, and it leads to the table.
struct Sentence {
    lead: String,
    rest: String,
}

impl Row {
    /// "24 %"
    fn expected(&self) -> String {
        self.expected.map_or("–".to_owned(), percent)
    }

    /// "↑ more often", or that it is as in the other cells; nothing where there are too few to say.
    fn beside(&self) -> Option<String> {
        if self.share.few() {
            return None;
        }
        let way = self.way.map(|way| format!("{} {}", way.sign(), way.words()));
        Some(way.unwrap_or_else(|| "as elsewhere".to_owned()))
    }
}

impl Told {
    async fn read(app: &App, shop: Shop, asked: Asked, cause: &str) -> Result<Told> {
        let figures = Recurrence::read(&app.db, asked.span, asked.group.code, &shop.seasons()).await?;
        let names = Names::of_causes(&app.db).await?;
        let cause = one_of(cause).map(str::to_owned);
        Ok(Told {
            asked,
            shop,
            names,
            figures,
            cause,
        })
    }

    /// What is told, the most to be expected first.
    fn cells(&self) -> Vec<Cell<'_>> {
        let mut cells = weigh::cells(&self.figures, self.cause.as_deref());
        let expected = |cell: &Cell| cell.shrunk.unwrap_or_default();
        cells.sort_by(|one, other| expected(other).total_cmp(&expected(one)));
        cells
    }

    fn row(&self, cell: &Cell) -> Row {
        Row {
            cause: self.names.of(&cell.cause.cause),
            age: self.figures.bands.short(cell.band),
            season: cell.season.words(),
            share: cell.weighed.share,
            expected: cell.shrunk,
            way: cell.weighed.way(),
            elsewhere: cell.weighed.elsewhere(),
        }
    }

    /// Those that stand in the table, and how many there are in all.
    fn rows(&self) -> (Vec<Row>, usize) {
        let cells = self.cells();
        let shown = if self.cause.is_some() { cells.len() } else { SHOWN };
        let rows = cells.iter().take(shown).map(|cell| self.row(cell));
        (rows.collect(), cells.len())
    }

    /// Of one cause: each age with each season that the shop has, for a table by both.
    fn by_both(&self) -> Vec<(String, Vec<Option<Weighed>>)> {
        let cells = self.cells();
        let heads = self.seasons();
        let bands = self.figures.bands.all();
        bands
            .map(|band| {
                let of = |season| {
                    let cell = cells
                        .iter()
                        .find(|cell| cell.band == band && cell.season == season);
                    cell.map(|cell| cell.weighed)
                };
                let row = heads.iter().map(|head| of(head.0)).collect();
                (self.figures.bands.short(band), row)
            })
            .collect()
    }

    /// Those that the shop has, with their months.
    fn seasons(&self) -> Vec<(Season, &'static str, String)> {
        let seasons = self.shop.seasons();
        let all = Season::ALL.into_iter();
        all.filter(|season| seasons.months(*season).next().is_some())
            .map(|season| (season, season.words(), seasons.runs(season)))
            .collect()
    }

    /// "Open seam on instruments of 100 years and over in dry months"; the season only where the shop has several.
    fn place(&self, cell: &Cell) -> String {
        let age = of_age(&self.figures.bands, cell.band);
        let season = if self.shop.seasons().are_several() {
            format!(" in {}", cell.season.words())
        } else {
            String::new()
        };
        format!(
            "{} on instruments {age}{season}",
            self.names.of(&cell.cause.cause)
        )
    }

    fn sentences(&self) -> Vec<Sentence> {
        let cells = self.cells();
        let Some(most) = cells
            .iter()
            .find(|cell| !cell.weighed.share.few() && cell.weighed.share.confirmed > 0)
        else {
            return Vec::new();
        };
        let share = most.weighed.share;
        let elsewhere = most.weighed.elsewhere();
        let beside = if elsewhere.few() {
            String::new()
        } else {
            format!("; elsewhere {}", elsewhere.percent())
        };
        let rest = format!(
            ": {} of the orders inspected ({} confirmed{beside}).",
            self.row(most).expected(),
            share.counts()
        );
        let expected = Sentence {
            lead: format!("Most to be expected: {}", self.place(most)),
            rest,
        };
        let marked = cells.iter().filter(|cell| cell.weighed.way().is_some()).count();
        let all = i64::try_from(cells.len()).unwrap_or(i64::MAX);
        let outstanding = match marked {
            0 => Sentence {
                lead: format!("None of {} stands out", count(all, "cell", "cells")),
                rest: ": chance alone would do as much.".to_owned(),
            },
            marked => Sentence {
                lead: format!(
                    "{} of {} {} out",
                    grouped(marked as u64),
                    count(all, "cell", "cells"),
                    if marked == 1 { "stands" } else { "stand" }
                ),
                rest: ": the cause turned up there more often or more seldom than in its other cells; on average one in twenty of them is chance."
                    .to_owned(),
            },
        };
        vec![expected, outstanding]
    }

    /// Each cause that was confirmed, by name, and whether it is the one.
    fn causes(&self) -> Vec<(&str, String, bool)> {
        let mut causes: Vec<(&str, String, bool)> = self
            .figures
            .causes
            .iter()
            .map(|cause| {
                let chosen = self.cause.as_ref() == Some(&cause.cause);
                (cause.cause.as_str(), self.names.of(&cause.cause), chosen)
            })
            .collect();
        causes.sort_by(|one, other| one.1.cmp(&other.1));
        causes
    }

    /// The page of the month, and the CSV of this one.
    fn month(&self) -> String {
        format!("/month?{}{}", self.asked.span.query(), self.asked.group.query())
    }

    fn csv(&self) -> String {
        let cause = self
            .cause
            .as_ref()
            .map_or(String::new(), |cause| format!("&cause={cause}"));
        format!(
            "/month.csv?table=cells&{}{}{cause}",
            self.asked.span.query(),
            self.asked.group.query()
        )
    }
}

/// `GET /month/cells?from=2025-01&to=2025-12&family=cello&cause=seam_open_lower`
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
    let frame = Frame::new("By age and season", shop.name.clone(), &who, "month");
    let (mut problems, mut told) = (Problems::default(), None);
    match ask.understand(shop.today(app.clock.now())) {
        Ok(asked) => {
            (ask.from, ask.to) = (asked.span.from.iso(), asked.span.to.iso());
            asked.group.code.clone_into(&mut ask.group);
            let mut all = Told::read(&app, shop, asked, &ask.cause).await?;
            if one_of(&ask.cause).is_some_and(|cause| !all.names.has(cause)) {
                problems.add("cause", "Choose one of the list.");
                all.cause = None;
            }
            told = Some(all);
        }
        Err(amiss) => problems = amiss,
    }
    let status = if problems.is_empty() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = CellsPage {
        frame,
        ask,
        problems,
        told,
    };
    Ok((status, html(page)?).into_response())
}
