//! Signing in: a name and a password make a session; guessing is slowed by name and by address.

use std::collections::HashSet;
use std::num::NonZeroU32;
use std::sync::LazyLock;

use askama::Template;
use axum::extract::{Extension, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;
use governor::clock::Clock as _;
use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};
use serde::Deserialize;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::page::{Frame, html};

pub use super::hash::hash_password;
use super::{Staff, Who, hash, name_key, session};

/// Passwords as typed, blanks and all; long enough to be slow to guess, without rules on which signs.
pub const SHORTEST: usize = 8;
pub const SHORTEST_OWNER: usize = 12;
const LONGEST: usize = 200;

/// Ten wrong tries at once, then one in ten seconds, for each name. All tablets of a shop share an address, so
/// only the name counts; a colleague is locked out for seconds at most, and a session that is open stays open.
pub struct Limits {
    by_name: DefaultKeyedRateLimiter<String>,
}

impl Limits {
    #[must_use]
    pub fn new() -> Limits {
        let burst = NonZeroU32::new(10).expect("ten is not zero");
        let quota = Quota::with_period(std::time::Duration::from_secs(10)).expect("ten seconds are not none");
        Limits {
            by_name: RateLimiter::keyed(quota.allow_burst(burst)),
        }
    }

    /// Counts a try for a name.
    ///
    /// # Errors
    /// Too many tries.
    pub fn take(&self, name: &str) -> Result<()> {
        if self.by_name.len() > 10_000 {
            self.by_name.retain_recent();
        }
        self.by_name.check_key(&name_key(name)).map_err(|not_until| {
            let wait = not_until.wait_time_from(governor::clock::DefaultClock::default().now());
            Error::TooOften(wait.as_secs() + 1)
        })
    }
}

impl Default for Limits {
    fn default() -> Self {
        Self::new()
    }
}

/// Adds what is amiss with a new password.
pub fn check_password(problems: &mut Problems, field: &str, password: &str, shortest: usize) {
    let letters = password.chars().count();
    if letters < shortest {
        problems.add(
            field,
            format!("Use at least {shortest} letters or signs; a short sentence is good."),
        );
    } else if letters > LONGEST {
        problems.add(field, format!("Keep this to {LONGEST} letters."));
    } else if is_common(password) {
        problems.add(field, "Everybody guesses this one first. Choose another.");
    }
}

/// Whether everybody guesses it: on the list of the most used ones, in whatever case.
fn is_common(password: &str) -> bool {
    static COMMON: LazyLock<HashSet<&str>> = LazyLock::new(|| {
        include_str!("common_passwords.txt")
            .lines()
            .filter(|line| !line.starts_with('#'))
            .collect()
    });
    COMMON.contains(password.to_lowercase().as_str())
}

/// Hashes or compares away from the threads that answer pages, a few at a time.
async fn slowly<T: Send + 'static>(app: &App, work: impl FnOnce() -> T + Send + 'static) -> Result<T> {
    let _slot = app.hashing.acquire().await.map_err(Error::fault)?;
    tokio::task::spawn_blocking(work).await.map_err(Error::fault)
}

/// Hashes a password without holding up other requests.
///
/// # Errors
/// When the system has no randomness to give.
pub async fn hash_slowly(app: &App, password: String) -> Result<String> {
    slowly(app, move || hash_password(&password)).await?
}

/// Whether a password is the one that was hashed. An unknown name takes as long as a wrong password.
///
/// # Errors
/// When the work cannot be done.
pub async fn fits(app: &App, hash: Option<String>, password: String) -> Result<bool> {
    slowly(app, move || hash::fits(hash.as_deref(), &password)).await
}

#[derive(Template)]
#[template(path = "staff/sign_in.html")]
struct SignInPage {
    frame: Frame,
    problems: Problems,
    typed: Typed,
    no_shop: bool,
    overheard: bool,
}

/// `GET /sign-in`
///
/// # Errors
/// What the database says.
pub async fn page(State(app): State<App>, who: Option<Extension<Who>>) -> Result<Response> {
    if who.is_some() {
        return Ok(Redirect::to("/").into_response());
    }
    show(&app, Problems::default(), Typed::default()).await
}

async fn show(app: &App, problems: Problems, typed: Typed) -> Result<Response> {
    let shop = Shop::find(&app.db).await?;
    let name = shop.as_ref().map_or("Purfle", |shop| &shop.name);
    html(SignInPage {
        frame: Frame::open("Sign in", name),
        problems,
        typed,
        no_shop: shop.is_none(),
        overheard: app.overheard(),
    })
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SignIn {
    #[serde(default)]
    name: String,
    #[serde(default)]
    password: String,
}

/// `POST /sign-in`
///
/// # Errors
/// Too many tries, or what the database says.
pub async fn sign_in(
    State(app): State<App>,
    headers: HeaderMap,
    jar: CookieJar,
    form: Form<SignIn>,
) -> Result<Response> {
    app.limits.take(&form.of.name)?;
    let person = Staff::named(&app.db, &form.of.name)
        .await?
        .filter(|person| person.active);
    let fits = fits(
        &app,
        person.as_ref().map(|person| person.password_hash.clone()),
        form.of.password.clone(),
    )
    .await?;
    let Some(person) = person.filter(|_| fits) else {
        let mut problems = Problems::default();
        problems.add("password", "Name and password do not fit together. Try again.");
        let page = show(&app, problems, Typed::default().with("name", form.of.name)).await?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    };
    // A browser that comes with an old session leaves it behind.
    session::end(&app, &jar).await?;
    let device = headers
        .get(header::USER_AGENT)
        .and_then(|value| value.to_str().ok())
        .unwrap_or("unknown");
    let mut tx = app.db.begin().await?;
    let secret = session::begin(&mut tx, person.id, device, app.clock.now()).await?;
    tx.commit().await?;
    Ok((
        CookieJar::new().add(session::cookie(&app, secret)),
        Redirect::to("/"),
    )
        .into_response())
}

/// `POST /sign-out`
///
/// # Errors
/// What the database says.
pub async fn sign_out(State(app): State<App>, jar: CookieJar) -> Result<Response> {
    session::end(&app, &jar).await?;
    Ok((
        jar.remove(session::cookie(&app, String::new())),
        Redirect::to("/sign-in"),
    )
        .into_response())
}
