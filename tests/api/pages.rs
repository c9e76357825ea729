//! Everything that a page can do, a call can do: each writing page stands here with its call, or with why it has none.

use std::collections::BTreeSet;

use axum::body::Body;
use axum::http::Request;
use purfle::routes::all;

use super::roles::CALLS;
use crate::shop::{Browser, on_both};

/// The addresses of pages to which something is sent.
const PAGES: &[(&str, Result<&str, &str>)] = &[
    ("/set-up/{code}", Err("there is no token before there is a shop")),
    ("/sign-in", Err("a token is how a program signs in")),
    ("/sign-out", Err("a token has no session")),
    ("/me/password", Err("a token is no person and has no password")),
    ("/find", Ok("GET /api/v1/orders")),
    ("/intake", Ok("POST /api/v1/orders")),
    ("/intake/look", Ok("GET /api/v1/customers")),
    ("/intake/matches", Ok("GET /api/v1/customers")),
    (
        "/intake/ears",
        Err("it writes nothing; POST /api/v1/diagnosis ranks for programs"),
    ),
    ("/air/reading", Ok("POST /api/v1/climate/readings")),
    ("/air/file", Ok("POST /api/v1/climate/readings")),
    (
        "/air/reading/{id}/withdraw",
        Ok("POST /api/v1/climate/readings/{reading}/withdraw"),
    ),
    ("/old_book", Ok("POST /api/v1/old_book")),
    ("/old_book/{id}/take", Ok("POST /api/v1/old_book/{file}/take")),
    (
        "/old_book/{id}/withdraw",
        Ok("POST /api/v1/old_book/{file}/withdraw"),
    ),
    ("/ears", Ok("PUT /api/v1/diagnosis/settings")),
    ("/month", Ok("POST /api/v1/reports/reported")),
    (
        "/orders/{tag}/put_right",
        Ok("POST /api/v1/orders/{order}/put_right"),
    ),
    ("/orders/{tag}/pickup", Ok("POST /api/v1/orders/{order}/pickup")),
    (
        "/orders/{tag}/payments",
        Ok("POST /api/v1/orders/{order}/payments"),
    ),
    ("/orders/{tag}/checks", Ok("POST /api/v1/orders/{order}/checks")),
    (
        "/orders/{tag}/findings",
        Ok("POST /api/v1/orders/{order}/findings"),
    ),
    (
        "/orders/{tag}/findings/{id}/withdraw",
        Ok("POST /api/v1/orders/{order}/findings/{finding}/withdraw"),
    ),
    ("/orders/{tag}/steps", Ok("POST /api/v1/orders/{order}/steps")),
    (
        "/orders/{tag}/steps/more",
        Err("it writes nothing; POST /api/v1/orders/{order}/steps takes all parts at once"),
    ),
    (
        "/orders/{tag}/steps/{id}/done",
        Ok("POST /api/v1/orders/{order}/steps/{step}/done"),
    ),
    (
        "/orders/{tag}/steps/{id}/drop",
        Ok("POST /api/v1/orders/{order}/steps/{step}/drop"),
    ),
    ("/orders/{tag}/hold", Ok("POST /api/v1/orders/{order}/hold")),
    (
        "/orders/{tag}/hold/off",
        Ok("POST /api/v1/orders/{order}/hold/off"),
    ),
    (
        "/orders/{tag}/approval",
        Ok("POST /api/v1/orders/{order}/approval"),
    ),
    (
        "/orders/{tag}/play_test",
        Ok("POST /api/v1/orders/{order}/play_test"),
    ),
    ("/orders/{tag}/return", Ok("POST /api/v1/orders/{order}/return")),
    ("/orders/{tag}/reopen", Ok("POST /api/v1/orders/{order}/reopen")),
    ("/orders/{tag}/promise", Ok("POST /api/v1/orders/{order}/promise")),
    ("/orders/{tag}/answers", Ok("POST /api/v1/orders/{order}/answers")),
    ("/orders/{tag}/days", Ok("PATCH /api/v1/orders/{order}")),
    ("/customers/{id}", Ok("PATCH /api/v1/customers/{customer}")),
    ("/instruments/{id}", Ok("PATCH /api/v1/instruments/{instrument}")),
    (
        "/instruments/{id}/gone",
        Ok("POST /api/v1/instruments/{instrument}/gone"),
    ),
    (
        "/instruments/{id}/gone/off",
        Ok("POST /api/v1/instruments/{instrument}/gone/off"),
    ),
    ("/settings", Ok("PATCH /api/v1/shop")),
    ("/staff", Ok("POST /api/v1/staff")),
    ("/staff/{id}", Ok("PATCH /api/v1/staff/{person}")),
    ("/catalogue/causes/new", Ok("POST /api/v1/catalogue/causes")),
    (
        "/catalogue/causes/{code}/change",
        Ok("PATCH /api/v1/catalogue/causes/{cause}"),
    ),
    (
        "/catalogue/causes/{code}/retired",
        Ok("POST /api/v1/catalogue/causes/{cause}/retired"),
    ),
    (
        "/catalogue/causes/{code}/answers/{question}",
        Ok("PUT /api/v1/catalogue/causes/{cause}/answers/{descriptor}"),
    ),
    ("/catalogue/jobs/new", Ok("POST /api/v1/catalogue/jobs")),
    (
        "/catalogue/jobs/{code}/change",
        Ok("PATCH /api/v1/catalogue/jobs/{job}"),
    ),
    (
        "/catalogue/jobs/{code}/retired",
        Ok("POST /api/v1/catalogue/jobs/{job}/retired"),
    ),
    (
        "/catalogue/questions/new",
        Ok("POST /api/v1/catalogue/descriptors"),
    ),
    (
        "/catalogue/questions/{code}/change",
        Ok("PATCH /api/v1/catalogue/descriptors/{descriptor}"),
    ),
    (
        "/catalogue/questions/{code}/retired",
        Ok("POST /api/v1/catalogue/descriptors/{descriptor}/retired"),
    ),
];

