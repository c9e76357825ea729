//! The pages on which the owner hands the old book over: a file is tried first, and brought in when it is said so.

use askama::Template;
use axum::extract::multipart::{Field, Multipart, MultipartError, MultipartRejection};
use axum::extract::{Extension, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::Zone;
use crate::error::{Error, Result};
use crate::form::{Form, Problems};
use crate::page::{Frame, html};
use crate::staff::Who;
use crate::words::count;

use super::amiss::Amiss;
use super::book_file::{self, BookFile, Stage};
use super::upload::{Sent, Upload};
use super::{Explained, desk};

/// So many lines that are not right stand on the page; all of them are in the list.
const TOLD: usize = 50;
/// So many files that were handed over before are told.
const EARLIER: i64 = 6;

#[derive(Template)]
#[template(path = "old_book/book_file_page.html")]
struct BookPage {
    frame: Frame,
    zone: Zone,
    problems: Problems,
    under_way: Option<BookFile>,
    earlier: Vec<BookFile>,
}

#[derive(Template)]
#[template(path = "old_book/book_file_one.html")]
struct OnePage {
    frame: Frame,
    file: BookFile,
    /// In hundredths, while it is under way.
    done: u64,
    amiss: Vec<Amiss>,
    refused: String,
}

impl BookPage {
    fn columns(&self) -> Vec<Explained> {
        super::explained()
    }

    fn when(&self, file: &BookFile) -> String {
        self.zone.words_with_year(file.begun_at)
    }

    fn became(&self, file: &BookFile) -> String {
        match file.stage {
            Stage::Trying | Stage::Writing => "just now under way".into(),
            Stage::Tried => "tried, not brought in".into(),
            Stage::Taken if file.taken == 0 => "nothing new in it".into(),
            Stage::Taken => format!("{} brought in", visits(file.taken)),
            Stage::Broken => "broke off; nothing was stored".into(),
            Stage::Withdrawn => "put away, not brought in".into(),
        }
    }
}

fn visits(n: i64) -> String {
    count(n, "visit", "visits")
}

impl OnePage {
    fn visits(&self, n: i64) -> String {
        visits(n)
    }

    fn lines(&self, n: i64) -> String {
        count(n, "line", "lines")
    }

    fn customers(&self) -> String {
        count(self.file.customers, "customer", "customers")
    }

    fn instruments(&self) -> String {
        count(self.file.instruments, "instrument", "instruments")
    }

    /// What was gone through so far, in words.
    fn progress(&self) -> &'static str {
        match (self.file.stage, self.done) {
            (Stage::Writing, 13..) => "Bringing it in",
            (Stage::Writing, _) => "Reading it once more",
            _ => "Reading it",
        }
    }

    fn has_list(&self) -> bool {
        !self.amiss.is_empty()
    }
}

/// `GET /old_book`
///
/// # Errors
/// What the database says.
pub async fn page(State(app): State<App>, Extension(who): Extension<Who>) -> Result<Response> {
    show(&app, &who, Problems::default()).await
}

async fn show(app: &App, who: &Who, problems: Problems) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let status = if problems.is_empty() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = BookPage {
        frame: Frame::new("The old book", &*shop.name, who, "settings"),
        zone: shop.zone(),
        problems,
        under_way: BookFile::under_way(&app.db).await?,
        earlier: BookFile::latest(&app.db, EARLIER).await?,
    };
    Ok((status, html(page)?).into_response())
}

/// `POST /old_book`: a file to be tried. Nothing is stored by it, so it carries no key.
///
/// # Errors
/// A conflict when another file is under way, or what the database says.
pub async fn lay(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    parts: Result<Multipart, MultipartRejection>,
) -> Result<Response> {
    let parts = parts.map_err(|_| Error::MediaType("a file from this page (multipart/form-data)"))?;
    let sent = match receive(&app, parts).await {
        Err(Error::TooLarge(_)) => {
            let mut problems = Problems::default();
            let words = "This file is larger than 64 MB. Make two of it, each with the first line, and bring in one after the other.";
            problems.add("file", words);
            return show(&app, &who, problems).await;
        }
        Err(Error::Problems(problems)) => return show(&app, &who, problems).await,
        sent => sent?,
    };
    if let Some(other) = BookFile::under_way(&app.db).await? {
        // A second tap sends the same file once more.
        if other.mark == sent.mark && other.stage == Stage::Trying {
            return Ok(to(other.id));
        }
        return Err(book_file::busy());
    }
    let mut tx = app.db.begin().await?;
    let file = BookFile::add(&mut tx, &who, &sent, false, app.clock.now()).await?;
    tx.commit().await?;
    sent.keep();
    let id = file.id;
    desk::start(&app, file, true);
    Ok(to(id))
}

