//! The table as CSV: a line for each cause in each column, in the order of the page.

use crate::reports::table_csv::{Table, figure, share, text};

use super::Beside;
use super::rows::Part;

const HEAD: &[&str] = &[
    "cause",
    "name",
    "group",
    "told",
    "inspected",
    "confirmed",
    "rate",
    "low",
    "high",
    "too_few",
    "shrunk_rate",
    "p_value",
    "q_value",
];

/// Where there is nothing to tell the line says why, and has no figures.
#[must_use]
pub fn table(told: &Beside) -> Table {
    let lines = told.rows.iter().flat_map(|row| {
        told.columns.iter().zip(&row.parts).map(|(column, part)| {
            let mut line = vec![text(&row.cause), text(&row.name), text(&column.code)];
            match part {
                Part::Told { weighed, shrunk } => {
                    line.push("yes".to_owned());
                    line.extend(share(weighed.share));
                    line.extend([*shrunk, weighed.p_value, weighed.q_value].map(figure));
                }
                Part::NotKept => line.push("not kept there".to_owned()),
                Part::Missed => line.push("cannot be reached".to_owned()),
            }
            line.resize(HEAD.len(), String::new());
            line
        })
    });
    Table::new(HEAD, lines.collect())
}
