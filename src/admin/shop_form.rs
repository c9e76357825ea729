//! The form of the shop: what was typed at the set-up or in the settings, and the shop it describes.

use serde::Deserialize;
use uuid::Uuid;

use crate::changed::Field;
use crate::clock::{Moment, Zone};
use crate::form::{Problems, Typed};
use crate::money::{self, Currency, Money, Rate};
use crate::reports::season::Seasons;

use super::shop::Shop;

pub const FIELDS: [Field; 12] = [
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
    pub currency: String,
    labour_rate: String,
    tax_name: String,
    tax_labour: String,
    tax_parts: String,
    comeback_days: String,
    stub_terms: String,
    version: String,
    pub owner: String,
    pub password: String,
}

impl ShopForm {
    /// The shop this describes, and what wants mending.
    #[must_use]
    pub fn check(&self, now: Moment) -> (Shop, Problems) {
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

/// The form as it stands for a shop.
#[must_use]
pub fn typed_of(shop: &Shop) -> Typed {
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
