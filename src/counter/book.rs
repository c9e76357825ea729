//! The book is the list of all orders in short, newest first: of one stage, of one instrument, with something owed, or found by words.

use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::{Day, Moment};
use crate::db::Db;
use crate::error::Result;
use crate::money::Money;

use super::find::{self, Hit};
use super::order::Order;
use super::stage::Stage;
use super::tag;

/// An order in short.
#[derive(Clone, Debug, FromRow)]
pub struct Entry {
    pub id: Uuid,
    pub tag: String,
    pub stage: Stage,
    pub version: i64,
    pub received_at: Moment,
    pub received_on: Day,
    pub promised_on: Option<Day>,
    pub words: String,
    pub estimate: Money,
    pub hold_until: Option<Moment>,
    pub collected_at: Option<Moment>,
    /// Since it went home.
    pub owed: Money,
    pub customer: Uuid,
    pub customer_kind: String,
    pub customer_name: String,
    pub instrument: Uuid,
    pub family: String,
    pub size: String,
    pub maker: String,
}

/// Which part of the book is wanted.
#[derive(Clone, Debug)]
pub struct Wanted {
    pub stage: Option<Stage>,
    /// The entry before the first that is wanted: when it was received, and its id.
    after: (Moment, Uuid),
    limit: i64,
    /// Only those that went home with something owed.
    owed: bool,
}

/// So many customers or instruments are asked for in one statement.
const AT_ONCE: usize = 20;

/// Entries after `$1, $2`, of stage `$3`, at most `$4`, with something owed if `$5` is 1, and what else is said.
macro_rules! entries {
    ($also:literal) => {
        concat!(
            "select o.id, o.tag, o.stage, o.version, o.received_at, o.received_on, o.promised_on, o.words, o.estimate,
             o.hold_until, o.collected_at, o.owed, o.customer, c.kind as customer_kind, c.name as customer_name,
             o.instrument, i.family, i.size, i.maker
             from work_order o join customer c on c.id = o.customer join instrument i on i.id = o.instrument
             where (o.received_at, o.id) < ($1, $2) and ($3 is null or o.stage = $3) and ($5 = 0 or o.owed > 0)
             and ",
            $also,
            " order by o.received_at desc, o.id desc limit $4"
        )
    };
}

const OF_CUSTOMERS: &str = entries!(
    "o.customer in ($6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22, $23, $24, $25)"
);
const OF_INSTRUMENTS: &str = entries!(
    "o.instrument in ($6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22, $23, $24, $25)"
);

impl Wanted {
    /// The first `limit`, or the next after an order.
    #[must_use]
    pub fn new(stage: Option<Stage>, after: Option<&Order>, limit: i64) -> Wanted {
        let after = after.map_or((Moment(i64::MAX), Uuid::max()), |order| {
            (order.received_at, order.id)
        });
        Wanted {
            stage,
            after,
            limit,
            owed: false,
        }
    }

    /// The same, but only those that went home with something owed.
    #[must_use]
    pub fn owed(self) -> Wanted {
        Wanted { owed: true, ..self }
    }

    /// All that is wanted, whosever it is.
    ///
    /// # Errors
    /// What the database says.
    pub async fn all(&self, db: &Db) -> Result<Vec<Entry>> {
        let sql = match (self.owed, self.stage) {
            // Said plainly, so that its index is used.
            (true, _) => entries!("o.owed > 0"),
            (false, Some(_)) => entries!("o.stage = $3"),
            (false, None) => entries!("1 = 1"),
        };
        self.rows(db, sql, &[]).await
    }

    /// Of these customers or instruments, by `sql`.
    async fn rows(&self, db: &Db, sql: &'static str, ids: &[Uuid]) -> Result<Vec<Entry>> {
        let mut query = db
            .read(sql)
            .bind(self.after.0)
            .bind(self.after.1)
            .bind(self.stage.map(|stage| stage.code().to_owned()))
            .bind(self.limit)
            .bind(i64::from(self.owed));
        if !ids.is_empty() {
            // What is left over is nobody's id.
            for at in 0..AT_ONCE {
                query = query.bind(ids.get(at).copied().unwrap_or(Uuid::nil()));
            }
        }
        Ok(query.all().await?)
    }

    /// The visits of one instrument.
    ///
    /// # Errors
    /// What the database says.
    pub async fn of_instrument(&self, db: &Db, instrument: Uuid) -> Result<Vec<Entry>> {
        self.rows(db, OF_INSTRUMENTS, &[instrument]).await
    }

    /// Those found by a tag, or by words of the instrument and of whose it is; see [`find::hits`].
    ///
    /// # Errors
    /// What the database says.
    pub async fn found(&self, db: &Db, typed: &str, contacts: bool) -> Result<Vec<Entry>> {
        let hits = find::hits(db, typed, contacts).await?;
        let customers: Vec<Uuid> = hits.iter().filter_map(Hit::whole).collect();
        let instruments: Vec<Uuid> = hits.iter().filter_map(|hit| hit.instrument).collect();
        let mut found = Vec::new();
        if let Ok(tag) = tag::read(typed) {
            found = self.tagged(db, tag).await?;
        }
        for some in customers.chunks(AT_ONCE) {
            found.extend(self.rows(db, OF_CUSTOMERS, some).await?);
        }
        for some in instruments.chunks(AT_ONCE) {
            found.extend(self.rows(db, OF_INSTRUMENTS, some).await?);
        }
        found.sort_by_key(|entry| std::cmp::Reverse((entry.received_at, entry.id)));
        found.dedup_by_key(|entry| entry.id);
        found.truncate(usize::try_from(self.limit).unwrap_or_default());
        Ok(found)
    }

    async fn tagged(&self, db: &Db, tag: String) -> Result<Vec<Entry>> {
        let query = db
            .read(entries!("o.tag = $6"))
            .bind(self.after.0)
            .bind(self.after.1)
            .bind(self.stage.map(|stage| stage.code().to_owned()))
            .bind(self.limit)
            .bind(i64::from(self.owed))
            .bind(tag);
        Ok(query.all().await?)
    }
}

impl Hit {
    /// The customer, when all of their instruments fit.
    fn whole(&self) -> Option<Uuid> {
        self.instrument.is_none().then_some(self.customer)
    }
}
