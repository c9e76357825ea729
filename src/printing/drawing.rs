//! The instrument's front with a pin at each place where something was found.

use std::fmt::Write as _;

use crate::page::Markup;

const VIOLIN: &str = include_str!("../../templates/drawing/violin_front.svg");
const CELLO: &str = include_str!("../../templates/drawing/cello_front.svg");

/// The front of the family's form with pins 1, 2, .. on these regions, side by side where a region comes again; what
/// is not seen from the front has no pin, and a bow no drawing.
#[must_use]
pub fn front(family: &str, regions: &[&str]) -> Option<Markup> {
    let form = form(family)?;
    let (drawing, end) = form.rsplit_once("</svg>")?;
    let mut pins = String::new();
    for (at, region) in regions.iter().enumerate() {
        let Some((x, y)) = place(form, region) else {
            continue;
        };
        let before = regions[..at].iter().filter(|other| *other == region).count();
        let x = x + 32.0 * f64::from(u8::try_from(before).unwrap_or(u8::MAX));
        write!(
            pins,
            r##"<g class="pin"><circle cx="{x}" cy="{y}" r="15" fill="#fff"/><text x="{x}" y="{}" font-size="21" text-anchor="middle" fill="#000" stroke="none">{}</text></g>"##,
            y + 7.5,
            at + 1
        )
        .expect("writing to a String cannot fail");
    }
    Some(Markup(format!("{drawing}{pins}</svg>{end}")))
}

/// The same in the ink of the page around it, which on a screen may be light on dark.
#[must_use]
pub fn on_screen(family: &str, regions: &[&str]) -> Option<Markup> {
    let Markup(drawn) = front(family, regions)?;
    Some(Markup(drawn.replace("\"#000\"", "\"currentColor\"")))
}

/// Whether the region is seen from the front.
#[must_use]
pub fn shows(family: &str, region: &str) -> bool {
    form(family).is_some_and(|form| place(form, region).is_some())
}

fn form(family: &str) -> Option<&'static str> {
    match family {
        "violin" | "viola" => Some(VIOLIN),
        "cello" | "bass" => Some(CELLO),
        _ => None,
    }
}

/// Where the drawing says that a region's pin belongs.
fn place(form: &str, region: &str) -> Option<(f64, f64)> {
    let (_, rest) = form.split_once(&format!("data-region=\"{region}\" data-pin=\""))?;
    let (x, y) = rest.split_once('"')?.0.split_once(',')?;
    Some((x.parse().ok()?, y.parse().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pin_sits_where_the_drawing_says() {
        let drawn = front("viola", &["bridge", "nut"]).expect("a drawing").0;
        assert_eq!(drawn.matches("class=\"pin\"").count(), 2);
        assert!(drawn.contains(r#"cx="120" cy="447""#) && drawn.contains(">2</text>"));
        assert!(shows("cello", "top_plate") && !shows("cello", "inside") && !shows("bow", "bow"));
        let twice = front("violin", &["nut", "inside", "nut"]).expect("a drawing").0;
        assert!(twice.matches("class=\"pin\"").count() == 2 && twice.contains(">3</text>"));
        assert!(
            !on_screen("violin", &["nut"])
                .expect("a drawing")
                .0
                .contains("#000")
        );
        assert!(front("bow", &[]).is_none());
    }
}
