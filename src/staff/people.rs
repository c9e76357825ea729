//! The owner's list of people: who is in the shop, with which parts; added, changed, never deleted.

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

use super::{Staff, Who, name_key, sign_in};

#[derive(Template)]
#[template(path = "staff/people.html")]
struct PeoplePage {
    frame: Frame,
    people: Vec<Staff>,
    problems: Problems,
    typed: Typed,
    /// The person whose form is open, if it is not the new one's.
    open: Option<Uuid>,
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
    version: String,
}

impl PersonForm {
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

async fn show(
    app: &App,
    who: &Who,
    problems: Problems,
    typed: Typed,
    open: Option<Uuid>,
) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let people = Staff::all(&app.db).await?;
    let status = if problems.is_empty() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = PeoplePage {
        frame: Frame::new("Staff", shop.name, who, "staff"),
        people,
        problems,
        typed,
        open,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /staff`
///
/// # Errors
/// What the database says.
pub async fn list(State(app): State<App>, Extension(who): Extension<Who>) -> Result<Response> {
    show(&app, &who, Problems::default(), Typed::default(), None).await
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
        return show(&app, &who, problems, form.typed, None).await;
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
        problems.add(
            "name",
            "Somebody here has that name already. Add a letter or a surname.",
        );
        return show(&app, &who, problems, form.typed, None).await;
    }
    tx.commit().await?;
    Ok(Redirect::to("/staff").into_response())
}

/// `POST /staff/{id}`: changes a person's name, parts, password, or whether they may still sign in.
///
/// # Errors
/// Not found, stale, or what the database says.
pub async fn change(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(id): Path<Uuid>,
    form: Form<PersonForm>,
) -> Result<Response> {
    let mut problems = Problems::default();
    let name = problems.needed("name", &form.of.name, 80, "Write the name they sign in with.");
    let (counter, bench, owner) = form.of.roles(&mut problems);
    let version = problems
        .number("version", &form.of.version, 0..=i64::MAX)
        .unwrap_or(0);
    let mut person = Staff::get(&app.db, id).await?;
    if !form.of.password.is_empty() {
        sign_in::check_password(&mut problems, "password", &form.of.password, form.of.shortest());
    }
    let active = form.of.active == "yes";
    if who.staff == Some(id) && !(active && owner) {
        problems.add(
            "active",
            "You cannot take your own key away. Let another owner do it.",
        );
    }
    if !problems.is_empty() {
        return show(&app, &who, problems, form.typed, Some(id)).await;
    }
    let new_password = !form.of.password.is_empty();
    if new_password {
        person.password_hash = sign_in::hash_slowly(&app, form.of.password).await?;
    }
    (person.counter, person.bench, person.owner, person.active) = (counter, bench, owner, active);
    (person.name_key, person.name, person.version) = (name_key(&name), name, version);
    let mut tx = app.db.begin().await?;
    let taken = Staff::named_in(&mut tx, &person.name_key)
        .await?
        .is_some_and(|other| other != id);
    if taken {
        problems.add(
            "name",
            "Somebody here has that name already. Add a letter or a surname.",
        );
        return show(&app, &who, problems, form.typed, Some(id)).await;
    }
    person.update(&mut tx).await?;
    if new_password || !active {
        tx.query("delete from session where staff = $1")
            .bind(id)
            .execute()
            .await?;
    }
    tx.commit().await?;
    Ok(Redirect::to("/staff").into_response())
}

impl Staff {
    async fn named_in(tx: &mut crate::db::Tx, key: &str) -> Result<Option<Uuid>, Error> {
        let found: Option<(Uuid,)> = tx
            .query("select id from staff where name_key = $1")
            .bind(key.to_owned())
            .optional()
            .await?;
        Ok(found.map(|row| row.0))
    }
}
