//! The only file that knows there are two databases: everything else writes SQL that both understand.

mod reading;
mod trouble;

use std::path::Path;
use std::time::Duration;

use sqlx::error::BoxDynError;
use sqlx::migrate::Migrator;
use sqlx::postgres::{PgArguments, PgConnectOptions, PgPoolOptions, PgRow};
use sqlx::sqlite::{
    SqliteArguments, SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteRow, SqliteSynchronous,
};
use sqlx::{
    Arguments, Connection, Database, Encode, Executor, FromRow, Pool, Postgres, SqlSafeStr, SqlStr, Sqlite,
    SqliteConnection, Transaction, Type,
};
use uuid::Uuid;

use crate::admin::private;

pub use reading::Tables;
pub use trouble::Trouble;

/// So many binds at most go into one statement that inserts many rows.
const BINDS: usize = 4000;
/// A transaction that waits longer than this for its turn gives up with words instead of hanging.
const WAIT: Duration = Duration::from_secs(5);
/// Before this release SQLite could, rarely, lose committed rows when a WAL was reset.
const OLDEST_SQLITE: i64 = 3_051_003;

#[derive(Clone)]
pub enum Db {
    /// One connection writes, several read: SQLite has one writer, so let it queue in the pool, not on the file lock.
    Sqlite {
        read: Pool<Sqlite>,
        write: Pool<Sqlite>,
    },
    Postgres(Pool<Postgres>),
}

/// One act of a person, wholly or not at all.
pub enum Tx {
    Sqlite(Transaction<'static, Sqlite>),
    Postgres(Transaction<'static, Postgres>),
}

#[diagnostic::on_unimplemented(message = "`{Self}` cannot be stored by both SQLite and PostgreSQL")]
pub trait Value<'q>: Encode<'q, Sqlite> + Type<Sqlite> + Encode<'q, Postgres> + Type<Postgres> {}
impl<'q, T: Encode<'q, Sqlite> + Type<Sqlite> + Encode<'q, Postgres> + Type<Postgres>> Value<'q> for T {}

#[diagnostic::on_unimplemented(message = "`{Self}` cannot be read from both SQLite and PostgreSQL")]
pub trait Record: for<'r> FromRow<'r, SqliteRow> + for<'r> FromRow<'r, PgRow> + Send + Unpin {}
impl<T: for<'r> FromRow<'r, SqliteRow> + for<'r> FromRow<'r, PgRow> + Send + Unpin> Record for T {}

enum On<'c, D: Database> {
    Pool(&'c Pool<D>),
    Tx(&'c mut D::Connection),
}
enum Call<'c> {
    Sqlite(On<'c, Sqlite>, SqliteArguments),
    Postgres(On<'c, Postgres>, PgArguments),
}

#[must_use = "a query does nothing until it is run"]
pub struct Query<'c> {
    sql: SqlStr,
    call: Result<Call<'c>, BoxDynError>,
}

/// What can be asked to read: the database, or the transaction one is in.
pub trait Read {
    fn read(&mut self, sql: impl SqlSafeStr) -> Query<'_>;
}
impl Read for &Db {
    fn read(&mut self, sql: impl SqlSafeStr) -> Query<'_> {
        Db::read(self, sql)
    }
}
impl Read for Tx {
    fn read(&mut self, sql: impl SqlSafeStr) -> Query<'_> {
        Tx::query(self, sql)
    }
}
/// So that a function may read more than once from what it was given.
impl<R: Read> Read for &mut R {
    fn read(&mut self, sql: impl SqlSafeStr) -> Query<'_> {
        R::read(self, sql)
    }
}

impl Db {
    /// Opens `sqlite:PATH` (made if missing) or `postgres://...` and brings its tables up to date.
    ///
    /// # Errors
    /// When it cannot be reached, is not ours to write, or its SQLite is older than [`OLDEST_SQLITE`].
    pub async fn open(url: &str) -> sqlx::Result<Db> {
        let db = if let Some(path) = url.strip_prefix("sqlite:") {
            Db::sqlite(Path::new(path)).await?
        } else {
            let options: PgConnectOptions = url.parse()?;
            let options = options.options([
                ("lock_timeout", "5s"),
                ("idle_in_transaction_session_timeout", "60s"),
            ]);
            Db::Postgres(
                PgPoolOptions::new()
                    .max_connections(16)
                    .acquire_timeout(WAIT)
                    .connect_with(options)
                    .await?,
            )
        };
        db.migrate().await?;
        Ok(db)
    }

