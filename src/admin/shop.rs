//! The shop: its name, place, money and rules; made once with its first owner, changed by the owner.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::{Extension, Path, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum_extra::extract::CookieJar;
use serde::Deserialize;
use sqlx::FromRow;
use uuid::Uuid;

use crate::app::App;
use crate::changed::{self, Field, Side};
use crate::clock::{Day, Moment, Zone};
use crate::db::{Read, Tx};
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::money::{self, Currency, Money, Rate};
use crate::page::{Frame, html};
use crate::reports::season::{Season, Seasons};
use crate::staff::{Staff, Who, name_key, session, sign_in};

#[derive(Clone, Debug, FromRow)]
pub struct Shop {
    pub house: Uuid,
    pub name: String,
    pub address: String,
    pub phone: String,
    pub zone: String,
    pub hemisphere: String,
    pub seasons: String,
    pub currency: String,
    pub labour_rate: Money,
    pub tax_name: String,
    pub tax_labour: Rate,
    pub tax_parts: Rate,
    pub comeback_days: i64,
    pub stub_terms: String,
    pub version: i64,
    pub created_at: Moment,
}

impl Shop {
    /// # Errors
    /// What the database says.
    pub async fn find(mut on: impl Read) -> Result<Option<Shop>> {
        Ok(on.read("select * from shop where id = 1").optional().await?)
    }

    /// # Errors
    /// What the database says, or that there is no shop yet.
    pub async fn get(on: impl Read) -> Result<Shop> {
        Shop::find(on)
            .await?
            .ok_or_else(|| Error::conflict("The shop is not set up yet."))
    }

    #[must_use]
    pub fn zone(&self) -> Zone {
        // Checked when it was typed; a name that a later zone table dropped falls back to UTC.
        Zone::named(&self.zone)
            .or_else(|| Zone::named("UTC"))
            .expect("UTC is in every zone table")
    }

    #[must_use]
    pub fn today(&self, now: Moment) -> Day {
        self.zone().day(now)
    }

    #[must_use]
    pub fn currency(&self) -> Currency {
        Currency::new(&self.currency)
            .or_else(|| Currency::new("EUR"))
            .expect("EUR is in the list")
    }

    #[must_use]
    pub fn seasons(&self) -> Seasons {
        self.seasons
            .parse()
            .unwrap_or_else(|_| Seasons::without_seasons())
    }

    #[must_use]
    pub fn season(&self, day: Day) -> Season {
        self.seasons()
            .of_month(day.month().month_number())
            .unwrap_or(Season::Change)
    }

    /// An amount as it is shown: "€ 12.50".
    #[must_use]
    pub fn money(&self, amount: &Money) -> String {
        amount.show(&self.currency())
    }

    /// # Errors
    /// What the database says; a conflict if there is a shop already.
    pub async fn insert(&self, tx: &mut Tx) -> Result<()> {
        let rows = tx
            .query(
                "insert into shop (id, house, name, address, phone, zone, hemisphere, seasons, currency, labour_rate,
                 tax_name, tax_labour, tax_parts, comeback_days, stub_terms, version, created_at)
                 values (1, $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16) on conflict do nothing",
            )
            .bind(self.house)
            .bind(self.name.clone())
            .bind(self.address.clone())
            .bind(self.phone.clone())
            .bind(self.zone.clone())
            .bind(self.hemisphere.clone())
            .bind(self.seasons.clone())
            .bind(self.currency.clone())
            .bind(self.labour_rate)
            .bind(self.tax_name.clone())
            .bind(self.tax_labour)
            .bind(self.tax_parts)
            .bind(self.comeback_days)
            .bind(self.stub_terms.clone())
            .bind(self.version)
            .bind(self.created_at)
            .execute()
            .await?;
        if rows == 0 {
            Err(Error::conflict("There is a shop already. Sign in."))
        } else {
            Ok(())
        }
    }

    /// Keeps what the owner changed; false if somebody else changed it since this version.
    async fn update(&self, tx: &mut Tx) -> Result<bool> {
        let rows = tx
            .query(
                "update shop set name = $2, address = $3, phone = $4, zone = $5, hemisphere = $6, seasons = $7,
                 labour_rate = $8, tax_name = $9, tax_labour = $10, tax_parts = $11, comeback_days = $12,
                 stub_terms = $13, version = version + 1 where id = 1 and version = $1",
            )
            .bind(self.version)
            .bind(self.name.clone())
            .bind(self.address.clone())
            .bind(self.phone.clone())
            .bind(self.zone.clone())
            .bind(self.hemisphere.clone())
            .bind(self.seasons.clone())
            .bind(self.labour_rate)
            .bind(self.tax_name.clone())
            .bind(self.tax_labour)
            .bind(self.tax_parts)
            .bind(self.comeback_days)
            .bind(self.stub_terms.clone())
            .execute()
            .await?;
        Ok(rows == 1)
    }
}

