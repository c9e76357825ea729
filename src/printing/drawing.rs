//! The drawing of the instrument: its front for papers, and the whole of it, with each region a link and tinted by how
//! likely the noise sits there; findings are numbered pins.

use std::fmt::Write as _;

use crate::page::{Markup, asset};

const VIOLIN: &str = include_str!("../../templates/drawing/violin_front.svg");
const CELLO: &str = include_str!("../../templates/drawing/cello_front.svg");
/// Front, side, inside and a cut across, with a bow and a chair beside them. A page points at their parts, so that a
/// browser fetches the lines once and keeps them.
const WHOLE_VIOLIN: &str = include_str!("../../static/drawing/violin.svg");
const WHOLE_CELLO: &str = include_str!("../../static/drawing/cello.svg");
/// The chair stands smaller beside the bow, so that the instrument has the room.
const CHAIR: &str = r#"<g transform="translate(405 376) scale(0.4)" stroke-width="2.4">"#;

/// What a region of the drawing leads to and says.
pub struct Spot {
    pub region: &'static str,
    pub href: String,
    /// "Nut: likely, 3 causes".
    pub words: String,
    /// From 0, nothing, to 4.
    pub tint: usize,
}

/// A part of the drawing: a region in one of its views.
struct Part {
    id: &'static str,
    region: &'static str,
    pin: (f64, f64),
}

/// How dark a region is drawn that holds so much of the probability: 0 to 4, by the steps that the legend names.
#[must_use]
pub fn tint(p: f64) -> usize {
    [0.02, 0.08, 0.2, 0.4].iter().filter(|step| p >= **step).count()
}

/// The whole drawing. Each region is one link for the keyboard and a screen reader, at its first view; the same region
/// in the other views is for pointers. Pins 1, 2, .. sit on `pins`, side by side where a region comes again.
#[must_use]
pub fn whole(family: &str, name: &str, spots: &[Spot], pins: &[&str]) -> Option<Markup> {
    let (file, form) = match family {
        "violin" | "viola" => (asset("drawing/violin.svg"), WHOLE_VIOLIN),
        "cello" | "bass" => (asset("drawing/cello.svg"), WHOLE_CELLO),
        _ => return None,
    };
    let parts = parts(form);
    let mut drawn = format!(
        r#"<svg class="whole" viewBox="8 0 776 640" role="group" aria-label="{name}" fill="none" fill-rule="evenodd" stroke="currentColor" stroke-width="1.15" stroke-linecap="round" stroke-linejoin="round" pointer-events="all">"#
    );
    for (at, part) in parts.iter().enumerate() {
        let first = parts[..at].iter().all(|before| before.region != part.region);
        let spot = spots.iter().find(|spot| spot.region == part.region);
        let lines = format!(r#"<use href="{file}#{}"/>"#, part.id);
        let lines = match spot {
            Some(spot) => linked(spot, first, &lines),
            None => lines,
        };
        if part.region == "player_or_room" {
            drawn.extend([CHAIR, &lines, "</g>"]);
        } else {
            drawn.push_str(&lines);
        }
    }
    for (at, region) in pins.iter().enumerate() {
        let before = pins[..at].iter().filter(|other| *other == region).count();
        if let Some(part) = parts.iter().find(|part| part.region == *region) {
            drawn.push_str(&pin(part.pin, before, at + 1));
        }
    }
    drawn.push_str("</svg>");
    Some(Markup(drawn))
}

fn linked(spot: &Spot, first: bool, lines: &str) -> String {
    let Spot {
        href, words, tint, ..
    } = spot;
    let reach = if first {
        format!(r#"aria-label="{words}""#)
    } else {
        r#"tabindex="-1" aria-hidden="true""#.to_owned()
    };
    format!(r#"<a href="{href}" class="spot tint-{tint}" {reach}><title>{words}</title>{lines}</a>"#)
}

fn parts(form: &'static str) -> Vec<Part> {
    let groups = form.split("<g id=\"").skip(1);
    let part = |group: &'static str| {
        let (id, rest) = group.split_once('"')?;
        let (_, rest) = rest.split_once("data-region=\"")?;
        let (region, rest) = rest.split_once('"')?;
        let (x, y) = rest
            .split_once("data-pin=\"")?
            .1
            .split_once('"')?
            .0
            .split_once(',')?;
        let (x, y): (f64, f64) = (x.parse().ok()?, y.parse().ok()?);
        let pin = if region == "player_or_room" {
            (405.0 + 0.4 * x, 376.0 + 0.4 * y)
        } else {
            (x, y)
        };
        Some(Part { id, region, pin })
    };
    groups.filter_map(part).collect()
}

/// A pin with its number; the second in a place stands beside the first.
fn pin((x, y): (f64, f64), beside: usize, number: usize) -> String {
    let x = x + 32.0 * f64::from(u8::try_from(beside).unwrap_or(u8::MAX));
    format!(
        r#"<g class="pin" pointer-events="none"><circle cx="{x}" cy="{y}" r="15"/><text x="{x}" y="{}" font-size="21" stroke="none">{number}</text></g>"#,
        y + 7.5
    )
}

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
    fn a_region_is_one_link_for_the_keyboard_and_tinted_in_every_view() {
        let spot = |region| Spot {
            region,
            href: format!("#region-{region}"),
            words: "Bridge: likely, 3 causes".into(),
            tint: tint(0.5),
        };
        let drawn = whole(
            "cello",
            "Where",
            &[spot("bridge"), spot("player_or_room")],
            &["inside"],
        )
        .expect("a drawing")
        .0;
        let bridges = drawn
            .matches("<a href=\"#region-bridge\" class=\"spot tint-4\"")
            .count();
        let hidden = drawn.matches("aria-hidden=\"true\"").count();
        assert_eq!((bridges, hidden, drawn.matches("aria-label").count()), (4, 3, 3));
        assert_eq!(drawn.matches("class=\"pin\"").count(), 1);
        assert_eq!([0.0, 0.02, 0.1, 0.2, 0.4].map(tint), [0, 1, 2, 3, 4]);
        assert!(whole("bow", "Where", &[], &[]).is_none());
        for form in [WHOLE_VIOLIN, WHOLE_CELLO] {
            let known = |part: &Part| {
                crate::catalogue::cause::REGIONS
                    .iter()
                    .any(|known| known.0 == part.region)
            };
            assert!(parts(form).len() > 25 && parts(form).iter().all(known));
        }
    }

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
