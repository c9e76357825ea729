//! A picture of the calibration: how sure it said it was, and how often it was so. Made of figures alone.

use std::fmt::Write;

use crate::page::Markup;
use crate::reports::share::{Share, percent};
use crate::words::grouped;

use super::measure::{BINS, Bin};

const LEFT: f64 = 52.0;
const RIGHT: f64 = 670.0;
const TOP: f64 = 12.0;
const FLOOR: f64 = 300.0;

/// A tenth of the range: from, to, what was said on average, in words, and how often it was so.
pub type Tenth = (usize, usize, String, Share);

/// The tenths that anything was said in.
#[must_use]
pub fn tenths(bins: &[Bin; BINS]) -> Vec<Tenth> {
    let all = bins.iter().enumerate().filter(|bin| bin.1.predictions > 0);
    all.map(|(at, bin)| {
        let said = bin.said().map_or(String::new(), percent);
        (at * 10, at * 10 + 10, said, Share::new(bin.hits, bin.predictions))
    })
    .collect()
}

/// A dot with its range for each tenth, beside the line on which said and so are the same: what goes into an
/// `svg.chart` of 680 by 360. The counts stand below.
#[must_use]
pub fn picture(bins: &[Bin; BINS]) -> Markup {
    let (x, y) = (
        |part: f64| LEFT + part * (RIGHT - LEFT),
        |part: f64| FLOOR - part * (FLOOR - TOP),
    );
    let mut svg = String::new();
    let _ = write!(
        svg,
        r#"<path class="axis" d="M{LEFT} {TOP}V{FLOOR}H{RIGHT}"/><path class="axis" stroke-dasharray="6 5" d="M{LEFT} {FLOOR}L{RIGHT} {TOP}"/>"#
    );
    for quarter in [0.0, 0.25, 0.5, 0.75, 1.0] {
        let (percent, at) = (quarter * 100.0, y(quarter) + 5.0);
        let unit = if quarter > 0.9 { " %" } else { "" };
        let _ = write!(
            svg,
            r#"<text class="muted end" x="46" y="{at:.0}">{percent}{unit}</text>"#
        );
    }
    for (bin, from) in bins.iter().zip((0_u32..).step_by(10)) {
        let (share, to) = (Share::new(bin.hits, bin.predictions), from + 10);
        let (Some(said), Some(rate)) = (bin.said(), share.rate()) else {
            continue;
        };
        let middle = x(f64::from(from) / 100.0 + 0.05);
        let orders = grouped(share.inspected.unsigned_abs());
        let _ = write!(
            svg,
            r#"<text class="mid muted" x="{middle:.0}" y="322">{from}–{to}</text><text class="mid muted" x="{middle:.0}" y="344">{orders}</text>"#
        );
        if share.few() {
            continue;
        }
        let Some(range) = share.interval() else {
            continue;
        };
        let (at, dot, low, high) = (x(said), y(rate), y(range.low), y(range.high));
        let (left, right) = (at - 5.0, at + 5.0);
        let _ = write!(
            svg,
            r#"<path class="whisk" d="M{at:.1} {low:.1}V{high:.1}M{left:.1} {high:.1}H{right:.1}M{left:.1} {low:.1}H{right:.1}"/><circle class="dot" cx="{at:.1}" cy="{dot:.1}" r="5.5"/>"#
        );
    }
    Markup(svg)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_few_is_counted_and_not_drawn() {
        let mut bins = [Bin::default(); BINS];
        bins[3] = Bin {
            predictions: 40,
            hits: 14,
            sum: 13.6,
        };
        bins[9] = Bin {
            predictions: 2,
            hits: 2,
            sum: 1.9,
        };
        let picture = picture(&bins).0;
        assert_eq!(picture.matches("<circle").count(), 1);
        assert!(picture.contains(">30–40<") && picture.contains(">90–100<") && picture.contains(">40<"));
    }
}
