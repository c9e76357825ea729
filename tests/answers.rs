//! Answers: whatever happens behind an address, the browser is told in words, and the next request is fine.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::http::Request;
use axum::routing::{get, post};
use tower::ServiceExt;

use crate::shop::{Browser, Page, on_both};

async fn broken() -> &'static str {
    let found = std::fs::read_to_string("no/such/file");
    found.map(|_| "").expect("a secret detail of the fault")
}

fn told_without_details(page: &Page) {
    assert_eq!(page.status.as_u16(), 500);
    for detail in [
        "secret detail",
        "answers.rs",
        "panick",
        "stack backtrace",
        "Fault",
    ] {
        assert!(!page.body.contains(detail), "{detail}");
    }
    assert!(page.body.contains("Something broke on our side."));
    // RFC 9457, section 3.1.5: `instance` identifies the occurrence; the log says the rest under the same number.
    let number = page.body.contains("\"instance\":\"urn:uuid:") || page.body.contains("give this number to");
    assert!(number, "{}", page.body);
    assert!(
        page.header("content-security-policy")
            .contains("default-src 'none'")
    );
    assert_eq!(page.header("cache-control"), "no-store");
}

#[test]
fn a_panic_is_answered_and_the_next_request_is_fine() {
    on_both(async |shop| {
        let routes = purfle::routes::all().router;
        let routes = routes
            .route("/broken", get(broken).post(broken))
            .route("/api/v1/broken", get(broken).post(broken));
        let browser = Browser::new(shop.app.wrap(routes), None);
        for path in ["/broken", "/api/v1/broken"] {
            told_without_details(&browser.get(path).await);
            told_without_details(&browser.post(path, &[]).await);
            assert_eq!(browser.get("/sign-in").await.status.as_u16(), 200);
        }
        assert_eq!(
            browser.get("/api/v1/broken").await.header("content-type"),
            "application/problem+json"
        );
        assert_eq!(
            browser.get("/broken").await.header("content-type"),
            "text/html; charset=utf-8"
        );
    });
}

#[test]
fn an_act_runs_to_its_end_when_the_browser_goes_away() {
    on_both(async |shop| {
        let done = Arc::new(AtomicBool::new(false));
        let kept = done.clone();
        let slow = async move || {
            tokio::time::sleep(Duration::from_millis(300)).await;
            kept.store(true, Ordering::SeqCst);
            "done"
        };
        let routes: Router<purfle::app::App> = Router::new().route("/slow", post(slow));
        let service = shop.app.wrap(routes);
        let request = Request::post("/slow").body(Body::empty()).expect("a request");
        let gone = tokio::time::timeout(Duration::from_millis(50), service.oneshot(request)).await;
        assert!(gone.is_err(), "it was to be slow");
        for _ in 0..50 {
            if done.load(Ordering::SeqCst) {
                return;
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        panic!("the act broke off");
    });
}

#[test]
fn every_kind_of_answer_says_what_the_browser_may_do_with_it() {
    on_both(async |shop| {
        let (owner, stranger) = (shop.sign_in("owner").await, shop.stranger());
        let answers = [
            (200, owner.get("/settings").await),
            (200, stranger.get("/sign-in").await),
            (303, stranger.get("/settings").await),
            (403, shop.sign_in("bench").await.get("/settings").await),
            (404, owner.get("/nowhere").await),
            (405, owner.post("/catalogue", &[]).await),
            (
                412,
                owner
                    .post(
                        "/catalogue/causes/nut_loose/retired",
                        &[("retired", "yes"), ("version", "7")],
                    )
                    .await,
            ),
            (
                415,
                owner
                    .send(
                        Request::post("/settings")
                            .body(Body::from("x"))
                            .expect("a request"),
                    )
                    .await,
            ),
            (422, owner.post("/settings", &[]).await),
            (400, owner.post("/settings", &[("no_such_field", "x")]).await),
            (401, stranger.get("/api/v1/orders").await),
        ];
        for (status, page) in answers {
            // An address of the API that is not there yet says 404 to everybody.
            assert!(
                page.status.as_u16() == status || (status, page.status.as_u16()) == (401, 404),
                "{status}: {page:?}"
            );
            assert_eq!(page.header("x-content-type-options"), "nosniff", "{status}");
            assert_eq!(page.header("x-frame-options"), "DENY", "{status}");
            assert_eq!(page.header("referrer-policy"), "same-origin", "{status}");
            assert_eq!(page.header("cache-control"), "no-store", "{status}");
            let policy = page.header("content-security-policy");
            assert!(
                policy.contains("default-src 'none'") && !policy.contains("unsafe"),
                "{status}"
            );
        }
        let sheet = stranger.get(&purfle::page::asset("device.js")).await;
        assert!(sheet.status.as_u16() == 200 && sheet.header("cache-control").contains("immutable"));
        assert_eq!(sheet.header("x-content-type-options"), "nosniff");
    });
}

#[test]
fn a_form_of_another_site_is_refused_with_words_and_does_nothing() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        for site in ["cross-site", "same-site"] {
            let request = Request::post("/catalogue/causes/nut_loose/retired")
                .header("sec-fetch-site", site)
                .header("content-type", "application/x-www-form-urlencoded")
                .body(Body::from("retired=yes&version=0"));
            let page = owner.send(request.expect("a request")).await;
            assert_eq!(page.status.as_u16(), 403, "{site}");
            assert!(
                page.body.contains("This came from another site"),
                "{site}: {}",
                page.body
            );
        }
        let cause = purfle::catalogue::cause::Cause::get(&shop.app.db, "nut_loose")
            .await
            .expect("the cause");
        assert!(!cause.retired);
    });
}
