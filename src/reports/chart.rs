//! A picture of shares, with the range of each: made of figures alone, so that nothing typed gets into it.

use std::fmt::Write;

use crate::page::Markup;

use super::share::Share;

/// What the full width or height of a picture may stand for.
const SCALES: [f64; 7] = [0.1, 0.2, 0.3, 0.4, 0.6, 0.8, 1.0];

/// The smallest scale on which all the ranges fit.
#[must_use]
pub fn scale<'a>(shares: impl IntoIterator<Item = &'a Share>) -> f64 {
    let ends = shares
        .into_iter()
        .filter(|share| !share.few())
        .filter_map(Share::interval);
    let most = ends.map(|interval| interval.high).fold(0.0, f64::max);
    SCALES.into_iter().find(|scale| most <= *scale).unwrap_or(1.0)
}

/// Ranges of fewer inspected orders than this may run off the top of a small picture, so that they do not flatten the others.
const STEADY: i64 = 20;

/// The smallest scale on which all shares fit, and the ranges of all but the least steady.
#[must_use]
pub fn panel_scale<'a>(shares: impl IntoIterator<Item = &'a Share>) -> f64 {
    let end = |share: &Share| {
        if share.few() {
            0.0
        } else if share.inspected < STEADY {
            share.rate().unwrap_or_default()
        } else {
            share.interval().map_or(0.0, |interval| interval.high)
        }
    };
    let most = shares.into_iter().map(end).fold(0.0, f64::max);
    SCALES.into_iter().find(|scale| most <= *scale).unwrap_or(1.0)
}

/// One bar with its range; empty where there are too few to say.
#[must_use]
pub fn bar(share: &Share, scale: f64) -> Markup {
    let (Some(rate), Some(range), false) = (share.rate(), share.interval(), share.few()) else {
        return Markup(String::new());
    };
    // A hair short of the full width, so that the end of the range is not cut.
    let at = |part: f64| part / scale * 99.0;
    let (low, rate, high) = (at(range.low), at(rate), at(range.high));
    Markup(format!(
        r#"<svg class="bar" viewBox="0 0 100 26" preserveAspectRatio="none" aria-hidden="true"><rect class="bar-fill" y="3" width="{rate:.1}" height="20"/><path class="whisk whisk-in" d="M{low:.1} 13H{rate:.1}"/><path class="whisk" d="M{rate:.1} 13H{high:.1}M{high:.1} 8V18"/></svg>"#
    ))
}

const LEFT: f64 = 44.0;
const RIGHT: f64 = 670.0;
const TOP: f64 = 12.0;
const FLOOR: f64 = 170.0;

