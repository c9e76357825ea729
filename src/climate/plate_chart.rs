//! The picture of a plate that moves: as wide as it is, and as wide as it would like to be, the difference ten times as large.

use std::fmt::Write;

use crate::page::Markup;

use super::plate_told::PlateTold;
use super::reading::said;

/// The wider of the two takes this much.
const WIDE: f64 = 560.0;
const MIDDLE: f64 = 340.0;
/// How high the edges stand, of the plate as it is and as it would like to be.
const EDGE: f64 = 54.0;
const LIKES: f64 = 104.0;
/// By so much the difference is enlarged; true to size nobody would see it.
pub const ENLARGED: f64 = 10.0;

/// What goes into an `svg.chart` of 680 by 132; nothing where it does not move.
#[must_use]
pub fn plate(told: &PlateTold) -> Markup {
    let tenths = told.movement().tenths();
    if tenths == 0 {
        return Markup(String::new());
    }
    let (width, moves) = (told.width(), told.movement().millimetres * ENLARGED);
    let scale = WIDE / width.max(width + moves);
    let (is, likes) = (width * scale, (width + moves) * scale);
    let mut svg = String::new();
    let _ = write!(
        svg,
        r#"<path class="plate" d="{}"/><path class="curve" stroke-dasharray="7 5" d="{}"/>"#,
        arch(is, EDGE),
        arch(likes, LIKES)
    );
    sides(&mut svg, is, likes);
    let _ = write!(
        svg,
        r#"<text class="mid" x="{MIDDLE}" y="17">{} mm</text><text class="mid" x="{MIDDLE}" y="{}">{:.1} mm</text>"#,
        said(told.width),
        LIKES + 6.0,
        width + told.movement().millimetres
    );
    Markup(svg)
}

/// A plate across: its edges, the hollow beside them, and the arch between.
fn arch(wide: f64, edge: f64) -> String {
    let left = MIDDLE - wide / 2.0;
    let at = |part: f64, up: f64| format!("{:.1} {:.1}", left + wide * part, edge - up);
    format!(
        "M{}C{} {} {}C{} {} {}C{} {} {}",
        at(0.0, 0.0),
        at(0.06, -3.0),
        at(0.1, -3.0),
        at(0.2, 9.0),
        at(0.36, 34.0),
        at(0.64, 34.0),
        at(0.8, 9.0),
        at(0.9, -3.0),
        at(0.94, -3.0),
        at(1.0, 0.0),
    )
}

/// Where the edges are and where they would like to be, with the way between them.
fn sides(svg: &mut String, is: f64, likes: f64) {
    let (from, to, way) = (EDGE + 7.0, LIKES + 14.0, LIKES + 8.0);
    for side in [-0.5, 0.5] {
        let (edge, wish) = (MIDDLE + is * side, MIDDLE + likes * side);
        let _ = write!(
            svg,
            r#"<path class="axis" d="M{edge:.1} {from}V{to}M{wish:.1} {}V{to}"/><path class="whisk" d="M{edge:.1} {way}H{wish:.1}"/>"#,
            LIKES + 3.0
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::climate::plate_ask::{Here, PlateAsked};

    fn drawn(from: u8, to: u8) -> String {
        let query = format!("width_mm=440&wood=spruce&cut=quarter&from_humidity={from}&to_humidity={to}");
        let told = PlateAsked::read(Some(&query))
            .understand(Here::default(), "")
            .unwrap();
        plate(&told).0
    }

    #[test]
    fn the_wider_of_the_two_fills_the_width() {
        let (narrower, wider) = (drawn(60, 40), drawn(40, 60));
        // From 60 to 340 less 280: the full width.
        assert!(narrower.contains(r#"class="plate" d="M60.0 54.0C"#), "{narrower}");
        assert!(
            wider.contains(r#"stroke-dasharray="7 5" d="M60.0 104.0C"#),
            "{wider}"
        );
        assert!(
            narrower.contains(">440 mm<") && narrower.contains(">438."),
            "{narrower}"
        );
        assert_eq!(drawn(50, 50), "");
    }
}
