//! Customers and their instruments for programs.

use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use uuid::Uuid;

use crate::app::App;
use crate::counter::alike::{self, Alike};
use crate::counter::book::Wanted;
use crate::counter::correction::{self, NewWords};
use crate::counter::customer::{Customer, NewCustomer};
use crate::counter::find;
use crate::counter::gone::{self, Gone, NewGone};
use crate::counter::instrument::Instrument;
use crate::counter::owed::{Owed, Sum};
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::staff::Who;

use super::doing::Doing;
use super::json::{Json, Nothing, Patch, Query};
use super::orders::{limit, part, tell};
use super::shape::{
    self, AddCustomer, CustomerWithInstruments, CustomersAsked, InstrumentGone, InstrumentWithOrders, List,
    OwedByCustomer,
};
use super::whole::{customer_told, in_short};

/// So many customers are found by words; more words narrow them down.
const FOUND: usize = 400;
/// So many visits of an instrument are told; one a month for forty years fits.
const VISITS: i64 = 500;
/// So many orders on which a customer owes something are told.
const OWED: i64 = 50;

fn id(text: &str) -> Result<Uuid> {
    text.parse().map_err(|_| Error::NotFound)
}

/// Lists customers, or those found by words, in the order they were added.
#[utoipa::path(get, path = "/api/v1/customers", tag = "customers", params(CustomersAsked), responses((status = 200, body = List<shape::Customer>)))]
pub async fn list(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Query(asked): Query<CustomersAsked>,
) -> Result<axum::Json<List<shape::Customer>>> {
    let mut problems = Problems::default();
    let q = problems.line("?q", asked.q.as_deref().unwrap_or_default(), 200);
    let limit = limit(&mut problems, asked.limit.as_deref());
    let after: Option<Uuid> = asked.after.as_deref().and_then(|after| {
        let id = after.parse().ok();
        if id.is_none() {
            problems.add("?after", "This is no id. Take the next of the answer before.");
        }
        id
    });
    problems.settle()?;
    // One more than is shown, to know whether there is a next part.
    let customers = if q.is_empty() {
        Customer::page(&app.db, after, limit + 1).await?
    } else {
        found(&app, &q, after, limit + 1).await?
    };
    let (customers, next) = part(customers, limit, |customer: &Customer| customer.id);
    let items = customers
        .iter()
        .map(|customer| customer_told(customer, &who))
        .collect();
    Ok(axum::Json(List { items, next }))
}

async fn found(app: &App, q: &str, after: Option<Uuid>, limit: i64) -> Result<Vec<Customer>> {
    let mut ids = find::customers(&app.db, q, FOUND).await?;
    ids.sort_unstable();
    ids.retain(|id| after.is_none_or(|after| *id > after));
    let mut customers = Vec::new();
    for id in ids.into_iter().take(usize::try_from(limit).unwrap_or_default()) {
        customers.push(Customer::get(&app.db, id).await?);
    }
    Ok(customers)
}

/// Adds a customer, unless one of the same name with the same phone or e-mail is here already.
#[utoipa::path(post, path = "/api/v1/customers", tag = "customers", request_body = AddCustomer, responses((status = 201, body = shape::Customer)))]
pub async fn create(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    call: Json<AddCustomer>,
) -> Result<Response> {
    let mut doing = Doing::make(&app, &who, call.key()?).await?;
    let mut problems = Problems::default();
    let (said, alike) = call.of.said();
    let customer = said.check(&mut problems, "", doing.now);
    problems.settle()?;
    alike::known(&mut doing.tx, alike, &customer, &said).await?;
    Customer::insert(&mut doing.tx, std::slice::from_ref(&customer)).await?;
    let told = customer_told(&customer, &who);
    doing.answer(StatusCode::CREATED, customer.version, &told).await
}

impl AddCustomer {
    fn said(&self) -> (NewCustomer, Alike) {
        let said = self.clone();
        let new = NewCustomer {
            kind: said.kind,
            name: said.name,
            phone: said.phone,
            email: said.email,
            note: said.note,
        };
        let alike = if said.another { Alike::Another } else { Alike::Ask };
        (new, alike)
    }
}

/// Corrects a customer: what is left out stays, and null clears.
#[utoipa::path(patch, path = "/api/v1/customers/{customer}", tag = "customers", request_body = NewCustomer, responses((status = 200, body = shape::Customer)))]
pub async fn change(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(customer): Path<String>,
    patch: Patch,
) -> Result<Response> {
    let mut doing = Doing::change(&app, &who, patch.version()?).await?;
    let kept = Customer::get(&mut doing.tx, id(&customer)?).await?;
    doing.fits(kept.version)?;
    let new = patch.onto(&NewCustomer::of(&kept))?;
    let changed = correction::customer(&mut doing.tx, kept.id, kept.version, &new).await?;
    let told = customer_told(&changed, &who);
    doing.answer(StatusCode::OK, changed.version, &told).await
}

