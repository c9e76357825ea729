//! Pins are the findings of an order by their numbers, stuck into the drawing where each cause sits.

use std::fmt::Write;

use crate::page::Markup;

const VIOLIN: &str = include_str!("../../templates/drawing/violin_front.svg");
const CELLO: &str = include_str!("../../templates/drawing/cello_front.svg");

/// The front of an instrument of this family with a pin for each region; a bow is not drawn.
#[must_use]
pub fn drawing(family: &str, regions: &[&str]) -> Option<Markup> {
    let drawn = match family {
        "violin" | "viola" => VIOLIN,
        "cello" | "bass" => CELLO,
        _ => return None,
    };
    let mut pins = String::new();
    for (at, region) in regions.iter().enumerate() {
        // Several findings of one region stand side by side.
        let before = regions[..at].iter().filter(|other| other == &region).count();
        let Some((x, y)) = place(drawn, region) else {
            continue;
        };
        let x = x + 32.0 * f64::from(u8::try_from(before).unwrap_or(u8::MAX));
        let _ = write!(
            pins,
            r#"<g class="pin" stroke="none"><circle cx="{x}" cy="{y}" r="15"/><text x="{x}" y="{}" font-size="19">{}</text></g>"#,
            y + 6.5,
            at + 1
        );
    }
    // The lines are black for paper; on a screen they take the ink of the page.
    let drawn = drawn.trim_end().trim_end_matches("</svg>");
    let drawn = drawn.replace("\"#000\"", "\"currentColor\"");
    Some(Markup(format!("{drawn}{pins}</svg>")))
}

/// Where a region's pin stands: its `data-pin="x,y"`.
fn place(drawn: &str, region: &str) -> Option<(f64, f64)> {
    let (_, after) = drawn.split_once(&format!("data-region=\"{region}\" data-pin=\""))?;
    let (x, y) = after.split_once('"')?.0.split_once(',')?;
    Some((x.parse().ok()?, y.parse().ok()?))
}