/// The months of a hemisphere as they mostly are.
fn usual_seasons(hemisphere: &str) -> Option<Seasons> {
    match hemisphere {
        "northern" => Some(Seasons::northern()),
        "southern" => Some(Seasons::southern()),
        "none" => Some(Seasons::without_seasons()),
        _ => None,
    }
}

/// The form of the set-up and of the settings; the owner's name and password only when the shop is new.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct ShopForm {
    name: String,
    address: String,
    phone: String,
    zone: String,
    hemisphere: String,
    seasons: String,
    currency: String,
    labour_rate: String,
    tax_name: String,
    tax_labour: String,
    tax_parts: String,
    comeback_days: String,
    stub_terms: String,
    version: String,
    owner: String,
    password: String,
}

impl ShopForm {
    /// The shop this describes, and what wants mending.
    fn check(&self, now: Moment) -> (Shop, Problems) {
        let mut problems = Problems::default();
        let p = &mut problems;
        let currency = Currency::new(self.currency.trim());
        if currency.is_none() {
            p.add(
                "currency",
                "Write the three letters of the currency, such as EUR.",
            );
        }
        let shown = currency
            .clone()
            .unwrap_or_else(|| Currency::new("EUR").expect("EUR is in the list"));
        if Zone::named(self.zone.trim()).is_none() {
            p.add("zone", "Choose a time zone of the list, such as Europe/Vienna.");
        }
        let seasons = usual_seasons(&self.hemisphere).unwrap_or_else(|| {
            p.add(
                "hemisphere",
                "Say whether winter is in January, in July or never.",
            );
            Seasons::without_seasons()
        });
        let seasons = match self.seasons.trim() {
            "" => seasons,
            own => own
                .parse()
                .unwrap_or_else(|problem: crate::reports::season::NotSeasons| {
                    p.add("seasons", problem.to_string());
                    seasons
                }),
        };
        let mut rate =
            |field: &str, typed: &str| match Rate::parse(if typed.trim().is_empty() { "0" } else { typed }) {
                Ok(rate) => rate,
                Err(problem) => {
                    p.add(field, problem.to_string());
                    Rate(0)
                }
            };
        let (tax_labour, tax_parts) = (
            rate("tax_labour", &self.tax_labour),
            rate("tax_parts", &self.tax_parts),
        );
        let labour_rate = money::parse(&self.labour_rate, &shown).unwrap_or_else(|problem| {
            p.add("labour_rate", problem.to_string());
            Money::ZERO
        });
        let shop = Shop {
            house: Uuid::new_v4(),
            name: p.needed(
                "name",
                &self.name,
                100,
                "Write the shop's name, as it stands over the door.",
            ),
            address: p.text("address", &self.address, 400),
            phone: p.line("phone", &self.phone, 40),
            zone: self.zone.trim().to_owned(),
            hemisphere: self.hemisphere.clone(),
            seasons: seasons.to_string(),
            currency: shown.code().to_owned(),
            labour_rate,
            tax_name: p.line("tax_name", &self.tax_name, 30),
            tax_labour,
            tax_parts,
            comeback_days: p
                .number("comeback_days", &self.comeback_days, 0..=730)
                .unwrap_or(90),
            stub_terms: p.text("stub_terms", &self.stub_terms, 600),
            version: p.number("version", &self.version, 0..=i64::MAX).unwrap_or(0),
            created_at: now,
        };
        (shop, problems)
    }
}

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
        Currency::common().collect()
    }
    fn zones(&self) -> Vec<String> {
        Zone::places()
    }
}

/// The code of the set-up link fits and there is no shop yet; otherwise there is nothing here.
async fn may_set_up(app: &App, code: &str) -> Result<()> {
    let fits = app
        .set_up_code
        .lock()
        .is_ok_and(|kept| kept.as_deref() == Some(session::hash(code).as_str()));
    if !fits || Shop::find(&app.db).await?.is_some() {
        return Err(Error::NotFound);
    }
    Ok(())
}

