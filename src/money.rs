//! Money is an amount in the smallest unit of the shop's currency, so that no sum ever loses a cent.

mod currency;

use std::num::NonZeroU32;

use serde::{Deserialize, Serialize};
use thiserror::Error;

pub use currency::{Currency, parse};

/// The largest amount the shop deals in, either way of zero: 999,999.99 where the currency has two decimals.
pub const LIMIT: i64 = 99_999_999;

/// An amount in minor units (cents, pence, yen). Below zero it is owed the other way.
#[derive(
    Debug, Default, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, sqlx::Type, Serialize, Deserialize,
)]
#[sqlx(transparent)]
#[serde(try_from = "i64", into = "i64")]
pub struct Money(pub i64);

/// A tax rate in parts per million: 7.25 % is 72,500, 8.875 % is 88,750.
#[derive(
    Debug, Default, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, sqlx::Type, Serialize, Deserialize,
)]
#[sqlx(transparent)]
#[serde(try_from = "i64", into = "i64")]
pub struct Rate(pub i64);

/// Why what was typed or worked out is not an amount. The text is the hint for the screen.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum MoneyProblem {
    #[error("Write an amount.")]
    Empty,
    #[error("Write the amount in digits, like {example}.")]
    NotAnAmount { example: String },
    #[error("Write only the figures, like {example}: the currency is known.")]
    CurrencySign { example: String },
    #[error("Write the amount without a minus: it cannot be below zero.")]
    Negative,
    #[error("That could be read two ways: write it without a mark for thousands, like {example}.")]
    TwoReadings { example: String },
    #[error("{} has {} here: write it like {example}.", .code, crate::words::count(i64::from(*.digits), "decimal", "decimals"))]
    TooManyDecimals {
        code: String,
        digits: u8,
        example: String,
    },
    #[error("That is more than can be written down: {limit} at most.")]
    AboveLimit { limit: String },
    #[error("That comes to more than can be written down.")]
    TooMuch,
    #[error("A rate is a percentage from 0 to 100, like 7.25.")]
    NotARate,
}

/// The one rounding rule: to the nearest minor unit, half away from zero.
///
/// It is applied once to each labour line and once to the tax of each rate; everything else adds whole units.
///
/// # Errors
/// [`MoneyProblem::TooMuch`] beyond [`LIMIT`].
pub fn rounded(numerator: i128, denominator: NonZeroU32) -> Result<Money, MoneyProblem> {
    let denominator = i128::from(denominator.get());
    let (whole, rest) = (numerator / denominator, numerator % denominator);
    let away = if 2 * rest.abs() >= denominator {
        rest.signum()
    } else {
        0
    };
    within_limit(whole + away)
}

/// The price of bench time, to the minute, at a rate per hour.
///
/// # Errors
/// [`MoneyProblem::TooMuch`] beyond [`LIMIT`].
pub fn labour(minutes: i64, rate_per_hour: Money) -> Result<Money, MoneyProblem> {
    const HOUR: NonZeroU32 = NonZeroU32::new(60).expect("sixty is not zero");
    rounded(i128::from(minutes) * i128::from(rate_per_hour.0), HOUR)
}

/// The tax on a base that already holds every line of that rate: worked once, as EN 16931 does per category.
///
/// # Errors
/// [`MoneyProblem::TooMuch`] beyond [`LIMIT`].
pub fn tax(base: Money, rate: Rate) -> Result<Money, MoneyProblem> {
    const MILLION: NonZeroU32 = NonZeroU32::new(1_000_000).expect("a million is not zero");
    rounded(i128::from(base.0) * i128::from(rate.0), MILLION)
}

/// What one rate comes to over all the lines that carry it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Taxed {
    pub rate: Rate,
    pub base: Money,
    pub tax: Money,
}