    /// Whether this is an address that [`Db::open`] takes.
    #[must_use]
    pub fn is_address(url: &str) -> bool {
        match url.split_once(':') {
            Some(("sqlite", path)) => !path.is_empty(),
            Some(("postgres" | "postgresql", _)) => url.parse::<PgConnectOptions>().is_ok(),
            _ => false,
        }
    }

    async fn sqlite(path: &Path) -> sqlx::Result<Db> {
        // Where it cannot be made, SQLite says so itself.
        let _ = private::file(path);
        let options = SqliteConnectOptions::new()
            .filename(path)
            .create_if_missing(true)
            .journal_mode(SqliteJournalMode::Wal)
            .synchronous(SqliteSynchronous::Full)
            .foreign_keys(true)
            .busy_timeout(WAIT)
            .pragma("cache_size", "-16000")
            .pragma("temp_store", "memory");
        let pool = |connections: u32| {
            SqlitePoolOptions::new()
                .max_connections(connections)
                .acquire_timeout(WAIT)
                // When the disk is full SQLite rolls back by itself. The driver then fails to, and would hold the
                // connection to be in a transaction for ever: such a one is replaced.
                .before_acquire(|connection, _| Box::pin(async { Ok(!connection.is_in_transaction()) }))
                .after_connect(|connection, _| {
                    Box::pin(async move {
                        let (journal, synchronous, keys): (String, i64, i64) = (
                            sqlx::query_scalar("pragma journal_mode")
                                .fetch_one(&mut *connection)
                                .await?,
                            sqlx::query_scalar("pragma synchronous")
                                .fetch_one(&mut *connection)
                                .await?,
                            sqlx::query_scalar("pragma foreign_keys")
                                .fetch_one(&mut *connection)
                                .await?,
                        );
                        if journal == "wal" && synchronous == 2 && keys == 1 {
                            return Ok(());
                        }
                        let state =
                            format!("journal {journal}, synchronous {synchronous}, foreign keys {keys}");
                        Err(sqlx::Error::Configuration(
                            format!("SQLite does not keep what it is told: {state}").into(),
                        ))
                    })
                })
        };
        let write = pool(1).connect_with(options.clone()).await?;
        let version: String = sqlx::query_scalar("select sqlite_version()")
            .fetch_one(&write)
            .await?;
        if version_number(&version) < OLDEST_SQLITE {
            return Err(sqlx::Error::Configuration(
                format!("SQLite {version} is too old to trust with a shop").into(),
            ));
        }
        let read = pool(4).connect_with(options.pragma("query_only", "on")).await?;
        Ok(Db::Sqlite { read, write })
    }

    /// The house whose shop an SQLite file holds, read without changing it: the file is neither made nor migrated.
    /// All of the file is looked through for damage first.
    ///
    /// # Errors
    /// When it cannot be read, is damaged, or is no database.
    pub async fn house_in(path: &Path) -> sqlx::Result<Option<Uuid>> {
        let options = SqliteConnectOptions::new().filename(path).read_only(true);
        let mut connection = SqliteConnection::connect_with(&options).await?;
        let (found,): (String,) = sqlx::query_as("pragma quick_check(1)")
            .fetch_one(&mut connection)
            .await?;
        if found != "ok" {
            return Err(sqlx::Error::Protocol(format!("damaged: {found}")));
        }
        let table: Option<(String,)> = sqlx::query_as("select name from sqlite_master where name = 'shop'")
            .fetch_optional(&mut connection)
            .await?;
        let house: Option<(Uuid,)> = match table {
            Some(_) => {
                sqlx::query_as("select house from shop where id = 1")
                    .fetch_optional(&mut connection)
                    .await?
            }
            None => None,
        };
        connection.close().await?;
        Ok(house.map(|row| row.0))
    }

