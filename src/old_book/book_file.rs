//! A book file is one file of the old book that was handed over: its trial, and what came of bringing it in.

use serde::Serialize;
use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::Moment;
use crate::db::{Db, Read, Tx};
use crate::error::{Error, Result};
use crate::staff::Who;
use crate::words::count;

use super::Brought;
use super::upload::Sent;

/// How far it has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, sqlx::Type, utoipa::ToSchema)]
#[sqlx(type_name = "text", rename_all = "snake_case")]
#[serde(rename_all = "snake_case")]
#[schema(as = BookFileStage)]
pub enum Stage {
    /// It is gone through; nothing is stored.
    Trying,
    /// It waits for somebody to say what is to be done.
    Tried,
    /// What is right is brought in.
    Writing,
    Taken,
    /// It broke off; nothing was stored.
    Broken,
    /// Put away.
    Withdrawn,
}

#[derive(Clone, Debug, FromRow)]
pub struct BookFile {
    pub id: Uuid,
    pub by_name: String,
    pub bytes: i64,
    pub mark: String,
    pub stage: Stage,
    pub keep_good: bool,
    pub words: String,
    /// Lines that are right.
    pub fit: i64,
    pub there: i64,
    pub twice: i64,
    pub amiss: i64,
    pub taken: i64,
    pub customers: i64,
    pub instruments: i64,
    pub version: i64,
    pub begun_at: Moment,
    pub ended_at: Option<Moment>,
}

impl Stage {
    /// Whether the program is at it just now.
    #[must_use]
    pub fn is_under_way(self) -> bool {
        matches!(self, Stage::Trying | Stage::Writing)
    }
}

/// What is said when another one is at it.
#[must_use]
pub fn busy() -> Error {
    Error::conflict("Another file of the old book is gone through just now. Wait until it is through.")
}

impl BookFile {
    /// # Errors
    /// Not found.
    pub async fn get(mut on: impl Read, id: Uuid) -> Result<BookFile> {
        let file = on.read("select * from book_file where id = $1").bind(id);
        file.optional().await?.ok_or(Error::NotFound)
    }

    /// The latest, newest first.
    ///
    /// # Errors
    /// What the database says.
    pub async fn latest(db: &Db, most: i64) -> Result<Vec<BookFile>> {
        let files = db.read("select * from book_file order by begun_at desc, id desc limit $1");
        Ok(files.bind(most).all().await?)
    }

    /// The one that the program is at.
    ///
    /// # Errors
    /// What the database says.
    pub async fn under_way(db: &Db) -> Result<Option<BookFile>> {
        let file = db.read("select * from book_file where under_way");
        Ok(file.optional().await?)
    }