/// Sums lines rate by rate, lowest rate first, and works the tax once for each.
///
/// # Errors
/// [`MoneyProblem::TooMuch`] if a base or its tax goes beyond [`LIMIT`].
pub fn taxed(lines: impl IntoIterator<Item = (Money, Rate)>) -> Result<Vec<Taxed>, MoneyProblem> {
    let mut bases = std::collections::BTreeMap::<Rate, i128>::new();
    for (amount, rate) in lines {
        *bases.entry(rate).or_default() += i128::from(amount.0);
    }
    let work = |(rate, base)| {
        let base = within_limit(base)?;
        Ok(Taxed {
            rate,
            base,
            tax: tax(base, rate)?,
        })
    };
    bases.into_iter().map(work).collect()
}

impl Money {
    pub const ZERO: Self = Self(0);

    /// # Errors
    /// [`MoneyProblem::TooMuch`] beyond [`LIMIT`].
    pub fn plus(self, other: Self) -> Result<Self, MoneyProblem> {
        within_limit(i128::from(self.0) + i128::from(other.0))
    }

    /// # Errors
    /// [`MoneyProblem::TooMuch`] beyond [`LIMIT`].
    pub fn minus(self, other: Self) -> Result<Self, MoneyProblem> {
        within_limit(i128::from(self.0) - i128::from(other.0))
    }

    /// So many of one part.
    ///
    /// # Errors
    /// [`MoneyProblem::TooMuch`] beyond [`LIMIT`].
    pub fn times(self, quantity: i64) -> Result<Self, MoneyProblem> {
        within_limit(i128::from(self.0) * i128::from(quantity))
    }

    /// # Errors
    /// [`MoneyProblem::TooMuch`] if the sum goes beyond [`LIMIT`]; on the way it may.
    pub fn sum(amounts: impl IntoIterator<Item = Self>) -> Result<Self, MoneyProblem> {
        within_limit(amounts.into_iter().map(|amount| i128::from(amount.0)).sum())
    }

    #[must_use]
    pub fn is_zero(self) -> bool {
        self.0 == 0
    }
}

impl Rate {
    const WHOLE: i64 = 1_000_000;

    /// Reads a percentage: "19", "7.25", "8,875", at most four decimals.
    ///
    /// # Errors
    /// [`MoneyProblem::NotARate`] for anything that is not a percentage from 0 to 100.
    pub fn parse(percent: &str) -> Result<Self, MoneyProblem> {
        let (whole, decimals) = currency::split(percent.trim()).ok_or(MoneyProblem::NotARate)?;
        // Longer texts cannot be 100 or less, and shorter ones fit an i64.
        if whole.len() > 3 || decimals.len() > 4 {
            return Err(MoneyProblem::NotARate);
        }
        let millionths: i64 = format!("{whole}{decimals:0<4}")
            .parse()
            .map_err(|_| MoneyProblem::NotARate)?;
        Self::try_from(millionths)
    }

    /// The figure for a form, without the sign: "7.25".
    #[must_use]
    pub fn typed(self) -> String {
        let sign = if self.0 < 0 { "-" } else { "" };
        let (whole, rest) = (self.0.unsigned_abs() / 10_000, self.0.unsigned_abs() % 10_000);
        let text = format!("{sign}{whole}.{rest:04}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    }

    /// The rate on paper and screens: "7.25 %".
    #[must_use]
    pub fn show(self) -> String {
        format!("{}\u{a0}%", self.typed())
    }
}

fn within_limit(minor: i128) -> Result<Money, MoneyProblem> {
    match i64::try_from(minor) {
        Ok(minor) if minor.unsigned_abs() <= LIMIT.unsigned_abs() => Ok(Money(minor)),
        _ => Err(MoneyProblem::TooMuch),
    }
}

impl TryFrom<i64> for Money {
    type Error = MoneyProblem;

    fn try_from(minor: i64) -> Result<Self, MoneyProblem> {
        within_limit(i128::from(minor))
    }
}

impl From<Money> for i64 {
    fn from(money: Money) -> Self {
        money.0
    }
}

impl TryFrom<i64> for Rate {
    type Error = MoneyProblem;

    fn try_from(millionths: i64) -> Result<Self, MoneyProblem> {
        if (0..=Self::WHOLE).contains(&millionths) {
            Ok(Self(millionths))
        } else {
            Err(MoneyProblem::NotARate)
        }
    }
}

impl From<Rate> for i64 {
    fn from(rate: Rate) -> Self {
        rate.0
    }
}
