//! The form of the shop: what was typed at the set-up or in the settings, field by field.

use serde::Deserialize;

use crate::changed::Field;
use crate::clock::Moment;
use crate::form::{Problems, Typed, whole};
use crate::money::{self, Currency, Money, Rate};
use crate::reports::bands::Bands;

use super::new_shop::NewShop;
use super::shop::Shop;

pub const FIELDS: [Field; 14] = [
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
    ("age_bounds", "Bands of age", false),
    ("counter_fee", "A fix at the counter", false),
    ("stub_terms", "Terms", false),
];

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
    /// Not asked at the set-up.
    age_bounds: Option<String>,
    counter_fee: String,
    stub_terms: String,
    pub version: i64,
    pub owner: String,
    pub password: String,
}

impl ShopForm {
    /// The shop this describes in a currency, and what is not typed as figures are.
    #[must_use]
    pub fn read(&self, currency: &Currency) -> (NewShop, Problems) {
        let mut problems = Problems::default();
        let mut rate = |field: &str, typed: &str| match typed.trim() {
            "" => 0,
            typed => Rate::parse(typed).map_or_else(
                |problem| {
                    problems.add(field, problem.to_string());
                    0
                },
                |rate| rate.0,
            ),
        };
        let (tax_labour, tax_parts) = (
            rate("tax_labour", &self.tax_labour),
            rate("tax_parts", &self.tax_parts),
        );
        let labour_rate = money::parse(&self.labour_rate, currency).unwrap_or_else(|problem| {
            problems.add("labour_rate", problem.to_string());
            Money::ZERO
        });
        let counter_fee = match self.counter_fee.trim() {
            "" => Money::ZERO,
            typed => money::parse(typed, currency).unwrap_or_else(|problem| {
                problems.add("counter_fee", problem.to_string());
                Money::ZERO
            }),
        };
        let bands = self.age_bounds.as_deref().map(Bands::parse);
        let bands = bands.transpose().unwrap_or_else(|problem| {
            problems.add("age_bounds", problem.to_string());
            None
        });
        let new = NewShop {
            name: self.name.clone(),
            address: self.address.clone(),
            phone: self.phone.clone(),
            zone: self.zone.clone(),
            hemisphere: self.hemisphere.clone(),
            seasons: self.seasons.clone(),
            labour_rate: Some(labour_rate.0),
            tax_name: self.tax_name.clone(),
            tax_labour,
            tax_parts,
            comeback_days: whole(&self.comeback_days),
            age_bounds: bands.map(Vec::from),
            counter_fee: counter_fee.0,
            stub_terms: self.stub_terms.clone(),
        };
        (new, problems)
    }

    /// The shop this describes before there is one, in the currency it chose, and what wants mending.
    #[must_use]
    pub fn check(&self, now: Moment) -> (Shop, Problems) {
        let typed = self.currency.trim().to_uppercase();
        let chosen = Currency::listed(&typed);
        let unknown = chosen.is_none();
        let currency = chosen
            .or_else(|| Currency::new("EUR"))
            .expect("EUR is in the list");
        let (new, mut problems) = self.read(&currency);
        if unknown {
            problems.add(
                "currency",
                format!("“{typed}” is no money in use. Write its three letters as banks do, such as EUR; it stays for good."),
            );
        }
        let shop = new.check(&mut problems, &currency, now);
        (shop, problems)
    }
}

/// The form as it stands for a shop.
#[must_use]
pub fn typed_of(shop: &Shop) -> Typed {
    let currency = shop.currency();
    Typed::default()
        .with("name", &*shop.name)
        .with("address", &*shop.address)
        .with("phone", &*shop.phone)
        .with("zone", &*shop.zone)
        .with("hemisphere", &*shop.hemisphere)
        .with("seasons", NewShop::of(shop).seasons)
        .with("labour_rate", shop.labour_rate.typed(&currency))
        .with("tax_name", &*shop.tax_name)
        .with("tax_labour", shop.tax_labour.typed())
        .with("tax_parts", shop.tax_parts.typed())
        .with("comeback_days", shop.comeback_days.to_string())
        .with("age_bounds", shop.rules.wanted().typed())
        .with("counter_fee", shop.counter_fee.typed(&currency))
        .with("stub_terms", &*shop.stub_terms)
}
