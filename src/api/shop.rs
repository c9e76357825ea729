//! The shop's settings for programs.

use axum::extract::{Extension, State};
use axum::http::StatusCode;
use axum::response::Response;

use crate::admin::new_shop::{self, NewShop};
use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::Result;
use crate::form::Problems;
use crate::staff::Who;

use super::doing::Doing;
use super::json::Patch;
use super::orders::tell;
use super::shape;

/// Tells the shop's settings.
#[utoipa::path(get, path = "/api/v1/shop", tag = "shop", responses((status = 200, body = shape::Shop)))]
pub async fn read(State(app): State<App>) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    tell(shop.version, &shape::Shop::from(shop))
}

/// Changes the shop's settings: what is left out stays, and null clears. The currency stays.
#[utoipa::path(patch, path = "/api/v1/shop", tag = "shop", request_body = NewShop, responses((status = 200, body = shape::Shop)))]
pub async fn change(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    patch: Patch,
) -> Result<Response> {
    let mut doing = Doing::change(&app, &who, patch.version()?).await?;
    let kept = Shop::get(&mut doing.tx).await?;
    doing.fits(kept.version)?;
    let new = patch.onto(&NewShop::of(&kept))?;
    let changed = new_shop::change(&mut doing.tx, Problems::default(), kept.version, &new).await?;
    let version = changed.version;
    let told = shape::Shop::from(changed);
    let answer = doing.answer(StatusCode::OK, version, &told).await?;
    app.new_bands.notify_one();
    Ok(answer)
}

impl From<Shop> for shape::Shop {
    fn from(shop: Shop) -> Self {
        shape::Shop {
            name: shop.name,
            address: shop.address,
            phone: shop.phone,
            zone: shop.zone,
            hemisphere: shop.hemisphere,
            seasons: shop.seasons,
            currency: shop.currency,
            labour_rate: shop.labour_rate.0,
            tax_name: shop.tax_name,
            tax_labour: shop.tax_labour.0,
            tax_parts: shop.tax_parts.0,
            comeback_days: shop.comeback_days,
            comeback_recount: shape::ComebackRecount::of(&shop.rules),
            age_bounds: shop.rules.wanted().into(),
            age_recount: shape::AgeRecount::of(&shop.rules),
            counter_fee: shop.counter_fee.0,
            stub_terms: shop.stub_terms,
            version: shop.version,
        }
    }
}
