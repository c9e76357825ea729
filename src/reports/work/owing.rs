//! Owing is what is still to be paid: at the end of each month beside what was charged and taken, and now, by whom.

use std::collections::BTreeMap;

use sqlx::FromRow;

use crate::clock::{Day, YearMonth};
use crate::db::Db;
use crate::error::Result;
use crate::money::Money;
use crate::reports::counted::years_of;
use crate::reports::home::{CUSTOMERS, SHOP};
use crate::reports::span::Span;
use crate::reports::tally::What;

/// So many are listed, the longest owed first.
pub const LISTED: i64 = 50;
/// Over more months than this the table goes by years.
const BY_MONTH: usize = 24;

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct MonthMoney {
    pub month: MonthOrYear,
    pub charged: Money,
    pub taken: Money,
    /// By customers, at the end of it.
    pub owed: Money,
    /// By the shop.
    pub shop_owes: Money,
}

/// A month, or the year up to it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MonthOrYear {
    Month(YearMonth),
    Year(i64),
}

impl Default for MonthOrYear {
    fn default() -> Self {
        MonthOrYear::Month(YearMonth(0))
    }
}

impl MonthOrYear {
    #[must_use]
    pub fn words(self) -> String {
        match self {
            MonthOrYear::Month(month) => month.to_string(),
            MonthOrYear::Year(year) => year.to_string(),
        }
    }

    #[must_use]
    pub fn iso(self) -> String {
        match self {
            MonthOrYear::Month(month) => month.iso(),
            MonthOrYear::Year(year) => year.to_string(),
        }
    }
}

/// Each month of the span in which anything could have been counted, the first first.
///
/// # Errors
/// What the database says.
pub async fn months(db: &Db, span: Span, reach: Option<Span>, today: Day) -> Result<Vec<MonthMoney>> {
    let Some(reach) = reach else { return Ok(Vec::new()) };
    let (from, to) = (span.from.0.max(reach.from.0), span.to.0.min(today.month().0));
    let mut by_month: BTreeMap<i64, MonthMoney> = (from..=to)
        .map(|month| {
            let money = MonthMoney {
                month: MonthOrYear::Month(YearMonth(month)),
                ..MonthMoney::default()
            };
            (month, money)
        })
        .collect();
    for of_year in years_of(db, What::Amount, (from.div_euclid(12), to.div_euclid(12))).await? {
        let charged = of_year.code.starts_with("charged_");
        for (month, amount) in (of_year.year.0..).zip(of_year.months) {
            if let Some(money) = by_month.get_mut(&month) {
                let sum = if charged {
                    &mut money.charged
                } else {
                    &mut money.taken
                };
                sum.0 += amount;
            }
        }
    }
    // What is owed is the sum of all that came and went since the first day.
    for of_year in years_of(db, What::Owed, (reach.from.0.div_euclid(12), to.div_euclid(12))).await? {
        for (month, amount) in (of_year.year.0..)
            .zip(of_year.months)
            .filter(|month| month.1 != 0)
        {
            for (_, money) in by_month.range_mut(month..) {
                match of_year.code.as_str() {
                    CUSTOMERS => money.owed.0 += amount,
                    SHOP => money.shop_owes.0 += amount,
                    _ => {}
                }
            }
        }
    }
    Ok(by_month.into_values().collect())
}

/// By years where there are many months; the year that is not over yet up to its last month.
#[must_use]
pub fn shown(months: &[MonthMoney]) -> Vec<MonthMoney> {
    if months.len() <= BY_MONTH {
        return months.to_vec();
    }
    let mut years = Vec::<MonthMoney>::new();
    for money in months {
        let MonthOrYear::Month(month) = money.month else {
            continue;
        };
        let year = MonthOrYear::Year(month.year());
        match years.last_mut().filter(|last| last.month == year) {
            Some(last) => {
                last.charged.0 += money.charged.0;
                last.taken.0 += money.taken.0;
                (last.owed, last.shop_owes) = (money.owed, money.shop_owes);
            }
            None => years.push(MonthMoney {
                month: year,
                ..*money
            }),
        }
    }
    years
}

/// An order on which something is owed.
#[derive(Clone, Debug, FromRow)]
pub struct Owes {
    pub tag: String,
    pub customer: String,
    pub collected_on: Day,
    pub owed: Money,
}

/// All that is owed now.
#[derive(Clone, Debug, Default)]
pub struct Owing {
    pub orders: i64,
    pub sum: Money,
    /// The longest owed first, not more than [`LISTED`].
    pub list: Vec<Owes>,
}

impl Owing {
    /// # Errors
    /// What the database says.
    pub async fn read(db: &Db) -> Result<Owing> {
        let (orders, sum): (i64, Money) = db
            .read("select count(*), cast(coalesce(sum(owed), 0) as bigint) from work_order where owed > 0")
            .one()
            .await?;
        let list = db
            .read(
                "select o.tag, c.name as customer, o.collected_on, o.owed from work_order o
                 join customer c on c.id = o.customer where o.owed > 0 order by o.collected_on, o.id limit $1",
            )
            .bind(LISTED)
            .all()
            .await?;
        Ok(Owing { orders, sum, list })
    }

    /// So many are not listed.
    #[must_use]
    pub fn more(&self) -> i64 {
        self.orders - i64::try_from(self.list.len()).unwrap_or(0)
    }
}
