//! The header says which cell of a line is what.

use super::nearest::nearest;
use super::table::{Row, name};

/// The columns in the order of the contract; those with `true` cannot be left out.
pub const COLUMNS: [(&str, bool); 15] = [
    ("received_on", true),
    ("collected_on", true),
    ("customer", true),
    ("phone", false),
    ("instrument", true),
    ("family", true),
    ("size", false),
    ("year_made", false),
    ("year_certainty", false),
    ("complaint", false),
    ("answers", false),
    ("confirmed", false),
    ("repaired", false),
    ("minutes", false),
    ("charged", false),
];

/// What each of [`COLUMNS`] holds, for whoever fills it in.
const HOLDS: [(&str, &str); 15] = [
    ("the day it came in", "2019-03-28"),
    (
        "the day it went home; what is still here is taken in at the counter",
        "2019-04-02",
    ),
    ("the name", "Ann Ash"),
    (
        "the number, where there is one: name and number tell customers apart",
        "01 555 0199",
    ),
    (
        "what tells it from the customer’s others, such as its label: the same text, the same instrument",
        "Harrow & Pell",
    ),
    ("violin, viola, cello, bass or bow", "violin"),
    ("as it is said", "4/4 or 16 in"),
    ("four digits", "1924"),
    ("exact, circa or unknown", "circa"),
    ("as it was said", "Buzzes on the open G."),
    (
        "question=answer by the codes of the catalogue, with ; between",
        "onset=sudden",
    ),
    (
        "causes by their codes, with ; between",
        "seam_open_upper;nut_loose",
    ),
    (
        "those of the confirmed that were put right; the column must be there where confirmed is",
        "seam_open_upper",
    ),
    ("all that the visit took", "45"),
    ("all that it cost, with its tax", "58.25"),
];

/// A column, explained.
pub struct Explained {
    pub name: &'static str,
    pub needed: bool,
    pub holds: &'static str,
    pub example: &'static str,
}

/// All columns, in the order of the contract.
#[must_use]
pub fn explained() -> Vec<Explained> {
    let all = COLUMNS.iter().zip(HOLDS);
    all.map(|(column, holds)| Explained {
        name: column.0,
        needed: column.1,
        holds: holds.0,
        example: holds.1,
    })
    .collect()
}

pub fn names() -> [&'static str; 15] {
    COLUMNS.map(|column| column.0)
}

/// Where each of [`COLUMNS`] stands in a line.
pub struct Header {
    places: [Option<usize>; 15],
    cells: usize,
}

impl Header {
    /// Reads the first line, or says all that is wrong with it.
    ///
    /// # Errors
    /// What is wrong, in words.
    pub fn read(row: Option<&Row>) -> Result<Header, Vec<String>> {
        let cells = match row.map(|row| &row.cells) {
            None => return Err(vec!["There is nothing in this file.".into()]),
            Some(Err(broken)) => return Err(vec![broken.words().into()]),
            Some(Ok(cells)) => cells,
        };
        let names: Vec<String> = cells.iter().map(|cell| name(cell)).collect();
        let mut places = [None; 15];
        let mut amiss = Vec::new();
        for (at, name) in names.iter().enumerate() {
            match COLUMNS.iter().position(|column| column.0 == name) {
                Some(column) if places[column].is_none() => places[column] = Some(at),
                Some(_) => amiss.push(format!("The column {name} is there twice. Take one out.")),
                // A table often ends in columns with nothing in them.
                None if name.is_empty() => {}
                None => amiss.push(unknown(name)),
            }
        }
        for (column, place) in COLUMNS.iter().zip(places) {
            if column.1 && place.is_none() {
                amiss.push(format!("The column {} is missing.", column.0));
            }
        }
        let given = |name: &str| names.iter().any(|known| known == name);
        if given("confirmed") && !given("repaired") {
            // Without it nobody could say which came back after a repair.
            amiss.push(
                "The column repaired is missing: it says which of the confirmed were put right.".into(),
            );
        }
        let cells = names.len();
        if amiss.is_empty() {
            Ok(Header { places, cells })
        } else {
            Err(amiss)
        }
    }

    /// The cells of a line in the order of [`COLUMNS`]; a column that the table does not have is empty.
    ///
    /// # Errors
    /// What is wrong with the line, in words.
    pub fn cells<'a>(&self, row: &'a [Vec<u8>]) -> Result<[&'a str; 15], String> {
        let more = row
            .iter()
            .skip(self.cells)
            .any(|cell| !cell.trim_ascii().is_empty());
        if more {
            return Err(format!(
                "There are {} cells in this line, more than the {} of the header. Put quotes around a cell that holds the separator.",
                row.len(),
                self.cells
            ));
        }
        let mut cells = [""; 15];
        for ((cell, place), column) in cells.iter_mut().zip(self.places).zip(names()) {
            let bytes = place.and_then(|at| row.get(at)).map_or(&[][..], Vec::as_slice);
            *cell = std::str::from_utf8(bytes).map_err(|_| {
                format!("{column}: some letters are not UTF-8. Save the table as CSV in UTF-8.")
            })?;
        }
        Ok(cells)
    }
}

fn unknown(name: &str) -> String {
    let short: String = name.chars().take(40).collect();
    match nearest(name, names()) {
        Some(near) => format!("There is no column “{short}”. Perhaps it is {near}."),
        None => format!(
            "There is no column “{short}”. Take it out. The columns are {}.",
            names().join(", ")
        ),
    }
}