    /// A file that has come: it is to be gone through.
    ///
    /// # Errors
    /// A conflict when another one is under way.
    pub async fn add(tx: &mut Tx, who: &Who, sent: &Sent, keep_good: bool, now: Moment) -> Result<BookFile> {
        let file = BookFile {
            id: sent.id,
            by_name: who.name.clone(),
            bytes: i64::try_from(sent.bytes).unwrap_or(i64::MAX),
            mark: sent.mark.clone(),
            stage: Stage::Trying,
            keep_good,
            words: String::new(),
            fit: 0,
            there: 0,
            twice: 0,
            amiss: 0,
            taken: 0,
            customers: 0,
            instruments: 0,
            version: 1,
            begun_at: now,
            ended_at: None,
        };
        let added = tx
            .query(
                "insert into book_file (id, by_name, bytes, mark, stage, under_way, keep_good, words, fit, there, twice,
                 amiss, taken, customers, instruments, version, begun_at)
                 values ($1, $2, $3, $4, $5, true, $6, '', 0, 0, 0, 0, 0, 0, 0, 1, $7) on conflict do nothing",
            )
            .bind(file.id)
            .bind(file.by_name.clone())
            .bind(file.bytes)
            .bind(file.mark.clone())
            .bind(file.stage)
            .bind(file.keep_good)
            .bind(file.begun_at)
            .execute()
            .await?;
        if added == 1 { Ok(file) } else { Err(busy()) }
    }

    /// What was tried is to be brought in: all of it, or what is right alone.
    ///
    /// # Errors
    /// A conflict when it was not tried, when there is nothing to take, when lines are not right and it is not said that
    /// the others are to be taken, or when another file is under way.
    pub async fn take(&mut self, tx: &mut Tx, keep_good: bool) -> Result<()> {
        match self.stage {
            Stage::Tried => {}
            stage if stage.is_under_way() => return Err(busy()),
            _ => {
                return Err(Error::conflict(
                    "This file is not here any longer. Choose it again.",
                ));
            }
        }
        if self.fit == 0 {
            return Err(Error::conflict("There is nothing in this file to bring in."));
        }
        if self.amiss > 0 && !keep_good {
            let amiss = count(self.amiss, "line is", "lines are");
            return Err(Error::Conflict(format!(
                "{amiss} not right. Set them right and choose the file again, or take the right lines alone."
            )));
        }
        let taken = tx
            .query(
                "update book_file set stage = $2, under_way = true, keep_good = $3, version = version + 1
                 where id = $1 and version = $4 and not exists (select 1 from book_file where under_way)",
            )
            .bind(self.id)
            .bind(Stage::Writing)
            .bind(keep_good)
            .bind(self.version)
            .execute()
            .await?;
        if taken != 1 {
            return Err(busy());
        }
        self.stage = Stage::Writing;
        self.keep_good = keep_good;
        self.version += 1;
        Ok(())
    }

    /// Notes what came of it.
    ///
    /// # Errors
    /// What the database says.
    pub async fn settle(&mut self, db: &Db, stage: Stage, words: &str, now: Moment) -> Result<()> {
        (self.stage, self.ended_at) = (stage, Some(now));
        words.clone_into(&mut self.words);
        self.version += 1;
        db.write(
            "update book_file set stage = $2, under_way = false, words = $3, fit = $4, there = $5, twice = $6, amiss = $7,
             taken = $8, customers = $9, instruments = $10, version = version + 1, ended_at = $11 where id = $1",
        )
        .bind(self.id)
        .bind(self.stage)
        .bind(self.words.clone())
        .bind(self.fit)
        .bind(self.there)
        .bind(self.twice)
        .bind(self.amiss)
        .bind(self.taken)
        .bind(self.customers)
        .bind(self.instruments)
        .bind(now)
        .execute()
        .await?;
        Ok(())
    }

    /// Puts it away; nothing that was brought in goes with it.
    ///
    /// # Errors
    /// A conflict while it is under way.
    pub async fn withdraw(&mut self, tx: &mut Tx) -> Result<()> {
        if self.stage.is_under_way() {
            return Err(busy());
        }
        if self.stage == Stage::Tried {
            let sql = "update book_file set stage = $2, version = version + 1 where id = $1 and version = $3";
            let query = tx.query(sql).bind(self.id).bind(Stage::Withdrawn);
            if query.bind(self.version).execute().await? == 1 {
                (self.stage, self.version) = (Stage::Withdrawn, self.version + 1);
            }
        }
        Ok(())
    }

    /// Puts away what was tried before, and names the last that may still lie somewhere.
    ///
    /// # Errors
    /// What the database says.
    pub async fn put_away_others(db: &Db, but: Uuid) -> Result<Vec<Uuid>> {
        db.write("update book_file set stage = $1, version = version + 1 where stage = $2 and id <> $3")
            .bind(Stage::Withdrawn)
            .bind(Stage::Tried)
            .bind(but)
            .execute()
            .await?;
        let others: Vec<(Uuid,)> = db
            .read("select id from book_file where id <> $1 and not under_way order by begun_at desc, id desc limit 20")
            .bind(but)
            .all()
            .await?;
        Ok(others.into_iter().map(|other| other.0).collect())
    }

    /// What was under way or waited when the program stopped is not here any longer.
    ///
    /// # Errors
    /// What the database says.
    pub async fn sweep(db: &Db, now: Moment) -> Result<()> {
        let any = db.read("select * from book_file where under_way or stage = $1 limit 1");
        let any: Option<BookFile> = any.bind(Stage::Tried).optional().await?;
        if any.is_none() {
            return Ok(()); // a program that can only read starts all the same
        }
        db.write(
            "update book_file set stage = $1, under_way = false, ended_at = $2, version = version + 1, words = $3
             where under_way",
        )
        .bind(Stage::Broken)
        .bind(now)
        .bind(
            "The program was stopped meanwhile. Bring the file in again: what came in already does not come in twice."
                .to_owned(),
        )
        .execute()
        .await?;
        db.write("update book_file set stage = $1, version = version + 1 where stage = $2")
            .bind(Stage::Withdrawn)
            .bind(Stage::Tried)
            .execute()
            .await?;
        Ok(())
    }

    /// Takes over what the trial, or the bringing in, came to.
    pub fn came_to(&mut self, brought: &Brought) {
        (self.fit, self.there) = (brought.right, brought.there);
        (self.twice, self.amiss) = (brought.twice, brought.amiss);
        self.taken = brought.taken;
        (self.customers, self.instruments) = (brought.customers, brought.instruments);
    }
}
