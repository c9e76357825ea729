//! `purfle serve`: the shop on an address, until it is told to stop.

use std::io::IsTerminal;

use anyhow::Context;
use clap::Args;
use purfle::admin::set_up::Link;
use purfle::admin::shop::Shop;
use purfle::app::App;
use purfle::clock::Clock;
use purfle::demo::{self, Found};
use purfle::old_book::desk;
use purfle::reports::{new_bands, sister};
use purfle::serve::Patience;
use purfle::staff::session;
use tokio::net::TcpListener;
use tracing_subscriber::EnvFilter;
use tracing_subscriber::util::SubscriberInitExt;

use super::{Place, also, house, off, reach};

#[derive(Args, Clone)]
pub struct Serve {
    #[command(flatten)]
    pub place: Place,
    /// Where to listen.
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:8080", value_parser = off::listen)]
    pub listen: String,
    /// The address people reach it at, printed in codes; by default the one listened at, or this machine's own.
    #[arg(long, value_name = "URL", env = "PURFLE_ADDRESS", value_parser = off::address)]
    pub address: Option<String>,
    /// Another shop of the house, whose counts the owner may put beside this one's: its name and its data folder or
    /// database. May be said again; in the environment, one a line.
    #[arg(long, value_name = "NAME=SHOP", env = "PURFLE_ALSO", hide_env_values = true)]
    pub also: Vec<String>,
    /// Logs for people or for programs.
    #[arg(long, value_name = "KIND", default_value = "text", value_parser = ["text", "json"])]
    pub log: String,
}

pub async fn run(serve: Serve) -> anyhow::Result<()> {
    may_listen(&serve).await?;
    let house = house::open(&serve.place).await?;
    serve_house(serve, house, Clock::default(), &[]).await
}

/// A folder that is not there yet is not made for nothing: whether it can be served at all is tried before.
pub async fn may_listen(serve: &Serve) -> anyhow::Result<()> {
    also::named(&serve.also)?;
    if serve.place.database.is_none() && !serve.place.data.exists() {
        listen(&serve.listen).await?;
    }
    Ok(())
}

async fn listen(at: &str) -> anyhow::Result<TcpListener> {
    TcpListener::bind(at).await.with_context(|| {
        format!("{at} cannot be listened at. Is something else there? Choose another with --listen")
    })
}

/// Serves an open house, after some lines for whoever started it.
pub async fn serve_house(
    serve: Serve,
    house: house::House,
    clock: Clock,
    lines: &[String],
) -> anyhow::Result<()> {
    log_to_stderr(&serve.log);
    let listener = listen(&serve.listen).await?;
    let address = match &serve.address {
        Some(address) => address.clone(),
        None => reach::address(listener.local_addr()?),
    };
    let db = house.db.clone();
    anyhow::ensure!(
        demo::look(&db).await? != Found::Half,
        "An invented shop was being filled into this database and that broke off, so it is not served. `purfle demo` \
         begins it anew; or choose another folder with --data."
    );
    let folder = serve.place.data.clone();
    let sisters = also::sisters(&serve.also)?;
    let app = App::in_folder(house.db.clone(), clock, address.clone(), folder, sisters);
    desk::tidy(&app).await?;
    if !app.secure() && !listener.local_addr()?.ip().is_loopback() {
        println!(
            "Without https everybody on this network can read along. Use it in a shop's own network only, or put https \
             in front and name its address with --address."
        );
    }
    println!("The shop is open at {address}/");
    if !listener.local_addr()?.ip().is_loopback() {
        println!(
            "The codes on tags lead there. If the tablets reach it by another address, name that with --address."
        );
    }
    if Shop::find(&db).await?.is_none() {
        let code = session::secret()?;
        *app.set_up_link
            .lock()
            .map_err(|_| anyhow::anyhow!("the set-up link is out of reach"))? =
            Some(Link::new(&code, app.clock.now()));
        println!(
            "It is not set up yet. Open this in a browser, once and within a day: {address}/set-up/{code}"
        );
    }
    for line in lines {
        println!("{line}");
    }
    let counting = tokio::spawn(new_bands::watch(app.clone()));
    // Which of the others cannot be reached is said at once, and holds nobody up.
    let looking = tokio::spawn(sister::first_look(app.clone()));
    let served = purfle::serve::serve(listener, app.service(), Patience::default()).await;
    counting.abort(); // what it was at is done anew the next time
    let _ = counting.await;
    looking.abort();
    served?;
    if let Some(folder) = &house.folder {
        folder.settle(&db).await?;
    }
    db.close().await;
    Ok(())
}

fn log_to_stderr(kind: &str) {
    let filter = EnvFilter::try_from_env("PURFLE_LOG")
        .unwrap_or_else(|_| EnvFilter::new("warn,purfle=warn,sqlx=error"));
    let log = purfle::log::to(kind, filter, std::io::stderr().is_terminal(), std::io::stderr);
    // A second subscriber in one program cannot happen; if it did, the first would go on.
    let _ = log.try_init();
}