/// Whether an address takes what is sent to it.
async fn takes(browser: &Browser, method: &str, path: &str) -> bool {
    let parts = path
        .split('/')
        .map(|part| if part.starts_with('{') { "10008" } else { part });
    let request = Request::builder()
        .method(method)
        .uri(parts.collect::<Vec<_>>().join("/"))
        .header("content-type", "application/x-www-form-urlencoded");
    let page = browser
        .send(request.body(Body::empty()).expect("a request"))
        .await;
    page.status.as_u16() != 405
}

#[test]
fn every_page_that_writes_has_its_call_or_a_reason() {
    on_both(async |shop| {
        let mut writing = BTreeSet::new();
        let pages: BTreeSet<&str> = all().list.into_iter().map(|row| row.1).collect();
        for path in pages.into_iter().filter(|path| !path.starts_with("/api/")) {
            let owner = shop.sign_in("owner").await;
            for method in ["POST", "PUT", "PATCH", "DELETE"] {
                if takes(&owner, method, path).await {
                    writing.insert(path);
                }
            }
        }
        let named: BTreeSet<&str> = PAGES.iter().map(|row| row.0).collect();
        assert_eq!(writing, named);
    });
}

#[test]
fn every_call_that_a_page_names_is_served_to_those_who_may_use_the_page() {
    for (page, call) in PAGES {
        let Ok(call) = call else { continue };
        let served = CALLS
            .iter()
            .find(|served| format!("{} {}", served.0, served.1) == *call);
        let Some((.., counter, bench)) = served else {
            panic!("{page}: {call} is not served");
        };
        // Finding and looking are wider on pages: the bench finds an order there, and a customer's name with it.
        if call.starts_with("GET") {
            continue;
        }
        let may = all().list.into_iter().find(|row| row.1 == *page);
        let may = may.expect("a page that is served").0;
        let roles = |counter, bench| purfle::staff::Who {
            actor: uuid::Uuid::nil(),
            staff: None,
            name: String::new(),
            roles: purfle::staff::Roles {
                counter,
                bench,
                owner: false,
            },
        };
        let on_page = (
            may.allows(Some(&roles(true, false))),
            may.allows(Some(&roles(false, true))),
        );
        assert_eq!((*counter, *bench), on_page, "{page}: {call}");
    }
}
