//! Opening the shop's database: to serve it alone, or to visit it for a moment.

use anyhow::Context;
use purfle::admin::data_folder::{self, DataFolder};
use purfle::admin::private;
use purfle::catalogue::seed;
use purfle::clock::Clock;
use purfle::db::Db;
use purfle::diagnosis::learned_before;
use purfle::reports::{counted_before, group};

use super::Place;

/// A database that is open for this server; the folder is held as long as this lives.
pub struct House {
    pub db: Db,
    pub folder: Option<DataFolder>,
}

/// Opens it to serve: the data folder is taken for this server alone, migrations are run, the catalogue is seeded.
pub async fn open(place: &Place) -> anyhow::Result<House> {
    place.is_one()?;
    let folder = match &place.database {
        Some(_) => None,
        None => Some(DataFolder::take(&place.data)?),
    };
    if let Some(folder) = &folder {
        folder.recognise().await?;
    }
    for line in closed(place) {
        eprintln!("purfle: {line}");
    }
    let db = connect(place).await?;
    if let Some(folder) = &folder {
        folder.settle(&db).await?;
    }
    Ok(House { db, folder })
}

/// What others could read of it, and how it is now.
fn closed(place: &Place) -> Vec<String> {
    match place.database.as_deref() {
        None => data_folder::close(&place.data),
        Some(url) => url.strip_prefix("sqlite:").map_or(Vec::new(), |path| {
            private::close_files(&["", "-wal", "-shm"].map(|end| format!("{path}{end}").into()))
        }),
    }
}

/// Opens it for a moment beside a server that may be running; a shop that is not there is not made.
pub async fn visit(place: &Place) -> anyhow::Result<Db> {
    place.is_one()?;
    let path = place.database.as_deref().map(|url| url.strip_prefix("sqlite:"));
    if path.is_none() && !place.data.join("purfle.db").exists() {
        anyhow::bail!(
            "There is no shop in {}. Say where it is with --data or --database.",
            place.data.display()
        );
    }
    if let Some(path) = path.flatten().filter(|path| !std::path::Path::new(path).exists()) {
        anyhow::bail!("There is no database {path}. Say where it is with --database.");
    }
    connect(place).await
}

/// Opens it, with the catalogue seeded, and with what an older shop has not counted yet counted.
async fn connect(place: &Place) -> anyhow::Result<Db> {
    let url = place
        .database
        .clone()
        .unwrap_or_else(|| data_folder::url(&place.data));
    // The address may hold a password: say which kind it is, not what it is.
    let kind = if url.starts_with("sqlite:") {
        "embedded"
    } else {
        "PostgreSQL"
    };
    let db = Db::open(&url)
        .await
        .with_context(|| format!("The {kind} database cannot be opened"))?;
    seed::seed(&db).await?;
    group::count_anew(&db).await?;
    learned_before::learn_anew(&db).await?;
    counted_before::count(&db, &Clock::default()).await?;
    counted_before::count_free(&db).await?;
    Ok(db)
}
