//! The page of an instrument: its visits, and what may be corrected about it; its year moves the counts by age.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::page::{Frame, html};
use crate::staff::Who;

use super::correction::{self, NewWords};
use super::customer::Customer;
use super::instrument::{FAMILIES, Instrument};
use super::visits::{self, Visit};

const CERTAINTIES: [(&str, &str); 3] = [("exact", "Exact"), ("circa", "Circa"), ("unknown", "Not known")];

#[derive(Template)]
#[template(path = "counter/instrument_page.html")]
struct InstrumentPage {
    frame: Frame,
    instrument: Instrument,
    customer: Customer,
    visits: Vec<Visit>,
    problems: Problems,
    typed: Typed,
    stale: bool,
}

#[derive(Clone, Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct InstrumentForm {
    size: String,
    maker: String,
    year_made: String,
    year_certainty: String,
    serial: String,
    marks: String,
    version: String,
}

impl InstrumentPage {
    fn sizes(&self) -> &'static [&'static str] {
        let family = FAMILIES.iter().find(|family| family.0 == self.instrument.family);
        family.map_or(&[], |family| family.2)
    }

    fn picked(&self, code: &str) -> bool {
        self.field("year_certainty") == code
    }

    fn is_open(&self) -> bool {
        self.stale || !self.problems.is_empty()
    }

    fn field(&self, name: &str) -> String {
        if self.typed.is_empty() {
            self.kept(name)
        } else {
            self.typed.at(name).to_owned()
        }
    }

    fn kept(&self, name: &str) -> String {
        let it = &self.instrument;
        match name {
            "size" => it.size.clone(),
            "maker" => it.maker.clone(),
            "serial" => it.serial.clone(),
            "year_made" => it.year_made.map_or(String::new(), |year| year.to_string()),
            "year_certainty" => it.year_certainty.clone(),
            _ => it.marks.clone(),
        }
    }

    /// What somebody else wrote here meanwhile, where it is not what was typed; or else the hint.
    fn theirs(&self, name: &str, hint: &str) -> String {
        match self.kept(name) {
            kept if !self.stale || kept == self.field(name) => hint.to_owned(),
            kept if kept.is_empty() => "Now kept: nothing. Yours stands in the field.".to_owned(),
            kept => format!("Now kept: {kept}. Yours stands in the field."),
        }
    }
}

async fn show(
    app: &App,
    who: &Who,
    id: Uuid,
    (typed, problems, stale): (Typed, Problems, bool),
) -> Result<Response> {
    let instrument = Instrument::get(&app.db, id).await?;
    let shop = Shop::get(&app.db).await?;
    let status = if stale {
        StatusCode::PRECONDITION_FAILED
    } else if problems.is_empty() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = InstrumentPage {
        frame: Frame::new(instrument.words(), shop.name, who, "today"),
        customer: Customer::get(&app.db, instrument.customer).await?,
        visits: visits::of_instrument(&app.db, id).await?,
        instrument,
        problems,
        typed,
        stale,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /instruments/{id}`
///
/// # Errors
/// Not found, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(id): Path<String>,
) -> Result<Response> {
    let id = id.parse().map_err(|_| Error::NotFound)?;
    show(&app, &who, id, (Typed::default(), Problems::default(), false)).await
}

/// `POST /instruments/{id}`
///
/// # Errors
/// Not found, or what the database says.
pub async fn change(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(id): Path<String>,
    form: Form<InstrumentForm>,
) -> Result<Response> {
    let id = id.parse().map_err(|_| Error::NotFound)?;
    match try_change(&app, id, form.of.clone()).await {
        Ok(()) => Ok(Redirect::to(&format!("/instruments/{id}")).into_response()),
        Err(Error::Problems(problems)) => show(&app, &who, id, (form.typed, problems, false)).await,
        Err(Error::Stale(_)) => show(&app, &who, id, (form.typed, Problems::default(), true)).await,
        Err(other) => Err(other),
    }
}

async fn try_change(app: &App, id: Uuid, form: InstrumentForm) -> Result<()> {
    let mut problems = Problems::default();
    let version = form.version.parse().unwrap_or(0);
    let new = NewWords {
        size: form.size,
        maker: form.maker,
        year_made: problems.number("year_made", &form.year_made, 0..=9999),
        year_certainty: form.year_certainty,
        serial: form.serial,
        marks: form.marks,
    };
    let mut tx = app.db.begin().await?;
    correction::instrument(&mut tx, problems, (id, version), &new, app.clock.now()).await?;
    tx.commit().await?;
    Ok(())
}
