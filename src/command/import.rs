//! `purfle import`: what a shop brings with it. Each line is taken, or told why not with its number.

use std::fs::File;
use std::io::IsTerminal;
use std::path::PathBuf;

use anyhow::{Context, bail};
use clap::{Args, Subcommand};
use indicatif::{ProgressBar, ProgressStyle};
use purfle::clock::Clock;
use purfle::old_book::{self, Book, Brought, News};
use purfle::words::count;

use super::{Place, house};

#[derive(Args)]
pub struct Import {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand)]
enum What {
    History(History),
}

/// Bring in the history that the shop kept on paper or in a spreadsheet, a line for each visit.
///
/// FILE is CSV in UTF-8. Its first line names the columns, in any order: received_on, collected_on, customer, phone,
/// instrument, family, size, year_made, year_certainty, complaint, answers (question=answer;..), confirmed (cause;..),
/// repaired (cause;..), minutes, charged. Those that cannot be left out are received_on, collected_on, customer,
/// instrument and family. A line that was brought in before is left as it is.
#[derive(Args)]
struct History {
    #[arg(value_name = "FILE.csv")]
    file: PathBuf,
    /// Take the lines that are right even if others are not.
    #[arg(long)]
    keep_good: bool,
    /// Only say which lines are right and which are not; nothing is stored.
    #[arg(long, conflicts_with = "keep_good")]
    dry: bool,
    #[command(flatten)]
    place: Place,
}

pub async fn run(import: Import) -> anyhow::Result<()> {
    let What::History(history) = import.what;
    let path = &history.file;
    let file = File::open(path).with_context(|| format!("{} cannot be opened", path.display()))?;
    let about = file.metadata()?;
    if !about.is_file() {
        bail!(
            "{} is not a file. It is read more than once, so it cannot come through a pipe.",
            path.display()
        );
    }
    let db = house::visit(&history.place).await?;
    let book = Book {
        open: || File::open(path),
        bytes: about.len(),
        by: "purfle import",
        now: Clock::default().now(),
        keep_good: history.keep_good,
        dry: history.dry,
    };
    let bar = bar()?;
    let brought = old_book::bring(&db, &book, |news| match news {
        News::Amiss { line, column, words } => bar.suspend(|| eprintln!("{}", said(line, &column, &words))),
        News::Done { part, of } => {
            bar.set_length(of);
            bar.set_position(part);
        }
    })
    .await;
    bar.finish_and_clear();
    db.close().await;
    let brought = brought?;
    for line in told(&brought) {
        println!("{line}");
    }
    judged(&brought, history.keep_good)
}

/// Quiet where nobody looks: in a pipe or a log.
fn bar() -> anyhow::Result<ProgressBar> {
    let bar = if std::io::stderr().is_terminal() {
        ProgressBar::new(0)
    } else {
        ProgressBar::hidden()
    };
    bar.set_style(ProgressStyle::with_template("{bar:32} {percent} %, {eta} to go")?);
    Ok(bar)
}

fn said(line: u64, column: &str, words: &str) -> String {
    if column.is_empty() {
        format!("line {line}: {words}")
    } else {
        format!("line {line}, {column}: {words}")
    }
}

fn told(brought: &Brought) -> Vec<String> {
    let mut lines = Vec::new();
    if brought.taken > 0 {
        lines.push(format!(
            "Brought in: {}, {} and {} new.",
            count(brought.taken, "visit", "visits"),
            count(brought.customers, "customer", "customers"),
            count(brought.instruments, "instrument", "instruments")
        ));
    }
    if brought.right > 0 && brought.taken == 0 {
        let right = count(brought.right, "line is", "lines are");
        lines.push(format!("{right} right. Nothing was stored."));
    }
    if brought.there > 0 {
        let lines_there = count(brought.there, "line was", "lines were");
        lines.push(format!("{lines_there} brought in before and left as before."));
    }
    if brought.twice > 0 {
        let said = count(brought.twice, "line says", "lines say");
        lines.push(format!("{said} the same as an earlier one, and counted once."));
    }
    if brought.right + brought.there + brought.twice + brought.amiss == 0 {
        lines.push("There is no visit in this file.".into());
    }
    lines
}

fn judged(brought: &Brought, keep_good: bool) -> anyhow::Result<()> {
    if brought.amiss == 0 {
        return Ok(());
    }
    let amiss = count(brought.amiss, "line is", "lines are");
    if keep_good {
        bail!(
            "{amiss} not right and not brought in. Set them right, and bring the file in again: no other line comes in twice."
        );
    }
    bail!(
        "{amiss} not right, so nothing was stored. Set them right, or take the others alone with --keep-good."
    );
}
