//! The page of a customer: who they are, what they brought, and what was found each time.

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

use super::correction;
use super::customer::{Customer, KINDS, NewCustomer};
use super::instrument::Instrument;
use super::owed::{Owed, Sum};
use super::visits::{self, Visit};

/// So many orders on which something is owed are named.
const OWED: i64 = 5;

#[derive(Template)]
#[template(path = "counter/customer_page.html")]
struct CustomerPage {
    frame: Frame,
    shop: Shop,
    customer: Customer,
    instruments: Vec<Instrument>,
    visits: Vec<Visit>,
    /// What they owe for what went home, the longest owed first.
    owed: Vec<Owed>,
    sum: Sum,
    problems: Problems,
    typed: Typed,
    stale: bool,
}

#[derive(Clone, Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct CustomerForm {
    kind: String,
    name: String,
    phone: String,
    email: String,
    note: String,
    version: String,
}

impl CustomerPage {
    fn visits_of(&self, instrument: &Instrument) -> Vec<&Visit> {
        let own = |visit: &&Visit| visit.order.instrument == instrument.id;
        self.visits.iter().filter(own).collect()
    }

    /// So many more are owed than are named.
    fn more_owed(&self) -> i64 {
        self.sum.orders - i64::try_from(self.owed.len()).unwrap_or(0)
    }

    fn picked(&self, code: &str) -> bool {
        self.field("kind") == code
    }

    fn is_open(&self) -> bool {
        self.stale || !self.problems.is_empty()
    }

    fn field(&self, name: &str) -> &str {
        if self.typed.is_empty() {
            self.kept(name)
        } else {
            self.typed.at(name)
        }
    }

    fn kept(&self, name: &str) -> &str {
        match name {
            "kind" => &self.customer.kind,
            "name" => &self.customer.name,
            "phone" => &self.customer.phone,
            "email" => &self.customer.email,
            _ => &self.customer.note,
        }
    }

    /// What somebody else wrote here meanwhile, where it is not what was typed.
    fn theirs(&self, name: &str) -> String {
        match self.kept(name) {
            kept if !self.stale || kept == self.field(name) => String::new(),
            "" => "Now kept: nothing. Yours stands in the field.".to_owned(),
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
    let customer = Customer::get(&app.db, id).await?;
    let shop = Shop::get(&app.db).await?;
    let status = if stale {
        StatusCode::PRECONDITION_FAILED
    } else if problems.is_empty() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = CustomerPage {
        frame: Frame::new(&*customer.name, &*shop.name, who, "today"),
        owed: Owed::longest(&app.db, Some(id), None, OWED).await?,
        sum: Sum::of_customer(&app.db, id).await?,
        shop,
        instruments: Instrument::of_customer(&app.db, id).await?,
        visits: visits::of_customer(&app.db, id).await?,
        customer,
        problems,
        typed,
        stale,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /customers/{id}`
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

/// `POST /customers/{id}`
///
/// # Errors
/// Not found, or what the database says.
pub async fn change(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(id): Path<String>,
    form: Form<CustomerForm>,
) -> Result<Response> {
    let id = id.parse().map_err(|_| Error::NotFound)?;
    match try_change(&app, id, form.of.clone()).await {
        Ok(()) => Ok(Redirect::to(&format!("/customers/{id}")).into_response()),
        Err(Error::Problems(problems)) => show(&app, &who, id, (form.typed, problems, false)).await,
        Err(Error::Stale(_)) => show(&app, &who, id, (form.typed, Problems::default(), true)).await,
        Err(other) => Err(other),
    }
}

async fn try_change(app: &App, id: Uuid, form: CustomerForm) -> Result<()> {
    let version = form.version.parse().unwrap_or(0);
    let new = NewCustomer {
        kind: form.kind,
        name: form.name,
        phone: form.phone,
        email: form.email,
        note: form.note,
    };
    let mut tx = app.db.begin().await?;
    correction::customer(&mut tx, id, version, &new).await?;
    tx.commit().await?;
    Ok(())
}