/// Tells a customer, with the instruments they brought and what they owe.
#[utoipa::path(get, path = "/api/v1/customers/{customer}", tag = "customers", responses((status = 200, body = CustomerWithInstruments)))]
pub async fn read(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(customer): Path<String>,
) -> Result<Response> {
    let customer = Customer::get(&app.db, id(&customer)?).await?;
    let instruments = Instrument::of_customer(&app.db, customer.id).await?;
    let sum = Sum::of_customer(&app.db, customer.id).await?;
    let owed = Owed::longest(&app.db, Some(customer.id), None, OWED).await?;
    let told = CustomerWithInstruments {
        owed: OwedByCustomer {
            total: sum.owed.0,
            count: sum.orders,
            orders: owed.into_iter().map(Into::into).collect(),
        },
        customer: customer_told(&customer, &who),
        instruments: instruments.into_iter().map(Into::into).collect(),
    };
    tell(customer.version, &told)
}

impl From<Owed> for shape::OwedOn {
    fn from(on: Owed) -> Self {
        shape::OwedOn {
            id: on.id,
            tag: on.tag,
            collected_on: on.collected_on.iso(),
            owed: on.owed.0,
        }
    }
}

/// Tells an instrument, with all its orders in short.
#[utoipa::path(get, path = "/api/v1/instruments/{instrument}", tag = "customers", responses((status = 200, body = InstrumentWithOrders)))]
pub async fn instrument(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(instrument): Path<String>,
) -> Result<Response> {
    let instrument = Instrument::get(&app.db, id(&instrument)?).await?;
    let visits = Wanted::new(None, None, VISITS);
    let orders = visits.of_instrument(&app.db, instrument.id).await?;
    let gone = Gone::of(&app.db, instrument.id).await?;
    let version = instrument.version;
    let told = InstrumentWithOrders {
        orders: orders.into_iter().map(|entry| in_short(entry, &who)).collect(),
        gone: gone.map(Into::into),
        instrument: instrument.into(),
    };
    tell(version, &told)
}

/// Corrects an instrument, its year too: what is left out stays, and null clears. What it is and whose it is stays.
#[utoipa::path(patch, path = "/api/v1/instruments/{instrument}", tag = "customers", request_body = NewWords, responses((status = 200, body = shape::Instrument)))]
pub async fn change_instrument(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(instrument): Path<String>,
    patch: Patch,
) -> Result<Response> {
    let mut doing = Doing::change(&app, &who, patch.version()?).await?;
    let kept = Instrument::get(&mut doing.tx, id(&instrument)?).await?;
    doing.fits(kept.version)?;
    let new = patch.onto(&NewWords::of(&kept))?;
    let (which, now) = ((kept.id, kept.version), doing.now);
    let changed = correction::instrument(&mut doing.tx, Problems::default(), which, &new, now).await?;
    let version = changed.version;
    let told = shape::Instrument::from(changed);
    doing.answer(StatusCode::OK, version, &told).await
}

/// Notes that an instrument will not come again: its repairs are watched no longer from that day on.
#[utoipa::path(post, path = "/api/v1/instruments/{instrument}/gone", tag = "customers", request_body = NewGone, responses((status = 200, body = InstrumentGone)))]
pub async fn gone(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(instrument): Path<String>,
    call: Json<NewGone>,
) -> Result<Response> {
    let mut doing = Doing::begin(&app, &who, call.guard()?).await?;
    let kept = Instrument::get(&mut doing.tx, id(&instrument)?).await?;
    doing.fits(kept.version)?;
    let (which, by) = ((kept.id, kept.version), (who.staff, doing.now));
    gone::note(&mut doing.tx, which, &call.of, by).await?;
    told_gone(doing, kept).await
}

/// Takes back that an instrument is gone.
#[utoipa::path(post, path = "/api/v1/instruments/{instrument}/gone/off", tag = "customers", responses((status = 200, body = InstrumentGone)))]
pub async fn gone_off(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(instrument): Path<String>,
    call: Json<Nothing>,
) -> Result<Response> {
    let mut doing = Doing::begin(&app, &who, call.guard()?).await?;
    let kept = Instrument::get(&mut doing.tx, id(&instrument)?).await?;
    doing.fits(kept.version)?;
    gone::take_back(&mut doing.tx, (kept.id, kept.version)).await?;
    told_gone(doing, kept).await
}

async fn told_gone(mut doing: Doing, kept: Instrument) -> Result<Response> {
    let gone = Gone::of(&mut doing.tx, kept.id).await?;
    let instrument = Instrument::get(&mut doing.tx, kept.id).await?;
    let version = instrument.version;
    let told = InstrumentGone {
        gone: gone.map(Into::into),
        instrument: instrument.into(),
    };
    doing.answer(StatusCode::OK, version, &told).await
}

impl From<Gone> for shape::Gone {
    fn from(gone: Gone) -> Self {
        shape::Gone {
            why: gone.why,
            on: gone.gone_on.iso(),
        }
    }
}
