//! The shop: its name, place, money and rules; made once with its first owner, changed by the owner.

use sqlx::FromRow;
use uuid::Uuid;

use crate::climate::day;
use crate::clock::{Day, Moment, Zone};
use crate::db::{Read, Tx};
use crate::diagnosis::models;
use crate::error::{Error, Result};
use crate::money::{Currency, Money, Rate};
use crate::reports::rules::{self, Rules};
use crate::reports::season::{Season, Seasons};

/// Plain words that most shops can keep; the owner writes their own.
pub const DEFAULT_TERMS: &str = "Please bring this stub. Work beyond your limit is put to you first. \
    Times and costs are estimates until the bench has looked. Please collect within 60 days of our message.";

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
    /// What a fix at the counter costs, before tax; often nothing.
    pub counter_fee: Money,
    pub stub_terms: String,
    /// By which bands of age the reports count.
    #[sqlx(flatten)]
    pub rules: Rules,
    pub version: i64,
    pub created_at: Moment,
}

impl Shop {
    /// # Errors
    /// What the database says.
    pub async fn find(mut on: impl Read) -> Result<Option<Shop>> {
        Ok(on
            .read(
                "select s.*, c.age_bounds, c.ages_in, c.next_bounds, c.next_done, c.comeback_window, c.next_window, c.first_month,
                 c.last_month
                 from shop s join counted c on c.id = s.id where s.id = 1",
            )
            .optional()
            .await?)
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
                 tax_name, tax_labour, tax_parts, comeback_days, counter_fee, stub_terms, version, created_at)
                 values (1, $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17) on conflict do nothing",
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
            .bind(self.counter_fee)
            .bind(self.stub_terms.clone())
            .bind(self.version)
            .bind(self.created_at)
            .execute()
            .await?;
        if rows == 0 {
            return Err(Error::conflict("There is a shop already. Sign in."));
        }
        rules::want(tx, &self.rules.wanted()).await?;
        rules::begin_window(tx, self.comeback_days).await?;
        models::changed(tx).await
    }

    /// Keeps what the owner changed; false if somebody else changed it since this version.
    ///
    /// # Errors
    /// What the database says.
    pub async fn update(&self, tx: &mut Tx) -> Result<bool> {
        let Shop { zone, .. } = Shop::get(&mut *tx).await?;
        let rows = tx
            .query(
                "update shop set name = $2, address = $3, phone = $4, zone = $5, hemisphere = $6, seasons = $7,
                 labour_rate = $8, tax_name = $9, tax_labour = $10, tax_parts = $11, comeback_days = $12,
                 stub_terms = $13, counter_fee = $14, version = version + 1 where id = 1 and version = $1",
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
            .bind(self.counter_fee)
            .execute()
            .await?;
        models::changed(tx).await?; // the seasons are part of what they say
        if rows == 1 {
            rules::want(tx, &self.rules.wanted()).await?; // last: it waits for whoever is alone with the counts
            rules::want_window(tx, self.comeback_days).await?;
        }
        if rows == 1 && self.zone != zone {
            day::all_anew(tx, &self.zone()).await?;
        }
        Ok(rows == 1)
    }
}
