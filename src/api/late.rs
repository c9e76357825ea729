//! A late call changes a version that is no longer the newest: its refusal tells what stands now, so that both can be shown.

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::{Request, State};
use axum::http::header::ETAG;
use axum::http::{HeaderValue, StatusCode, Uri};
use axum::middleware::Next;
use axum::response::Response;
use serde_json::Value;
use tower::ServiceExt;

use crate::error::Told;
use crate::staff::Who;

/// The longest answer that is told within a refusal; an order of years is far shorter.
const LONGEST: usize = 4 * 1024 * 1024;

/// Adds to a refusal that came of an old version what a reading call would be answered now, and its ETag. It is asked for
/// as the caller, through the same gates, once the refused act is over.
pub async fn tell_what_stands(State(reads): State<Router>, request: Request, next: Next) -> Response {
    let path = request.uri().path();
    if request.method().is_safe() || !path.starts_with("/api/") {
        return next.run(request).await;
    }
    let path = path.to_owned();
    let who = request.extensions().get::<Who>().cloned();
    let mut response = next.run(request).await;
    if response.status() == StatusCode::PRECONDITION_FAILED
        && let Some(who) = who
        && let Some((version, stands)) = what_stands(&reads, &path, &who).await
        && let Some(told) = response.extensions_mut().get_mut::<Told>()
    {
        told.stands = Some(stands);
        response.headers_mut().insert(ETAG, version);
    }
    response
}

/// What an act changes stands at the act's own address or at one above it: `/orders/V-1` for `/orders/V-1/checks`.
async fn what_stands(reads: &Router, path: &str, who: &Who) -> Option<(HeaderValue, Value)> {
    let mut address = path;
    while address.len() > "/api/v1/".len() {
        let mut request = Request::new(Body::empty());
        *request.uri_mut() = Uri::try_from(address).ok()?;
        request.extensions_mut().insert(who.clone());
        let answer = reads.clone().oneshot(request).await.ok()?;
        if answer.status() == StatusCode::OK
            && let Some(version) = answer.headers().get(ETAG).cloned()
        {
            let body = to_bytes(answer.into_body(), LONGEST).await.ok()?;
            return Some((version, serde_json::from_slice(&body).ok()?));
        }
        address = address.rsplit_once('/')?.0;
    }
    None
}
