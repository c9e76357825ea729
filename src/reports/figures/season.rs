//! A season's swing is how far a rate rises and falls over the months of the year, and in which month it is highest.

use std::f64::consts::{PI, TAU};

use super::bartlett::correction;
use super::regression::{Family, Fit, Group, fit, likelihood_ratio};
use super::{Z95, chi_square_2};

/// A wave of one period over the year, fitted to counts by month.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Swing {
    /// The likelihood ratio against no wave at all.
    pub chi_square: f64,
    /// How many times too large that is on average, of as few as these.
    pub correction: f64,
    /// Of the ratio so corrected.
    pub p_value: f64,
    /// From the middle of the year's course to its highest point: of log odds, or of logarithms.
    pub amplitude: f64,
    /// Where in the year it is highest, from 0 at the start of January to 12 at its end.
    pub peak: f64,
    /// How far to either side of it the peak may truly lie, 95 %; nothing where the whole year may be meant.
    pub peak_within: Option<f64>,
}

/// Where the middle of a month stands in the year, as an angle: 0 is the start of January.
fn angle(month: usize) -> f64 {
    (super::of(month as u64) + 0.5) * TAU / 12.0
}

/// Fits a wave to how many of how many there were in each month, January first.
///
/// Logistic (or, with an exposure such as days, Poisson) regression on the sine and the cosine of the month, by the
/// likelihood ratio on two degrees of freedom with Bartlett's correction, as of few orders it is too large: the number at risk
/// may vary from month to month. (Harmonic regression: C.
/// Cox, J. Royal Stat. Soc. B 17 (1955) on waves in point processes; P. McCullagh and J. A. Nelder, Generalized Linear
/// Models (1989), chapter 6, from memory.) The tests of Edwards (1961) and of Walter and Elwood (1975) overstate small counts
/// and are not used. Nothing where a wave cannot be fitted: none, all, or too few months.
#[must_use]
pub fn swing(family: Family, months: &[(u64, u64); 12]) -> Option<Swing> {
    let groups: Vec<Group> = months
        .iter()
        .enumerate()
        .filter(|month| month.1.1 > 0)
        .map(|(month, (count, size))| {
            let angle = angle(month);
            Group::new([angle.cos(), angle.sin()], *count, *size)
        })
        .collect();
    let flat = fit(family, 1, &groups)?;
    let wave = fit(family, 3, &groups)?;
    let chi_square = likelihood_ratio(&flat, &wave);
    let correction = correction(family, &flat, &wave, &groups);
    let (cosine, sine) = (wave.coefficient(1), wave.coefficient(2));
    let amplitude = cosine.hypot(sine);
    Some(Swing {
        chi_square,
        correction,
        p_value: chi_square_2(chi_square / correction),
        amplitude,
        peak: sine.atan2(cosine).rem_euclid(TAU) * 12.0 / TAU,
        peak_within: within(&wave, amplitude),
    })
}

/// By the delta method; a wave that may be no wave has its peak anywhere.
fn within(wave: &Fit, amplitude: f64) -> Option<f64> {
    let (cosine, sine) = (wave.coefficient(1), wave.coefficient(2));
    let square = amplitude * amplitude;
    let variance = (sine * sine * wave.covariance(1, 1) + cosine * cosine * wave.covariance(2, 2)
        - 2.0 * sine * cosine * wave.covariance(1, 2))
        / (square * square);
    let half = Z95 * variance.max(0.0).sqrt();
    (half < PI).then_some(half * 12.0 / TAU)
}

impl Swing {
    /// The month of the peak, 1 for January.
    #[must_use]
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "from 0 to 12"
    )]
    pub fn peak_month(&self) -> u8 {
        (self.peak.floor() as u8).min(11) + 1
    }

    /// How many times the odds (or the rate) of the lowest point the highest has.
    #[must_use]
    pub fn ratio(&self) -> f64 {
        (2.0 * self.amplitude).exp()
    }
}
