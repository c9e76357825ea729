//! Intake: taken in once, with everything typed kept when something wants mending.

use crate::shop::{Page, Shop, on_both};

const NEW: [(&str, &str); 8] = [
    ("customer.name", "Marta Ellingworth"),
    ("customer.phone", "0170 555 0142"),
    ("instrument.family", "violin"),
    ("instrument.size", "4/4"),
    ("instrument.maker", "Harrow & Pell"),
    ("complaint.words", "It fizzes up high since the new E."),
    ("complaint.answers.open_or_stopped", "stopped_only"),
    ("items_left", "Case"),
];

fn with<'a>(more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    NEW.iter().chain(more).copied().collect()
}

async fn counts(shop: &Shop) -> (i64, i64, i64) {
    (
        shop.count("customer").await,
        shop.count("instrument").await,
        shop.count("work_order").await,
    )
}

#[test]
fn a_new_customer_with_a_violin_is_taken_in() {
    on_both(async |shop| {
        let page = shop
            .sign_in("counter")
            .await
            .post("/intake", &with(&[("once", "k1"), ("promised_on", "2026-02-17")]))
            .await;
        assert_eq!(
            (page.status.as_u16(), page.location()),
            (303, "/orders/10008/papers"),
            "{}",
            page.body
        );
        let order = purfle::counter::order::Order::get(&shop.app.db, "10008")
            .await
            .expect("the order");
        assert_eq!(order.answers, "open_or_stopped=stopped_only");
        assert_eq!(
            (order.items_left.as_str(), order.stage.code()),
            ("Case", "received")
        );
        assert_eq!(
            order.promised_on.map(purfle::clock::Day::iso).as_deref(),
            Some("2026-02-17")
        );
    });
}

#[test]
fn a_double_tap_makes_one_order() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        let first = counter.post("/intake", &with(&[("once", "k1")])).await;
        let second = counter.post("/intake", &with(&[("once", "k1")])).await;
        assert_eq!(first.location(), second.location());
        assert_eq!(counts(&shop).await, (1, 1, 1));
    });
}

#[test]
fn twenty_at_once_with_one_key_make_one_order() {
    on_both(async |shop| {
        let counter = std::sync::Arc::new(shop.sign_in("counter").await);
        let many = (0..20).map(|_| {
            let counter = counter.clone();
            tokio::spawn(async move { counter.post("/intake", &with(&[("once", "k1")])).await })
        });
        for page in many.collect::<Vec<_>>() {
            assert_eq!(page.await.expect("an answer").location(), "/orders/10008/papers");
        }
        assert_eq!(counts(&shop).await, (1, 1, 1));
    });
}

#[test]
fn ten_at_once_with_keys_of_their_own_get_tags_of_their_own() {
    on_both(async |shop| {
        let counter = std::sync::Arc::new(shop.sign_in("counter").await);
        let many = (0..10).map(|k| {
            let counter = counter.clone();
            tokio::spawn(async move {
                counter
                    .post(
                        "/intake",
                        &with(&[("once", &*format!("k{k}")), ("customer.another", "yes")]),
                    )
                    .await
            })
        });
        let mut tags = std::collections::BTreeSet::new();
        for page in many.collect::<Vec<_>>() {
            tags.insert(page.await.expect("an answer").location().to_owned());
        }
        assert_eq!(tags.len(), 10);
    });
}

fn asks_to_mend(page: &Page, field: &str, words: &str) {
    assert_eq!(page.status.as_u16(), 422);
    assert!(page.body.contains(words), "{words}");
    assert!(
        page.body.contains(&format!("href=\"#{field}\"")),
        "the summary leads to {field}"
    );
    assert_eq!(page.field("instrument.maker"), "Harrow &#38; Pell");
    assert!(page.body.contains("It fizzes up high since the new E."));
}

#[test]
fn what_wants_mending_is_said_at_the_field_and_nothing_typed_is_lost() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        let page = counter
            .post(
                "/intake",
                &with(&[("instrument.year_made", "2031"), ("once", "k1")]),
            )
            .await;
        asks_to_mend(
            &page,
            "instrument.year_made",
            "The year made cannot be after 2026.",
        );
        let page = counter
            .post("/intake", &with(&[("authorised_limit", "1.234"), ("once", "k1")]))
            .await;
        asks_to_mend(&page, "authorised_limit", "could be read two ways");
        let page = counter
            .post("/intake", &with(&[("promised_on", "2026-02-09"), ("once", "k1")]))
            .await;
        asks_to_mend(&page, "promised_on", "This day is past.");
        assert_eq!(counts(&shop).await, (0, 0, 0));
        // Mended, the same form goes through.
        assert_eq!(
            counter
                .post("/intake", &with(&[("once", "k1")]))
                .await
                .status
                .as_u16(),
            303
        );
    });
}

