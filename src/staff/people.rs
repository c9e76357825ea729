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

use super::{Staff, Who, name_key, session, sign_in};

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

const TAKEN: &str = "Somebody here has that name already. Add a letter or a surname.";

impl PersonForm {
    /// The person this describes in place of `now`; the password is not part of it.
    fn check(&self, now: &Staff, who: &Who, problems: &mut Problems) -> Staff {
        let name = problems.needed("name", &self.name, 80, "Write the name they sign in with.");
        let (counter, bench, owner) = self.roles(problems);
        if !self.password.is_empty() {
            sign_in::check_password(problems, "password", &self.password, self.shortest());
        }
        let active = self.active == "yes";
        if who.staff == Some(now.id) && !(active && owner) {
            problems.add(
                "active",
                "You cannot take your own key away. Let another owner do it.",
            );
        }
        Staff {
            name_key: name_key(&name),
            name,
            counter,
            bench,
            owner,
            active,
            version: self.version,
            ..now.clone()
        }
    }

    fn roles(&self, problems: &mut Problems) -> (bool, bool, bool) {
        let roles = (self.counter == "yes", self.bench == "yes", self.owner == "yes");
        if roles == (false, false, false) {
            problems.add("counter", "Give at least one part: counter, bench or owner.");
        }
        roles
    }

    fn shortest(&self) -> usize {
        if self.owner == "yes" {
            sign_in::SHORTEST_OWNER
        } else {
            sign_in::SHORTEST
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
    let mut problems = Problems::default();
    let name = problems.needed(
        "name",
        &form.of.name,
        80,
        "Write the name they will sign in with.",
    );
    let (counter, bench, owner) = form.of.roles(&mut problems);
    sign_in::check_password(&mut problems, "password", &form.of.password, form.of.shortest());
    if !problems.is_empty() {
        return show(&app, &who, problems, form.typed).await;
    }
    let person = Staff {
        id: Uuid::now_v7(),
        name_key: name_key(&name),
        name,
        password_hash: sign_in::hash_slowly(&app, form.of.password).await?,
        counter,
        bench,
        owner,
        active: true,
        version: 1,
        created_at: app.clock.now(),
    };
    let mut tx = app.db.begin().await?;
    if !person.insert(&mut tx).await? {
        problems.add("name", TAKEN);
        return show(&app, &who, problems, form.typed).await;
    }
    tx.commit().await?;
    Ok(Redirect::to("/staff").into_response())
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
    let now = Staff::get(&app.db, known(&id)?).await?;
    let mut shown = Shown {
        problems: Problems::default(),
        version: form.of.version,
        typed: form.typed,
        changed: None,
    };
    let mut person = form.of.check(&now, &who, &mut shown.problems);
    if !shown.problems.is_empty() {
        return show_person(&app, &who, now, shown).await;
    }
    let new_password = !form.of.password.is_empty();
    if new_password {
        person.password_hash = sign_in::hash_slowly(&app, form.of.password).await?;
    }
    let mut tx = app.db.begin().await?;
    if Staff::named(&mut tx, &person.name)
        .await?
        .is_some_and(|other| other.id != now.id)
    {
        shown.problems.add("name", TAKEN);
        return show_person(&app, &who, now, shown).await;
    }
    match person.update(&mut tx).await {
        Ok(()) => {}
        Err(Error::Stale(_)) => {
            let now = Staff::get(&mut tx, now.id).await?;
            shown.changed = Some(changed::between(&FIELDS, &typed_of(&now), &shown.typed));
            shown.version = now.version;
            drop(tx);
            return show_person(&app, &who, now, shown).await;
        }
        Err(other) => return Err(other),
    }
    if new_password || !person.active {
        tx.query("delete from session where staff = $1")
            .bind(person.id)
            .execute()
            .await?;
    }
    tx.commit().await?;
    Ok(Redirect::to("/staff").into_response())
}