/// A dot with its range for each month or year, its short name and the counts below, or a dash where nobody was inspected: what goes into an `svg.chart` of 680
/// by 240. The same months of years before are thin lines behind.
#[must_use]
pub fn course(shares: &[(String, Share)], before: &[Vec<Share>]) -> Markup {
    let said = |share: &Share| share.rate().filter(|_| !share.few());
    let highest = before.iter().flatten().filter_map(said).fold(0.0, f64::max);
    let ranges = scale(shares.iter().map(|point| &point.1));
    let scale = SCALES
        .into_iter()
        .find(|scale| *scale >= ranges && highest <= *scale)
        .unwrap_or(1.0);
    let mut svg = String::new();
    axis(&mut svg, scale);
    for year in before {
        line(&mut svg, year, scale);
    }
    let mut left = LEFT;
    let step = (RIGHT - LEFT) / shares.iter().fold(0.0, |n: f64, _| n + 1.0).max(1.0);
    for (name, share) in shares {
        let x = left + step / 2.0;
        left += step;
        dot(&mut svg, x, share, scale);
        let _ = write!(svg, r#"<text class="mid" x="{x:.0}" y="192">{name}</text>"#);
        if share.none() {
            let _ = write!(svg, r#"<text class="mid muted" x="{x:.0}" y="213">–</text>"#);
            continue;
        }
        let counts = share.counts();
        let (confirmed, of) = counts.split_once(" of ").unwrap_or((&counts, ""));
        let _ = write!(
            svg,
            r#"<text class="mid muted" x="{x:.0}" y="213">{confirmed}</text><text class="mid muted" x="{x:.0}" y="231">of {of}</text>"#
        );
    }
    Markup(svg)
}

/// Through the shares of a year, broken where there are too few to say.
fn line(svg: &mut String, shares: &[Share], scale: f64) {
    let step = (RIGHT - LEFT) / shares.iter().fold(0.0, |n: f64, _| n + 1.0).max(1.0);
    let (mut path, mut x, mut drawn) = (String::new(), LEFT + step / 2.0, false);
    for share in shares {
        if let (Some(rate), false) = (share.rate(), share.few()) {
            let y = height(rate, scale);
            let _ = write!(path, "{}{x:.0} {y:.1}", if drawn { 'L' } else { 'M' });
            drawn = true;
        } else {
            drawn = false;
        }
        x += step;
    }
    if !path.is_empty() {
        let _ = write!(svg, r#"<path class="faint" d="{path}"/>"#);
    }
}

const PANEL: f64 = 240.0;
const PANEL_FLOOR: f64 = 62.0;

/// A dot with its range for each age band, the youngest first, each with its mark: what goes into an `svg.chart.panel` of 240 by 82. All panels
/// beside each other have one scale.
#[must_use]
pub fn bands(bands: &[(&str, Share)], scale: f64) -> Markup {
    let mut svg = String::new();
    let _ = write!(svg, r#"<path class="axis" d="M0 {PANEL_FLOOR}H{PANEL}"/>"#);
    let step = PANEL / bands.iter().fold(0.0, |n: f64, _| n + 1.0).max(1.0);
    let y = |part: f64| PANEL_FLOOR - part / scale * (PANEL_FLOOR - 4.0);
    let mut x = step / 2.0;
    for (name, share) in bands {
        if let (Some(rate), Some(range), false) = (share.rate(), share.interval(), share.few()) {
            let (low, at, high) = (y(range.low), y(rate), y(range.high.min(scale)));
            let _ = write!(
                svg,
                r#"<path class="whisk" d="M{x:.0} {low:.1}V{high:.1}"/><circle class="dot" cx="{x:.0}" cy="{at:.1}" r="5"/>"#
            );
        }
        let _ = write!(svg, r#"<text class="mid muted" x="{x:.0}" y="78">{name}</text>"#);
        x += step;
    }
    Markup(svg)
}

fn height(part: f64, scale: f64) -> f64 {
    FLOOR - part / scale * (FLOOR - TOP)
}

fn axis(svg: &mut String, scale: f64) {
    let _ = write!(svg, r#"<path class="axis" d="M{LEFT} {FLOOR}H{RIGHT}"/>"#);
    for half in [0.0, 0.5, 1.0] {
        let (y, percent) = (height(scale * half, scale) + 5.0, (scale * half * 100.0).round());
        let unit = if half > 0.9 { " %" } else { "" };
        let _ = write!(
            svg,
            r#"<text class="muted end" x="38" y="{y:.0}">{percent}{unit}</text>"#
        );
    }
}

fn dot(svg: &mut String, x: f64, share: &Share, scale: f64) {
    let (Some(rate), Some(range), false) = (share.rate(), share.interval(), share.few()) else {
        return;
    };
    let (low, y, high) = (
        height(range.low, scale),
        height(rate, scale),
        height(range.high, scale),
    );
    let (left, right) = (x - 5.0, x + 5.0);
    let _ = write!(
        svg,
        r#"<path class="whisk" d="M{x:.1} {low:.1}V{high:.1}M{left:.1} {high:.1}H{right:.1}M{left:.1} {low:.1}H{right:.1}"/><circle class="dot" cx="{x:.1}" cy="{y:.1}" r="5.5"/>"#
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_ranges_fit_their_scale() {
        assert!((scale(&[Share::new(0, 1000)]) - 0.1).abs() < 1e-9);
        assert!((scale(&[Share::new(18, 74), Share::new(5, 74)]) - 0.4).abs() < 1e-9);
        assert!((scale(&[Share::new(9, 10)]) - 1.0).abs() < 1e-9);
        // Too few: nothing is drawn, so nothing has to fit.
        assert!((scale(&[Share::new(4, 4)]) - 0.1).abs() < 1e-9);
    }

    #[test]
    fn too_few_have_no_bar_and_no_dot() {
        assert_eq!(bar(&Share::new(2, 4), 1.0).0, "");
        let picture = course(
            &[
                ("Jan".to_owned(), Share::new(2, 4)),
                ("Feb".to_owned(), Share::new(2, 5)),
            ],
            &[],
        )
        .0;
        assert_eq!(picture.matches("<circle").count(), 1);
        assert!(picture.contains(">Jan<") && picture.contains(">of 4<"));
    }

    #[test]
    fn a_bar_is_as_long_as_its_share() {
        let bar = bar(&Share::new(50, 100), 1.0).0;
        assert!(bar.contains(r#"width="49.5""#), "{bar}");
    }
}
