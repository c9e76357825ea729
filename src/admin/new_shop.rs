//! The shop as the owner describes it, on a page or in a call: checked as one, then made or kept.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::clock::{Moment, Zone};
use crate::db::Tx;
use crate::error::{Error, Result};
use crate::form::Problems;
use crate::money::{Currency, LIMIT, Money, Rate};
use crate::reports::bands::Bands;
use crate::reports::rules::Rules;
use crate::reports::season::{NotSeasons, Seasons};

use super::shop::Shop;

#[derive(Clone, Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct NewShop {
    pub name: String,
    /// As printed on papers, lines kept.
    pub address: String,
    pub phone: String,
    /// A place of the time zone table, such as `Europe/Vienna`.
    pub zone: String,
    /// `northern`, `southern` or `none`.
    pub hemisphere: String,
    /// Twelve letters, January to December: d dry, h humid, c change. Empty: as they mostly are in the hemisphere.
    pub seasons: String,
    /// An hour, before tax; 0 if labour costs nothing.
    pub labour_rate: Option<i64>,
    /// What the tax is called on papers.
    pub tax_name: String,
    /// Parts per million: 200000 is 20 %.
    pub tax_labour: i64,
    /// Parts per million.
    pub tax_parts: i64,
    /// So long after pickup the same cause is the shop's to answer; 90 if left out.
    pub comeback_days: Option<i64>,
    /// The years under which each band of age of the reports ends and from which the next counts, rising, at most seven; empty:
    /// one band of every known age; left out: 2, 20, 80, 100. An age that is not known is always a band of its own.
    pub age_bounds: Option<Vec<i64>>,
    /// What a fix at the counter costs, before tax, in minor units; often nothing.
    pub counter_fee: i64,
    /// Printed on the claim stub.
    pub stub_terms: String,
}

/// The months of a hemisphere as they mostly are.
#[must_use]
pub fn usual_seasons(hemisphere: &str) -> Option<Seasons> {
    match hemisphere {
        "northern" => Some(Seasons::northern()),
        "southern" => Some(Seasons::southern()),
        "none" => Some(Seasons::without_seasons()),
        _ => None,
    }
}

impl NewShop {
    /// As it stands. Only months of the shop's own are said; otherwise another hemisphere would change nothing.
    #[must_use]
    pub fn of(kept: &Shop) -> NewShop {
        let usual = usual_seasons(&kept.hemisphere).is_some_and(|usual| usual.to_string() == kept.seasons);
        let kept = kept.clone();
        NewShop {
            seasons: if usual { String::new() } else { kept.seasons },
            name: kept.name,
            address: kept.address,
            phone: kept.phone,
            zone: kept.zone,
            hemisphere: kept.hemisphere,
            labour_rate: Some(kept.labour_rate.0),
            tax_name: kept.tax_name,
            tax_labour: kept.tax_labour.0,
            tax_parts: kept.tax_parts.0,
            comeback_days: Some(kept.comeback_days),
            age_bounds: Some(kept.rules.wanted().into()),
            counter_fee: kept.counter_fee.0,
            stub_terms: kept.stub_terms,
        }
    }

    /// The shop this describes.
    pub fn check(&self, p: &mut Problems, currency: &Currency, now: Moment) -> Shop {
        if Zone::named(self.zone.trim()).is_none() {
            p.add("zone", "Choose a time zone of the list, such as Europe/Vienna.");
        }
        match self.labour_rate {
            None => p.add("labour_rate", "Write what an hour costs; 0 if nothing."),
            Some(rate) if !(0..=LIMIT).contains(&rate) => {
                p.add(
                    "labour_rate",
                    "The labour rate is more than fits, or less than nothing.",
                );
            }
            Some(_) => {}
        }
        if !(0..=LIMIT).contains(&self.counter_fee) {
            p.add("counter_fee", "This is more than fits, or less than nothing.");
        }
        let mut rate = |field: &str, given: i64| {
            Rate::try_from(given).unwrap_or_else(|problem| {
                p.add(field, problem.to_string());
                Rate(0)
            })
        };
        let (tax_labour, tax_parts) = (
            rate("tax_labour", self.tax_labour),
            rate("tax_parts", self.tax_parts),
        );
        let window = p.whole("comeback_days", self.comeback_days, 0..=730);
        let comeback_days = window.unwrap_or(90);
        Shop {
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
            seasons: self.months(p).to_string(),
            currency: currency.code().to_owned(),
            labour_rate: Money(self.labour_rate.unwrap_or_default()),
            tax_name: p.line("tax_name", &self.tax_name, 30),
            tax_labour,
            tax_parts,
            comeback_days,
            counter_fee: Money(self.counter_fee),
            rules: Rules::new(&self.bands(p), comeback_days),
            stub_terms: p.text("stub_terms", &self.stub_terms, 600),
            version: 1,
            created_at: now,
        }
    }

    fn bands(&self, p: &mut Problems) -> Bands {
        let Some(bounds) = &self.age_bounds else {
            return Bands::default();
        };
        Bands::try_from(bounds.clone()).unwrap_or_else(|problem| {
            p.add("age_bounds", problem.to_string());
            Bands::default()
        })
    }

    fn months(&self, p: &mut Problems) -> Seasons {
        let usual = usual_seasons(&self.hemisphere).unwrap_or_else(|| {
            p.add(
                "hemisphere",
                "Say whether winter is in January, in July or never.",
            );
            Seasons::without_seasons()
        });
        match self.seasons.trim() {
            "" => usual,
            own => own.parse().unwrap_or_else(|problem: NotSeasons| {
                p.add("seasons", problem.to_string());
                usual
            }),
        }
    }
}

/// Keeps what the owner changed, unless somebody else did since `version`; money stays in the currency it was counted in.
///
/// # Errors
/// Problems, `problems` among them, stale, or what the database says.
pub async fn change(tx: &mut Tx, mut problems: Problems, version: i64, new: &NewShop) -> Result<Shop> {
    let kept = Shop::get(&mut *tx).await?;
    let mut shop = Shop {
        house: kept.house,
        version,
        ..new.check(&mut problems, &kept.currency(), kept.created_at)
    };
    problems.settle()?;
    if !shop.update(tx).await? {
        return Err(Error::Stale(
            "The shop was changed by somebody else just now. Look at it again, then change it.".into(),
        ));
    }
    shop.version += 1;
    shop.rules = Rules::read(tx).await?;
    Ok(shop)
}