    /// Runs the migrations that have not run yet. On SQLite the caller holds the data folder's lock.
    async fn migrate(&self) -> sqlx::Result<()> {
        let migrator = self.migrator();
        match self {
            Db::Sqlite { write, .. } => migrator.run(write).await?,
            Db::Postgres(pool) => migrator.run(pool).await?,
        }
        Ok(())
    }

    /// The migrations that are for this one of the two.
    fn migrator(&self) -> Migrator {
        let other = match self {
            Db::Sqlite { .. } => ".postgres",
            Db::Postgres(_) => ".sqlite",
        };
        let all: Migrator = sqlx::migrate!("./migrations");
        let ours = all
            .iter()
            .filter(|migration| !migration.description.ends_with(other))
            .cloned()
            .collect();
        Migrator::with_migrations(ours)
    }

    /// Whether it answers, and its tables are those of this program.
    ///
    /// # Errors
    /// When it cannot be reached.
    pub async fn is_current(&self) -> sqlx::Result<bool> {
        Ok(self.migrated().await? == self.migrations())
    }

    /// The migrations that were run, in their order.
    async fn migrated(&self) -> sqlx::Result<Vec<i64>> {
        let rows: Vec<(i64,)> = self
            .read("select version from _sqlx_migrations where success order by version")
            .all()
            .await?;
        Ok(rows.into_iter().map(|row| row.0).collect())
    }

    /// Those of this program.
    fn migrations(&self) -> Vec<i64> {
        let ours = self.migrator();
        let mut ours: Vec<i64> = ours.iter().map(|migration| migration.version).collect();
        ours.sort_unstable();
        ours
    }

    /// A reading statement.
    pub fn read(&self, sql: impl SqlSafeStr) -> Query<'_> {
        Query::new(
            sql,
            match self {
                Db::Sqlite { read, .. } => Call::Sqlite(On::Pool(read), SqliteArguments::default()),
                Db::Postgres(pool) => Call::Postgres(On::Pool(pool), PgArguments::default()),
            },
        )
    }

    /// One writing statement, its own transaction.
    pub fn write(&self, sql: impl SqlSafeStr) -> Query<'_> {
        Query::new(
            sql,
            match self {
                Db::Sqlite { write, .. } => Call::Sqlite(On::Pool(write), SqliteArguments::default()),
                Db::Postgres(pool) => Call::Postgres(On::Pool(pool), PgArguments::default()),
            },
        )
    }

    /// Begins to write. On SQLite the write lock is taken at once, since a reader cannot become a writer later.
    ///
    /// # Errors
    /// When no connection is free in time.
    pub async fn begin(&self) -> sqlx::Result<Tx> {
        Ok(match self {
            Db::Sqlite { write, .. } => Tx::Sqlite(write.begin_with("BEGIN IMMEDIATE").await?),
            Db::Postgres(pool) => Tx::Postgres(pool.begin().await?),
        })
    }

    /// Begins to read as of one moment, whatever is written meanwhile.
    ///
    /// # Errors
    /// When no connection is free in time.
    pub async fn snapshot(&self) -> sqlx::Result<Tx> {
        Ok(match self {
            Db::Sqlite { read, .. } => Tx::Sqlite(read.begin().await?),
            Db::Postgres(pool) => Tx::Postgres(
                pool.begin_with("begin isolation level repeatable read read only")
                    .await?,
            ),
        })
    }

    /// What the database says of its own file, where it is one, and which rows name another that is not there.
    ///
    /// # Errors
    /// When it cannot be reached, or is too damaged to say anything.
    pub async fn soundness(&self) -> sqlx::Result<(Option<Vec<String>>, Vec<String>)> {
        let Db::Sqlite { read, .. } = self else {
            return Ok((None, Vec::new())); // it refuses such rows, and checks its pages when it reads them
        };
        let file: Vec<(String,)> = sqlx::query_as("pragma integrity_check").fetch_all(read).await?;
        let file = file.into_iter().map(|row| row.0).filter(|line| line != "ok");
        let astray: Vec<(String, Option<i64>, String)> =
            sqlx::query_as("select \"table\", rowid, parent from pragma_foreign_key_check")
                .fetch_all(read)
                .await?;
        let astray = astray.into_iter().map(|(table, row, parent)| {
            let row = row.map_or(String::new(), |row| format!(" row {row}"));
            format!("{table}{row}: {parent}")
        });
        Ok((Some(file.collect()), astray.collect()))
    }

    /// Tells the database to look at its tables again, so that it plans well after much was written.
    ///
    /// # Errors
    /// When the database refuses.
    pub async fn analyze(&self) -> sqlx::Result<()> {
        match self {
            Db::Sqlite { write, .. } => write.execute("analyze").await.map(drop),
            Db::Postgres(pool) => {
                // What was written at once is marked as seen, so that it is read from the index alone.
                pool.execute("vacuum (analyze) repaired").await?;
                pool.execute("analyze").await.map(drop)
            }
        }
    }

    /// Lets go of all connections; SQLite's log is folded into its file.
    pub async fn close(&self) {
        match self {
            Db::Sqlite { read, write } => {
                read.close().await;
                write.close().await;
            }
            Db::Postgres(pool) => pool.close().await,
        }
    }

    #[must_use]
    pub fn is_sqlite(&self) -> bool {
        matches!(self, Db::Sqlite { .. })
    }
}

