//! The drawing of the instrument: each region tinted by how likely the noise sits there, findings as numbered pins; whole
//! on screens, and on papers the one view that shows what was found.

use crate::diagnosis::opinion::step;
use crate::page::{Markup, asset};

/// Front, side, inside and a cut across, with a bow and a chair beside them. A page points at their parts, so that a
/// browser fetches the lines once and keeps them.
const VIOLIN: &str = include_str!("../../static/drawing/violin.svg");
const CELLO: &str = include_str!("../../static/drawing/cello.svg");
/// The chair stands smaller beside the bow, so that the instrument has the room.
const CHAIR: &str = r#"<g transform="translate(405 376) scale(0.4)" stroke-width="2.4">"#;
/// What of the drawing is shown: all of it, or without what stands beside the instrument.
const WHOLE: &str = "8 0 776 640";
const INSTRUMENT: &str = "8 0 640 640";
/// The views of a paper, each with its place in the drawing, equally wide.
const VIEWS: [(&str, &str); 3] = [
    ("front", "8 0 240 640"),
    ("side", "221 0 240 640"),
    ("inside", "406 196 240 444"),
];
/// Inside, the top has been taken off: its f-holes only show where it was, and are never tinted.
const TAKEN_OFF: &str = "r-inside-top_plate";
/// From this step on the likeliest region has a dot: area and thin edges mislead the eye.
const DOTTED: usize = 2;

/// What a region of the drawing leads to and says.
pub struct Spot {
    pub region: &'static str,
    /// Leads nowhere if empty.
    pub href: String,
    /// "Nut: likely, 3 causes".
    pub words: String,
    /// How much of the probability it holds.
    pub p: f64,
    /// The likeliest cause here, by its code, if one is meant: it may have a spot of its own.
    pub cause: String,
}

/// What was found: its region, and its cause by its code.
pub type Pin<'a> = (&'a str, &'a str);

/// A part of the drawing: a region in one of its views.
struct Part {
    id: &'static str,
    region: &'static str,
    pin: (f64, f64),
    /// Where causes sit that have a spot of their own in it.
    own: &'static str,
}

impl Part {
    fn own(&self, cause: &str) -> Option<(f64, f64)> {
        let mut all = self.own.split(' ').filter_map(|own| own.split_once(':'));
        all.find(|own| own.0 == cause).and_then(|own| point(own.1))
    }

    fn is_in(&self, view: &str) -> bool {
        let id = self.id.strip_prefix("r-").unwrap_or_default();
        id.strip_prefix(view).is_some_and(|rest| rest.starts_with('-'))
    }
}

/// The whole drawing. Each region is one link for the keyboard and a screen reader, at its first view; the same region
/// in the other views is for pointers. Pins 1, 2, .. sit on `pins`, side by side where a region comes again.
#[must_use]
pub fn whole(family: &str, name: &str, spots: &[Spot], pins: &[Pin<'_>]) -> Option<Markup> {
    let form = form(family)?;
    let parts: Vec<Part> = parts(form.1).collect();
    Some(drawn(form.0, WHOLE, name, &parts, spots, pins))
}

/// The instrument from the front, the side and inside; what is beside it only if the noise may well sit there, or was found
/// there.
#[must_use]
pub fn instrument(family: &str, name: &str, spots: &[Spot], pins: &[Pin<'_>]) -> Option<Markup> {
    let form = form(family)?;
    let all: Vec<Part> = parts(form.1).collect();
    let beside = |region: &str| {
        all.iter()
            .any(|part| part.is_in("beside") && part.region == region)
    };
    let likely = |spot: &Spot| step(spot.p) >= DOTTED && beside(spot.region);
    if spots.iter().any(likely) || pins.iter().any(|pin| beside(pin.0)) {
        return Some(drawn(form.0, WHOLE, name, &all, spots, pins));
    }
    let parts: Vec<Part> = all.into_iter().filter(|part| !part.is_in("beside")).collect();
    Some(drawn(form.0, INSTRUMENT, name, &parts, spots, pins))
}

/// The view that shows most of these regions, for a paper: tinted and with pins 1, 2, .. on those it shows, which come
/// with it. Without any it is the front; a bow has none.
#[must_use]
pub fn view<'a>(family: &str, found: &[Pin<'a>]) -> Option<(Markup, Vec<&'a str>)> {
    let form = form(family)?;
    let shown = |view: &str| {
        let here = |pin: &&Pin<'a>| parts(form.1).any(|part| part.region == pin.0 && part.is_in(view));
        found.iter().filter(here).copied().collect::<Vec<Pin<'a>>>()
    };
    let mut best = (VIEWS[0], shown(VIEWS[0].0));
    for view in &VIEWS[1..] {
        let here = shown(view.0);
        if here.len() > best.1.len() {
            best = (*view, here);
        }
    }
    let ((view, place), pins) = best;
    let parts: Vec<Part> = parts(form.1).filter(|part| part.is_in(view)).collect();
    let spot = |part: &Part| Spot {
        region: part.region,
        href: String::new(),
        words: String::new(),
        p: 0.1,
        cause: String::new(),
    };
    let regions: Vec<&str> = pins.iter().map(|pin| pin.0).collect();
    let found = parts.iter().filter(|part| regions.contains(&part.region));
    let spots: Vec<Spot> = found.map(spot).collect();
    Some((drawn(form.0, place, view, &parts, &spots, &pins), regions))
}

