//! The old book for programs: a file of CSV is handed over, gone through in the background, and brought in.

use axum::Json as Answer;
use axum::body::Body;
use axum::extract::{Extension, Path, Request, State};
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderMap, StatusCode};
use axum::response::Response;
use http_body_util::BodyExt;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::app::App;
use crate::error::{Error, Result};
use crate::old_book::amiss::Amiss;
use crate::old_book::book_file::{BookFile, Stage, busy};
use crate::old_book::desk;
use crate::old_book::upload::{Sent, Upload};
use crate::once::Key;
use crate::staff::Who;

use super::doing::Doing;
use super::json::{Json, Nothing, Query};
use super::orders::tell;

/// So many lines that are not right stand in an answer; the rest is in the list.
const TOLD: usize = 50;
/// So many files are listed.
const LATEST: i64 = 50;

/// What is to be done with a file.
#[derive(Debug, Default, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields, default)]
#[into_params(parameter_in = Query)]
pub struct BookAsked {
    /// `true`: the file is only tried, and waits to be taken; left out: it is brought in if all of it is right.
    dry: Option<String>,
    /// `true`: what is right is brought in even if other lines are not.
    keep_good: Option<String>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct BookFileAnswer {
    id: Uuid,
    stage: Stage,
    keep_good: bool,
    bytes: i64,
    /// The SHA-256 of the file, as hexadecimal digits.
    sha256: String,
    by: String,
    #[schema(format = DateTime)]
    begun_at: String,
    #[schema(format = DateTime)]
    ended_at: Option<String>,
    /// While it is `trying` or `writing`: how much is done, from 0 to 1.
    progress: Option<f64>,
    lines: LinesAnswer,
    /// Visits that were stored.
    taken: i64,
    /// Of those: customers and instruments that were not known before.
    customers: i64,
    instruments: i64,
    /// Why it broke off; empty if it did not.
    words: String,
    /// The first 50 that are not right; all are in the list beside this.
    amiss: Vec<AmissAnswer>,
    version: i64,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct LinesAnswer {
    right: i64,
    /// Brought in before; they stay as they are.
    there: i64,
    /// Say the same as an earlier line.
    twice: i64,
    /// Not right, and not brought in.
    amiss: i64,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct AmissAnswer {
    line: u64,
    /// Empty when it is the line as a whole.
    column: String,
    message: String,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct BookFileList {
    /// The latest 50, newest first, without what is not right in them.
    items: Vec<BookFileAnswer>,
}

#[derive(Debug, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BookTaken {
    /// Takes what is right even if other lines are not.
    keep_good: Option<bool>,
}

#[expect(clippy::cast_precision_loss, reason = "at most a thousand")]
fn answer(app: &App, file: BookFile, amiss: Vec<Amiss>) -> BookFileAnswer {
    let done = app.desk.done(file.id).unwrap_or(0) as f64 / 1000.0;
    BookFileAnswer {
        progress: file.stage.is_under_way().then_some(done),
        id: file.id,
        stage: file.stage,
        keep_good: file.keep_good,
        bytes: file.bytes,
        sha256: file.mark,
        by: file.by_name,
        begun_at: file.begun_at.rfc3339(),
        ended_at: file.ended_at.map(crate::clock::Moment::rfc3339),
        lines: LinesAnswer {
            right: file.fit,
            there: file.there,
            twice: file.twice,
            amiss: file.amiss,
        },
        taken: file.taken,
        customers: file.customers,
        instruments: file.instruments,
        words: file.words,
        amiss: amiss
            .into_iter()
            .map(|one| AmissAnswer {
                line: one.line,
                column: one.column,
                message: one.words,
            })
            .collect(),
        version: file.version,
    }
}

/// Lists the files that were handed over.
#[utoipa::path(get, path = "/api/v1/old_book", tag = "old_book", responses((status = 200, body = BookFileList)))]
pub async fn list(State(app): State<App>, Query(Nothing {}): Query<Nothing>) -> Result<Answer<BookFileList>> {
    let files = BookFile::latest(&app.db, LATEST).await?;
    let items = files.into_iter().map(|file| answer(&app, file, Vec::new()));
    Ok(Answer(BookFileList {
        items: items.collect(),
    }))
}

fn said(problems: &mut crate::form::Problems, name: &str, word: Option<&String>) -> bool {
    match word.map(String::as_str) {
        None | Some("false") => false,
        Some("true") => true,
        Some(_) => {
            problems.add(format!("?{name}"), "Say true or false.");
            false
        }
    }
}

/// Takes a file of up to 64 MB and goes through it in the background: its address tells how far it is, and what came of it.
///
/// No line is brought in twice, however often a file is sent.
#[utoipa::path(post, path = "/api/v1/old_book", tag = "old_book", params(BookAsked),
    request_body(content = String, content_type = "text/csv", description = "A line for each visit; the first names the columns."),
    responses((status = 202, body = BookFileAnswer)))]
pub async fn lay(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Query(asked): Query<BookAsked>,
    request: Request,
) -> Result<Response> {
    let mut problems = crate::form::Problems::default();
    let dry = said(&mut problems, "dry", asked.dry.as_ref());
    let keep_good = said(&mut problems, "keep_good", asked.keep_good.as_ref());
    problems.settle()?;
    let headers = request.headers().clone();
    if !is_csv(&headers) {
        return Err(Error::MediaType("CSV in UTF-8 (content type text/csv)"));
    }
    let sent = receive(&app, request.into_body()).await?;
    let what = format!("POST /api/v1/old_book dry={dry} keep_good={keep_good}");
    let key = Key::of_call(&headers, &what, sent.mark.as_bytes())?;
    if let Some(other) = BookFile::under_way(&app.db).await?
        && (key.is_none() || other.mark != sent.mark)
    {
        return Err(busy()); // rather than wait until it has been written
    }
    let mut doing = Doing::make(&app, &who, key).await?;
    let file = BookFile::add(&mut doing.tx, &who, &sent, keep_good, doing.now).await?;
    let told = answer(&app, file.clone(), Vec::new());
    let response = doing.answer(StatusCode::ACCEPTED, file.version, &told).await?;
    sent.keep();
    desk::start(&app, file, dry);
    Ok(response)
}

/// `text/csv`, in UTF-8 if a charset is named.
fn is_csv(headers: &HeaderMap) -> bool {
    let kind = headers.get(CONTENT_TYPE).and_then(|kind| kind.to_str().ok());
    let kind = kind.unwrap_or_default().to_ascii_lowercase();
    let mut parts = kind.split(';').map(str::trim);
    let utf8 = |part: &str| {
        let set = part.strip_prefix("charset=");
        set.is_none_or(|set| set.trim_matches('"') == "utf-8")
    };
    parts.next() == Some("text/csv") && parts.all(utf8)
}

async fn receive(app: &App, mut body: Body) -> Result<Sent> {
    let mut upload = Upload::begin(&app.desk)?;
    while let Some(frame) = body.frame().await {
        let frame = frame.map_err(|_| Error::Unreadable("It broke off on the way. Send it again.".into()))?;
        if let Ok(piece) = frame.into_data() {
            upload.take(&piece)?;
        }
    }
    upload.end()
}

fn id_of(text: &str) -> Result<Uuid> {
    text.parse().map_err(|_| Error::NotFound)
}

/// Tells how far a file is, and what came of it.
#[utoipa::path(get, path = "/api/v1/old_book/{file}", tag = "old_book", responses((status = 200, body = BookFileAnswer)))]
pub async fn read(State(app): State<App>, Path(id): Path<String>) -> Result<Response> {
    let file = BookFile::get(&app.db, id_of(&id)?).await?;
    let amiss = if file.stage.is_under_way() {
        Vec::new()
    } else {
        app.desk.first_amiss(file.id, TOLD)?
    };
    tell(file.version, &answer(&app, file, amiss))
}

/// All that is not right in a file, as CSV: `line`, `column` and `what_to_do`, until the next file is handed over.
#[utoipa::path(get, path = "/api/v1/old_book/{file}/amiss", tag = "old_book", responses((status = 200, content_type = "text/csv", body = String)))]
pub async fn amiss(State(app): State<App>, Path(id): Path<String>) -> Result<Response> {
    let file = BookFile::get(&app.db, id_of(&id)?).await?;
    if file.stage.is_under_way() {
        return Err(Error::NotFound);
    }
    app.desk.list(file.id)
}

/// Brings in what was tried: all of it, or what is right alone.
#[utoipa::path(post, path = "/api/v1/old_book/{file}/take", tag = "old_book", request_body = BookTaken, responses((status = 202, body = BookFileAnswer)))]
pub async fn take(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(id): Path<String>,
    call: Json<BookTaken>,
) -> Result<Response> {
    let mut doing = Doing::make(&app, &who, call.key()?).await?;
    let mut file = BookFile::get(&mut doing.tx, id_of(&id)?).await?;
    file.take(&mut doing.tx, call.of.keep_good == Some(true)).await?;
    let told = answer(&app, file.clone(), Vec::new());
    let response = doing.answer(StatusCode::ACCEPTED, file.version, &told).await?;
    desk::start(&app, file, false);
    Ok(response)
}

/// Puts a file away that was tried. What was brought in stays.
#[utoipa::path(post, path = "/api/v1/old_book/{file}/withdraw", tag = "old_book", responses((status = 200, body = BookFileAnswer)))]
pub async fn withdraw(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    Path(id): Path<String>,
    call: Json<Nothing>,
) -> Result<Response> {
    let mut doing = Doing::make(&app, &who, call.key()?).await?;
    let mut file = BookFile::get(&mut doing.tx, id_of(&id)?).await?;
    file.withdraw(&mut doing.tx).await?;
    let told = answer(&app, file.clone(), Vec::new());
    let response = doing.answer(StatusCode::OK, file.version, &told).await?;
    desk::put_away(&app, &file);
    Ok(response)
}
