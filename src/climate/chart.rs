//! The picture of a year: where the wood was going from day to day, what earlier years had, and where nobody looked.

use std::fmt::Write;

use crate::clock::Day;
use crate::page::Markup;

use super::course::{Course, DAMP, DRY};
use super::wood::moisture;

/// So many days are drawn.
pub const DAYS: i64 = 365;
const LEFT: f64 = 46.0;
const RIGHT: f64 = 588.0;
const TOP: f64 = 14.0;
const FLOOR: f64 = 256.0;
/// The air of 40 and 60 % is drawn for a room of this warmth.
pub const ROOM: f64 = 20.0;

struct Frame {
    from: Day,
    to: Day,
    least: f64,
    most: f64,
}

#[expect(clippy::cast_precision_loss, reason = "days of a year")]
fn of(days: i64) -> f64 {
    days as f64
}

impl Frame {
    fn x(&self, day: Day) -> f64 {
        LEFT + of(day.0 - self.from.0) / of((self.to.0 - self.from.0).max(1)) * (RIGHT - LEFT)
    }

    fn y(&self, percent: f64) -> f64 {
        FLOOR - (percent - self.least) / (self.most - self.least) * (FLOOR - TOP)
    }
}

/// What goes into an `svg.chart` of 680 by 290: the year up to a day.
#[must_use]
pub fn year(course: &Course, today: Day) -> Markup {
    let from = today.plus(1 - DAYS);
    let runs = course.runs(from, today);
    let band = band(course, from, today);
    let drawn = runs.iter().flatten().map(|point| point.1);
    let ends = band.iter().flatten().flat_map(|point| [point.1, point.2]);
    let room = [moisture(ROOM, DRY), moisture(ROOM, DAMP)];
    let all = || drawn.clone().chain(ends.clone()).chain(room);
    let frame = Frame {
        from,
        to: today,
        least: (all().fold(f64::MAX, f64::min) / 2.0 - 0.1).floor().max(0.0) * 2.0,
        most: (all().fold(f64::MIN, f64::max) / 2.0 + 0.1).ceil() * 2.0,
    };
    let mut svg = String::new();
    for run in &band {
        let over = run.iter().map(|point| (frame.x(point.0), frame.y(point.2)));
        let under = run.iter().rev().map(|point| (frame.x(point.0), frame.y(point.1)));
        let _ = write!(svg, r#"<path class="band" d="{}Z"/>"#, path(over.chain(under)));
    }
    gaps(&mut svg, &frame, course);
    axes(&mut svg, &frame);
    for run in &runs {
        let points = run.iter().map(|point| (frame.x(point.0), frame.y(point.1)));
        match run.as_slice() {
            [(day, percent)] => {
                let (x, y) = (frame.x(*day), frame.y(*percent));
                let _ = write!(svg, r#"<circle class="dot" cx="{x:.1}" cy="{y:.1}" r="4"/>"#);
            }
            _ => {
                let _ = write!(svg, r#"<path class="curve" d="{}"/>"#, path(points));
            }
        }
    }
    Markup(svg)
}

fn path(points: impl Iterator<Item = (f64, f64)>) -> String {
    let mut path = String::new();
    for (x, y) in points {
        let _ = write!(path, "{}{x:.1} {y:.1}", if path.is_empty() { 'M' } else { 'L' });
    }
    path
}

/// The least and the most of earlier years, every few days, in runs.
fn band(course: &Course, from: Day, to: Day) -> Vec<Vec<(Day, f64, f64)>> {
    let mut runs = vec![Vec::new()];
    for at in (from.0..=to.0).step_by(4).chain([to.0]) {
        match course.earlier(Day(at)) {
            Some((least, most)) => {
                if let Some(run) = runs.last_mut() {
                    run.push((Day(at), least, most));
                }
            }
            None => runs.push(Vec::new()),
        }
    }
    runs.retain(|run| run.len() > 1);
    runs
}

/// Hatched, so that they are not taken for the band where all is grey, with the words in it where there is room; the sentence
/// beside the picture says the days.
fn gaps(svg: &mut String, frame: &Frame, course: &Course) {
    svg.push_str(r#"<pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse"><path class="hatch" d="M-1 1L1 -1M0 7L7 0M6 8L8 6"/></pattern>"#);
    for gap in course.gaps(frame.from, frame.to) {
        let (left, right) = (frame.x(gap.from), frame.x(gap.to));
        let (width, height, middle) = (right - left, FLOOR - TOP, f64::midpoint(left, right));
        let _ = write!(
            svg,
            r#"<rect class="gap" x="{left:.1}" y="{TOP}" width="{width:.1}" height="{height}"/><rect fill="url(#hatch)" x="{left:.1}" y="{TOP}" width="{width:.1}" height="{height}"/>"#
        );
        if width > 14.0 {
            let (x, y) = (middle + 5.0, f64::midpoint(TOP, FLOOR));
            let _ = write!(
                svg,
                r#"<text class="mid over" transform="translate({x:.1} {y:.1}) rotate(-90)">no readings</text>"#
            );
        }
    }
}

fn axes(svg: &mut String, frame: &Frame) {
    let _ = write!(svg, r#"<path class="axis" d="M{LEFT} {FLOOR}H{RIGHT}"/>"#);
    let mut percent = frame.least;
    while percent <= frame.most + 0.1 {
        let y = frame.y(percent) + 5.0;
        let unit = if percent + 2.0 > frame.most { " %" } else { "" };
        let _ = write!(
            svg,
            r#"<text class="muted end" x="40" y="{y:.0}">{percent:.0}{unit}</text>"#
        );
        percent += 2.0;
    }
    for (humidity, words) in [(DRY, "air of 40 %"), (DAMP, "air of 60 %")] {
        let y = frame.y(moisture(ROOM, humidity));
        let (text, x) = (y + 5.0, RIGHT + 8.0);
        let _ = write!(
            svg,
            r#"<path class="axis dashed" d="M{LEFT} {y:.1}H{RIGHT}"/><text class="muted" x="{x:.0}" y="{text:.0}">{words}</text>"#
        );
    }
    let (mut month, last) = (frame.from.month(), frame.to.month());
    while month <= last {
        let (begins, ends) = (month.first_day().max(frame.from), month.last_day().min(frame.to));
        let x = frame.x(begins);
        if month.first_day() >= frame.from {
            let tick = FLOOR + 6.0;
            let _ = write!(svg, r#"<path class="axis" d="M{x:.1} {FLOOR}V{tick}"/>"#);
        }
        if ends.0 - begins.0 >= 14 {
            let middle = f64::midpoint(x, frame.x(ends));
            let name = month.to_string();
            let _ = write!(
                svg,
                r#"<text class="mid" x="{middle:.0}" y="278">{}</text>"#,
                &name[..3]
            );
        }
        month = month.plus(1);
    }
}