/// 3.51.3 is 3051003, as SQLite itself counts.
fn version_number(version: &str) -> i64 {
    version
        .split('.')
        .take(3)
        .fold(0, |sum, part| sum * 1000 + part.parse::<i64>().unwrap_or(0))
}

impl Tx {
    pub fn query(&mut self, sql: impl SqlSafeStr) -> Query<'_> {
        Query::new(
            sql,
            match self {
                Tx::Sqlite(tx) => Call::Sqlite(On::Tx(&mut **tx), SqliteArguments::default()),
                Tx::Postgres(tx) => Call::Postgres(On::Tx(&mut **tx), PgArguments::default()),
            },
        )
    }

    /// Writes to a table as others do, from now on: whoever wants to be alone with it waits for the end of this.
    ///
    /// # Errors
    /// When somebody is alone with it for too long.
    pub async fn write_beside(&mut self, table: &'static str) -> sqlx::Result<()> {
        self.lock(table, "row exclusive").await
    }

    /// Writes to a table alone, from now on until the end: after whoever has written to it, before whoever is about to.
    /// Nobody has to wait behind this for long: it gives up first.
    ///
    /// # Errors
    /// When somebody else is at it.
    pub async fn write_alone(&mut self, table: &'static str) -> sqlx::Result<()> {
        if let Tx::Postgres(tx) = self {
            tx.execute("set local lock_timeout = '100ms'").await?;
        }
        self.lock(table, "share row exclusive").await
    }

    /// Of SQLite's one writer there is nothing to be told.
    async fn lock(&mut self, table: &'static str, mode: &'static str) -> sqlx::Result<()> {
        if let Tx::Postgres(tx) = self {
            // Safe: both are literals of ours.
            let sql = sqlx::AssertSqlSafe(format!("lock table {table} in {mode} mode"));
            tx.execute(sql).await?;
        }
        Ok(())
    }

    /// As [`Db::analyze`], in the middle of writing much; SQLite would have its readers plan anew for it, and takes the order
    /// of a cross join as it is written.
    ///
    /// # Errors
    /// When the database refuses.
    pub async fn analyze(&mut self) -> sqlx::Result<()> {
        match self {
            Tx::Sqlite(_) => Ok(()),
            Tx::Postgres(tx) => tx.execute("analyze").await.map(drop),
        }
    }

    /// Keeps all of it.
    ///
    /// # Errors
    /// When the database could not keep it, and none of it is kept; or when it went away before it answered, which
    /// [`Trouble::Unheard`] tells apart.
    pub async fn commit(self) -> sqlx::Result<()> {
        let done = match self {
            Tx::Sqlite(tx) => tx.commit().await,
            Tx::Postgres(tx) => tx.commit().await,
        };
        done.map_err(trouble::at_commit)
    }
}

