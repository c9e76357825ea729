//! Orders for programs: taken in, listed, and read whole.

use axum::extract::{Extension, Path, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use uuid::Uuid;

use crate::act::etag;
use crate::app::App;
use crate::clock::Day;
use crate::counter::alike::Alike;
use crate::counter::book::{Entry, Wanted};
use crate::counter::customer::NewCustomer;
use crate::counter::instrument::NewInstrument;
use crate::counter::intake::{self, Intake, Which};
use crate::counter::order::Order;
use crate::counter::stage::Stage;
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::staff::Who;

use super::json::{Json, Query};
use super::shape::{self, List, NewOrder, OrderInShort, OrdersAsked, WhichCustomer, WhichInstrument};
use super::whole;

/// The most a list gives at once, and what it gives when nothing is said.
pub const MOST: i64 = 200;
const USUAL: i64 = 50;

/// Takes an instrument in.
#[utoipa::path(post, path = "/api/v1/orders", tag = "orders", request_body = NewOrder, responses((status = 201, body = shape::Order)))]
pub async fn create(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    call: Json<NewOrder>,
) -> Result<Response> {
    let key = call.needed_key()?;
    let intake = call.of.intake()?;
    let mut taken = intake::take_in(&app, &who, &intake, Problems::default(), Some(key)).await?;
    let told = if intake.checks.is_empty() {
        whole::fresh(&taken, &who)?
    } else {
        let order = taken.order.clone();
        whole::told(&mut taken.tx, &order, &who).await?
    };
    let body = serde_json::to_string(&told).map_err(Error::fault)?;
    let order = taken.commit(StatusCode::CREATED.as_u16(), &body).await?;
    Ok(json(StatusCode::CREATED, Some(order.version), body))
}

/// Lists orders in short, the newest first.
#[utoipa::path(get, path = "/api/v1/orders", tag = "orders", params(OrdersAsked), responses((status = 200, body = List<OrderInShort>)))]
pub async fn list(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Query(asked): Query<OrdersAsked>,
) -> Result<axum::Json<List<OrderInShort>>> {
    let mut problems = Problems::default();
    let stage = stage(&mut problems, asked.stage.as_deref());
    if asked.owed.as_deref().is_some_and(|owed| owed != "yes") {
        problems.add("?owed", "Say yes, or leave it out.");
    }
    let q = problems.line("?q", asked.q.as_deref().unwrap_or_default(), 200);
    let after = match asked.after.as_deref() {
        None => None,
        Some(after) => last_one(&mut problems, Order::get(&app.db, after).await)?,
    };
    let limit = limit(&mut problems, asked.limit.as_deref());
    problems.settle()?;
    // One more than is shown, to know whether there is a next part.
    let mut wanted = Wanted::new(stage, after.as_ref(), limit + 1);
    if asked.owed.is_some() {
        wanted = wanted.owed();
    }
    let entries = if q.is_empty() {
        wanted.all(&app.db).await?
    } else {
        wanted.found(&app.db, &q, who.roles.counter()).await?
    };
    let (entries, next) = part(entries, limit, |entry: &Entry| entry.id);
    let items = entries
        .into_iter()
        .map(|entry| whole::in_short(entry, &who))
        .collect();
    Ok(axum::Json(List { items, next }))
}

/// Tells a whole order, by its id or its tag.
#[utoipa::path(get, path = "/api/v1/orders/{order}", tag = "orders", responses((status = 200, body = shape::Order)))]
pub async fn read(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(id_or_tag): Path<String>,
) -> Result<Response> {
    let mut order = Order::get(&app.db, &id_or_tag).await?;
    loop {
        let told = whole::told(&app.db, &order, &who).await?;
        // Read in several steps: if somebody changed it in between, it is read again.
        let now = Order::get(&app.db, &id_or_tag).await?;
        if now.version == order.version {
            let body = serde_json::to_string(&told).map_err(Error::fault)?;
            return Ok(json(StatusCode::OK, Some(order.version), body));
        }
        order = now;
    }
}

/// A JSON answer, with the entity tag of a version.
pub fn json(status: StatusCode, version: Option<i64>, body: String) -> Response {
    let mut response = (status, [(header::CONTENT_TYPE, "application/json")], body).into_response();
    if let Some(version) = version {
        response.headers_mut().insert(header::ETAG, etag(version));
    }
    response
}

/// Tells something, with the entity tag of its version.
///
/// # Errors
/// None that can happen: what is told is plain text and numbers.
pub fn tell(version: i64, told: &impl serde::Serialize) -> Result<Response> {
    let body = serde_json::to_string(told).map_err(Error::fault)?;
    Ok(json(StatusCode::OK, Some(version), body))
}

/// How many are wanted.
pub fn limit(problems: &mut Problems, typed: Option<&str>) -> i64 {
    let limit = problems.number("?limit", typed.unwrap_or_default(), 1..=MOST);
    limit.unwrap_or(USUAL)
}

/// The part that is shown of what was read, and where the next begins.
pub fn part<T>(mut read: Vec<T>, limit: i64, id: impl Fn(&T) -> Uuid) -> (Vec<T>, Option<String>) {
    let limit = usize::try_from(limit).unwrap_or_default();
    let more = read.len() > limit;
    read.truncate(limit);
    let next = read.last().filter(|_| more).map(|last| id(last).to_string());
    (read, next)
}

/// What `after` names; something unknown is a problem of the parameter, not a missing page.
pub fn last_one<T>(problems: &mut Problems, found: Result<T>) -> Result<Option<T>> {
    match found {
        Ok(found) => Ok(Some(found)),
        Err(Error::NotFound) => {
            problems.add(
                "?after",
                "Nothing here has this id. Take the next of the answer before.",
            );
            Ok(None)
        }
        Err(other) => Err(other),
    }
}

/// The day that was written, if one was.
pub fn day(problems: &mut Problems, field: &str, written: Option<&str>) -> Option<Day> {
    let day = Day::parse(written?);
    if day.is_none() {
        problems.add(field, "Write the day like 2026-02-28.");
    }
    day
}

fn stage(problems: &mut Problems, typed: Option<&str>) -> Option<Stage> {
    let typed = typed?;
    let stage = Stage::of_code(typed);
    if stage.is_none() {
        let known: Vec<&str> = Stage::ALL.into_iter().map(Stage::code).collect();
        problems.add("?stage", format!("Say one of: {}.", known.join(", ")));
    }
    stage
}

impl NewOrder {
    fn intake(&self) -> Result<Intake> {
        let mut problems = Problems::default();
        let promised_on = day(&mut problems, "promised_on", self.promised_on.as_deref());
        let customer = self.customer.which(&mut problems);
        let instrument = self.instrument.which(&mut problems);
        problems.settle()?;
        Ok(Intake {
            customer,
            alike: if self.customer.another == Some(true) {
                Alike::Another
            } else {
                Alike::Take
            },
            instrument,
            complaint: self.complaint.clone(),
            items_left: self.items_left.clone(),
            condition: self.condition.clone(),
            declared_value: self.declared_value,
            promised_on,
            authorised_limit: self.authorised_limit,
            checks: self.checks.clone(),
            first_answers: self.first_answers.clone(),
        })
    }
}

const ALONE: &str = "Send the id alone, or leave it out and describe a new one.";

impl WhichCustomer {
    fn which(&self, problems: &mut Problems) -> Which<NewCustomer> {
        let said = [&self.name, &self.kind, &self.phone, &self.email, &self.note];
        if let Some(id) = self.id {
            if said.into_iter().any(Option::is_some) || self.another.is_some() {
                problems.add("customer.id", ALONE);
            }
            return Which::Known(id);
        }
        let [name, kind, phone, email, note] = said.map(|text| text.clone().unwrap_or_default());
        Which::New(NewCustomer {
            kind,
            name,
            phone,
            email,
            note,
        })
    }
}

impl WhichInstrument {
    fn which(&self, problems: &mut Problems) -> Which<NewInstrument> {
        let said = [
            &self.family,
            &self.size,
            &self.maker,
            &self.year_certainty,
            &self.serial,
            &self.marks,
        ];
        if let Some(id) = self.id {
            if said.into_iter().any(Option::is_some) || self.year_made.is_some() {
                problems.add("instrument.id", ALONE);
            }
            return Which::Known(id);
        }
        let [family, size, maker, year_certainty, serial, marks] =
            said.map(|text| text.clone().unwrap_or_default());
        Which::New(NewInstrument {
            family,
            size,
            maker,
            year_made: self.year_made,
            year_certainty,
            serial,
            marks,
        })
    }
}
