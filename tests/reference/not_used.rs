//! What the tables from outside hold and the program does not use, each with its reason: nothing is left out in silence.

use std::collections::BTreeSet;

use super::rows;

const LIST: &str = include_str!("data/not_used.csv");

/// The statistics of a table that are not used, to be crossed off as its rows are read.
pub struct NotUsed {
    table: &'static str,
    listed: BTreeSet<String>,
    met: BTreeSet<String>,
}

impl NotUsed {
    pub fn of(table: &'static str) -> NotUsed {
        let rows = rows(LIST).into_iter().filter(|row| row.text("table") == table);
        let statistics = rows.map(|row| {
            assert!(!row.text("reason").is_empty());
            row.text("statistic").to_owned()
        });
        NotUsed {
            table,
            listed: statistics.collect(),
            met: BTreeSet::new(),
        }
    }

    /// A row that no test reads must be of one of them.
    pub fn cross_off(&mut self, statistic: &str) {
        assert!(
            self.listed.contains(statistic),
            "{}: {statistic} is neither tested nor said not to be used",
            self.table
        );
        self.met.insert(statistic.to_owned());
    }
}

impl Drop for NotUsed {
    /// What is listed and not there is listed wrongly.
    fn drop(&mut self) {
        if !std::thread::panicking() {
            assert_eq!(self.listed, self.met, "{}", self.table);
        }
    }
}

#[test]
fn every_table_of_the_list_is_read() {
    let tables: BTreeSet<String> = rows(LIST)
        .iter()
        .map(|row| row.text("table").to_owned())
        .collect();
    // Each of them is crossed off in the test that reads the table.
    let read = [
        "association_tests",
        "binomial_intervals",
        "empirical_bayes",
        "poisson_rate_intervals",
        "seasonality_tests",
        "survival_curve",
        "wood_emc_models",
    ];
    assert_eq!(tables, read.map(str::to_owned).into());
}