/// The same call, written once for each of the four things it may run on.
macro_rules! run {
    ($query:expr, $make:expr, $fetch:ident $(, $map:expr)?) => {
        match $query.call.map_err(sqlx::Error::Encode)? {
            Call::Sqlite(On::Pool(c), a) => $make($query.sql, a).$fetch(c).await$(.map($map))?,
            Call::Sqlite(On::Tx(c), a) => $make($query.sql, a).$fetch(c).await$(.map($map))?,
            Call::Postgres(On::Pool(c), a) => $make($query.sql, a).$fetch(c).await$(.map($map))?,
            Call::Postgres(On::Tx(c), a) => $make($query.sql, a).$fetch(c).await$(.map($map))?,
        }
    };
}

impl<'c> Query<'c> {
    fn new(sql: impl SqlSafeStr, call: Call<'c>) -> Self {
        Query {
            sql: sql.into_sql_str(),
            call: Ok(call),
        }
    }

    pub fn bind<'q, T: Value<'q>>(mut self, value: T) -> Self {
        let added = match &mut self.call {
            Ok(Call::Sqlite(_, arguments)) => Arguments::add(arguments, value),
            Ok(Call::Postgres(_, arguments)) => Arguments::add(arguments, value),
            Err(_) => return self,
        };
        if let Err(problem) = added {
            self.call = Err(problem);
        }
        self
    }

    /// The number of rows written.
    ///
    /// # Errors
    /// What the database says.
    pub async fn execute(self) -> sqlx::Result<u64> {
        run!(self, sqlx::query_with, execute, |done| done.rows_affected())
    }

    /// # Errors
    /// What the database says, or that there is no such row.
    pub async fn one<R: Record>(self) -> sqlx::Result<R> {
        run!(self, sqlx::query_as_with::<_, R, _>, fetch_one)
    }

    /// # Errors
    /// What the database says.
    pub async fn optional<R: Record>(self) -> sqlx::Result<Option<R>> {
        run!(self, sqlx::query_as_with::<_, R, _>, fetch_optional)
    }

    /// # Errors
    /// What the database says.
    pub async fn all<R: Record>(self) -> sqlx::Result<Vec<R>> {
        run!(self, sqlx::query_as_with::<_, R, _>, fetch_all)
    }
}

/// A statement that inserts many rows at once: `into` is `insert into t (a, b) values`, and each row's binds
/// follow in the order of the columns. SQL text is made of `into`, parentheses and `$n` alone.
///
/// # Errors
/// What the database says.
pub async fn insert_rows<'q, T>(
    tx: &mut Tx,
    into: &'static str,
    columns: usize,
    rows: &[T],
    bind: impl for<'c> Fn(Query<'c>, &T) -> Query<'c>,
) -> sqlx::Result<()> {
    upsert_rows(tx, into, columns, "", rows, bind).await
}

/// As [`insert_rows`], with what to do where a row is there already: `on conflict (..) do update ..`.
///
/// # Errors
/// What the database says.
pub async fn upsert_rows<'q, T>(
    tx: &mut Tx,
    into: &'static str,
    columns: usize,
    on_conflict: &'static str,
    rows: &[T],
    bind: impl for<'c> Fn(Query<'c>, &T) -> Query<'c>,
) -> sqlx::Result<()> {
    // PostgreSQL takes at most 65,535 binds in a statement, SQLite 32,766; far fewer keep the text short.
    for chunk in rows.chunks((BINDS / columns).max(1)) {
        let mut sql = String::with_capacity(into.len() + chunk.len() * columns * 6);
        sql.push_str(into);
        for row in 0..chunk.len() {
            sql.push_str(if row == 0 { " (" } else { ", (" });
            for column in 0..columns {
                if column > 0 {
                    sql.push_str(", ");
                }
                match tx {
                    // A name for each would have SQLite look through all of them for every one.
                    Tx::Sqlite(_) => sql.push('?'),
                    Tx::Postgres(_) => {
                        sql.push('$');
                        sql.push_str(&(row * columns + column + 1).to_string());
                    }
                }
            }
            sql.push(')');
        }
        sql.push_str(on_conflict);
        // Safe: the text holds nothing but our own literals and counted placeholders.
        let mut query = tx.query(sqlx::AssertSqlSafe(sql));
        for row in chunk {
            query = bind(query, row);
        }
        query.execute().await?;
    }
    Ok(())
}
