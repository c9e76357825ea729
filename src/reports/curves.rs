//! Curves show how many came back by each day after the pickup, with their ranges, and how many are still watched.

use std::fmt::Write;

use crate::page::Markup;
use crate::words::grouped;

use super::curve_names::{escaped, short, wrapped};
use super::figures::survival::{Curve, Watched};
use super::share::TOO_FEW;

/// So many curves stand in one picture; more could not be told apart.
pub const MOST: usize = 4;
/// The days the picture shows: a year, and the seasonal returns after it.
pub const LAST: i64 = 430;

const LEFT: f64 = 52.0;
const TOP: f64 = 14.0;
const TICKS: [i64; 6] = [0, 90, 180, 270, 365, 430];
const SCALES: [f64; 8] = [0.05, 0.1, 0.2, 0.3, 0.4, 0.6, 0.8, 1.0];
/// A line each, so that they are told apart without colour.
const DASHES: [&str; MOST] = ["", "9 5", "2 4", "14 4 2 4"];
const ROW: f64 = 21.0;

/// How large a picture is.
#[derive(Clone, Copy)]
struct Size {
    /// Where the days end; the names stand beyond.
    right: f64,
    floor: f64,
    /// As many letters as have room beside it.
    letters: usize,
}

const LARGE: Size = Size {
    right: 570.0,
    floor: 250.0,
    letters: 28,
};
/// For a place beside another picture.
const SMALL: Size = Size {
    right: 404.0,
    floor: 132.0,
    letters: 24,
};

/// A curve with its name.
pub struct Line<'a> {
    pub name: String,
    pub watched: &'a Watched,
}

/// One day with the share that came back by then, and its range.
struct Step {
    x: f64,
    back: f64,
    range: Option<(f64, f64)>,
}

