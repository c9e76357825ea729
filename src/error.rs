//! What can go wrong, told twice: as a page to people and as RFC 9457 problem JSON to programs.

use axum::body::Body;
use axum::extract::Request;
use axum::http::header::{CONTENT_TYPE, ETAG, LOCATION, RETRY_AFTER, WWW_AUTHENTICATE};
use axum::http::{HeaderValue, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use serde_json::json;
use uuid::Uuid;

use crate::again::Again;
use crate::db::Trouble;
use crate::form::{Problem, Problems};
use crate::log::quoted;

pub type Result<T, E = Error> = std::result::Result<T, E>;

#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// Not there, or not for this person to know of.
    #[error("There is nothing at this address.")]
    NotFound,
    /// It was here, and is not to be had any more.
    #[error("{0}")]
    Over(String),
    /// Not there either, with a hint how it may be found.
    #[error("{0}")]
    NotHere(String),
    #[error("Sign in first.")]
    SignIn,
    #[error("Your part in the shop does not include this. Ask the owner.")]
    NotAllowed,
    /// Fields that want mending.
    #[error("Please look at what is marked.")]
    Problems(Problems),
    /// The act does not fit the state of things; the words say why.
    #[error("{0}")]
    Conflict(String),
    /// Somebody new is like customers who are here already, by these ids.
    #[error(
        "Somebody of this name with the same phone or e-mail is here already. Take them by their id, or say \"another\": \
         true to add somebody else of that name."
    )]
    Alike(Vec<Uuid>),
    /// The thing was changed by somebody since it was read.
    #[error("{0}")]
    Stale(String),
    #[error("Say which version you change: send If-Match with the ETag of your last answer.")]
    VersionMissing,
    #[error("{0}")]
    Unreadable(String),
    #[error("This is more than {0} can be. Make it smaller.")]
    TooLarge(&'static str),
    #[error("Send {0}.")]
    MediaType(&'static str),
    /// Not a refusal: this act was done before, and this was its answer.
    #[error("done before")]
    Again { status: u16, answer: String },
    #[error("Too many tries. Wait {0} seconds and try again.")]
    TooOften(u64),
    /// The database could not do it, through no fault of what was asked.
    #[error("{}", .0.words())]
    Unable(Trouble, #[source] sqlx::Error),
    #[error("Something broke on our side. Nothing was kept; try again.")]
    Fault(anyhow::Error),
}

/// What a response tells, until [`faces`] has chosen how it looks.
#[derive(Clone, Debug)]
pub struct Told {
    pub status: StatusCode,
    pub words: String,
    pub problems: Problems,
    /// The customers who are meant, most likely.
    pub customers: Vec<Uuid>,
    /// The form that can be sent again, when it was not the form that was at fault.
    pub again: Option<Again>,
    /// What stands now, told to a call that came on an old version.
    pub stands: Option<serde_json::Value>,
    /// Under which the log says what broke on our side.
    pub instance: Option<Uuid>,
}

impl Error {
    #[must_use]
    pub fn status(&self) -> StatusCode {
        match self {
            Error::NotFound | Error::NotHere(_) => StatusCode::NOT_FOUND,
            Error::Over(_) => StatusCode::GONE,
            Error::SignIn => StatusCode::UNAUTHORIZED,
            Error::NotAllowed => StatusCode::FORBIDDEN,
            Error::Problems(_) => StatusCode::UNPROCESSABLE_ENTITY,
            Error::Conflict(_) | Error::Alike(_) => StatusCode::CONFLICT,
            Error::Stale(_) => StatusCode::PRECONDITION_FAILED,
            Error::VersionMissing => StatusCode::PRECONDITION_REQUIRED,
            Error::Unreadable(_) => StatusCode::BAD_REQUEST,
            Error::TooLarge(_) => StatusCode::PAYLOAD_TOO_LARGE,
            Error::MediaType(_) => StatusCode::UNSUPPORTED_MEDIA_TYPE,
            Error::TooOften(_) => StatusCode::TOO_MANY_REQUESTS,
            Error::Again { status, .. } => StatusCode::from_u16(*status).unwrap_or(StatusCode::OK),
            Error::Unable(..) => StatusCode::SERVICE_UNAVAILABLE,
            Error::Fault(_) => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }

    #[must_use]
    pub fn conflict(words: impl Into<String>) -> Error {
        Error::Conflict(words.into())
    }

    /// A fault that is ours, with what we were doing.
    #[must_use]
    pub fn fault(words: impl std::fmt::Display) -> Error {
        Error::Fault(anyhow::anyhow!("{words}"))
    }
}

impl From<sqlx::Error> for Error {
    fn from(problem: sqlx::Error) -> Self {
        if let Some(trouble) = Trouble::of(&problem) {
            return Error::Unable(trouble, problem);
        }
        match problem {
            sqlx::Error::RowNotFound => Error::NotFound,
            // PostgreSQL cannot hold a NUL, SQLite can: what got past the forms is refused by both alike.
            sqlx::Error::Database(refusal) if refusal.code().as_deref() == Some("22021") => {
                Error::Unreadable("There is a sign in this that cannot be kept. Type it again.".into())
            }
            other => Error::Fault(anyhow::Error::new(other)),
        }
    }
}
impl From<Problems> for Error {
    fn from(problems: Problems) -> Self {
        Error::Problems(problems)
    }
}
impl From<askama::Error> for Error {
    fn from(problem: askama::Error) -> Self {
        Error::Fault(anyhow::Error::new(problem))
    }
}
impl From<anyhow::Error> for Error {
    fn from(problem: anyhow::Error) -> Self {
        Error::Fault(problem)
    }
}

impl IntoResponse for Error {
    fn into_response(self) -> Response {
        let number = Uuid::new_v4();
        let broke = matches!(self, Error::Fault(_) | Error::Unable(..));
        match &self {
            // A page's answer is where it leads; a call's answer is its JSON.
            Error::Again { status: 303, answer } => {
                return axum::response::Redirect::to(answer).into_response();
            }
            Error::Again { answer, .. } => {
                let kind = (CONTENT_TYPE, "application/json");
                let again = ("idempotent-replay", "true");
                let mut response = (self.status(), [kind], [again], answer.clone()).into_response();
                if let Some(version) = version_told(answer) {
                    response.headers_mut().insert(ETAG, crate::act::etag(version));
                }
                return response;
            }
            Error::Fault(why) => tracing::error!(%number, fault = quoted(format!("{why:#}")), "fault"),
            Error::Unable(trouble, why) => {
                // As text, not as it shows itself: the log then escapes what would begin a line of its own.
                tracing::error!(%number, ?trouble, fault = quoted(why), "the database could not");
            }
            _ => {}
        }
        let (status, words) = (self.status(), self.to_string());
        let mut response = status.into_response();
        let wait = match &self {
            Error::TooOften(seconds) => Some(*seconds),
            Error::Unable(..) => Some(2),
            _ => None,
        };
        if let Some(seconds) = wait {
            response
                .headers_mut()
                .insert(RETRY_AFTER, HeaderValue::from(seconds));
        }
        let (problems, customers) = match self {
            Error::Problems(problems) => (problems, Vec::new()),
            Error::Alike(customers) => (Problems::default(), customers),
            _ => (Problems::default(), Vec::new()),
        };
        response.extensions_mut().insert(Told {
            status,
            words,
            problems,
            customers,
            again: None,
            stands: None,
            instance: broke.then_some(number),
        });
        response
    }
}

/// The version of the order that an answer tells, so that its second sending has the same entity tag as its first.
fn version_told(answer: &str) -> Option<i64> {
    let answer: serde_json::Value = serde_json::from_str(answer).ok()?;
    let version = answer.get("order_version").or_else(|| answer.get("version"));
    version.and_then(serde_json::Value::as_i64)
}

/// Gives every refusal its face: problem JSON under `/api`, the sign-in page to strangers, a page with words to people.
/// The router's own answers (no such address, wrong method, an address that is no text) are dressed here too.
pub async fn faces(request: Request, next: Next) -> Response {
    let path = request.uri().path().to_owned();
    let response = next.run(request).await;
    let status = response.status();
    let told = response.extensions().get::<Told>().cloned().or_else(|| {
        let kind = response.headers().get(CONTENT_TYPE).map(HeaderValue::as_bytes);
        let bare = if status.is_client_error() {
            kind.is_none_or(|kind| kind.starts_with(b"text/plain"))
        } else {
            status.is_server_error() && kind.is_none()
        };
        bare.then(|| Told {
            status,
            words: bare_words(status).to_owned(),
            problems: Problems::default(),
            customers: Vec::new(),
            again: None,
            stands: None,
            instance: None,
        })
    });
    let Some(mut told) = told else { return response };
    let (mut parts, _) = response.into_parts();
    parts.headers.remove(axum::http::header::CONTENT_LENGTH);
    if path.starts_with("/api/") {
        if told.status == StatusCode::UNAUTHORIZED {
            "Send Authorization: Bearer with a token of this shop that has not ended."
                .clone_into(&mut told.words);
        }
        let body = problem_json(&told);
        parts
            .headers
            .insert(CONTENT_TYPE, HeaderValue::from_static("application/problem+json"));
        if told.status == StatusCode::UNAUTHORIZED {
            parts
                .headers
                .insert(WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
        }
        return Response::from_parts(parts, Body::from(body.to_string()));
    }
    if told.status == StatusCode::UNAUTHORIZED {
        parts.status = StatusCode::SEE_OTHER;
        parts
            .headers
            .insert(LOCATION, HeaderValue::from_static("/sign-in"));
        return Response::from_parts(parts, Body::empty());
    }
    parts
        .headers
        .insert(CONTENT_TYPE, HeaderValue::from_static("text/html; charset=utf-8"));
    Response::from_parts(parts, Body::from(crate::page::message(&told)))
}

fn bare_words(status: StatusCode) -> &'static str {
    match status {
        StatusCode::NOT_FOUND => "There is nothing at this address.",
        StatusCode::METHOD_NOT_ALLOWED => "This address does not take that.",
        StatusCode::FORBIDDEN => {
            "This came from another site, so it was not done. Open the page here and try again."
        }
        StatusCode::PAYLOAD_TOO_LARGE => "That is more than fits. Make it smaller.",
        StatusCode::REQUEST_TIMEOUT => "It took too long to arrive. Try again.",
        StatusCode::SERVICE_UNAVAILABLE => "Too busy just now. Try again in a moment.",
        _ if status.is_client_error() => "This could not be read.",
        _ => "Something broke on our side. Try again.",
    }
}

/// RFC 9457: `type title status detail`, and `errors` with what wants mending: a field of the body by its JSON pointer,
/// a parameter (`?limit`) or a header (`Idempotency-Key`) by its name; `customers` who are here already; `present`, what stands
/// now, when the call came on an old version; `instance`, under which the log says what broke.
fn problem_json(told: &Told) -> serde_json::Value {
    let mut body = json!({
        "type": "about:blank",
        "title": told.status.canonical_reason().unwrap_or("Problem"),
        "status": told.status.as_u16(),
        "detail": told.words,
    });
    if let Some(number) = told.instance {
        body["instance"] = json!(number.urn().to_string());
    }
    if !told.customers.is_empty() {
        body["customers"] = json!(told.customers);
    }
    if !told.problems.is_empty() {
        body["errors"] = told.problems.iter().map(problem_member).collect();
    }
    if let Some(stands) = &told.stands {
        body["present"] = stands.clone();
    }
    body
}

fn problem_member(problem: &Problem) -> serde_json::Value {
    let (field, message) = (&problem.field, &problem.words);
    if let Some(parameter) = field.strip_prefix('?') {
        return json!({"field": parameter, "in": "query", "message": message});
    }
    if field == crate::once::HEADER {
        return json!({"field": field, "in": "header", "message": message});
    }
    // RFC 6901 writes the two signs it uses itself as ~0 and ~1.
    let steps = field.replace('~', "~0").replace('/', "~1").replace('.', "/");
    let pointer = if steps.is_empty() {
        steps
    } else {
        format!("/{steps}")
    };
    json!({"field": field, "pointer": pointer, "message": message})
}
