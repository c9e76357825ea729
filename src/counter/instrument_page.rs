//! The page of an instrument: its visits, what may be corrected about it, and that it is gone.

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::Day;
use crate::db::Tx;
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::page::{Frame, html};
use crate::staff::Who;

use super::correction::{self, NewWords};
use super::customer::Customer;
use super::gone::{self, Gone, NewGone, WHYS};
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
    gone: Option<Gone>,
    today: Day,
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
        (self.stale && !self.typed.is_empty() && !self.is_late_gone())
            || self
                .problems
                .iter()
                .any(|problem| !self.is_of_gone(&problem.field))
    }

    /// What is amiss with the day it went, or why.
    fn gone_is_open(&self) -> bool {
        self.is_late_gone()
            || self
                .problems
                .iter()
                .any(|problem| self.is_of_gone(&problem.field))
    }

    /// Somebody changed the instrument before it was noted as gone.
    fn is_late_gone(&self) -> bool {
        self.stale && !(self.typed.at("why").is_empty() && self.typed.at("on").is_empty())
    }

    /// What was to be noted, where the form for it is not there any more.
    fn gone_typed(&self) -> String {
        let why = self.typed.at("why");
        let why = WHYS
            .iter()
            .find(|(code, _)| *code == why)
            .map_or(why, |(_, words)| words);
        let on = Day::parse(self.typed.at("on")).map(|day| format!("since {day}"));
        [Some(why.to_owned()), on]
            .into_iter()
            .flatten()
            .filter(|part| !part.is_empty())
            .collect::<Vec<_>>()
            .join(", ")
    }

    #[expect(clippy::unused_self, reason = "a template asks the page")]
    fn is_of_gone(&self, field: &str) -> bool {
        matches!(field, "why" | "on")
    }

    /// It went home from its last visit, and may be noted as gone.
    fn is_home(&self) -> bool {
        self.visits.iter().all(|visit| visit.order.is_handed_back())
    }

    fn is_why(&self, code: &str) -> bool {
        self.typed.at("why") == code
    }

    fn gone_on(&self) -> String {
        match self.typed.at("on") {
            "" => self.today.iso(),
            typed => typed.to_owned(),
        }
    }

    fn field(&self, name: &str) -> String {
        if self.typed.is_empty() || self.gone_is_open() {
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
        gone: Gone::of(&app.db, id).await?,
        today: shop.today(app.clock.now()),
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

/// What the page says of an instrument that is gone.
#[derive(Clone, Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct GoneForm {
    why: String,
    on: String,
    version: String,
}

/// `POST /instruments/{id}/gone`
///
/// # Errors
/// Not found, a conflict, or what the database says.
pub async fn gone(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(id): Path<String>,
    form: Form<GoneForm>,
) -> Result<Response> {
    let id = id.parse().map_err(|_| Error::NotFound)?;
    let new = NewGone {
        why: form.of.why,
        on: Some(form.of.on),
    };
    let mut tx = app.db.begin().await?;
    let which = (id, form.of.version.parse().unwrap_or(0));
    let noted = gone::note(&mut tx, which, &new, (who.staff, app.clock.now())).await;
    settle(&app, &who, id, (tx, noted.map(drop), form.typed)).await
}

/// `POST /instruments/{id}/gone/off`
///
/// # Errors
/// Not found, or what the database says.
pub async fn gone_off(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(id): Path<String>,
    form: Form<GoneForm>,
) -> Result<Response> {
    let id = id.parse().map_err(|_| Error::NotFound)?;
    let mut tx = app.db.begin().await?;
    let taken = gone::take_back(&mut tx, (id, form.of.version.parse().unwrap_or(0))).await;
    settle(&app, &who, id, (tx, taken, form.typed)).await
}

async fn settle(
    app: &App,
    who: &Who,
    id: Uuid,
    (tx, done, typed): (Tx, Result<()>, Typed),
) -> Result<Response> {
    match done {
        Ok(()) => {
            tx.commit().await?;
            Ok(Redirect::to(&format!("/instruments/{id}")).into_response())
        }
        Err(Error::Problems(problems)) => {
            drop(tx);
            show(app, who, id, (typed, problems, false)).await
        }
        Err(Error::Stale(_)) => {
            drop(tx);
            // To take it back is to type nothing.
            let said = !(typed.at("why").is_empty() && typed.at("on").is_empty());
            let typed = if said { typed } else { Typed::default() };
            show(app, who, id, (typed, Problems::default(), true)).await
        }
        Err(other) => Err(other),
    }
}
