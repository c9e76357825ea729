//! A browser as the tests have it: it keeps a cookie and sends forms.

use axum::Router;
use axum::body::Body;
use axum::http::{HeaderMap, Request, StatusCode, header};
use http_body_util::BodyExt;
use tower::ServiceExt;

pub struct Browser {
    service: Router,
    cookie: Option<String>,
}

/// What came back.
#[derive(Debug)]
pub struct Page {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub body: String,
}

impl Browser {
    pub fn new(service: Router, secret: Option<String>) -> Browser {
        Browser {
            service,
            cookie: secret.map(|secret| format!("purfle={secret}")),
        }
    }

    pub async fn get(&self, path: &str) -> Page {
        self.send(Request::get(path).body(Body::empty()).expect("a request"))
            .await
    }

    pub async fn post(&self, path: &str, fields: &[(&str, &str)]) -> Page {
        let body = form_urlencoded::Serializer::new(String::new())
            .extend_pairs(fields)
            .finish();
        let request = Request::post(path)
            .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
            .header("sec-fetch-site", "same-origin");
        self.send(request.body(Body::from(body)).expect("a request"))
            .await
    }

    /// Any request, with this browser's cookie.
    pub async fn send(&self, mut request: Request<Body>) -> Page {
        if let Some(cookie) = &self.cookie {
            request
                .headers_mut()
                .insert(header::COOKIE, cookie.parse().expect("a cookie"));
        }
        let response = self.service.clone().oneshot(request).await.expect("an answer");
        let (parts, body) = response.into_parts();
        let bytes = body.collect().await.expect("a body").to_bytes();
        Page {
            status: parts.status,
            headers: parts.headers,
            body: String::from_utf8_lossy(&bytes).into_owned(),
        }
    }

    /// The browser after the cookies of an answer were kept.
    #[must_use]
    pub fn keeping(self, page: &Page) -> Browser {
        let set = page
            .headers
            .get(header::SET_COOKIE)
            .and_then(|value| value.to_str().ok());
        let cookie = set.and_then(|set| set.split(';').next()).map(str::to_owned);
        Browser { cookie, ..self }
    }
}

impl Page {
    /// Where it leads.
    pub fn location(&self) -> &str {
        self.headers
            .get(header::LOCATION)
            .and_then(|value| value.to_str().ok())
            .unwrap_or_default()
    }

    pub fn header(&self, name: &str) -> &str {
        self.headers
            .get(name)
            .and_then(|value| value.to_str().ok())
            .unwrap_or_default()
    }

    /// The value of a field, as the page shows it.
    pub fn field(&self, name: &str) -> &str {
        let at = self
            .body
            .find(&format!("name=\"{name}\""))
            .unwrap_or_else(|| panic!("no field {name}"));
        let start = self.body[..at].rfind('<').expect("a tag");
        let end = at + self.body[at..].find('>').expect("its end");
        let tag = &self.body[start..end];
        tag.split("value=\"")
            .nth(1)
            .and_then(|rest| rest.split('"').next())
            .unwrap_or_default()
    }
}
