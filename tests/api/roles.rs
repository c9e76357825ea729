//! Who may call what, walked through as a table.

use std::collections::BTreeSet;

use axum::http::Method;
use purfle::routes::{May, all};

use crate::shop::{Program, on_both};

/// Every call, and whether it is open to the counter and to the bench. The owner may call all of them.
pub const CALLS: &[(&str, &str, bool, bool)] = &[
    ("GET", "/api/v1/orders", true, true),
    ("POST", "/api/v1/orders", true, false),
    ("GET", "/api/v1/orders/{order}", true, true),
    ("PATCH", "/api/v1/orders/{order}", false, false),
    ("POST", "/api/v1/orders/{order}/checks", true, true),
    ("POST", "/api/v1/orders/{order}/findings", true, true),
    (
        "POST",
        "/api/v1/orders/{order}/findings/{finding}/withdraw",
        true,
        true,
    ),
    ("POST", "/api/v1/orders/{order}/steps", true, true),
    ("POST", "/api/v1/orders/{order}/steps/{step}/done", true, true),
    ("POST", "/api/v1/orders/{order}/steps/{step}/drop", true, true),
    ("POST", "/api/v1/orders/{order}/approval", true, true),
    ("POST", "/api/v1/orders/{order}/play_test", true, true),
    ("POST", "/api/v1/orders/{order}/hold", true, true),
    ("POST", "/api/v1/orders/{order}/hold/off", true, true),
    ("POST", "/api/v1/orders/{order}/return", true, true),
    ("POST", "/api/v1/orders/{order}/reopen", true, true),
    ("POST", "/api/v1/orders/{order}/promise", true, true),
    ("POST", "/api/v1/orders/{order}/answers", true, true),
    ("POST", "/api/v1/orders/{order}/payments", true, false),
    ("POST", "/api/v1/orders/{order}/put_right", true, false),
    ("POST", "/api/v1/orders/{order}/pickup", true, false),
    ("GET", "/api/v1/customers", true, false),
    ("POST", "/api/v1/customers", true, false),
    ("GET", "/api/v1/customers/{customer}", true, false),
    ("PATCH", "/api/v1/customers/{customer}", true, false),
    ("GET", "/api/v1/instruments/{instrument}", true, true),
    ("PATCH", "/api/v1/instruments/{instrument}", true, true),
    ("POST", "/api/v1/instruments/{instrument}/gone", true, true),
    ("POST", "/api/v1/instruments/{instrument}/gone/off", true, true),
    ("GET", "/api/v1/catalogue/causes", true, true),
    ("POST", "/api/v1/catalogue/causes", false, false),
    ("GET", "/api/v1/catalogue/causes/{cause}", true, true),
    ("PATCH", "/api/v1/catalogue/causes/{cause}", false, false),
    ("POST", "/api/v1/catalogue/causes/{cause}/retired", false, false),
    ("GET", "/api/v1/catalogue/causes/{cause}/answers", true, true),
    (
        "GET",
        "/api/v1/catalogue/causes/{cause}/answers/{descriptor}",
        true,
        true,
    ),
    (
        "PUT",
        "/api/v1/catalogue/causes/{cause}/answers/{descriptor}",
        false,
        false,
    ),
    ("GET", "/api/v1/catalogue/descriptors", true, true),
    ("POST", "/api/v1/catalogue/descriptors", false, false),
    ("GET", "/api/v1/catalogue/descriptors/{descriptor}", true, true),
    (
        "PATCH",
        "/api/v1/catalogue/descriptors/{descriptor}",
        false,
        false,
    ),
    (
        "POST",
        "/api/v1/catalogue/descriptors/{descriptor}/retired",
        false,
        false,
    ),
    ("GET", "/api/v1/catalogue/jobs", true, true),
    ("POST", "/api/v1/catalogue/jobs", false, false),
    ("GET", "/api/v1/catalogue/jobs/{job}", true, true),
    ("PATCH", "/api/v1/catalogue/jobs/{job}", false, false),
    ("POST", "/api/v1/catalogue/jobs/{job}/retired", false, false),
    ("GET", "/api/v1/shop", false, false),
    ("PATCH", "/api/v1/shop", false, false),
    ("GET", "/api/v1/staff", false, false),
    ("POST", "/api/v1/staff", false, false),
    ("GET", "/api/v1/staff/{person}", false, false),
    ("PATCH", "/api/v1/staff/{person}", false, false),
    ("POST", "/api/v1/diagnosis", true, true),
    ("GET", "/api/v1/diagnosis/score", false, false),
    ("GET", "/api/v1/diagnosis/settings", false, false),
    ("PUT", "/api/v1/diagnosis/settings", false, false),
    ("GET", "/api/v1/reports/recurrence", false, false),
    ("GET", "/api/v1/reports/recurrence/beside", false, false),
    ("GET", "/api/v1/reports/reported", false, false),
    ("POST", "/api/v1/reports/reported", false, false),
    ("GET", "/api/v1/reports/comebacks", false, false),
    ("GET", "/api/v1/reports/work", false, false),
    ("GET", "/api/v1/old_book", false, false),
    ("POST", "/api/v1/old_book", false, false),
    ("GET", "/api/v1/old_book/{file}", false, false),
    ("GET", "/api/v1/old_book/{file}/amiss", false, false),
    ("POST", "/api/v1/old_book/{file}/take", false, false),
    ("POST", "/api/v1/old_book/{file}/withdraw", false, false),
    ("GET", "/api/v1/climate", true, true),
    ("GET", "/api/v1/climate/plate", true, true),
    ("POST", "/api/v1/climate/readings", true, true),
    ("POST", "/api/v1/climate/readings/{reading}/withdraw", true, true),
];

