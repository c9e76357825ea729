//! The temper of the evidence: the power below 1 that makes the ranking as sure as it may be. Pure.
//!
//! For each power of a grid the log loss of the confirmed cause is summed up over the orders as they come, each ranked
//! before it was learned from; so the power of the least loss is fitted on held-out orders (prequential likelihood:
//! Dawid 1984, Statistical Theory: The Prequential Approach, JRSS A 147). Before a shop has taught anything the
//! catalogue's own power holds; it counts for [`PRIOR_ORDERS`] orders.
//!
//! A single power was measured against one that falls with the number of answers (the design effect of correlated
//! observations, Kish 1965): on simulated shops, whose answers were independent, correlated, or all given by a wrong
//! idea of the customer's, log loss and calibration were the same within 0.01; so the simpler one stands.

use super::rank::{Evidence, Model};

/// The powers that are tried.
pub const GRID: [f64; 15] = [
    0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 1.0,
];
/// Where the shop has not taught anything. On simulated shops, whose answers hang together in four ways (`tests/fitted.rs`), the mean
/// log loss of held-out orders was least with it: 3.1565 nats, against 3.1573 at 0.8, 3.1597 at 0.9 and 3.1772 at 1; the
/// greatest of the four calibration errors was 0.047, and 0.060, 0.041 and 0.064.
pub const CATALOGUE: f64 = 0.85;
/// How many orders the catalogue's power counts for.
const PRIOR_ORDERS: f64 = 200.0;
/// The loss in nats an order, over the least, of a power one whole off: on the simulated shops it was 1.08.
pub const CURVE: f64 = 1.0;

/// Log loss summed up for each power of the grid, in millionths of a nat.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Losses(pub [i64; 15]);

impl Losses {
    /// What one order would have cost at each power.
    #[must_use]
    pub fn of(model: &Model, evidence: &Evidence, cause: usize) -> Losses {
        Losses(model.at_powers(evidence, cause, GRID).map(|p| micro(log_loss(p))))
    }

    pub fn add(&mut self, other: &Losses, times: i64) {
        for (sum, loss) in self.0.iter_mut().zip(other.0) {
            *sum += times * loss;
        }
    }

    /// The power of the least loss, with the catalogue's as so many orders.
    #[must_use]
    pub fn power(&self) -> f64 {
        let loss = |at: usize| {
            let off = GRID[at] - CATALOGUE;
            super::learn::real(self.0[at]) / 1e6 + PRIOR_ORDERS * CURVE * off * off
        };
        let least = (0..GRID.len()).min_by(|a, b| loss(*a).total_cmp(&loss(*b)));
        least.map_or(CATALOGUE, |at| GRID[at])
    }

    /// As kept: joined by `;`.
    #[must_use]
    pub fn text(&self) -> String {
        self.0.map(|loss| loss.to_string()).join(";")
    }

    /// What is kept; zeroes for what cannot be read.
    #[must_use]
    pub fn read(text: &str) -> Losses {
        let mut losses = Losses::default();
        for (loss, kept) in losses.0.iter_mut().zip(text.split(';')) {
            *loss = kept.parse().unwrap_or(0);
        }
        losses
    }
}

/// Minus the natural logarithm of the probability given to what was the case; a probability of nothing costs as
/// much as one in a million.
#[must_use]
pub fn log_loss(p: f64) -> f64 {
    -p.clamp(1e-6, 1.0).ln()
}

/// In millionths.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    reason = "losses and probabilities are small"
)]
pub fn micro(x: f64) -> i64 {
    (x * 1e6).round() as i64
}
