//! The people of the shop for programs: added, changed and put out by an owner's token; no password is ever told.

use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use uuid::Uuid;

use crate::app::App;
use crate::error::{Error, Result};
use crate::staff::person::{self, NewPerson, PersonToBe};
use crate::staff::{Staff, Who};

use super::doing::{Doing, fits};
use super::json::{Json, Patch};
use super::orders::tell;
use super::shape::{self, List};

/// Lists the people, those who may sign in first.
#[utoipa::path(get, path = "/api/v1/staff", tag = "staff", responses((status = 200, body = List<shape::Person>)))]
pub async fn list(State(app): State<App>) -> Result<axum::Json<List<shape::Person>>> {
    let people = Staff::all(&app.db).await?;
    Ok(axum::Json(List {
        items: people.into_iter().map(Into::into).collect(),
        next: None,
    }))
}

/// Adds a person.
#[utoipa::path(post, path = "/api/v1/staff", tag = "staff", request_body = NewPerson, responses((status = 201, body = shape::Person)))]
pub async fn create(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    call: Json<NewPerson>,
) -> Result<Response> {
    let without_password = NewPerson {
        password: String::new(),
        ..call.of.clone()
    };
    let key = call.key_for(&without_password)?;
    let new = call.of.describe(&app).await?;
    let mut doing = Doing::make(&app, &who, key).await?;
    person::add(&mut doing.tx, &new).await?;
    let version = new.version;
    doing
        .answer(StatusCode::CREATED, version, &shape::Person::from(new))
        .await
}

/// Tells a person.
#[utoipa::path(get, path = "/api/v1/staff/{person}", tag = "staff", responses((status = 200, body = shape::Person)))]
pub async fn read(State(app): State<App>, Path(person): Path<String>) -> Result<Response> {
    let person = Staff::get(&app.db, known(&person)?).await?;
    tell(person.version, &shape::Person::from(person))
}

/// Changes a person's name, parts or password, puts them out or takes them back: what is left out stays.
#[utoipa::path(patch, path = "/api/v1/staff/{person}", tag = "staff", request_body = PersonToBe, responses((status = 200, body = shape::Person)))]
pub async fn change(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(person): Path<String>,
    patch: Patch,
) -> Result<Response> {
    let version = patch.version()?;
    let kept = Staff::get(&app.db, known(&person)?).await?;
    // A new password takes its time before the database is held up; the version is looked at again when it is kept.
    fits(Some(version), kept.version)?;
    let to_be: PersonToBe = patch.onto(&PersonToBe::of(&kept))?;
    let mut changed = to_be.describe(&app, &who, &kept).await?;
    let mut doing = Doing::change(&app, &who, version).await?;
    person::keep(&mut doing.tx, &mut changed, &kept).await?;
    let version = changed.version;
    let told = shape::Person::from(changed);
    doing.answer(StatusCode::OK, version, &told).await
}

fn known(id: &str) -> Result<Uuid> {
    id.parse().map_err(|_| Error::NotFound)
}

impl From<Staff> for shape::Person {
    fn from(person: Staff) -> Self {
        shape::Person {
            id: person.id,
            name: person.name,
            counter: person.counter,
            bench: person.bench,
            owner: person.owner,
            active: person.active,
            first_password: person.first_password,
            created_at: person.created_at.rfc3339(),
            version: person.version,
        }
    }
}
