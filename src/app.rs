//! What every request has at hand, and what is wrapped around all of them.

use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request, State};
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::middleware::{Next, from_fn, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use tokio::sync::{Notify, Semaphore};
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::timeout::TimeoutLayer;
use uuid::Uuid;

use crate::admin::health::Answered;
use crate::admin::set_up::Link;
use crate::again::keep_typed;
use crate::api::late;
use crate::clock::Clock;
use crate::db::Db;
use crate::diagnosis::models::Models;
use crate::error::{Error, faces};
use crate::old_book::desk::Desk;
use crate::reports::sister::Sister;
use crate::same_site;
use crate::staff::session;
use crate::staff::sign_in::Limits;

/// The longest form or JSON body: the complaint of a long letter fits many times.
pub const BODY_LIMIT: usize = 256 * 1024;
/// A request that is not answered by then is given up; the act it asked for still runs to its end.
const ANSWER_WITHIN: Duration = Duration::from_secs(30);

#[derive(Clone)]
pub struct App(Arc<Inner>);

pub struct Inner {
    pub db: Db,
    pub clock: Clock,
    /// Where people reach the service, without a slash at the end: printed in codes.
    pub address: String,
    /// The link to the set-up page, if there was no shop at the start.
    pub set_up_link: Mutex<Option<Link>>,
    pub limits: Limits,
    /// What a noise may be.
    pub models: Models,
    pub answered: Answered,
    /// Where a file of the old book lies while it is gone through.
    pub desk: Desk,
    /// The owner wants other bands of age: whoever counts by them is told.
    pub new_bands: Notify,
    /// The other shops of the house.
    pub sisters: Vec<Arc<Sister>>,
    /// So many passwords are hashed at once, and no more.
    pub hashing: Semaphore,
}

impl std::ops::Deref for App {
    type Target = Inner;
    fn deref(&self) -> &Inner {
        &self.0
    }
}

impl App {
    /// With a folder of its own for what it keeps for a while, made when there is something to keep.
    #[must_use]
    pub fn new(db: Db, clock: Clock, address: String) -> App {
        let folder = std::env::temp_dir().join(format!("purfle-{}", Uuid::new_v4()));
        App::in_folder(db, clock, address, folder, Vec::new())
    }

    /// With the shop's data folder, and the other shops of its house.
    #[must_use]
    pub fn in_folder(
        db: Db,
        clock: Clock,
        address: String,
        folder: PathBuf,
        sisters: Vec<Arc<Sister>>,
    ) -> App {
        App(Arc::new(Inner {
            db,
            clock,
            address,
            set_up_link: Mutex::new(None),
            limits: Limits::new(),
            models: Models::default(),
            answered: Answered::default(),
            desk: Desk::new(folder),
            new_bands: Notify::new(),
            sisters,
            hashing: Semaphore::new(crate::staff::hash::AT_ONCE),
        }))
    }

    /// Whether people come over TLS; cookies are then never sent without it.
    #[must_use]
    pub fn secure(&self) -> bool {
        self.address.starts_with("https://")
    }

    /// Whether others on the network could read along: without https, at an address that more than this machine reaches.
    #[must_use]
    pub fn overheard(&self) -> bool {
        let Some(host) = self.address.strip_prefix("http://") else {
            return false;
        };
        !["127.", "localhost", "[::1]"]
            .iter()
            .any(|here| host.starts_with(here))
    }

    /// Everything that is served, wrapped in what holds for all of it.
    #[must_use]
    pub fn service(&self) -> Router {
        self.wrap(crate::routes::all().router)
    }

    /// Routes in what holds for all of them: who is asking, limits, and an answer whatever happens.
    #[must_use]
    pub fn wrap(&self, routes: Router<App>) -> Router {
        let routes = routes.with_state(self.clone());
        let reads = routes.clone();
        routes
            .fallback(|| async { StatusCode::NOT_FOUND })
            .layer(from_fn_with_state(reads, late::tell_what_stands))
            .layer(from_fn_with_state(self.clone(), session::who))
            .layer(from_fn(to_its_end))
            .layer(from_fn(same_site::only))
            .layer(DefaultBodyLimit::max(BODY_LIMIT))
            .layer(from_fn(keep_typed))
            .layer(TimeoutLayer::with_status_code(
                StatusCode::SERVICE_UNAVAILABLE,
                ANSWER_WITHIN,
            ))
            .layer(CatchPanicLayer::custom(|_| {
                Error::fault("a handler panicked").into_response()
            }))
            .layer(from_fn(faces))
            .layer(from_fn_with_state(self.clone(), told))
            .layer(from_fn(headers))
            .layer(CompressionLayer::new())
    }
}

/// An act of a person runs to its end even if the browser goes away in the middle.
async fn to_its_end(request: Request, next: Next) -> Response {
    if request.method().is_safe() {
        return next.run(request).await;
    }
    match tokio::spawn(next.run(request)).await {
        Ok(response) => response,
        Err(broken) => Error::fault(format!("an act broke off: {broken}")).into_response(),
    }
}

/// One count and one line in the log for each request: the address's pattern, never what people typed.
async fn told(State(app): State<App>, request: Request, next: Next) -> Response {
    let method = request.method().clone();
    let path = request
        .extensions()
        .get::<axum::extract::MatchedPath>()
        .map_or_else(|| "(no such address)".to_owned(), |path| path.as_str().to_owned());
    let start = tokio::time::Instant::now();
    let response = next.run(request).await;
    let took = start.elapsed();
    app.answered.count(response.status(), took);
    let micros = u64::try_from(took.as_micros()).unwrap_or(u64::MAX);
    tracing::info!(%method, path, status = response.status().as_u16(), micros, "answered");
    response
}

/// What every answer says to the browser about itself. Pages with customers' data are never kept by it.
async fn headers(request: Request, next: Next) -> Response {
    const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; \
                          connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    let mut say = |name: HeaderName, value: &'static str| {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    };
    say(header::CONTENT_SECURITY_POLICY, POLICY);
    say(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    say(header::X_FRAME_OPTIONS, "DENY");
    say(header::REFERRER_POLICY, "same-origin");
    say(header::CACHE_CONTROL, "no-store");
    say(
        HeaderName::from_static("cross-origin-opener-policy"),
        "same-origin",
    );
    say(
        HeaderName::from_static("permissions-policy"),
        "geolocation=(), microphone=(), payment=()",
    );
    response
}
