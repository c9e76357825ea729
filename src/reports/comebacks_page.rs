//! The page of the comebacks, for the owner: how many repairs came back by a day, in sentences, curves and a table.

use askama::Template;
use axum::extract::{Extension, RawQuery, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::page::{Frame, Markup, html};
use crate::staff::Who;

use super::comebacks::By;
use super::comebacks_ask::ComebacksAsked;
use super::comebacks_csv::comebacks_csv;
use super::comebacks_rows::comebacks_rows;
use super::comebacks_told::{Named, SHOWN, Told};
use super::curves::{self, Line};

#[derive(Template)]
#[template(path = "reports/comebacks_page.html")]
struct ComebacksPage {
    frame: Frame,
    shop: Shop,
    asked: ComebacksAsked,
    problems: Problems,
    causes: Vec<(String, String)>,
    told: Option<Told>,
}

impl ComebacksPage {
    fn by(&self) -> By {
        self.told.as_ref().map_or(By::Cause, |told| told.asked.by)
    }

    fn field(&self, name: &str) -> &str {
        let field = match name {
            "by" => &self.asked.by,
            "cause" => &self.asked.cause,
            _ => &self.asked.as_of,
        };
        field.as_deref().unwrap_or_default()
    }

    fn as_of(&self) -> String {
        let told = self.told.as_ref().map(|told| told.asked.as_of.iso());
        told.unwrap_or_else(|| self.field("as_of").to_owned())
    }

    /// The same, told apart otherwise.
    fn address(&self, by: By) -> String {
        self.address_of("/comebacks", by.code())
    }

    fn csv(&self, table: &str) -> String {
        self.address_of(&format!("/comebacks.csv?table={table}"), self.by().code())
    }

    fn address_of(&self, path: &str, by: &str) -> String {
        let mut query = form_urlencoded::Serializer::new(String::new());
        query.append_pair("by", by);
        for (name, value) in [("cause", self.field("cause")), ("as_of", self.field("as_of"))] {
            if !value.is_empty() {
                query.append_pair(name, value);
            }
        }
        let join = if path.contains('?') { '&' } else { '?' };
        format!("{path}{join}{}", query.finish())
    }

    fn cause_name(&self) -> Option<&str> {
        let cause = self.field("cause");
        let named = self.causes.iter().find(|known| known.0 == cause);
        named.map(|known| known.1.as_str())
    }
}

fn chart(drawn: &[&Named]) -> Markup {
    let mut lines = Vec::new();
    for named in drawn {
        lines.push(Line {
            name: named.name.clone(),
            watched: &named.group.watched,
        });
    }
    curves::curves(&lines)
}

/// Reads the query of an address; what it does not know of it does not matter here.
fn read(query: Option<&str>) -> (ComebacksAsked, String) {
    let (mut asked, mut table) = (ComebacksAsked::default(), String::new());
    for (name, value) in form_urlencoded::parse(query.unwrap_or_default().as_bytes()).into_owned() {
        match name.as_str() {
            "by" => asked.by = Some(value),
            "cause" => asked.cause = Some(value),
            "as_of" => asked.as_of = Some(value),
            "table" => table = value,
            _ => {}
        }
    }
    (asked, table)
}

/// `GET /comebacks?by=age_band&cause=seam_open_lower&as_of=2026-02-10`
///
/// # Errors
/// What the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    RawQuery(query): RawQuery,
) -> Result<Response> {
    let (asked, _) = read(query.as_deref());
    let shop = Shop::get(&app.db).await?;
    let today = shop.today(app.clock.now());
    let (told, problems) = match asked.understand(&app.db, today, "").await {
        Ok(understood) => (
            Some(Told::read(&app.db, understood, &shop.rules, &shop.seasons()).await?),
            Problems::default(),
        ),
        Err(Error::Problems(problems)) => (None, problems),
        Err(other) => return Err(other),
    };
    let status = if told.is_some() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = ComebacksPage {
        frame: Frame::new("Comebacks", shop.name.clone(), &who, "month"),
        causes: app
            .db
            .read("select code, name from cause order by name")
            .all()
            .await?,
        shop,
        asked,
        problems,
        told,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /comebacks.csv?by=cause&table=groups`, or `table=curves`, `log_rank` or, of all causes or one, `rows`
///
/// # Errors
/// Problems with what was asked, or what the database says.
pub async fn csv(State(app): State<App>, RawQuery(query): RawQuery) -> Result<Response> {
    let (asked, table) = read(query.as_deref());
    let shop = Shop::get(&app.db).await?;
    let asked = asked.understand(&app.db, shop.today(app.clock.now()), "").await?;
    if table == "rows" {
        return Ok(comebacks_rows(
            app.db.clone(),
            asked,
            shop.rules.bands(),
            shop.seasons(),
        ));
    }
    let name = format!("comebacks-{table}-by-{}-{}", asked.by.code(), asked.as_of.iso());
    let told = Told::read(&app.db, asked, &shop.rules, &shop.seasons()).await?;
    let Some(table) = comebacks_csv(&told, &table) else {
        let mut problems = Problems::default();
        problems.add(
            "table",
            "Choose one of the tables: groups, curves, log_rank, rows.",
        );
        return Err(problems.into());
    };
    table.answer(&name)
}
