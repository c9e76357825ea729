//! Same site is what a request that writes must come from: a page of ours, or no page at all.

use axum::extract::Request;
use axum::http::header::{AUTHORIZATION, HOST, HeaderName, ORIGIN, REFERER};
use axum::http::{HeaderMap, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

const SEC_FETCH_SITE: HeaderName = HeaderName::from_static("sec-fetch-site");

/// Refuses what another site made a browser send. A program that shows its token is let through: no browser sends one
/// by itself, as it does a cookie, and the API takes nothing else.
pub async fn only(request: Request, next: Next) -> Response {
    if request.method().is_safe() || shows_a_token(&request) || is_from_here(&request) {
        return next.run(request).await;
    }
    StatusCode::FORBIDDEN.into_response()
}

fn shows_a_token(request: &Request) -> bool {
    let shown = request.headers().get(AUTHORIZATION);
    request.uri().path().starts_with("/api/")
        && shown.is_some_and(|shown| shown.as_bytes().starts_with(b"Bearer "))
}

/// By what the browser says of where it stood, the surest first; whoever says nothing of it is no browser of these years.
fn is_from_here(request: &Request) -> bool {
    let headers = request.headers();
    if let Some(site) = headers.get(SEC_FETCH_SITE) {
        return site == "same-origin" || site == "none";
    }
    let host = request.uri().authority().map(ToString::to_string);
    let host = host.or_else(|| text(headers, &HOST).map(str::to_owned));
    let is_host = |address: &str| {
        let told = address
            .split_once("://")
            .map(|(_, rest)| rest.split(['/', '?', '#']).next().unwrap_or_default());
        told.zip(host.as_deref())
            .is_some_and(|(told, host)| told.eq_ignore_ascii_case(host))
    };
    for name in [ORIGIN, REFERER] {
        if headers.contains_key(&name) {
            return text(headers, &name).is_some_and(is_host);
        }
    }
    true
}

fn text<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    headers.get(name).and_then(|value| value.to_str().ok())
}
