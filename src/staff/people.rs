//! The owner's list of people: who is in the shop, with which parts; added, changed, never deleted.

use std::collections::HashMap;

use askama::Template;
use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::changed::{self, Field, Side};
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::page::{Frame, html};

use super::person::{self, NewPerson, PersonToBe};
use super::{Staff, Who, session};

#[derive(Template)]
#[template(path = "staff/people.html")]
struct PeoplePage {
    frame: Frame,
    people: Vec<Staff>,
    last_seen: HashMap<Uuid, String>,
    problems: Problems,
    typed: Typed,
}

impl PeoplePage {
    fn last_seen(&self, person: &Staff) -> &str {
        self.last_seen.get(&person.id).map_or("", String::as_str)
    }
}

#[derive(Template)]
#[template(path = "staff/person.html")]
struct PersonPage {
    frame: Frame,
    person: Staff,
    /// Whether it is the one who is asking.
    own: bool,
    problems: Problems,
    typed: Typed,
    version: i64,
    changed: Option<Vec<Side>>,
}

const FIELDS: [Field; 5] = [
    ("name", "Name", false),
    ("counter", "Counter", true),
    ("bench", "Bench", true),
    ("owner", "Owner", true),
    ("active", "May sign in", true),
];

/// The form as it stands for a person.
fn typed_of(person: &Staff) -> Typed {
    let yes = |so: bool| if so { "yes" } else { "" };
    Typed::default()
        .with("name", &*person.name)
        .with("counter", yes(person.counter))
        .with("bench", yes(person.bench))
        .with("owner", yes(person.owner))
        .with("active", yes(person.active))
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct PersonForm {
    name: String,
    password: String,
    counter: String,
    bench: String,
    owner: String,
    active: String,
    version: i64,
}

impl PersonForm {
    fn new_person(self) -> NewPerson {
        NewPerson {
            name: self.name,
            password: self.password,
            counter: self.counter == "yes",
            bench: self.bench == "yes",
            owner: self.owner == "yes",
        }
    }

    fn becoming(self) -> PersonToBe {
        PersonToBe {
            name: self.name,
            password: (!self.password.is_empty()).then_some(self.password),
            counter: self.counter == "yes",
            bench: self.bench == "yes",
            owner: self.owner == "yes",
            active: self.active == "yes",
        }
    }
}

async fn show(app: &App, who: &Who, problems: Problems, typed: Typed) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let people = Staff::all(&app.db).await?;
    let zone = shop.zone();
    let seen = session::last_seen(&app.db).await?;
    let status = if problems.is_empty() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = PeoplePage {
        frame: Frame::new("People", shop.name, who, "staff"),
        people,
        last_seen: seen.into_iter().map(|(id, at)| (id, zone.words(at))).collect(),
        problems,
        typed,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /staff`
///
/// # Errors
/// What the database says.
pub async fn list(State(app): State<App>, Extension(who): Extension<Who>) -> Result<Response> {
    show(&app, &who, Problems::default(), Typed::default()).await
}

/// What the page of a person shows beside the person.
struct Shown {
    problems: Problems,
    typed: Typed,
    version: i64,
    changed: Option<Vec<Side>>,
}

async fn show_person(app: &App, who: &Who, person: Staff, shown: Shown) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let status = match (&shown.changed, shown.problems.is_empty()) {
        (Some(_), _) => StatusCode::PRECONDITION_FAILED,
        (None, true) => StatusCode::OK,
        (None, false) => StatusCode::UNPROCESSABLE_ENTITY,
    };
    let page = PersonPage {
        frame: Frame::new(&*person.name, shop.name, who, "staff"),
        own: who.staff == Some(person.id),
        person,
        problems: shown.problems,
        typed: shown.typed,
        version: shown.version,
        changed: shown.changed,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /staff/{id}`
///
/// # Errors
/// Not found, or what the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(id): Path<String>,
) -> Result<Response> {
    let person = Staff::get(&app.db, known(&id)?).await?;
    let shown = Shown {
        problems: Problems::default(),
        typed: typed_of(&person),
        version: person.version,
        changed: None,
    };
    show_person(&app, &who, person, shown).await
}

fn known(id: &str) -> Result<Uuid> {
    Uuid::parse_str(id).map_err(|_| Error::NotFound)
}

/// `POST /staff`
///
/// # Errors
/// What the database says.
pub async fn add(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    form: Form<PersonForm>,
) -> Result<Response> {
    match try_add(&app, form.of).await {
        Err(Error::Problems(problems)) => show(&app, &who, problems, form.typed).await,
        added => added.map(|()| Redirect::to("/staff").into_response()),
    }
}

async fn try_add(app: &App, form: PersonForm) -> Result<()> {
    let new = form.new_person().describe(app).await?;
    let mut tx = app.db.begin().await?;
    person::add(&mut tx, &new).await?;
    tx.commit().await?;
    Ok(())
}

/// `POST /staff/{id}`: changes a person's name, parts, password, or whether they may still sign in.
///
/// # Errors
/// Not found, or what the database says.
pub async fn change(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(id): Path<String>,
    form: Form<PersonForm>,
) -> Result<Response> {
    let kept = Staff::get(&app.db, known(&id)?).await?;
    let mut shown = Shown {
        problems: Problems::default(),
        version: form.of.version,
        typed: form.typed,
        changed: None,
    };
    match try_change(&app, &who, &kept, form.of).await {
        Err(Error::Problems(problems)) => {
            shown.problems = problems;
            show_person(&app, &who, kept, shown).await
        }
        Err(Error::Stale(_)) => {
            let now = Staff::get(&app.db, kept.id).await?;
            shown.changed = Some(changed::between(&FIELDS, &typed_of(&now), &shown.typed));
            shown.version = now.version;
            show_person(&app, &who, now, shown).await
        }
        kept => kept.map(|()| Redirect::to("/staff").into_response()),
    }
}

async fn try_change(app: &App, who: &Who, kept: &Staff, form: PersonForm) -> Result<()> {
    let version = form.version;
    let mut person = form.becoming().describe(app, who, kept).await?;
    person.version = version;
    let mut tx = app.db.begin().await?;
    person::keep(&mut tx, &mut person, kept).await?;
    tx.commit().await?;
    Ok(())
}