fn to(id: Uuid) -> Response {
    Redirect::to(&format!("/old_book/{id}")).into_response()
}

async fn receive(app: &App, mut parts: Multipart) -> Result<Sent> {
    while let Some(part) = parts.next_field().await.map_err(broken)? {
        if part.name() == Some("file") {
            let sent = one(app, part).await?;
            if sent.bytes > 0 {
                return Ok(sent);
            }
        }
    }
    let mut problems = Problems::default();
    problems.add("file", "Choose a file first.");
    Err(problems.into())
}

async fn one(app: &App, mut part: Field<'_>) -> Result<Sent> {
    let mut upload = Upload::begin(&app.desk)?;
    while let Some(piece) = part.chunk().await.map_err(broken)? {
        upload.take(&piece)?;
    }
    upload.end()
}

fn broken(_: MultipartError) -> Error {
    Error::Unreadable("The file broke off on the way. Send it again.".into())
}

fn id_of(text: &str) -> Result<Uuid> {
    text.parse().map_err(|_| Error::NotFound)
}

/// `GET /old_book/{id}`
///
/// # Errors
/// Not found, or what the database says.
pub async fn one_page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(id): Path<String>,
) -> Result<Response> {
    show_one(&app, &who, id_of(&id)?, String::new()).await
}

async fn show_one(app: &App, who: &Who, id: Uuid, refused: String) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    // Before the row: what is through by then is told as through.
    let done = app.desk.done(id);
    let file = BookFile::get(&app.db, id).await?;
    let status = if refused.is_empty() {
        StatusCode::OK
    } else {
        StatusCode::CONFLICT
    };
    let page = OnePage {
        frame: Frame::new("The old book", &*shop.name, who, "settings"),
        done: done.unwrap_or(0) / 10,
        amiss: if file.stage.is_under_way() {
            Vec::new()
        } else {
            app.desk.first_amiss(id, TOLD)?
        },
        file,
        refused,
    };
    Ok((status, html(page)?).into_response())
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub struct TakeForm {
    /// `yes`: the right lines alone.
    keep_good: String,
}

/// `POST /old_book/{id}/take`: brings in what was tried. A second tap finds it under way or taken.
///
/// # Errors
/// Not found, or what the database says.
pub async fn take(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(id): Path<String>,
    form: Form<TakeForm>,
) -> Result<Response> {
    let id = id_of(&id)?;
    let mut file = BookFile::get(&app.db, id).await?;
    if matches!(file.stage, Stage::Writing | Stage::Taken) {
        return Ok(to(id));
    }
    let mut tx = app.db.begin().await?;
    match file.take(&mut tx, form.of.keep_good == "yes").await {
        Err(Error::Conflict(words)) => {
            drop(tx);
            return show_one(&app, &who, id, words).await;
        }
        taken => taken?,
    }
    tx.commit().await?;
    desk::start(&app, file, false);
    Ok(to(id))
}

/// `POST /old_book/{id}/withdraw`
///
/// # Errors
/// Not found, a conflict while it is under way, or what the database says.
pub async fn withdraw(State(app): State<App>, Path(id): Path<String>) -> Result<Response> {
    let mut file = BookFile::get(&app.db, id_of(&id)?).await?;
    let mut tx = app.db.begin().await?;
    file.withdraw(&mut tx).await?;
    tx.commit().await?;
    desk::put_away(&app, &file);
    Ok(Redirect::to("/old_book").into_response())
}

/// `GET /old_book/{id}/amiss.csv`
///
/// # Errors
/// Not found, once it is put away.
pub async fn amiss_csv(State(app): State<App>, Path(id): Path<String>) -> Result<Response> {
    let file = BookFile::get(&app.db, id_of(&id)?).await?;
    if file.stage.is_under_way() {
        return Err(Error::NotFound);
    }
    app.desk.list(file.id)
}