async fn status(program: &Program, method: &str, path: &str) -> u16 {
    let parts = path
        .split('/')
        .map(|part| if part.starts_with('{') { "10008" } else { part });
    let method: Method = method.parse().expect("a method");
    let body = (method != Method::GET).then(|| "{}".to_owned());
    let headers = [("if-match", "\"1\""), ("idempotency-key", "walk")];
    let answer = program
        .call(method, &parts.collect::<Vec<_>>().join("/"), &headers, body)
        .await;
    answer.status.as_u16()
}

#[test]
fn each_role_may_call_its_own_and_no_more() {
    on_both(async |shop| {
        let (counter, bench, owner) = (
            shop.program("counter").await,
            shop.program("bench").await,
            shop.program("owner").await,
        );
        let nobody = Program::new(shop.service.clone(), None);
        for (method, path, by_counter, by_bench) in CALLS {
            assert_eq!(status(&nobody, method, path).await, 401, "{method} {path}");
            for (program, may) in [(&counter, *by_counter), (&bench, *by_bench), (&owner, true)] {
                let status = status(program, method, path).await;
                assert!(
                    status < 500 && status != 401 && (status != 403) == may,
                    "{method} {path}: {status}"
                );
            }
        }
        assert_eq!(shop.count("work_order").await, 0);
    });
}

#[test]
fn the_table_is_that_of_the_addresses() {
    let listed: BTreeSet<(&str, bool, bool)> = all()
        .list
        .into_iter()
        .filter(|row| row.1.starts_with("/api/v1/"))
        .map(|(may, path)| match may {
            May::Staff | May::CounterOrBench => (path, true, true),
            May::Counter => (path, true, false),
            May::Bench => (path, false, true),
            May::Owner => (path, false, false),
            May::Anyone => panic!("{path} is open to anyone"),
        })
        .collect();
    let expected: BTreeSet<(&str, bool, bool)> = CALLS.iter().map(|call| (call.1, call.2, call.3)).collect();
    assert_eq!(listed, expected);
}
