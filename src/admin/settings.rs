//! The settings: what holds for the whole house, changed by the owner and never overwritten unseen.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::{Extension, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::app::App;
use crate::changed::{self, Side};
use crate::clock::Zone;
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::page::{Frame, html};
use crate::reports::new_bands::History;
use crate::staff::Who;

use super::new_shop;
use super::shop::Shop;
use super::shop_form::{FIELDS, ShopForm, typed_of};

#[derive(Template)]
#[template(path = "admin/settings.html")]
struct SettingsPage {
    frame: Frame,
    shop: Shop,
    problems: Problems,
    typed: Typed,
    /// The version the form was opened on.
    version: i64,
    changed: Option<Vec<Side>>,
    kept: bool,
    /// What new bands of age have counted anew; nothing where nothing was inspected yet.
    history: Option<History>,
    /// What the codes on printed tags hold.
    reached_at: String,
}

impl SettingsPage {
    fn zones(&self) -> Vec<String> {
        Zone::places()
    }
}

async fn show(app: &App, who: &Who, shop: Shop, shown: Shown) -> Result<Response> {
    let status = match (&shown.changed, shown.problems.is_empty()) {
        (Some(_), _) => StatusCode::PRECONDITION_FAILED,
        (None, true) => StatusCode::OK,
        (None, false) => StatusCode::UNPROCESSABLE_ENTITY,
    };
    let page = SettingsPage {
        frame: Frame::new("Shop", &*shop.name, who, "settings"),
        version: shown.version,
        problems: shown.problems,
        typed: shown.typed,
        changed: shown.changed,
        kept: shown.kept,
        history: History::read(&app.db, &shop.rules).await?,
        reached_at: app.address.clone(),
        shop,
    };
    Ok((status, html(page)?).into_response())
}

/// What the settings show beside the shop itself.
struct Shown {
    problems: Problems,
    typed: Typed,
    version: i64,
    changed: Option<Vec<Side>>,
    kept: bool,
}

/// `GET /settings`
///
/// # Errors
/// What the database says.
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Query(asked): Query<BTreeMap<String, String>>,
) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let shown = Shown {
        problems: Problems::default(),
        typed: typed_of(&shop),
        version: shop.version,
        changed: None,
        kept: asked.contains_key("kept"),
    };
    show(&app, &who, shop, shown).await
}

/// `POST /settings`
///
/// # Errors
/// What the database says.
pub async fn change(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    form: Form<ShopForm>,
) -> Result<Response> {
    let mut tx = app.db.begin().await?;
    let now = Shop::get(&mut tx).await?;
    let (new, problems) = form.of.read(&now.currency());
    let mut shown = Shown {
        version: form.of.version,
        problems: Problems::default(),
        typed: form.typed,
        changed: None,
        kept: false,
    };
    match new_shop::change(&mut tx, problems, form.of.version, &new).await {
        Err(Error::Problems(problems)) => shown.problems = problems,
        Err(Error::Stale(_)) => {
            shown.changed = Some(changed::between(&FIELDS, &typed_of(&now), &shown.typed));
            shown.version = now.version;
        }
        kept => {
            kept?;
            tx.commit().await?;
            app.new_bands.notify_one();
            return Ok(Redirect::to("/settings?kept=yes").into_response());
        }
    }
    drop(tx);
    show(&app, &who, now, shown).await
}
