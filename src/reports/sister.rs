//! A sister is another shop of the same house: its counts are read beside ours, and nothing else of it.

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::Mutex;
use tokio::time::timeout;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::db::{Db, Tables};
use crate::error::{Error, Result};

use super::recurrence::{Names, Totals};
use super::span::Span;

/// So long a page waits for her.
pub const PATIENCE: Duration = Duration::from_secs(2);
/// As said where she did not answer.
const LATE: &str = "it did not answer within 2 seconds";

/// Named when this shop is served; the address, which may hold a password, is nowhere said again.
pub struct Sister {
    pub name: String,
    db: Db,
    /// One look at a time: should her disk hang, no more than one of our threads hangs with it.
    turn: Arc<Mutex<()>>,
}

/// What a look found.
pub struct Seen {
    pub house: Uuid,
    /// Of the whole shop.
    pub totals: Totals,
    /// The causes that are kept there, retired ones too.
    pub causes: Names,
}

/// Why nothing was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Missed {
    Late,
    Away,
    NoShop,
    Older,
    Newer,
    /// It is this shop, or one that was looked at already.
    Twice,
}

impl Missed {
    /// For programs.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Missed::Late => "late",
            Missed::Away => "away",
            Missed::NoShop => "no_shop",
            Missed::Older => "older",
            Missed::Newer => "newer",
            Missed::Twice => "twice",
        }
    }

    /// Behind "cannot be reached:".
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Missed::Late => LATE,
            Missed::Away => "its database cannot be opened",
            Missed::NoShop => "there is no shop at its address yet",
            Missed::Older => "its tables are of an older Purfle; serve it once with this one",
            Missed::Newer => "its tables are of a newer Purfle; bring this one up to date",
            Missed::Twice => "its address is that of a shop that stands here already",
        }
    }
}

impl Sister {
    /// Nothing is opened yet.
    ///
    /// # Errors
    /// When it is no address.
    pub fn new(name: String, url: &str) -> Result<Sister> {
        Ok(Sister {
            name,
            db: Db::to_read(url, PATIENCE)?,
            turn: Arc::default(),
        })
    }

    /// What she has counted over a span, if she says so in time.
    ///
    /// # Errors
    /// Why nothing was found.
    pub async fn look(&self, span: Span) -> Result<Seen, Missed> {
        let looked = async {
            let turn = self.turn.clone().lock_owned().await;
            let db = self.db.clone();
            // On its own, so that whoever gives up waiting leaves no second look behind the first.
            let looking = tokio::spawn(async move {
                let seen = within_limits(&db, span).await;
                drop(turn);
                seen
            });
            looking.await.unwrap_or(Err(Missed::Away))
        };
        timeout(PATIENCE, looked).await.unwrap_or(Err(Missed::Late))
    }
}

/// Looks at each once, so that the log says at the start which cannot be reached.
pub async fn first_look(app: App) {
    if let Ok(Some(shop)) = Shop::find(&app.db).await {
        let span = Span::last_full(shop.today(app.clock.now()));
        look_at(&app.sisters, shop.house, span).await;
    }
}

/// A server that fell silent is let go of. What hangs on a disk cannot be, and so keeps its turn.
async fn within_limits(db: &Db, span: Span) -> Result<Seen, Missed> {
    let found = async { find(db, span).await.unwrap_or_else(|problem| Err(why(&problem))) };
    if db.is_sqlite() {
        return found.await;
    }
    timeout(PATIENCE, found).await.unwrap_or(Err(Missed::Late))
}

async fn find(db: &Db, span: Span) -> Result<Result<Seen, Missed>> {
    match db.tables().await? {
        Tables::Ours => {}
        Tables::Older => return Ok(Err(Missed::Older)),
        Tables::Newer => return Ok(Err(Missed::Newer)),
        Tables::None => return Ok(Err(Missed::NoShop)),
    }
    let house: Option<(Uuid,)> = db.read("select house from shop where id = 1").optional().await?;
    let Some((house,)) = house else {
        return Ok(Err(Missed::NoShop));
    };
    Ok(Ok(Seen {
        house,
        totals: Totals::read(db, span, "").await?,
        causes: Names::of_causes(db).await?,
    }))
}

/// The words of a database may hold its address: they are not told.
fn why(problem: &Error) -> Missed {
    match problem {
        Error::Unable(_, sqlx::Error::PoolTimedOut) => Missed::Late,
        _ => Missed::Away,
    }
}

/// All of them at once, none longer than the limit. One that is this house, or came before, is not taken twice.
pub async fn look_at(sisters: &[Arc<Sister>], own: Uuid, span: Span) -> Vec<Result<Seen, Missed>> {
    let look = |sister: &Arc<Sister>| {
        let sister = sister.clone();
        tokio::spawn(async move { sister.look(span).await })
    };
    let looks: Vec<_> = sisters.iter().map(look).collect();
    let mut seen = Vec::new();
    for (sister, look) in sisters.iter().zip(looks) {
        let known = |found: &Seen| {
            let before = seen.iter().flatten().map(|before: &Seen| before.house);
            before.chain([own]).any(|house| house == found.house)
        };
        let look = match look.await {
            Ok(Ok(found)) if known(&found) => Err(Missed::Twice),
            Ok(look) => look,
            Err(_) => Err(Missed::Away),
        };
        if let Err(missed) = &look {
            // Without her address, which may hold a password.
            tracing::warn!(shop = %sister.name, "a shop of the house cannot be reached: {}", missed.words());
        }
        seen.push(look);
    }
    seen
}
