//! The pictures of the month: each dot, line and bar is as high or as long as its row of the CSV says.

use super::shown::between;
use super::{Asked, Row, figure};

/// The rate of a row that is drawn; where there are too few, nothing is.
fn rate(row: &Row) -> Option<f64> {
    figure(row, "rate").filter(|_| row["too_few"] == "no")
}

fn number(written: &str) -> f64 {
    written.parse().unwrap_or_else(|_| panic!("a number: {written}"))
}

/// How high each dot stands.
fn dots(svg: &str) -> Vec<f64> {
    let dots = between(svg, "<circle class=\"dot\"", "/>");
    dots.flat_map(|dot| between(dot, "cy=\"", "\""))
        .map(number)
        .collect()
}

fn near(what: &str, drawn: &[f64], due: &[f64]) {
    let near = drawn.len() == due.len()
        && drawn
            .iter()
            .zip(due)
            .all(|(drawn, due)| (drawn - due).abs() <= 0.06);
    assert!(near, "{what}: drawn {drawn:?}, due {due:?}");
}

/// The dots of this year and the thin lines of those before, from 170 at nought up to 12 at the top of the scale.
pub async fn course(of: &Asked<'_>) {
    let csv = of.csv("course").await;
    let figure = between(&of.page.body, "<figure id=\"course\"", "</figure>")
        .next()
        .expect("the course");
    let top: f64 = between(figure, "<text class=\"muted end\"", "</text>")
        .filter_map(|text| text.split('>').nth(1)?.strip_suffix(" %"))
        .map(number)
        .fold(0.0, f64::max);
    let height = |rate: f64| 170.0 - rate / (top / 100.0) * 158.0;
    let line = |back: &'static str| csv.iter().filter(move |row| row["years_before"] == back);
    let due: Vec<f64> = line("0").filter_map(rate).map(height).collect();
    near(&of.query, &dots(figure), &due);
    let mut lines = between(figure, "<path class=\"faint\" d=\"", "\"");
    for back in ["1", "2", "3", "4"] {
        let due: Vec<f64> = line(back).filter_map(rate).map(height).collect();
        if due.is_empty() {
            continue;
        }
        let path = lines.next().expect("a line");
        let points = path
            .split(['M', 'L'])
            .skip(1)
            .filter_map(|point| point.split(' ').nth(1));
        near(&of.query, &points.map(number).collect::<Vec<_>>(), &due);
    }
    assert!(lines.next().is_none(), "a line without a row: {}", of.query);
    let counts = line("0").filter(|row| row["inspected"] != "0").count();
    assert_eq!(figure.matches(">of ").count(), counts);
}

/// The dots by age, from 62 at nought up to 4 at the top of the scale, which all panels share.
pub async fn panels(of: &Asked<'_>) {
    let csv = of.csv("ages").await;
    let scale = between(&of.page.body, "full height: ", "%")
        .next()
        .expect("a scale");
    let top = number(scale.trim_matches(|sign: char| !sign.is_ascii_digit()));
    let panels = between(&of.page.body, "<figure class=\"panel\">", "</figure>");
    let mut drawn = 0;
    for panel in panels {
        let name = super::plain(
            panel
                .split("<figcaption>")
                .nth(1)
                .and_then(|words| words.split("</figcaption>").next())
                .expect("a name"),
        );
        let cause = csv
            .iter()
            .filter(|row| name == row["name"] || name.starts_with(&format!("{} with age:", row["name"])));
        let due: Vec<f64> = cause
            .filter_map(rate)
            .map(|rate| 62.0 - rate / (top / 100.0) * 58.0)
            .collect();
        near(&format!("{name} {}", of.query), &dots(panel), &due);
        drawn += due.len();
    }
    assert!(drawn > 0, "nothing was drawn: {}", of.query);
}

/// The bars, 99 long at the top of their scale.
pub async fn bars(of: &Asked<'_>) {
    let csv = of.csv("causes").await;
    let words = between(&of.page.body, "the full width is ", "%").next();
    let Some(scale) = words else {
        assert!(csv.iter().all(|row| row["too_few"] == "yes"), "{}", of.query);
        return;
    };
    let top = number(scale.trim_matches(|sign: char| !sign.is_ascii_digit()));
    let bars = between(&of.page.body, "<rect class=\"bar-fill\"", "/>");
    let drawn: Vec<f64> = bars
        .flat_map(|bar| between(bar, "width=\"", "\""))
        .map(number)
        .collect();
    let due: Vec<f64> = csv
        .iter()
        .filter_map(rate)
        .map(|rate| rate / (top / 100.0) * 99.0)
        .collect();
    near(&of.query, &drawn, &due);
}
