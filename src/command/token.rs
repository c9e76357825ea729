//! `purfle token`: keys for programs that use the API.

use anyhow::Context;
use clap::{Args, Subcommand};
use purfle::admin::shop::Shop;
use purfle::api::token;
use purfle::clock::{Clock, Day, Moment};
use purfle::db::Db;

use super::off::{self, off};
use super::{Place, house};

#[derive(Args)]
pub struct Token {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand)]
enum What {
    /// Make a token and print it, this once.
    Add {
        /// Whose it is, such as the program's name.
        #[arg(long)]
        name: String,
        /// What the program may do: the same as a person of that part.
        #[arg(long, value_parser = ["counter", "bench", "owner"])]
        role: String,
        /// The last day it works, such as 2027-12-31.
        #[arg(long, value_name = "DATE", value_parser = off::day)]
        expires: Option<Day>,
        #[command(flatten)]
        place: Place,
    },
}

pub async fn run(token: Token) -> anyhow::Result<()> {
    let What::Add {
        name,
        role,
        expires,
        place,
    } = token.what;
    if name.trim().is_empty() || name.chars().count() > 80 {
        return Err(off(
            "Give the token a name (--name) of at most 80 letters, such as the program's.",
        ));
    }
    let db = house::visit(&place).await?;
    let now = Clock::default().now();
    let expires = match expires {
        None => None,
        Some(day) => Some(end_of(&db, day, now).await?),
    };
    let token = token::add(&db, name.trim(), &role, expires, now).await?;
    db.close().await;
    println!("{token}");
    Ok(())
}

/// When a token ends whose last day this is.
async fn end_of(db: &Db, day: Day, now: Moment) -> anyhow::Result<Moment> {
    let shop = Shop::find(db)
        .await?
        .context("The shop is not set up yet, so it is not known when its days end. Leave --expires out.")?;
    let today = shop.today(now);
    if day < today {
        return Err(off(format!(
            "A token that ended on {} would open nothing. The last day it works (--expires) is {} at the earliest.",
            day.with_year(),
            today.with_year()
        )));
    }
    Ok(shop.zone().start(day.plus(1)))
}
