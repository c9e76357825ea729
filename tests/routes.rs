//! Who may go where: every address of the list, with every part of the shop, and nobody signed in.

use axum::body::Body;
use axum::http::{Method, Request};
use purfle::routes::{May, all};

use crate::shop::{Browser, on_both};

/// An address with something in its places.
fn filled(path: &str) -> String {
    let parts = path
        .split('/')
        .map(|part| if part.starts_with('{') { "10008" } else { part });
    parts.collect::<Vec<_>>().join("/")
}

/// Whether it was turned away: to the sign-in, or with words.
async fn turned_away(browser: &Browser, method: &Method, path: &str) -> bool {
    let request = Request::builder().method(method.clone()).uri(filled(path));
    let request = request.header("content-type", "application/x-www-form-urlencoded");
    let page = browser
        .send(request.body(Body::empty()).expect("a request"))
        .await;
    assert!(!page.status.is_server_error(), "{method} {path}: {}", page.status);
    matches!(page.status.as_u16(), 401 | 403) || page.location() == "/sign-in"
}

#[test]
fn nobody_goes_where_the_list_does_not_let_them() {
    on_both(async |shop| {
        let people = [
            ("counter", shop.sign_in("counter").await),
            ("bench", shop.sign_in("bench").await),
        ];
        let stranger = shop.stranger();
        for (may, path) in all()
            .list
            .into_iter()
            .filter(|row| !row.1.starts_with("/api/") && row.1 != "/sign-out")
        {
            for method in [Method::GET, Method::POST] {
                let open = may == May::Anyone;
                assert_eq!(
                    turned_away(&stranger, &method, path).await,
                    !open,
                    "a stranger at {method} {path}"
                );
                for (role, browser) in &people {
                    let allowed = match may {
                        May::Anyone | May::Staff | May::CounterOrBench => true,
                        May::Counter => *role == "counter",
                        May::Bench => *role == "bench",
                        May::Owner => false,
                    };
                    assert_eq!(
                        turned_away(browser, &method, path).await,
                        !allowed,
                        "{role} at {method} {path}"
                    );
                }
            }
        }
    });
}

#[test]
fn what_is_not_listed_is_not_there() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        for path in [
            "/.git/config",
            "/.env",
            "/purfle.db",
            "/debug",
            "/orders/../settings",
            "//orders",
            "/ORDERS/1",
            "/admin",
        ] {
            let page = owner.get(path).await;
            assert_eq!(page.status.as_u16(), 404, "{path}");
            assert!(page.body.contains("There is nothing at this address."), "{path}");
        }
    });
}

#[test]
fn every_answer_says_what_the_browser_may_do_with_it() {
    on_both(async |shop| {
        let (counter, stranger) = (shop.sign_in("counter").await, shop.stranger());
        for page in [
            counter.get("/").await,
            counter.get("/nowhere").await,
            stranger.get("/").await,
            stranger.get("/sign-in").await,
        ] {
            assert_eq!(page.header("x-content-type-options"), "nosniff");
            assert_eq!(page.header("cache-control"), "no-store");
            assert_eq!(page.header("referrer-policy"), "same-origin");
            let policy = page.header("content-security-policy");
            assert!(policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"));
            assert!(!policy.contains("unsafe"));
        }
    });
}
