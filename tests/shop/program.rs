//! A program that uses the API with a token.

use axum::Router;
use axum::body::Body;
use axum::http::{HeaderMap, Method, Request, StatusCode, header};
use http_body_util::BodyExt;
use serde_json::Value;
use tower::ServiceExt;

#[derive(Clone)]
pub struct Program {
    service: Router,
    token: Option<String>,
}

#[derive(Debug)]
pub struct Answer {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub json: Value,
}

impl Program {
    pub fn new(service: Router, token: Option<String>) -> Program {
        Program { service, token }
    }

    pub async fn get(&self, path: &str) -> Answer {
        self.call(Method::GET, path, &[], None).await
    }

    pub async fn post(&self, path: &str, headers: &[(&str, &str)], body: &Value) -> Answer {
        self.call(Method::POST, path, headers, Some(body.to_string()))
            .await
    }

    /// Changes what was last told with this entity tag.
    pub async fn patch(&self, path: &str, etag: &str, body: &Value) -> Answer {
        let headers = [("if-match", etag)];
        self.call(Method::PATCH, path, &headers, Some(body.to_string()))
            .await
    }

    pub async fn call(
        &self,
        method: Method,
        path: &str,
        headers: &[(&str, &str)],
        body: Option<String>,
    ) -> Answer {
        self.send(method, path, headers, body.map(String::into_bytes))
            .await
    }

    /// As [`Program::call`], with a body that need not be text.
    pub async fn send(
        &self,
        method: Method,
        path: &str,
        headers: &[(&str, &str)],
        body: Option<Vec<u8>>,
    ) -> Answer {
        let mut request = Request::builder().method(method).uri(path);
        if let Some(token) = &self.token {
            request = request.header(header::AUTHORIZATION, format!("Bearer {token}"));
        }
        if body.is_some() && !headers.iter().any(|header| header.0 == "content-type") {
            request = request.header(header::CONTENT_TYPE, "application/json");
        }
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let request = request
            .body(body.map_or(Body::empty(), Body::from))
            .expect("a request");
        let response = self.service.clone().oneshot(request).await.expect("an answer");
        let (parts, body) = response.into_parts();
        let bytes = body.collect().await.expect("a body").to_bytes();
        let json = serde_json::from_slice(&bytes).unwrap_or(Value::Null);
        Answer {
            status: parts.status,
            headers: parts.headers,
            json,
        }
    }
}

impl Answer {
    pub fn header(&self, name: &str) -> &str {
        self.headers
            .get(name)
            .and_then(|value| value.to_str().ok())
            .unwrap_or_default()
    }

    /// The entity tag, as If-Match wants it.
    pub fn etag(&self) -> String {
        self.header("etag").to_owned()
    }
}