/// What goes into an `svg.chart` as wide as 860 and as high as [`height`] says.
#[must_use]
pub fn curves(lines: &[Line<'_>]) -> Markup {
    LARGE.curves(lines)
}

/// The same, into one as wide as 680 and as high as [`small_height`] says.
#[must_use]
pub fn small(lines: &[Line<'_>]) -> Markup {
    SMALL.curves(lines)
}

/// How high the picture of so many curves is.
#[must_use]
pub fn height(lines: usize) -> u32 {
    330 + 21 * u32::try_from(lines).unwrap_or(0)
}

/// How high the small picture of so many curves is.
#[must_use]
pub fn small_height(lines: usize) -> u32 {
    200 + 21 * u32::try_from(lines).unwrap_or(0)
}

impl Size {
    fn curves(self, lines: &[Line<'_>]) -> Markup {
        let steps: Vec<(Vec<Step>, f64)> = lines.iter().map(|line| self.steps(line.watched)).collect();
        let ends = steps.iter().flat_map(|line| &line.0);
        let most = ends
            .map(|step| step.range.map_or(step.back, |range| range.1))
            .fold(0.0, f64::max);
        let scale = SCALES.into_iter().find(|scale| most <= *scale).unwrap_or(1.0);
        let mut svg = String::new();
        for (steps, end) in &steps {
            self.band(&mut svg, steps, *end, scale);
        }
        self.axes(&mut svg, scale);
        for ((steps, end), dash) in steps.iter().zip(DASHES) {
            self.line(&mut svg, steps, (*end, scale), dash);
        }
        let mut labels: Vec<(usize, f64)> = steps
            .iter()
            .map(|line| self.height_of(line.0.last().map_or(0.0, |step| step.back), scale))
            .enumerate()
            .collect();
        labels.sort_by(|one, other| one.1.total_cmp(&other.1));
        let names: Vec<Vec<String>> = lines
            .iter()
            .map(|line| wrapped(&line.name, self.letters))
            .collect();
        let high = |at: usize| 17.0 * f64::from(u8::try_from(names[at].len()).unwrap_or(1)) + 3.0;
        let (mut free, mut below) = (TOP, labels.iter().map(|label| high(label.0)).sum::<f64>());
        for (at, own) in labels {
            // Not over another, nor so low that those below it have no room.
            let y = own.max(free).min(self.floor + 30.0 - below);
            (free, below) = (y + high(at), below - high(at));
            self.label(
                &mut svg,
                &names[at],
                DASHES[at.min(MOST - 1)],
                (steps[at].1, own),
                y,
            );
        }
        self.watched(&mut svg, lines);
        Markup(svg)
    }

    fn x_of(self, day: i64) -> f64 {
        let day = f64::from(i32::try_from(day.clamp(0, LAST)).unwrap_or(0));
        let last = f64::from(i32::try_from(LAST).unwrap_or(1));
        LEFT + day / last * (self.right - LEFT)
    }

    fn height_of(self, share: f64, scale: f64) -> f64 {
        self.floor - share / scale * (self.floor - TOP)
    }

    /// The steps of a curve, and where it ends: the last day on which enough are watched to say anything.
    fn steps(self, watched: &Watched) -> (Vec<Step>, f64) {
        let few = u64::try_from(TOO_FEW).unwrap_or(0);
        let end = watched.last_with(few).unwrap_or(0).min(LAST);
        let curve = Curve::of(watched);
        let points = curve.points.iter().take_while(|point| point.day <= end);
        let steps = points.map(|point| Step {
            x: self.x_of(point.day),
            back: 1.0 - point.survival,
            range: point.interval().map(|range| (1.0 - range.high, 1.0 - range.low)),
        });
        (steps.collect(), self.x_of(end))
    }

    fn band(self, svg: &mut String, steps: &[Step], end: f64, scale: f64) {
        let with: Vec<(f64, (f64, f64))> = steps
            .iter()
            .filter_map(|step| Some((step.x, step.range?)))
            .collect();
        let Some(first) = with.first() else { return };
        let mut path = format!("M{:.1} {:.1}", first.0, self.height_of(first.1.1, scale));
        for (x, range) in &with[1..] {
            let _ = write!(path, "H{x:.1}V{:.1}", self.height_of(range.1, scale));
        }
        let _ = write!(path, "H{end:.1}");
        for (x, range) in with.iter().rev() {
            let _ = write!(path, "V{:.1}H{x:.1}", self.height_of(range.0, scale));
        }
        let _ = write!(svg, r#"<path class="band" fill-opacity="0.55" d="{path}Z"/>"#);
    }

    fn line(self, svg: &mut String, steps: &[Step], (end, scale): (f64, f64), dash: &str) {
        let floor = self.floor;
        let mut path = format!("M{LEFT} {floor}");
        for step in steps {
            let _ = write!(path, "H{:.1}V{:.1}", step.x, self.height_of(step.back, scale));
        }
        let _ = write!(
            svg,
            r#"<path class="curve" stroke-dasharray="{dash}" d="{path}H{end:.1}"/>"#
        );
    }

    fn axes(self, svg: &mut String, scale: f64) {
        let Size { right, floor, .. } = self;
        let _ = write!(svg, r#"<path class="axis" d="M{LEFT} {TOP}V{floor}H{right}"/>"#);
        for part in [0.0, 0.5, 1.0] {
            let (y, percent) = (self.height_of(scale * part, scale) + 5.0, scale * part * 100.0);
            let unit = if part > 0.9 { " %" } else { "" };
            let _ = write!(
                svg,
                r#"<text class="muted end" x="46" y="{y:.0}">{percent}{unit}</text>"#
            );
        }
        for day in TICKS {
            let x = self.x_of(day);
            let (words, tick, under) = (
                if day == LAST {
                    format!("{day} days")
                } else {
                    day.to_string()
                },
                self.floor + 5.0,
                self.floor + 22.0,
            );
            let _ = write!(
                svg,
                r#"<path class="axis" d="M{x:.1} {floor}V{tick}"/><text class="mid muted" x="{x:.1}" y="{under}">{words}</text>"#
            );
        }
    }

    /// The name at the end of a curve, with a piece of its line where it had to move away.
    fn label(self, svg: &mut String, name: &[String], dash: &str, (end, own): (f64, f64), y: f64) {
        let _ = write!(
            svg,
            r#"<path class="axis" d="M{end:.1} {own:.1}L{:.1} {y:.1}"/><path class="curve" stroke-dasharray="{dash}" d="M{:.1} {y:.1}h26"/>"#,
            self.right + 34.0,
            self.right + 38.0,
        );
        let mut at = y + 5.0;
        for part in name {
            let _ = write!(
                svg,
                r#"<text x="{:.1}" y="{at:.1}">{}</text>"#,
                self.right + 70.0,
                escaped(part)
            );
            at += 17.0;
        }
    }

    /// How many are still watched when each of the days begins.
    fn watched(self, svg: &mut String, lines: &[Line<'_>]) {
        let mut y = self.floor + 54.0;
        let _ = write!(
            svg,
            r#"<text class="muted" x="{:.1}" y="{y:.0}">still watched</text>"#,
            self.right + 70.0
        );
        let _ = write!(
            svg,
            r#"<path class="axis" d="M{LEFT} {:.0}H{}"/>"#,
            y - 16.0,
            self.right
        );
        for (line, dash) in lines.iter().zip(DASHES) {
            for day in TICKS {
                let n = grouped(line.watched.at_risk(day));
                let _ = write!(
                    svg,
                    r#"<text class="mid" x="{:.1}" y="{:.0}">{n}</text>"#,
                    self.x_of(day),
                    y + ROW - 2.0
                );
            }
            y += ROW;
            let name = escaped(&short(&line.name, self.letters));
            let _ = write!(
                svg,
                r#"<path class="curve" stroke-dasharray="{dash}" d="M{:.1} {:.0}h26"/><text x="{:.1}" y="{:.0}">{name}</text>"#,
                self.right + 38.0,
                y - 7.0,
                self.right + 70.0,
                y - 2.0
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn watched(left: &[(i64, u64, u64)]) -> Watched {
        left.iter().copied().collect()
    }

    #[test]
    fn a_curve_stands_with_its_range_and_those_still_watched() {
        let watched = watched(&[(20, 3, 0), (100, 2, 0), (500, 0, 40)]);
        let svg = curves(&[Line {
            name: "Buzz & <rattle>".into(),
            watched: &watched,
        }])
        .0;
        assert_eq!(
            (
                svg.matches("class=\"band\"").count(),
                svg.matches("class=\"curve\"").count()
            ),
            (1, 3)
        );
        assert!(svg.contains("Buzz &amp; &lt;rattle&gt;") && svg.contains(">45<") && svg.contains(">40<"));
        assert!(!svg.contains("NaN") && !svg.contains("inf"));
    }

    #[test]
    fn nobody_back_is_a_line_along_the_floor_without_a_range() {
        let watched = watched(&[(300, 0, 9)]);
        let svg = curves(&[Line {
            name: "Nut".into(),
            watched: &watched,
        }])
        .0;
        assert!(
            !svg.contains("class=\"band\"") && svg.contains("d=\"M52 250H"),
            "{svg}"
        );
    }

    #[test]
    fn names_at_the_ends_never_stand_on_each_other() {
        let one = watched(&[(20, 3, 40), (430, 0, 40)]);
        let lines = || {
            (0..4)
                .map(|at| Line {
                    name: format!("N{at}"),
                    watched: &one,
                })
                .collect::<Vec<_>>()
        };
        let svg = curves(&lines()).0;
        let labels = svg.split("still watched").next().unwrap_or_default();
        let heights: Vec<f64> = labels
            .split("</text>")
            .filter(|part| part.contains(">N"))
            .filter_map(|part| part.rsplit("y=\"").next()?.split('"').next()?.parse().ok())
            .collect();
        assert_eq!(heights.len(), 4, "{svg}");
        assert!(
            heights.windows(2).all(|pair| (pair[1] - pair[0]).abs() > 17.0),
            "{heights:?}"
        );
    }
}
