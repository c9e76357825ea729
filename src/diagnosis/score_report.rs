//! What the score says of a span of months, read from the sums.

use sqlx::FromRow;

use crate::db::Db;
use crate::error::Result;
use crate::reports::span::Span;

use super::learn::real;
use super::measure::{BINS, Bin, calibration_error, median};
use super::models::Stand;

/// How one ranking did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Did {
    pub orders: i64,
    /// The confirmed cause stood first, and among the first three.
    pub first: i64,
    pub first_three: i64,
    /// Means over the orders; nothing for the bench, which says no probabilities.
    pub brier: Option<f64>,
    pub log_loss: Option<f64>,
    /// How sure the first was, in tenths, and how often it was the one.
    pub bins: [Bin; BINS],
}

#[derive(Clone, Debug, Default, PartialEq)]
pub struct Score {
    pub shop: Did,
    pub catalogue: Did,
    pub shares: Did,
    pub bench: Did,
    pub median_checks: Option<i64>,
    pub median_minutes: Option<i64>,
    /// All looks until it was found, and those whose minutes were written down.
    pub checks: i64,
    pub timed: i64,
}

#[derive(FromRow)]
struct Row {
    ranking: String,
    what: String,
    at: i64,
    orders: i64,
    hits: i64,
    amount: i64,
}

impl Did {
    fn of(rows: &[Row], ranking: &str) -> Did {
        let mut did = Did::default();
        for row in rows.iter().filter(|row| row.ranking == ranking) {
            let mean = || (row.orders > 0).then(|| real(row.amount) / 1e6 / real(row.orders));
            match row.what.as_str() {
                "place" => {
                    did.orders += row.orders;
                    did.first += if row.at == 1 { row.orders } else { 0 };
                    did.first_three += if row.at <= 3 { row.orders } else { 0 };
                }
                "bin" => {
                    let bin = usize::try_from(row.at).ok().and_then(|at| did.bins.get_mut(at));
                    if let Some(bin) = bin {
                        bin.predictions += row.orders;
                        bin.hits += row.hits;
                        bin.sum += real(row.amount) / 1e6;
                    }
                }
                "brier" => did.brier = mean(),
                "log_loss" => did.log_loss = mean(),
                _ => {}
            }
        }
        did
    }

    fn share(&self, of: i64) -> Option<f64> {
        (self.orders > 0).then(|| real(of) / real(self.orders))
    }

    #[must_use]
    pub fn hit_at_1(&self) -> Option<f64> {
        self.share(self.first)
    }

    #[must_use]
    pub fn hit_at_3(&self) -> Option<f64> {
        self.share(self.first_three)
    }

    #[must_use]
    pub fn calibration_error(&self) -> Option<f64> {
        let any = self.bins.iter().any(|bin| bin.predictions > 0);
        any.then(|| calibration_error(&self.bins))
    }
}

impl Score {
    /// Of the ranking that people see now.
    #[must_use]
    pub fn followed(&self, stand: &Stand) -> &Did {
        if stand.follows_shop() {
            &self.shop
        } else {
            &self.catalogue
        }
    }

    /// # Errors
    /// What the database says.
    pub async fn read(db: &Db, span: Span) -> Result<Score> {
        let rows: Vec<Row> = db
            .read(
                "select ranking, what, at, cast(sum(orders) as bigint) as orders, cast(sum(hits) as bigint) as hits,
                 cast(sum(amount) as bigint) as amount from score_tally where month >= $1 and month <= $2
                 group by ranking, what, at",
            )
            .bind(span.from)
            .bind(span.to)
            .all()
            .await?;
        let counted = |what: &str| {
            let rows = rows.iter().filter(|row| row.what == what);
            median(&rows.map(|row| (row.at, row.orders)).collect::<Vec<_>>())
        };
        let timed = rows.iter().filter(|row| row.what == "timed");
        let (checks, timed) = timed.fold((0, 0), |sum, row| (sum.0 + row.orders, sum.1 + row.hits));
        Ok(Score {
            shop: Did::of(&rows, "shop"),
            catalogue: Did::of(&rows, "catalogue"),
            shares: Did::of(&rows, "shares"),
            bench: Did::of(&rows, "bench"),
            median_checks: counted("checks"),
            median_minutes: counted("minutes"),
            checks,
            timed,
        })
    }
}
