//! Who and what a line means: the same customer, instrument and visit, whatever the spelling and the order of the lines.

use super::{HEAD, bring, take};
use crate::shop::{Shop, on_both};

fn book(lines: &[&str]) -> String {
    format!("{HEAD}{}\n", lines.join("\n"))
}

async fn people(shop: &Shop) -> (i64, i64) {
    (shop.count("customer").await, shop.count("instrument").await)
}

#[test]
fn the_same_name_and_text_are_the_same_instrument() {
    on_both(async |shop| {
        let brought = take(
            &shop,
            &book(&[
                "2019-01-01,2019-01-02,Zoë Ash,,The red  one,violin,,",
                "2019-02-01,2019-02-02,zoe ash,,the RED one,violin,,",
                "2019-03-01,2019-03-02,Zoe Ash,,The brown one,violin,,",
                "2019-03-01,2019-03-02,Zoe Ashe,,The red one,violin,,",
            ]),
        )
        .await;
        assert_eq!((brought.taken, people(&shop).await), (4, (2, 3)));
    });
}

#[test]
fn a_phone_number_tells_two_of_one_name_apart() {
    on_both(async |shop| {
        let two = [
            "2019-01-01,2019-01-02,Ann,555 01,A,violin,,",
            "2019-01-01,2019-01-02,Ann,555-02,A,violin,,",
        ];
        take(&shop, &book(&two)).await;
        assert_eq!(people(&shop).await, (2, 2));
        let (_, told) = bring(&shop, book(&["2019-05-01,2019-05-02,Ann,,A,violin,,"]), false).await;
        assert!(
            told[0].starts_with("2 phone: Several customers have this name"),
            "{told:?}"
        );
        take(&shop, &book(&["2019-05-01,2019-05-02,Ann,(555) 02,A,violin,,"])).await;
        assert_eq!(people(&shop).await, (2, 2));
    });
}

#[test]
fn a_line_without_a_number_means_the_only_one_of_that_name() {
    on_both(async |shop| {
        take(
            &shop,
            &book(&[
                "2019-01-01,2019-01-02,Ann,,A,violin,,",
                "2019-02-01,2019-02-02,Ann,555 01,A,violin,,",
            ]),
        )
        .await;
        assert_eq!(people(&shop).await, (1, 1));
        take(&shop, &book(&["2019-03-01,2019-03-02,Ann,,A,violin,,"])).await;
        assert_eq!(people(&shop).await, (1, 1));
    });
}

#[test]
fn customers_and_instruments_of_the_shop_are_recognised() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let body = serde_json::json!({"customer": {"name": "Ann Ash"},
            "instrument": {"family": "violin", "maker": "Harrow & Pell", "year_made": 1900}});
        let live = counter
            .post("/api/v1/orders", &[("idempotency-key", "k")], &body)
            .await;
        let tag = live.json["tag"].as_str().expect("a tag");
        take(
            &shop,
            &book(&["2019-01-01,2019-01-02,ann ash,555 01,harrow & pell,violin,,"]),
        )
        .await;
        assert_eq!(people(&shop).await, (1, 1));
        let (_, told) = bring(
            &shop,
            book(&["2019-02-01,2019-02-02,Ann Ash,,Harrow & Pell,cello,,"]),
            false,
        )
        .await;
        assert_eq!(
            told,
            ["2 family: The shop has it as violin. Set one of them right."]
        );
        // It was taken in today.
        let (_, told) = bring(
            &shop,
            book(&["2026-02-10,2026-02-10,Ann Ash,,Harrow & Pell,violin,,"]),
            false,
        )
        .await;
        assert!(
            told[0].starts_with("2 received_on: It came in that day already, as "),
            "{tag} {told:?}"
        );
    });
}

#[test]
fn what_one_line_says_of_an_instrument_no_other_may_deny() {
    let head = "received_on,collected_on,customer,instrument,family,size,year_made,year_certainty";
    on_both(async |shop| {
        let text = format!(
            "{head}\n2001-01-01,2001-01-02,Ann,A,violin,,,\n2010-01-01,2010-01-02,Ann,A,violin,3/4,1999,circa\n\
            2011-01-01,2011-01-02,Ann,A,viola,4/4,1998,\n2012-01-01,2012-01-02,Ann,A,violin,,1999,exact\n"
        );
        let (brought, told) = bring(&shop, &text, true).await;
        assert_eq!(
            told,
            [
                "4 family: Line 2 says violin. Set one of them right.",
                "4 size: Line 3 says 3/4. Set one of them right.",
                "4 year_made: Line 3 says 1999. Set one of them right.",
                "5 year_certainty: Line 3 says circa. Set one of them right.",
            ]
        );
        assert_eq!((brought.taken, brought.amiss), (2, 2));
        let made: Vec<(Option<i64>, String, String)> = shop
            .app
            .db
            .read("select year_made, year_certainty, size from instrument")
            .all()
            .await
            .expect("one");
        assert_eq!(made, [(Some(1999), "circa".into(), "3/4".into())]);
        let early = format!(
            "{head}\n1990-01-01,1990-01-02,Bob,B,violin,,,\n2010-01-01,2010-01-02,Bob,B,violin,,1999,\n"
        );
        let (_, told) = bring(&shop, &early, false).await;
        assert!(
            told[0].starts_with("2 year_made: It came in before it was made. Line 3 says 1999."),
            "{told:?}"
        );
    });
}

#[test]
fn no_instrument_comes_in_twice_on_one_day() {
    on_both(async |shop| {
        let (one, other) = (
            "2019-01-01,2019-01-02,Ann,,A,violin,,",
            "2019-01-01,2019-01-05,Ann,,A,violin,,",
        );
        let brought = take(&shop, &book(&[one, one])).await;
        assert_eq!((brought.taken, brought.twice), (1, 1));
        let (_, told) = bring(&shop, book(&[other]), false).await;
        assert!(
            told[0].contains("It came in that day already, as 100 08."),
            "{told:?}"
        );
        let (_, told) = bring(
            &shop,
            book(&[&one.replace("Ann", "Eve"), &other.replace("Ann", "Eve")]),
            false,
        )
        .await;
        assert_eq!(
            told,
            ["3 received_on: It came in that day in line 2 already. Make one line of both."]
        );
    });
}

#[test]
fn a_customer_who_was_renamed_since_is_not_brought_in_again() {
    on_both(async |shop| {
        let text = book(&["2019-01-01,2019-01-02,Ann,,A,violin,,"]);
        take(&shop, &text).await;
        shop.app
            .db
            .write("update customer set name = 'Ann Ash'")
            .execute()
            .await
            .expect("renamed");
        assert_eq!(take(&shop, &text).await.there, 1);
        assert_eq!(people(&shop).await, (1, 1));
        shop.is_well().await;
    });
}
