//! A person's own page: their parts, their password, and what this device shows.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::{Extension, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;
use serde::Deserialize;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::{Error, Result};
use crate::form::{Form, Problems};
use crate::page::{Frame, html};

use super::person::shortest;
use super::{Staff, Who, session, sign_in};

#[derive(Template)]
#[template(path = "staff/me.html")]
struct MePage {
    frame: Frame,
    person: Staff,
    shortest: usize,
    problems: Problems,
    kept: bool,
}

async fn person(app: &App, who: &Who) -> Result<Staff> {
    Staff::get(&app.db, who.staff.ok_or(Error::NotAllowed)?).await
}

async fn show(app: &App, who: &Who, problems: Problems, kept: bool) -> Result<Response> {
    let person = person(app, who).await?;
    let shop = Shop::get(&app.db).await?;
    let status = if problems.is_empty() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = MePage {
        frame: Frame::new(&*person.name, shop.name, who, "me"),
        shortest: shortest(person.owner),
        person,
        problems,
        kept,
    };
    Ok((status, html(page)?).into_response())
}

/// `GET /me`
///
/// # Errors
/// What the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Query(asked): Query<BTreeMap<String, String>>,
) -> Result<Response> {
    show(&app, &who, Problems::default(), asked.contains_key("kept")).await
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct PasswordForm {
    present: String,
    password: String,
}

/// `POST /me/password`: the present password is asked for, and every other browser of this person is signed out.
///
/// # Errors
/// Too many tries, or what the database says.
pub async fn change_password(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    jar: CookieJar,
    form: Form<PasswordForm>,
) -> Result<Response> {
    let mut person = person(&app, &who).await?;
    app.limits.take(&person.name)?;
    let mut problems = Problems::default();
    let present = form.of.present;
    let same = present == form.of.password;
    if !sign_in::fits(&app, Some(person.password_hash.clone()), present).await? {
        problems.add("present", "This is not your password now. Type it again.");
    } else if same {
        problems.add("password", "This is the one you have. Choose another.");
    }
    sign_in::check_password(
        &mut problems,
        "password",
        &form.of.password,
        shortest(person.owner),
    );
    if !problems.is_empty() {
        return show(&app, &who, problems, false).await;
    }
    person.password_hash = sign_in::hash_slowly(&app, form.of.password).await?;
    person.first_password = false;
    let mut tx = app.db.begin().await?;
    person.update(&mut tx).await?;
    session::end_others(&app, &mut tx, person.id, &jar).await?;
    tx.commit().await?;
    Ok(Redirect::to("/me?kept=yes").into_response())
}
