//! What was in force is what the shop was called and ruled by on the day figures were kept: they are shown again by that.

use serde::{Deserialize, Serialize};

use crate::admin::shop::Shop;

use super::report::Figures;

/// Beside the figures; the months of the seasons and the bands of age stand in these themselves.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct InForce {
    pub name: String,
    pub currency: String,
    /// The window that comebacks were counted by.
    pub comeback_window: i64,
    pub zone: String,
}

impl InForce {
    #[must_use]
    pub fn of(shop: &Shop) -> InForce {
        InForce {
            name: shop.name.clone(),
            currency: shop.currency.clone(),
            comeback_window: shop.rules.window(),
            zone: shop.zone.clone(),
        }
    }
}

/// The shop as it was when the figures were kept. What was kept before this was kept beside it is shown by what is in force
/// now, but for the seasons. For the window of the comebacks ask [`window_of`].
#[must_use]
pub fn shop_of(figures: &Figures, mut shop: Shop) -> Shop {
    shop.seasons = figures.by_season.seasons().to_string();
    if let Some(then) = &figures.in_force {
        shop.name.clone_from(&then.name);
        shop.currency.clone_from(&then.currency);
        shop.zone.clone_from(&then.zone);
    }
    shop
}

/// Within how many days what came back counted as a comeback, where that is known.
#[must_use]
pub fn window_of(figures: &Figures) -> Option<i64> {
    figures.in_force.as_ref().map(|then| then.comeback_window)
}
