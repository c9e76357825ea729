//! Statistics without a database or a page in sight.

pub mod association;
pub mod bartlett;
pub mod discovery;
pub mod forecast;
pub mod interval;
pub mod regression;
pub mod season;
pub mod shrink;
pub mod spread;
pub mod survival;
pub mod trend;
pub mod typical;

use statrs::function::erf::erfc;

/// The 0.975 quantile of the standard normal distribution: two-sided 95 %.
pub const Z95: f64 = 1.959_963_984_540_054;

/// A count as a number to reckon with.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "counts of orders lie far below 2^53")]
pub fn of(count: u64) -> f64 {
    count as f64
}

/// How often chance alone takes a standard normal figure as far from nought as this, to either side.
#[must_use]
pub fn two_sided(z: f64) -> f64 {
    erfc(z.abs() / std::f64::consts::SQRT_2).clamp(0.0, 1.0)
}

/// How often chance alone gives a chi-square figure of one degree of freedom at least as large.
#[must_use]
pub fn chi_square_1(figure: f64) -> f64 {
    two_sided(figure.max(0.0).sqrt())
}

/// The same of two degrees of freedom.
#[must_use]
pub fn chi_square_2(figure: f64) -> f64 {
    (-figure.max(0.0) / 2.0).exp()
}