fn drawn(file: &str, place: &str, name: &str, parts: &[Part], spots: &[Spot], pins: &[Pin<'_>]) -> Markup {
    let file = asset(file);
    let role = if spots.iter().any(|spot| !spot.href.is_empty()) {
        "group"
    } else {
        "img"
    };
    let mut drawn = format!(
        r#"<svg class="whole" viewBox="{place}" role="{role}" aria-label="{name}" fill="none" fill-rule="evenodd" stroke="currentColor" stroke-width="1.15" stroke-linecap="round" stroke-linejoin="round" pointer-events="all">"#
    );
    for (at, part) in parts.iter().enumerate() {
        let first = parts[..at].iter().all(|before| before.region != part.region);
        let spot = spots.iter().find(|spot| spot.region == part.region);
        let lines = format!(r#"<use href="{file}#{}"/>"#, part.id);
        let lines = match spot {
            Some(spot) => spotted(spot, part, first, &lines),
            None => lines,
        };
        if part.region == "player_or_room" {
            drawn.extend([CHAIR, &lines, "</g>"]);
        } else {
            drawn.push_str(&lines);
        }
    }
    // Where the cause sits, if the drawing knows, or else the place of its region.
    let place_of = |region: &str, cause: &str| {
        let here = || parts.iter().filter(|part| part.region == region);
        let own = here().find_map(|part| part.own(cause));
        own.or_else(|| here().next().map(|part| part.pin))
    };
    let likeliest = spots.iter().max_by(|a, b| a.p.total_cmp(&b.p));
    let pinned = |spot: &Spot| pins.iter().any(|pin| pin.0 == spot.region);
    let dotted = likeliest.filter(|spot| step(spot.p) >= DOTTED && !pinned(spot));
    if let Some((x, y)) = dotted.and_then(|spot| place_of(spot.region, &spot.cause)) {
        let dot = format!(r#"<circle class="likeliest" cx="{x}" cy="{y}" r="9" pointer-events="none"/>"#);
        drawn.push_str(&dot);
    }
    let mut taken: Vec<(f64, f64)> = Vec::new();
    for (at, (region, cause)) in pins.iter().enumerate() {
        if let Some(place) = place_of(region, cause) {
            let before = taken.iter().filter(|other| **other == place).count();
            drawn.push_str(&pin(place, before, at + 1));
            taken.push(place);
        }
    }
    drawn.push_str("</svg>");
    Markup(drawn)
}

fn spotted(spot: &Spot, part: &Part, first: bool, lines: &str) -> String {
    let Spot { href, words, p, .. } = spot;
    let tint = if part.id == TAKEN_OFF { 0 } else { step(*p) };
    let title = if words.is_empty() {
        String::new()
    } else {
        format!("<title>{words}</title>")
    };
    if href.is_empty() {
        return format!(
            r#"<g class="tint-{tint}" data-spot="{}">{title}{lines}</g>"#,
            spot.region
        );
    }
    let reach = if first {
        format!(r#"aria-label="{words}""#)
    } else {
        r#"tabindex="-1" aria-hidden="true""#.to_owned()
    };
    format!(r#"<a href="{href}" class="spot tint-{tint}" {reach}>{title}{lines}</a>"#)
}

fn form(family: &str) -> Option<(&'static str, &'static str)> {
    match family {
        "violin" | "viola" => Some(("drawing/violin.svg", VIOLIN)),
        "cello" | "bass" => Some(("drawing/cello.svg", CELLO)),
        _ => None,
    }
}

fn parts(form: &'static str) -> impl Iterator<Item = Part> {
    let groups = form.split("<g id=\"").skip(1);
    let part = |group: &'static str| {
        let (id, rest) = group.split_once('"')?;
        let (tag, _) = rest.split_once('>')?;
        let said = |name: &str| Some(tag.split_once(name)?.1.split_once('"')?.0);
        let region = said("data-region=\"")?;
        let (x, y) = point(said("data-pin=\"")?)?;
        let pin = if region == "player_or_room" {
            (405.0 + 0.4 * x, 376.0 + 0.4 * y)
        } else {
            (x, y)
        };
        Some(Part {
            id,
            region,
            pin,
            own: said("data-own=\"").unwrap_or_default(),
        })
    };
    groups.filter_map(part)
}

/// "541.7,390.0"
fn point(written: &str) -> Option<(f64, f64)> {
    let (x, y) = written.split_once(',')?;
    Some((x.parse().ok()?, y.parse().ok()?))
}

/// A pin with its number; the second in a place stands beside the first.
fn pin((x, y): (f64, f64), beside: usize, number: usize) -> String {
    let x = x + 32.0 * f64::from(u8::try_from(beside).unwrap_or(u8::MAX));
    format!(
        r#"<g class="pin" pointer-events="none"><circle cx="{x}" cy="{y}" r="15"/><text x="{x}" y="{}" font-size="21" stroke="none">{number}</text></g>"#,
        y + 7.5
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spot(region: &'static str, p: f64) -> Spot {
        Spot {
            region,
            href: format!("#region-{region}"),
            words: "Bridge: likely, 3 causes".into(),
            p,
            cause: String::new(),
        }
    }

    #[test]
    fn a_region_is_one_link_for_the_keyboard_and_tinted_in_every_view() {
        let spots = [spot("bridge", 0.5), spot("player_or_room", 0.4)];
        let drawn = whole("cello", "Where", &spots, &[("inside", "bassbar_loose")])
            .expect("a drawing")
            .0;
        let bridges = drawn
            .matches("<a href=\"#region-bridge\" class=\"spot tint-4\"")
            .count();
        let hidden = drawn.matches("aria-hidden=\"true\"").count();
        assert_eq!((bridges, hidden, drawn.matches("aria-label").count()), (4, 3, 3));
        assert_eq!(drawn.matches("class=\"pin\"").count(), 1);
        assert!(whole("bow", "Where", &[], &[]).is_none());
        for form in [VIOLIN, CELLO] {
            let known = |part: Part| {
                crate::catalogue::cause::REGIONS
                    .iter()
                    .any(|known| known.0 == part.region)
            };
            assert!(parts(form).count() > 25 && parts(form).all(known));
        }
    }

    #[test]
    fn the_likeliest_region_has_a_dot_unless_a_pin_is_there() {
        let dots = |p: f64, pins: &[Pin<'_>]| {
            let spots = [spot("edge_seams", p), spot("top_plate", 0.05)];
            let drawn = whole("violin", "Where", &spots, pins).expect("a drawing").0;
            drawn.matches("class=\"likeliest\"").count()
        };
        assert_eq!(
            (
                dots(0.3, &[]),
                dots(0.07, &[]),
                dots(0.3, &[("edge_seams", "edge_splinter")])
            ),
            (1, 0, 0)
        );
    }

    #[test]
    fn what_stands_beside_is_drawn_where_the_noise_may_sit_there() {
        let drawn = |region, p| {
            instrument(
                "violin",
                "Where",
                &[Spot {
                    href: String::new(),
                    ..spot(region, p)
                }],
                &[],
            )
            .expect("a drawing")
            .0
        };
        assert!(drawn("player_or_room", 0.3).contains("r-beside-player_or_room"));
        assert!(!drawn("player_or_room", 0.01).contains("r-beside"));
        let top = drawn("top_plate", 0.5);
        assert!(top.contains("class=\"tint-4\"") && top.contains("role=\"img\""));
        let taken_off = top
            .split("#r-inside-top_plate")
            .next()
            .expect("the text before it");
        assert!(
            taken_off
                .rsplit("tint-")
                .next()
                .is_some_and(|rest| rest.starts_with('0'))
        );
    }

    #[test]
    fn a_paper_shows_the_view_that_holds_what_was_found() {
        let shown = |regions: &[&'static str]| {
            let found: Vec<Pin<'_>> = regions.iter().map(|region| (*region, "")).collect();
            view("viola", &found).expect("a drawing")
        };
        let (post, pins) = shown(&["inside"]);
        assert!(post.0.contains("r-inside-inside") && !post.0.contains("r-front"));
        assert_eq!(
            (pins, post.0.matches("class=\"pin\"").count()),
            (vec!["inside"], 1)
        );
        assert!(shown(&["back_ribs"]).0.0.contains("r-side-back_ribs"));
        let (front, pins) = shown(&["bridge", "nut", "player_or_room"]);
        assert!(front.0.contains("r-front-nut") && front.0.contains(">2</text>"));
        assert_eq!(pins, ["bridge", "nut"]);
        let (bare, none) = shown(&["bow"]);
        assert!(bare.0.contains("r-front-bridge") && none.is_empty() && !bare.0.contains("pin\""));
        assert!(view("bow", &[]).is_none());
    }

    #[test]
    fn the_post_sits_where_it_stands_and_the_bar_where_it_is_glued() {
        let dot = |family: &str, cause: &str| {
            let spots = [Spot {
                cause: cause.into(),
                ..spot("inside", 0.5)
            }];
            let drawn = instrument(family, "Where", &spots, &[]).expect("a drawing").0;
            let after = drawn.split("class=\"likeliest\" cx=\"").nth(1).expect("a dot");
            after.split('"').next().map(str::to_owned)
        };
        let at = |x: &str| Some(x.to_owned());
        assert_eq!(dot("violin", "post_loose"), at("542.6"));
        assert_eq!(dot("violin", "bassbar_loose"), at("509.5"));
        assert_eq!(dot("bass", "post_down"), at("541.7"));
        let pins = [
            ("inside", "post_loose"),
            ("inside", "bassbar_loose"),
            ("inside", "bassbar_loose"),
        ];
        let pinned = instrument("violin", "Where", &[], &pins).expect("a drawing").0;
        for x in ["542.6", "509.5", "541.5"] {
            assert!(pinned.contains(&format!("<circle cx=\"{x}\"")), "{x}");
        }
    }

    #[test]
    fn each_cause_has_a_part_in_the_form_of_each_of_its_families() {
        let causes = crate::catalogue::seed::causes().expect("data");
        for cause in &causes {
            for family in cause.families.split(';') {
                let (_, form) = form(family).expect("a form");
                assert!(
                    parts(form).any(|part| part.region == cause.region),
                    "{} {family}",
                    cause.code
                );
            }
        }
        for (form, families) in [(VIOLIN, ["violin", "viola"]), (CELLO, ["cello", "bass"])] {
            for part in parts(form) {
                for own in part.own.split(' ').filter(|own| !own.is_empty()) {
                    let (code, place) = own.split_once(':').expect("a cause and its place");
                    let known = causes.iter().any(|cause| {
                        let here = families.iter().any(|family| cause.in_family(family));
                        cause.code == code && cause.region == part.region && here
                    });
                    assert!(known && point(place).is_some(), "{own}");
                }
            }
        }
    }
}
