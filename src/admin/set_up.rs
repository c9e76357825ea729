//! The set-up: whoever has the link that was printed makes the shop and its first owner, once and within a day.

use askama::Template;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;
use uuid::Uuid;

use crate::app::App;
use crate::clock::{Moment, Zone};
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::money::Currency;
use crate::page::{Frame, html};
use crate::staff::{Staff, name_key, session, sign_in};

use super::shop::{DEFAULT_TERMS, Shop};
use super::shop_form::ShopForm;

const ON_THE_PAGE: [&str; 16] = [
    "name",
    "address",
    "phone",
    "zone",
    "hemisphere",
    "seasons",
    "currency",
    "labour_rate",
    "tax_name",
    "tax_labour",
    "tax_parts",
    "comeback_days",
    "counter_fee",
    "stub_terms",
    "owner",
    "password",
];

#[derive(Template)]
#[template(path = "admin/set_up.html")]
struct SetUpPage {
    frame: Frame,
    code: String,
    problems: Problems,
    typed: Typed,
}

impl SetUpPage {
    fn currencies(&self) -> Vec<&'static str> {
        let mut codes: Vec<_> = Currency::codes().collect();
        codes.sort_unstable();
        codes
    }
    fn zones(&self) -> Vec<String> {
        Zone::places()
    }
}

/// So long a link is good.
const GOOD_FOR_MS: i64 = 24 * 3_600_000;

/// The link that was printed, kept by its hash: good once, and for a day.
pub struct Link {
    hash: String,
    until: Moment,
}

impl Link {
    #[must_use]
    pub fn new(code: &str, now: Moment) -> Link {
        Link {
            hash: session::hash(code),
            until: now.plus_ms(GOOD_FOR_MS),
        }
    }
}

/// The code is that of the link, it is not over, and there is no shop yet. To whoever has another code nothing is told.
async fn may_set_up(app: &App, code: &str) -> Result<()> {
    let hash = session::hash(code);
    let until = app
        .set_up_link
        .lock()
        .ok()
        .and_then(|link| {
            link.as_ref()
                .filter(|link| link.hash == hash)
                .map(|link| link.until)
        })
        .ok_or(Error::NotFound)?;
    if Shop::find(&app.db).await?.is_some() {
        return Err(Error::Over(
            "The shop is set up, and this link was good for once. Sign in.".into(),
        ));
    }
    if until < app.clock.now() {
        return Err(Error::Over(
            "This link was good for a day, and that is over. Stop Purfle and start it again: it prints a new one.".into(),
        ));
    }
    Ok(())
}

/// `GET /set-up/{code}`
///
/// # Errors
/// Not found unless the code fits; over, once there is a shop or after a day.
pub async fn page(State(app): State<App>, Path(code): Path<String>) -> Result<Response> {
    may_set_up(&app, &code).await?;
    let typed = Typed::default()
        .with("hemisphere", "northern")
        .with("currency", "EUR")
        .with("comeback_days", "90")
        .with("counter_fee", "0")
        .with("stub_terms", DEFAULT_TERMS);
    html(SetUpPage {
        frame: Frame::open("Set up the shop", "Purfle"),
        code,
        problems: Problems::default(),
        typed,
    })
}

/// `POST /set-up/{code}`
///
/// # Errors
/// Not found or over, or what the database says.
pub async fn set_up(
    State(app): State<App>,
    Path(code): Path<String>,
    headers: HeaderMap,
    form: Form<ShopForm>,
) -> Result<Response> {
    may_set_up(&app, &code).await?;
    let now = app.clock.now();
    let (mut shop, mut problems) = form.of.check(now);
    let name = problems.needed(
        "owner",
        &form.of.owner,
        80,
        "Write the name you will sign in with.",
    );
    sign_in::check_password(
        &mut problems,
        "password",
        &form.of.password,
        sign_in::SHORTEST_OWNER,
    );
    problems.in_order(&ON_THE_PAGE);
    if !problems.is_empty() {
        let page = SetUpPage {
            frame: Frame::open("Set up the shop", "Purfle"),
            code,
            problems,
            typed: form.typed,
        };
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, html(page)?).into_response());
    }
    let owner = Staff {
        id: Uuid::now_v7(),
        name_key: name_key(&name),
        name,
        password_hash: sign_in::hash_slowly(&app, form.of.password).await?,
        counter: false,
        bench: false,
        owner: true,
        active: true,
        first_password: false,
        version: 1,
        created_at: now,
    };
    shop.version = 1;
    let mut tx = app.db.begin().await?;
    shop.insert(&mut tx).await?;
    owner.insert(&mut tx).await?;
    let device = headers
        .get(header::USER_AGENT)
        .and_then(|value| value.to_str().ok())
        .unwrap_or("unknown");
    let secret = session::begin(&mut tx, owner.id, device, now).await?;
    tx.commit().await?;
    Ok((
        CookieJar::new().add(session::cookie(&app, secret)),
        Redirect::to("/"),
    )
        .into_response())
}
