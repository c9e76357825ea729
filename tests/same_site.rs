//! Same site: what another site makes a browser send is not done, whatever the browser says of it; programs are not hindered.

use axum::body::Body;
use axum::http::{Method, Request};
use serde_json::json;

use crate::shop::on_both;

const HERE: &str = "http://shop.test";
const THERE: &str = "https://evil.example";

/// Where a request says it comes from: `Sec-Fetch-Site`, `Origin`, `Referer`.
type Said = [Option<&'static str>; 3];

/// Whether it is done.
#[rustfmt::skip]
const CASES: [(Said, bool); 27] = [
    ([None, None, None], true), // no browser
    ([None, None, Some("http://shop.test/intake")], true),
    ([None, None, Some("http://SHOP.test")], true),
    ([None, None, Some("https://evil.example/page")], false),
    ([None, None, Some("https://evil.example/http://shop.test/")], false),
    ([None, None, Some("http://shop.test.evil.example/")], false),
    ([None, None, Some("http://shop.test@evil.example/")], false),
    ([None, None, Some("http://shop.test:8081/")], false),
    ([None, None, Some("about:blank")], false),
    ([None, None, Some("")], false),
    ([None, Some(HERE), None], true),
    ([None, Some(HERE), Some("https://evil.example/")], true), // the origin is the surer of the two
    ([None, Some(THERE), None], false),
    ([None, Some(THERE), Some("http://shop.test/")], false),
    ([None, Some("null"), None], false),
    ([None, Some("null"), Some("http://shop.test/")], false),
    ([Some("same-origin"), None, None], true),
    ([Some("same-origin"), Some(HERE), Some("http://shop.test/")], true),
    ([Some("none"), None, None], true),
    ([Some("none"), None, Some("https://evil.example/")], true), // typed or opened from a bookmark
    ([Some("same-site"), None, None], false),
    ([Some("same-site"), Some(HERE), None], false),
    ([Some("cross-site"), None, None], false),
    ([Some("cross-site"), Some(THERE), None], false),
    ([Some("cross-site"), Some(HERE), Some("http://shop.test/")], false),
    ([Some("cross-site"), Some("null"), None], false),
    ([Some("nonsense"), None, None], false),
];

const HEADERS: [&str; 3] = ["sec-fetch-site", "origin", "referer"];

/// A request that says so of where it comes from.
fn from(method: Method, path: &str, said: Said) -> axum::http::request::Builder {
    let mut request = Request::builder()
        .method(method)
        .uri(path)
        .header("host", "shop.test");
    for (name, value) in HEADERS.into_iter().zip(said) {
        if let Some(value) = value {
            request = request.header(name, value);
        }
    }
    request
}

#[test]
fn a_page_that_writes_is_sent_from_here_alone() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        let mut done = 0;
        for (said, may) in CASES {
            let request =
                from(Method::POST, "/find", said).header("content-type", "application/x-www-form-urlencoded");
            let page = counter
                .send(request.body(Body::from("q=V-1")).expect("a request"))
                .await;
            let said = format!("{said:?}: {}", page.status);
            assert_eq!(page.status.as_u16() != 403, may, "{said}");
            assert!(may || page.body.contains("another site"), "{said}");
            done += i64::from(may);
        }
        assert!(done > 5);
    });
}

#[test]
fn what_another_site_sends_leaves_nothing() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        let refused: Vec<_> = CASES.into_iter().filter(|case| !case.1).collect();
        for (n, (said, _)) in refused.into_iter().enumerate() {
            let request = from(Method::POST, "/intake", said)
                .header("content-type", "application/x-www-form-urlencoded");
            let body = format!("customer.name=Marta&instrument.family=violin&once=k{n}");
            let page = counter
                .send(request.body(Body::from(body)).expect("a request"))
                .await;
            assert_eq!(page.status.as_u16(), 403);
        }
        assert_eq!(shop.count("work_order").await, 0);
    });
}

#[test]
fn pages_are_read_and_programs_write_wherever_they_say_they_come_from() {
    on_both(async |shop| {
        let (counter, program) = (shop.sign_in("counter").await, shop.program("counter").await);
        for (n, (said, _)) in CASES.into_iter().enumerate() {
            let read = from(Method::GET, "/", said);
            let page = counter.send(read.body(Body::empty()).expect("a request")).await;
            assert_eq!(page.status.as_u16(), 200);
            let key = format!("key {n}");
            let mut headers = vec![("idempotency-key", key.as_str()), ("host", "shop.test")];
            headers.extend(
                HEADERS
                    .into_iter()
                    .zip(said)
                    .filter_map(|(name, value)| value.map(|value| (name, value))),
            );
            let body = json!({"name": format!("Customer {n}")});
            let made = program.post("/api/v1/customers", &headers, &body).await;
            assert_eq!(made.status.as_u16(), 201, "{}", made.json);
        }
    });
}
