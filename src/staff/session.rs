//! A session is one browser that is signed in: a random cookie there, its hash and its limits here.

use std::collections::HashMap;
use std::time::Duration;

use axum::extract::{Request, State};
use axum::http::header::AUTHORIZATION;
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;
use axum_extra::extract::cookie::{Cookie, SameSite};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use sha2::{Digest, Sha256};
use sqlx::FromRow;
use uuid::Uuid;

use crate::app::App;
use crate::clock::Moment;
use crate::db::{Db, Read, Tx};
use crate::error::{Error, Result};

use super::{Roles, Who};

/// A tablet that nobody touched for so long asks who it is.
const IDLE_MS: i64 = 12 * 3_600_000;
/// After so long everybody signs in anew.
const LONGEST_MS: i64 = 14 * 86_400_000;
/// Where somebody may go who still has the password that another person chose for them.
const BEFORE_THEIR_OWN: [&str; 3] = ["/me", "/me/password", "/sign-out"];
/// How exact "last seen" is kept: not every page writes.
const SEEN_EVERY_MS: i64 = 300_000;
/// Longer it is not waited for.
const NOTED_WITHIN: Duration = Duration::from_millis(500);

#[derive(FromRow)]
struct Found {
    staff: Uuid,
    name: String,
    counter: bool,
    bench: bool,
    owner: bool,
    first_password: bool,
    seen_at: Moment,
}

/// 32 random bytes from the system, as text that fits a cookie, a header and an address.
///
/// # Errors
/// When the system has no randomness to give.
pub fn secret() -> Result<String> {
    let mut bytes = [0_u8; 32];
    getrandom::fill(&mut bytes).map_err(Error::fault)?;
    Ok(URL_SAFE_NO_PAD.encode(bytes))
}

/// What is kept of a secret: enough to know it again, useless to whoever reads a backup.
#[must_use]
pub fn hash(secret: &str) -> String {
    URL_SAFE_NO_PAD.encode(Sha256::digest(secret.as_bytes()))
}

/// The cookie's name: bound to this host and to TLS where there is TLS.
fn cookie_name(app: &App) -> &'static str {
    if app.secure() { "__Host-purfle" } else { "purfle" }
}

/// The cookie that carries a session's secret.
#[must_use]
pub fn cookie(app: &App, secret: String) -> Cookie<'static> {
    Cookie::build((cookie_name(app), secret))
        .path("/")
        .http_only(true)
        .same_site(SameSite::Lax)
        .secure(app.secure())
        .build()
}

/// Begins a session and returns its secret.
///
/// # Errors
/// What the database says.
pub async fn begin(tx: &mut Tx, staff: Uuid, device: &str, now: Moment) -> Result<String> {
    let secret = secret()?;
    tx.query(
        "insert into session (token_hash, staff, device, created_at, seen_at) values ($1, $2, $3, $4, $4)",
    )
    .bind(hash(&secret))
    .bind(staff)
    .bind(
        device
            .chars()
            .filter(|c| !c.is_control())
            .take(120)
            .collect::<String>(),
    )
    .bind(now)
    .execute()
    .await?;
    tx.query("delete from session where created_at < $1")
        .bind(now.plus_ms(-LONGEST_MS))
        .execute()
        .await?;
    Ok(secret)
}

/// Ends the session of this browser.
///
/// # Errors
/// What the database says.
pub async fn end(app: &App, jar: &CookieJar) -> Result<()> {
    if let Some(cookie) = jar.get(cookie_name(app)) {
        app.db
            .write("delete from session where token_hash = $1")
            .bind(hash(cookie.value()))
            .execute()
            .await?;
    }
    Ok(())
}

/// Ends all sessions of a person but the one of this browser.
///
/// # Errors
/// What the database says.
pub async fn end_others(app: &App, tx: &mut Tx, staff: Uuid, jar: &CookieJar) -> Result<()> {
    let own = jar
        .get(cookie_name(app))
        .map_or(String::new(), |cookie| hash(cookie.value()));
    tx.query("delete from session where staff = $1 and token_hash <> $2")
        .bind(staff)
        .bind(own)
        .execute()
        .await?;
    Ok(())
}

/// When each person was last here, as far as they are still signed in somewhere.
///
/// # Errors
/// What the database says.
pub async fn last_seen(mut on: impl Read) -> Result<HashMap<Uuid, Moment>> {
    let rows: Vec<(Uuid, Moment)> = on
        .read("select staff, max(seen_at) from session group by staff")
        .all()
        .await?;
    Ok(rows.into_iter().collect())
}

/// Finds out who is asking. The pages know people by their cookie, the API knows programs by their token;
/// neither takes the other's, so that a page elsewhere cannot make a browser use the API.
pub async fn who(State(app): State<App>, mut request: Request, next: Next) -> Response {
    let who = if request.uri().path().starts_with("/api/") {
        let bearer = request
            .headers()
            .get(AUTHORIZATION)
            .and_then(|value| value.to_str().ok());
        match bearer.and_then(|value| value.strip_prefix("Bearer ")) {
            Some(token) => crate::api::token::holder(&app.db, token, app.clock.now()).await,
            None => Ok(None),
        }
    } else if request.uri().path().starts_with("/static/") {
        Ok(None)
    } else {
        match CookieJar::from_headers(request.headers()).get(cookie_name(&app)) {
            Some(cookie) => match holder(&app.db, cookie.value(), app.clock.now()).await {
                Ok(Some((_, true))) if !BEFORE_THEIR_OWN.contains(&request.uri().path()) => {
                    return Redirect::to("/me").into_response();
                }
                found => found.map(|found| found.map(|(who, _)| who)),
            },
            None => Ok(None),
        }
    };
    match who {
        Ok(Some(who)) => {
            request.extensions_mut().insert(who);
        }
        Ok(None) => {}
        Err(error) => return error.into_response(),
    }
    next.run(request).await
}

/// Whose browser it is, and whether they must choose a password first.
async fn holder(db: &Db, secret: &str, now: Moment) -> Result<Option<(Who, bool)>> {
    let found: Option<Found> = db
        .read(
            "select s.staff, s.seen_at, p.name, p.counter, p.bench, p.owner, p.first_password from session s join staff p on p.id = s.staff
             where s.token_hash = $1 and p.active and s.seen_at > $2 and s.created_at > $3",
        )
        .bind(hash(secret))
        .bind(now.plus_ms(-IDLE_MS))
        .bind(now.plus_ms(-LONGEST_MS))
        .optional()
        .await?;
    let Some(seen) = found else { return Ok(None) };
    if now.0 - seen.seen_at.0 > SEEN_EVERY_MS {
        let note = db.write("update session set seen_at = $2 where token_hash = $1");
        let note = note.bind(hash(secret)).bind(now).execute();
        // While much is written at once nobody waits only to be noted; the next page does it.
        if let Ok(noted) = tokio::time::timeout(NOTED_WITHIN, note).await {
            noted?;
        } else {
            tracing::debug!("a visit was not noted");
        }
    }
    let roles = Roles {
        counter: seen.counter,
        bench: seen.bench,
        owner: seen.owner,
    };
    let who = Who {
        actor: seen.staff,
        staff: Some(seen.staff),
        name: seen.name,
        roles,
    };
    Ok(Some((who, seen.first_password)))
}
