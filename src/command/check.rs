//! `purfle check`: whether the shop's books are whole; 1 if anything is amiss.

use clap::Args;
use purfle::admin::check::{self, Checked};
use purfle::admin::data_folder;
use purfle::db::Db;
use purfle::reports::recount::Recount;
use purfle::words::count;

use super::{Place, house};

/// So many figures that are amiss are told one by one.
const TOLD: usize = 20;

#[derive(Args)]
pub struct Check {
    #[command(flatten)]
    place: Place,
}

pub async fn run(check: Check) -> anyhow::Result<()> {
    check.place.is_one()?;
    if check.place.database.is_none() {
        data_folder::fits(&check.place.data).await?;
    }
    let db: Db = house::visit(&check.place).await?;
    let checked = check::check(&db).await?;
    db.close().await;
    for line in said(&checked) {
        println!("{line}");
    }
    anyhow::ensure!(
        checked.is_well(),
        "Something is amiss. Keep a copy of the folder as it is before anything is mended."
    );
    println!("All is well.");
    Ok(())
}

fn said(checked: &Checked) -> Vec<String> {
    let mut lines = Vec::new();
    match checked.file.as_deref() {
        None => lines.push("PostgreSQL looks after its own files; they were not looked at.".to_owned()),
        Some([]) => lines.push("The database file is sound.".to_owned()),
        Some(amiss) => {
            lines.push("The database file is damaged:".to_owned());
            lines.extend(few(amiss.iter().cloned()));
        }
    }
    if checked.astray.is_empty() {
        lines.push("Every row finds those it names.".to_owned());
    } else {
        let rows = i64::try_from(checked.astray.len()).unwrap_or(i64::MAX);
        lines.push(format!(
            "{} that is not there:",
            count(rows, "row names another", "rows name another")
        ));
        lines.extend(few(checked.astray.iter().cloned()));
    }
    lines.extend(checked.recounts.iter().flat_map(counted));
    lines
}

fn counted(recount: &Recount) -> Vec<String> {
    let number = |n: usize| i64::try_from(n).unwrap_or(i64::MAX);
    let figures = count(number(recount.figures), "figure", "figures");
    let words = recount.words;
    if recount.amiss.is_empty() {
        return vec![format!("Recounted: {words}: {figures}, all as kept.")];
    }
    let amiss = count(number(recount.amiss.len()), "is", "are");
    let mut lines = vec![format!("Recounted: {words}: {figures}, {amiss} amiss:")];
    lines.extend(few(recount
        .amiss
        .iter()
        .map(purfle::reports::recount::Amiss::said)));
    lines
}

/// The first few, and how many more there are.
fn few(all: impl ExactSizeIterator<Item = String>) -> Vec<String> {
    let more = all.len().saturating_sub(TOLD);
    let mut lines: Vec<String> = all.take(TOLD).map(|line| format!("  {line}")).collect();
    if more > 0 {
        lines.push(format!("  and {more} more"));
    }
    lines
}
