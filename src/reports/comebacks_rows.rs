//! The rows of the comebacks as CSV: a line for each cause repaired, with how long it was watched and whether it came back.
//!
//! They are read and handed over page by page, for a spreadsheet or another program to reckon the figures anew. Nobody is
//! named in them, neither customer nor technician.

use axum::response::Response;
use sqlx::FromRow;
use uuid::Uuid;

use crate::clock::Day;
use crate::db::Db;
use crate::error::{Error, Result};
use crate::pieces::Pieces;

use super::bands::Bands;
use super::comebacks::{end_of_watch, season};
use super::comebacks_ask::Asked;
use super::season::Seasons;
use super::table_csv::{text, writer};

/// So many rows are read at once.
const PAGE: i64 = 5000;

const HEAD: [&str; 11] = [
    "cause",
    "job",
    "age_band",
    "size",
    "account",
    "season",
    "collected_on",
    "back_on",
    "gone_on",
    "days_watched",
    "came_back",
];

#[derive(FromRow)]
struct Row {
    work_order: Uuid,
    cause: String,
    job: String,
    age: Option<i64>,
    size: String,
    account: String,
    month: i64,
    collected_on: Day,
    back_on: Option<Day>,
    gone_on: Option<Day>,
}

/// All that went home by the day asked for, of every cause or of one.
#[must_use]
pub fn comebacks_rows(db: Db, asked: Asked, bands: Bands, seasons: Seasons) -> Response {
    let (pieces, answer) = Pieces::csv(&format!("comebacks-rows-{}", asked.as_of.iso()));
    tokio::spawn(async move {
        if let Err(why) = hand_over(&db, &asked, (&bands, &seasons), &pieces).await {
            pieces.break_off(why).await;
        }
    });
    answer
}

async fn hand_over(db: &Db, asked: &Asked, by: (&Bands, &Seasons), pieces: &Pieces) -> Result<()> {
    let (mut order, mut cause) = (Uuid::nil(), String::new());
    let mut lines = vec![HEAD.map(str::to_owned)];
    loop {
        let page: Vec<Row> = db
            .read(
                "select work_order, cause, job, age, size, account, month, collected_on, back_on, gone_on from repaired
                 where collected_on <= $1 and ($2 = '' or cause = $2) and (work_order, cause) > ($3, $4)
                 order by work_order, cause limit $5",
            )
            .bind(asked.as_of)
            .bind(asked.cause.clone())
            .bind(order)
            .bind(cause)
            .bind(PAGE)
            .all()
            .await?;
        lines.extend(page.iter().map(|row| row.line(asked.as_of, by)));
        if !lines.is_empty() && pieces.give(written(&lines)?).await.is_err() {
            return Ok(());
        }
        lines.clear();
        let Some(last) = page.into_iter().next_back() else {
            return Ok(());
        };
        (order, cause) = (last.work_order, last.cause);
    }
}

fn written(lines: &[[String; 11]]) -> Result<Vec<u8>> {
    let mut writer = writer();
    for line in lines {
        writer.write_record(line).map_err(Error::fault)?;
    }
    writer.into_inner().map_err(Error::fault)
}

impl Row {
    fn line(&self, as_of: Day, (bands, seasons): (&Bands, &Seasons)) -> [String; 11] {
        let known = |day: Option<Day>| day.filter(|day| *day <= as_of).map_or(String::new(), Day::iso);
        let day = |day: Option<Day>| day.map(|day| day.0);
        let until = end_of_watch(day(self.back_on), day(self.gone_on), as_of);
        let days = until.map_or(as_of.0, |until| until.0) - self.collected_on.0;
        [
            text(&self.cause),
            text(&self.job),
            bands.code(bands.of(self.age)),
            self.size.clone(),
            self.account.clone(),
            season(seasons, self.month).code().to_owned(),
            self.collected_on.iso(),
            known(self.back_on),
            known(self.gone_on),
            days.max(0).to_string(),
            if until.is_some_and(|until| until.1) {
                "yes"
            } else {
                "no"
            }
            .to_owned(),
        ]
    }
}
