//! The instrument's front with a pin at each place where something was found.

use std::fmt::Write as _;

use crate::page::Markup;

const VIOLIN: &str = include_str!("../../templates/drawing/violin_front.svg");
const CELLO: &str = include_str!("../../templates/drawing/cello_front.svg");

/// The front of the family's form with pins 1, 2, .. on these regions; a bow has no drawing.
#[must_use]
pub fn front(family: &str, regions: &[&str]) -> Option<Markup> {
    let form = form(family)?;
    let (drawing, end) = form.rsplit_once("</svg>")?;
    let mut pins = String::new();
    for (at, region) in regions.iter().enumerate() {
        let (x, y) = place(form, region)?;
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
        assert!(front("bow", &[]).is_none());
    }
}
