//! The story of an order: a line in words for each act, newest first.

use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::Moment;
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

impl Story {
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
