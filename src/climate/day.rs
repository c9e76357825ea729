//! A day of the air is all readings of one day of the shop's calendar together, kept in the act that changes them.

use std::collections::BTreeMap;

use sqlx::FromRow;

use crate::clock::{Day, Moment, Zone};
use crate::db::{Read, Tx, upsert_rows};
use crate::error::Result;
use crate::reports::recount::{Counted, PAGE, Recount, add as count};

use super::reading::Air;

#[derive(Clone, Copy, Debug, PartialEq, Eq, FromRow)]
pub struct AirDay {
    pub day: Day,
    pub readings: i64,
    /// Sums over the readings: hundredths of a degree, hundredths of a percent, thousandths of a percent.
    pub temperature: i64,
    pub humidity: i64,
    pub moisture: i64,
    pub humidity_least: i64,
    pub humidity_most: i64,
    pub moisture_least: i64,
    pub moisture_most: i64,
}

#[expect(clippy::cast_precision_loss, reason = "sums of a day are far below 2^53")]
fn mean(sum: i64, readings: i64, unit: f64) -> f64 {
    sum as f64 / readings.max(1) as f64 / unit
}

impl AirDay {
    fn of(day: Day, air: Air) -> AirDay {
        let moisture = air.moisture();
        AirDay {
            day,
            readings: 1,
            temperature: air.temperature,
            humidity: air.humidity,
            moisture,
            humidity_least: air.humidity,
            humidity_most: air.humidity,
            moisture_least: moisture,
            moisture_most: moisture,
        }
    }

    fn add(&mut self, other: &AirDay) {
        self.readings += other.readings;
        self.temperature += other.temperature;
        self.humidity += other.humidity;
        self.moisture += other.moisture;
        self.humidity_least = self.humidity_least.min(other.humidity_least);
        self.humidity_most = self.humidity_most.max(other.humidity_most);
        self.moisture_least = self.moisture_least.min(other.moisture_least);
        self.moisture_most = self.moisture_most.max(other.moisture_most);
    }

    /// Degrees Celsius.
    #[must_use]
    pub fn mean_temperature(&self) -> f64 {
        mean(self.temperature, self.readings, 100.0)
    }

    /// Percent.
    #[must_use]
    pub fn mean_humidity(&self) -> f64 {
        mean(self.humidity, self.readings, 100.0)
    }

    /// Percent of the dry wood's weight.
    #[must_use]
    pub fn mean_moisture(&self) -> f64 {
        mean(self.moisture, self.readings, 1000.0)
    }
}

/// Readings put together by day.
#[must_use]
pub fn by_day(zone: &Zone, readings: impl IntoIterator<Item = (Moment, Air)>) -> Vec<AirDay> {
    let mut days = BTreeMap::<Day, AirDay>::new();
    for (at, air) in readings {
        let one = AirDay::of(zone.day(at), air);
        days.entry(one.day).and_modify(|day| day.add(&one)).or_insert(one);
    }
    days.into_values().collect()
}

/// Adds to what is kept.
///
/// # Errors
/// What the database says.
pub async fn add(tx: &mut Tx, days: &[AirDay]) -> Result<()> {
    let into =
        "insert into air_day (day, readings, temperature, humidity, moisture, humidity_least, humidity_most,
                moisture_least, moisture_most) values";
    let onto = " on conflict (day) do update set readings = air_day.readings + excluded.readings,
                temperature = air_day.temperature + excluded.temperature, humidity = air_day.humidity + excluded.humidity,
                moisture = air_day.moisture + excluded.moisture,
                humidity_least = case when excluded.humidity_least < air_day.humidity_least then excluded.humidity_least else air_day.humidity_least end,
                humidity_most = case when excluded.humidity_most > air_day.humidity_most then excluded.humidity_most else air_day.humidity_most end,
                moisture_least = case when excluded.moisture_least < air_day.moisture_least then excluded.moisture_least else air_day.moisture_least end,
                moisture_most = case when excluded.moisture_most > air_day.moisture_most then excluded.moisture_most else air_day.moisture_most end";
    upsert_rows(tx, into, 9, onto, days, |query, day| {
        query
            .bind(day.day)
            .bind(day.readings)
            .bind(day.temperature)
            .bind(day.humidity)
            .bind(day.moisture)
            .bind(day.humidity_least)
            .bind(day.humidity_most)
            .bind(day.moisture_least)
            .bind(day.moisture_most)
    })
    .await?;
    Ok(())
}

