//! The sentences above the table: how many there are of each, and what stands out, made from the figures and true at any size.

use crate::reports::sentence::Piece;
use crate::reports::sentences::listed;
use crate::reports::weigh::Way;
use crate::words::{count, grouped};

use super::Beside;
use super::rows::{Column, Part, Row};

/// The part of the page that they lead to.
const TABLE: &str = "beside";

/// At most three: what was inspected, what turns up more often somewhere, and what more seldom.
#[must_use]
pub fn sentences(told: &Beside) -> Vec<Piece> {
    let mut sentences = vec![inspected(told)];
    if told.inspected() == 0 || told.columns.iter().filter_map(Column::inspected).count() < 2 {
        return sentences;
    }
    let mut marked = told.rows.iter().filter(|row| row.is_marked());
    let of = |row: &Row, way: Way| stands_out(told, row, way);
    let more: Vec<(&str, Piece)> = told
        .rows
        .iter()
        .filter_map(|row| Some((row.cause.as_str(), of(row, Way::More)?)))
        .take(2)
        .collect();
    let first = more.first().map(|more| more.0);
    let seldom = told
        .rows
        .iter()
        .filter(|row| Some(row.cause.as_str()) != first)
        .find_map(|row| of(row, Way::Less));
    let mut more = more.into_iter().map(|more| more.1);
    sentences.extend(more.next());
    sentences.extend(seldom.or_else(|| more.next()));
    if marked.next().is_none() {
        sentences.push(Piece {
            part: TABLE,
            lead: "Nothing stands out".to_owned(),
            rest: ": what differs is no more than chance explains, or too few were inspected to say."
                .to_owned(),
        });
    }
    sentences
}

fn inspected(told: &Beside) -> Piece {
    let (all, within) = (told.inspected(), told.span.within());
    if all == 0 {
        return Piece {
            part: TABLE,
            lead: String::new(),
            rest: format!("Nothing received {within} was inspected."),
        };
    }
    let parts: Vec<String> = told
        .columns
        .iter()
        .filter_map(|column| {
            let digits = match column.inspected()? {
                ..=0 => "none".to_owned(),
                n => grouped(n.unsigned_abs()),
            };
            Some(format!("{digits}{}", column.on))
        })
        .collect();
    let were = if all == 1 { "was" } else { "were" };
    let parts = if parts.len() > 1 {
        format!(": {}", listed(&parts))
    } else {
        String::new()
    };
    Piece {
        part: TABLE,
        lead: count(all, "order", "orders"),
        rest: format!(" received {within} {were} inspected{parts}."),
    }
}

/// Of the columns in which the cause is marked that way, the one in which most of it is to be expected, or least.
fn stands_out(told: &Beside, row: &Row, way: Way) -> Option<Piece> {
    let marked = told
        .columns
        .iter()
        .zip(&row.parts)
        .filter(|(_, part)| part.way() == Some(way));
    let expected = |part: &Part| part.expected().unwrap_or_default();
    let (column, part) = marked.reduce(|one, other| {
        let further = match way {
            Way::More => expected(other.1) > expected(one.1),
            Way::Less => expected(other.1) < expected(one.1),
        };
        if further { other } else { one }
    })?;
    let weighed = part.weighed()?;
    let (share, elsewhere) = (weighed.share, weighed.elsewhere());
    let often = match way {
        Way::More => "turns up more often",
        Way::Less => "is more seldom",
    };
    Some(Piece {
        part: TABLE,
        lead: format!("{} {often}{}", row.name, column.on),
        rest: format!(
            ": {} ({}, between {}), elsewhere {} ({}).",
            share.counts(),
            share.percent(),
            share.range().replace("to", "and"),
            elsewhere.counts(),
            elsewhere.percent()
        ),
    })
}