/// `GET /set-up/{code}`
///
/// # Errors
/// Not found, unless the code fits and there is no shop.
pub async fn set_up_page(State(app): State<App>, Path(code): Path<String>) -> Result<Response> {
    may_set_up(&app, &code).await?;
    let typed = Typed::default()
        .with("hemisphere", "northern")
        .with("currency", "EUR")
        .with("comeback_days", "90")
        .with("stub_terms", DEFAULT_TERMS);
    html(SetUpPage {
        frame: Frame::open("Set up the shop", "Purfle"),
        code,
        problems: Problems::default(),
        typed,
    })
}

/// Plain words that most shops can keep; the owner writes their own.
pub const DEFAULT_TERMS: &str = "Please bring this stub. Work beyond your limit is put to you first. \
    Times and costs are estimates until the bench has looked. Please collect within 60 days of our message.";

/// `POST /set-up/{code}`
///
/// # Errors
/// Not found, or what the database says.
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
    if let Ok(mut kept) = app.set_up_code.lock() {
        *kept = None;
    }
    Ok((
        CookieJar::new().add(session::cookie(&app, secret)),
        Redirect::to("/"),
    )
        .into_response())
}

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
}

impl SettingsPage {
    fn zones(&self) -> Vec<String> {
        Zone::places()
    }
}

const FIELDS: [Field; 12] = [
    ("name", "Name of the shop", false),
    ("address", "Address", false),
    ("phone", "Phone", false),
    ("zone", "Time zone", false),
    ("hemisphere", "Seasons", true),
    ("seasons", "Our own months", false),
    ("labour_rate", "Labour rate", false),
    ("tax_name", "Tax is called", false),
    ("tax_labour", "Tax on labour", false),
    ("tax_parts", "Tax on parts", false),
    ("comeback_days", "Comeback window", false),
    ("stub_terms", "Terms", false),
];

/// The form as it stands for a shop.
fn typed_of(shop: &Shop) -> Typed {
    let currency = shop.currency();
    // Only months of the shop's own are typed; otherwise another hemisphere would change nothing.
    let usual = usual_seasons(&shop.hemisphere).is_some_and(|usual| usual.to_string() == shop.seasons);
    Typed::default()
        .with("name", &*shop.name)
        .with("address", &*shop.address)
        .with("phone", &*shop.phone)
        .with("zone", &*shop.zone)
        .with("hemisphere", &*shop.hemisphere)
        .with("seasons", if usual { "" } else { &*shop.seasons })
        .with("labour_rate", shop.labour_rate.typed(&currency))
        .with("tax_name", &*shop.tax_name)
        .with("tax_labour", shop.tax_labour.typed())
        .with("tax_parts", shop.tax_parts.typed())
        .with("comeback_days", shop.comeback_days.to_string())
        .with("stub_terms", &*shop.stub_terms)
}

fn show_settings(who: &Who, shop: Shop, shown: SettingsShown) -> Result<Response> {
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
        shop,
    };
    Ok((status, html(page)?).into_response())
}

/// What the settings show beside the shop itself.
struct SettingsShown {
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
pub async fn settings_page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Query(asked): Query<BTreeMap<String, String>>,
) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let shown = SettingsShown {
        problems: Problems::default(),
        typed: typed_of(&shop),
        version: shop.version,
        changed: None,
        kept: asked.contains_key("kept"),
    };
    show_settings(&who, shop, shown)
}

/// `POST /settings`
///
/// # Errors
/// What the database says.
pub async fn change_settings(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    mut form: Form<ShopForm>,
) -> Result<Response> {
    let mut tx = app.db.begin().await?;
    let now = Shop::get(&mut tx).await?;
    form.of.currency.clone_from(&now.currency); // fixed once money was counted in it
    let (shop, problems) = form.of.check(app.clock.now());
    let mut shown = SettingsShown {
        version: shop.version,
        problems,
        typed: form.typed,
        changed: None,
        kept: false,
    };
    if !shown.problems.is_empty() {
        return show_settings(&who, now, shown);
    }
    if !shop.update(&mut tx).await? {
        shown.changed = Some(changed::between(&FIELDS, &typed_of(&now), &shown.typed));
        shown.version = now.version;
        return show_settings(&who, now, shown);
    }
    tx.commit().await?;
    Ok(Redirect::to("/settings?kept=yes").into_response())
}
