//! Figures from outside the project, read from data/: standards, papers and general-purpose libraries, each row with its
//! source. `published_*` is what the literature prints, `computed_*` what the library or the arithmetic named there gives.

mod age_and_season;
mod association;
pub mod code;
mod interval;
mod money;
mod not_used;
mod ranking;
mod sanity;
mod sanity_even;
mod season;
mod shrink;
mod survival;
mod tag;
mod wood;

use std::collections::HashMap;

/// One row of a table, by the names of its columns.
pub struct Row(HashMap<String, String>);

/// All rows of a table; a table without rows checks nothing and is refused.
pub fn rows(table: &str) -> Vec<Row> {
    let read: Result<Vec<_>, _> = csv::Reader::from_reader(table.as_bytes()).deserialize().collect();
    let rows: Vec<Row> = read.unwrap().into_iter().map(Row).collect();
    assert!(!rows.is_empty());
    rows
}

impl Row {
    pub fn text(&self, column: &str) -> &str {
        self.0.get(column).unwrap_or_else(|| panic!("no column {column}"))
    }

    /// Nothing where the cell is blank: nothing was published.
    pub fn number<N: std::str::FromStr>(&self, column: &str) -> Option<N> {
        let text = self.text(column);
        let read = || text.parse().unwrap_or_else(|_| panic!("{column}: {text}"));
        (!text.is_empty()).then(read)
    }

    /// Which row failed, and who says so.
    pub fn source(&self) -> String {
        let case = self.0.get("case_id").map_or("", String::as_str);
        format!("{case} [{}: {}]", self.text("provenance"), self.text("source"))
    }
}

/// Fails unless a figure is what was published or computed elsewhere; a cell that is blank says nothing.
pub fn near(ours: f64, theirs: Option<f64>, tolerance: f64, source: &str) {
    if let Some(theirs) = theirs {
        assert!(
            (ours - theirs).abs() <= tolerance,
            "{ours} here, {theirs} there: {source}"
        );
    }
}
