//! `purfle demo`: an invented shop with a history, filled into an empty database and served, with keys to its door.

use std::io::{IsTerminal, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

use anyhow::{Context, bail};
use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};
use purfle::admin::data_folder::SIGN_IN;
use purfle::admin::private;
use purfle::clock::{Clock, Day};
use purfle::demo::{self, Found, Wish, shop};
use purfle::staff::sign_in;
use purfle::words;

use super::{house, serve};

/// Serve an invented shop, filling an empty database with its history first.
///
/// The same seed, day and number of orders give the same history; only the passwords differ. Six years of it, or fewer
/// when there are fewer than 6,000 orders. A demo that is there already is served as it is.
#[derive(Args)]
pub struct Demo {
    /// How many orders; 0 is the shop, its staff and its catalogue alone.
    #[arg(long, value_name = "N", default_value_t = 12_000, value_parser = clap::value_parser!(u64).range(0..=5_000_000))]
    orders: u64,
    #[arg(long, value_name = "S", default_value_t = 1, value_parser = clap::value_parser!(u64).range(0..=9_223_372_036_854_775_807))]
    seed: u64,
    /// The day the history ends, at ten in the morning; by default the newest that is over. Given, the shop's clock
    /// starts there and runs on, so that the shop stands as it was that morning; otherwise it is the real one.
    #[arg(long, value_name = "DATE", value_parser = day)]
    as_of: Option<Day>,
    /// Fill the database, and do not serve it.
    #[arg(long)]
    fill_only: bool,
    #[command(flatten)]
    serve: serve::Serve,
}

fn day(text: &str) -> Result<Day, String> {
    let day = Day::parse(text).filter(|day| (1985..2190).contains(&day.year()));
    day.ok_or_else(|| "a day is written like 2026-02-20".to_owned())
}

pub async fn run(demo: Demo) -> anyhow::Result<()> {
    if !demo.fill_only {
        serve::may_listen(&demo.serve).await?;
    }
    let house = house::open(&demo.serve.place).await?;
    let data = &demo.serve.place.data;
    let wish = Wish {
        seed: demo.seed,
        orders: demo.orders,
        as_of: demo.as_of.unwrap_or_else(|| demo::newest_end(&Clock::default())),
    };
    let kept = match demo::look(&house.db).await? {
        Found::Demo(kept) => kept,
        Found::Shop => bail!(
            "A real shop is in this database; the demo fills only an empty one. Give it a folder of its own with --data, \
             or another database with --database."
        ),
        found => {
            if found == Found::Half {
                eprintln!("Filling this demo broke off the last time. It is begun anew.");
            }
            let people = new_keys(data)?;
            fill(&house, wish, people).await?;
            wish
        }
    };
    if let Some(folder) = &house.folder {
        folder.settle(&house.db).await?;
    }
    let lines = said(data, kept, kept != wish);
    if demo.fill_only {
        for line in lines {
            println!("{line}");
        }
        house.db.close().await;
        return Ok(());
    }
    let clock = demo
        .as_of
        .map_or_else(Clock::default, |day| Clock::starting_at(demo::end_of(day)));
    serve::serve_house(demo.serve, house, clock, &lines).await
}

/// Passwords for everybody, written down for the owner of the folder alone; their hashes in the order of the people.
fn new_keys(data: &Path) -> anyhow::Result<Vec<String>> {
    private::folder(data).with_context(|| format!("The folder {} cannot be made", data.display()))?;
    let path = data.join(SIGN_IN);
    // A new file, so that nobody who may read an old one reads this.
    if path.exists() {
        std::fs::remove_file(&path)?;
    }
    let mut file = std::fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(&path)
        .with_context(|| format!("{} cannot be written", path.display()))?;
    let mut hashes = Vec::new();
    for (name, roles, _) in shop::PEOPLE {
        let password = shop::password()?;
        writeln!(file, "{name}\t{roles}\t{password}")?;
        hashes.push(sign_in::hash_password(&password)?);
    }
    file.sync_all()?;
    Ok(hashes)
}

async fn fill(house: &house::House, wish: Wish, hashes: Vec<String>) -> anyhow::Result<()> {
    // Quiet where nobody looks: in a pipe or a log.
    let bar = if std::io::stderr().is_terminal() {
        ProgressBar::new(wish.orders)
    } else {
        ProgressBar::hidden()
    };
    bar.set_style(ProgressStyle::with_template(
        "{bar:32} {human_pos} of {human_len} orders, {eta} to go",
    )?);
    demo::fill(&house.db, wish, &hashes, |written| bar.set_position(written)).await?;
    bar.finish_and_clear();
    Ok(())
}

fn said(data: &Path, kept: Wish, other: bool) -> Vec<String> {
    let orders = words::count(i64::try_from(kept.orders).unwrap_or(i64::MAX), "order", "orders");
    let mut lines = vec![format!(
        "An invented shop: {orders} up to {}, seed {}.",
        kept.as_of.with_year(),
        kept.seed
    )];
    if other {
        lines.push(
            "It was here already and is served as it is; another needs a folder of its own (--data).".into(),
        );
    }
    let path = data.join(SIGN_IN);
    match std::fs::read_to_string(&path) {
        Ok(people) => {
            lines.push(format!("Sign in as one of these (also in {}):", path.display()));
            for person in people.lines() {
                let mut parts = person.split('\t');
                let mut part = || parts.next().unwrap_or_default();
                lines.push(format!("  {:<20} {:<14} {}", part(), part(), part()));
            }
        }
        Err(_) => lines.push(format!(
            "The passwords are not in {} any more; `purfle staff password --name \"{}\"` gives a new one.",
            path.display(),
            shop::PEOPLE[0].0
        )),
    }
    lines
}