/// Counts one day anew, from its readings.
///
/// # Errors
/// What the database says.
pub async fn anew(tx: &mut Tx, zone: &Zone, day: Day) -> Result<()> {
    tx.query("delete from air_day where day = $1")
        .bind(day)
        .execute()
        .await?;
    let days = between(tx, zone, (zone.start(day), zone.start(day.plus(1)))).await?;
    add(tx, &days).await
}

/// All readings from one moment up to another, by day.
async fn between(tx: &mut Tx, zone: &Zone, (from, to): (Moment, Moment)) -> Result<Vec<AirDay>> {
    let rows: Vec<(Moment, i64, i64)> = tx
        .query("select at, temperature, humidity from reading where at >= $1 and at < $2")
        .bind(from)
        .bind(to)
        .all()
        .await?;
    Ok(by_day(zone, rows.into_iter().map(of_row)))
}

fn of_row((at, temperature, humidity): (Moment, i64, i64)) -> (Moment, Air) {
    (
        at,
        Air {
            temperature,
            humidity,
        },
    )
}

/// All readings there are, by day of this zone, a page at a time.
async fn counted(tx: &mut Tx, zone: &Zone) -> Result<Vec<AirDay>> {
    let (mut after, mut days) = (Moment(i64::MIN), BTreeMap::<Day, AirDay>::new());
    loop {
        let rows: Vec<(Moment, i64, i64)> = tx
            .query("select at, temperature, humidity from reading where at > $1 order by at limit $2")
            .bind(after)
            .bind(PAGE)
            .all()
            .await?;
        let Some(last) = rows.last() else {
            return Ok(days.into_values().collect());
        };
        after = last.0;
        for one in by_day(zone, rows.into_iter().map(of_row)) {
            days.entry(one.day).and_modify(|day| day.add(&one)).or_insert(one);
        }
    }
}

/// Counts all days anew: the shop's days begin at other moments now.
///
/// # Errors
/// What the database says.
pub async fn all_anew(tx: &mut Tx, zone: &Zone) -> Result<()> {
    super::reading::turn(tx).await?;
    tx.query("delete from air_day").execute().await?;
    let days = counted(tx, zone).await?;
    add(tx, &days).await
}

/// The days that are kept, beside the same from the readings.
///
/// # Errors
/// What the database says.
pub async fn recount(tx: &mut Tx, zone: &Zone) -> Result<Vec<Recount>> {
    let kept: Vec<AirDay> = tx.query("select * from air_day").all().await?;
    let due = counted(tx, zone).await?;
    let of = |days: &[AirDay], figures: fn(&AirDay) -> [i64; 3]| {
        let mut counts = Counted::new();
        for day in days {
            count(&mut counts, day.day.iso(), figures(day));
        }
        counts
    };
    let recount = |words, figures| Recount::new(words, of(&kept, figures), of(&due, figures));
    Ok(vec![
        recount("readings of the air, temperature and humidity, by day", |day| {
            [day.readings, day.temperature, day.humidity]
        }),
        recount("moisture of the wood, its least and most, by day", |day| {
            [day.moisture, day.moisture_least, day.moisture_most]
        }),
        recount("humidity of the air, its least and most, by day", |day| {
            [day.humidity, day.humidity_least, day.humidity_most]
        }),
    ])
}

/// The days that have readings, first to last, both ends included.
///
/// # Errors
/// What the database says.
pub async fn read(mut on: impl Read, from: Day, to: Day) -> Result<Vec<AirDay>> {
    let days = on.read("select * from air_day where day >= $1 and day <= $2 order by day");
    Ok(days.bind(from).bind(to).all().await?)
}
