//! Again: a form the database could not take is given back with everything typed, to be sent once more as it was.

use axum::body::{Body, Bytes, to_bytes};
use axum::extract::Request;
use axum::http::header::CONTENT_TYPE;
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::app::BODY_LIMIT;
use crate::error::Told;

/// Where a form goes, and what was typed in it. Its key is among the fields, so a second sending does nothing twice.
#[derive(Clone, Debug)]
pub struct Again {
    pub address: String,
    pub fields: Vec<(String, String)>,
}

/// Holds on to the form while it is on its way, and gives it back if the answer is that it could not be taken now.
pub async fn keep_typed(request: Request, next: Next) -> Response {
    let kind = request
        .headers()
        .get(CONTENT_TYPE)
        .map_or(&b""[..], |kind| kind.as_bytes());
    let form = request.method() == Method::POST
        && kind.starts_with(b"application/x-www-form-urlencoded")
        && !request.uri().path().starts_with("/api/");
    if !form {
        return next.run(request).await;
    }
    let address = request.uri().path().to_owned();
    let (parts, body) = request.into_parts();
    let typed = match to_bytes(body, BODY_LIMIT).await {
        Ok(typed) => typed,
        Err(broken) if is_too_long(&broken) => return StatusCode::PAYLOAD_TOO_LARGE.into_response(),
        Err(_) => return StatusCode::BAD_REQUEST.into_response(),
    };
    let request = Request::from_parts(parts, Body::from(typed.clone()));
    let mut response = next.run(request).await;
    if let Some(told) = response.extensions_mut().get_mut::<Told>()
        && told.status == StatusCode::SERVICE_UNAVAILABLE
    {
        told.again = again(address, &typed);
    }
    response
}

fn is_too_long(broken: &axum::Error) -> bool {
    let why = std::error::Error::source(broken);
    why.is_some_and(|why| why.downcast_ref::<http_body_util::LengthLimitError>().is_some())
}

/// A password is never put on a page: such a form, always a short one, is typed again.
fn again(address: String, typed: &Bytes) -> Option<Again> {
    let fields: Vec<(String, String)> = form_urlencoded::parse(typed).into_owned().collect();
    let secret = fields
        .iter()
        .any(|(name, value)| name == "password" && !value.is_empty());
    (!secret).then_some(Again { address, fields })
}
