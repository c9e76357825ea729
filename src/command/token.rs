//! `purfle token`: keys for programs that use the API.

use anyhow::{Context, bail};
use clap::{Args, Subcommand};
use purfle::admin::shop::Shop;
use purfle::api::token;
use purfle::clock::{Clock, Day};

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
        #[arg(long)]
        name: String,
        #[arg(long, value_parser = ["counter", "bench", "owner"])]
        role: String,
        /// The last day it works, such as 2027-12-31.
        #[arg(long, value_name = "DATE")]
        expires: Option<String>,
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
        bail!("Give the token a name of at most 80 letters, such as the program's.");
    }
    let db = house::visit(&place).await?;
    let expires = match expires {
        None => None,
        Some(text) => {
            let day = Day::parse(&text).context("A day is written like 2027-12-31.")?;
            Some(Shop::get(&db).await?.zone().start(day.plus(1)))
        }
    };
    println!(
        "{}",
        token::add(&db, name.trim(), &role, expires, Clock::default().now()).await?
    );
    db.close().await;
    Ok(())
}