#[test]
fn a_known_customer_is_found_by_any_part_and_brings_the_same_violin_again() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        counter.post("/intake", &with(&[("once", "k1")])).await;
        for (field, typed) in [
            ("customer.name", "elling"),
            ("customer.name", "MARTA"),
            ("customer.phone", "5550"),
        ] {
            let found = counter.post("/intake/matches", &[(field, typed)]).await;
            assert!(found.body.contains("Marta Ellingworth"), "{typed}");
        }
        let found = counter
            .post("/intake/matches", &[("customer.name", "arta")])
            .await;
        assert!(
            !found.body.contains("Marta"),
            "words are found by their beginning"
        );
        let order = purfle::counter::order::Order::get(&shop.app.db, "10008")
            .await
            .expect("the order");
        let (customer, instrument) = (order.customer.to_string(), order.instrument.to_string());
        let page = counter
            .post(
                "/intake/look",
                &[("choose", &customer), ("complaint.words", "kept")],
            )
            .await;
        assert!(page.body.contains("Known here: Marta Ellingworth.") && page.body.contains("kept"));
        let again = [
            ("customer.id", &*customer),
            ("instrument.id", &*instrument),
            ("once", "k2"),
        ];
        assert_eq!(counter.post("/intake", &again).await.status.as_u16(), 303);
        assert_eq!(counts(&shop).await, (1, 1, 2));
    });
}

#[test]
fn somebody_elses_violin_is_not_taken_in_under_another_name() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        counter.post("/intake", &with(&[("once", "k1")])).await;
        let order = purfle::counter::order::Order::get(&shop.app.db, "10008")
            .await
            .expect("the order");
        let instrument = order.instrument.to_string();
        let page = counter
            .post(
                "/intake",
                &[
                    ("customer.name", "Jonas"),
                    ("instrument.id", &instrument),
                    ("once", "k2"),
                ],
            )
            .await;
        assert_eq!(page.status.as_u16(), 422);
        assert!(page.body.contains("another customer&#39;s"));
    });
}

#[test]
fn all_that_wants_mending_is_told_at_once() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        let amiss = [
            ("customer.name", "Ruben"),
            ("instrument.year_made", "long ago"),
            ("authorised_limit", "some"),
            ("once", "k"),
        ];
        let page = counter.post("/intake", &amiss).await;
        assert_eq!(page.status.as_u16(), 422);
        for field in ["instrument.family", "instrument.year_made", "authorised_limit"] {
            assert!(page.body.contains(&format!("id=\"{field}-amiss\"")), "{field}");
        }
        assert_eq!(counts(&shop).await, (0, 0, 0));
    });
}

#[test]
fn a_bow_comes_in_like_an_instrument() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        let bow = [
            ("customer.name", "Ruben"),
            ("instrument.family", "bow"),
            ("complaint.words", "rehair"),
            ("once", "k"),
        ];
        assert_eq!(counter.post("/intake", &bow).await.status.as_u16(), 303);
    });
}

#[test]
fn the_bench_does_not_take_in() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        assert_eq!(bench.get("/intake").await.status.as_u16(), 403);
        assert_eq!(
            bench
                .post("/intake", &with(&[("once", "k1")]))
                .await
                .status
                .as_u16(),
            403
        );
        assert_eq!(
            shop.stranger()
                .post("/intake", &with(&[("once", "k1")]))
                .await
                .location(),
            "/sign-in"
        );
        assert_eq!(counts(&shop).await, (0, 0, 0));
    });
}

#[test]
fn a_tag_that_does_not_add_up_opens_nothing() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        counter.post("/intake", &with(&[("once", "k1")])).await;
        assert_eq!(
            counter.post("/find", &[("q", "100 08")]).await.location(),
            "/orders/10008"
        );
        assert_eq!(
            counter
                .post("/find", &[("q", "http://shop.test/orders/10008")])
                .await
                .location(),
            "/orders/10008"
        );
        let page = counter.post("/find", &[("q", "10009")]).await;
        assert_eq!(page.status.as_u16(), 200);
        assert!(page.body.contains("does not add up"));
        assert!(
            counter
                .post("/find", &[("q", "harrow")])
                .await
                .body
                .contains("Marta Ellingworth")
        );
    });
}
