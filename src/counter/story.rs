//! The story of an order: a line in words for each act, newest first.

use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::{Moment, Zone};
use crate::db::{Read, Tx, insert_rows};
use crate::error::Result;

#[derive(Clone, Debug, FromRow)]
pub struct Story {
    pub id: Uuid,
    pub work_order: Uuid,
    pub at: Moment,
    pub by_name: String,
    pub words: String,
}

/// So many lines of news at most.
const NEWS: i64 = 20;

/// A line that was added since a page was opened, as it is shown on it.
pub struct News {
    pub at: String,
    pub by_name: String,
    pub words: String,
}

impl Story {
    /// The newest line, by its id: what comes after it is news to whoever sends a form from a page with it.
    ///
    /// # Errors
    /// What the database says.
    pub async fn newest(on: impl Read, order: Uuid) -> Result<String> {
        let newest = Story::of(on, order, 1).await?;
        Ok(newest.first().map_or(String::new(), |line| line.id.to_string()))
    }

    /// What came after the line that was the newest then.
    ///
    /// # Errors
    /// What the database says.
    pub async fn since(on: impl Read, order: Uuid, seen: &str, zone: &Zone) -> Result<Vec<News>> {
        let newest = Story::of(on, order, NEWS).await?.into_iter();
        let news = newest.take_while(|line| line.id.to_string() != seen);
        Ok(news
            .map(|line| News {
                at: zone.words(line.at),
                by_name: line.by_name,
                words: line.words,
            })
            .collect())
    }

    /// The newest lines of an order's story.
    ///
    /// # Errors
    /// What the database says.
    pub async fn of(mut on: impl Read, order: Uuid, limit: i64) -> Result<Vec<Story>> {
        Ok(on
            .read("select * from story where work_order = $1 order by id desc limit $2")
            .bind(order)
            .bind(limit)
            .all()
            .await?)
    }

    /// The first line of an order's story: how it came in.
    ///
    /// # Errors
    /// What the database says.
    pub async fn first(mut on: impl Read, order: Uuid) -> Result<Option<Story>> {
        let first = on
            .read("select * from story where work_order = $1 order by id limit 1")
            .bind(order);
        Ok(first.optional().await?)
    }

    /// # Errors
    /// What the database says.
    pub async fn insert(tx: &mut Tx, lines: &[Story]) -> Result<()> {
        insert_rows(
            tx,
            "insert into story (id, work_order, at, by_name, words) values",
            5,
            lines,
            |query, line| {
                query
                    .bind(line.id)
                    .bind(line.work_order)
                    .bind(line.at)
                    .bind(line.by_name.clone())
                    .bind(line.words.clone())
            },
        )
        .await?;
        Ok(())
    }
}
