//! Alike: the same customer typed again is not made a second in silence, and people who share a phone stay who they are.

use std::time::Duration;

use purfle::counter::alike::Alike;
use purfle::counter::intake;
use purfle::form::Problems;
use serde_json::{Value, json};

use crate::api::{ORDERS, take_in, violin};
use crate::shop::order::intake;
use crate::shop::{Page, on_both};

const CUSTOMERS: &str = "/api/v1/customers";

/// The intake's form as somebody types it.
fn typed<'a>(more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let usual = [
        ("customer.name", "marta  ELLINGWORTH"),
        ("customer.phone", "01/555-0142"),
        ("instrument.family", "viola"),
        ("instrument.maker", "Brindle"),
        ("complaint.words", "a fizz"),
        ("once", "k"),
    ];
    let kept = usual
        .into_iter()
        .filter(|own| more.iter().all(|other| other.0 != own.0));
    kept.chain(more.iter().copied()).collect()
}

fn asks(page: &Page) -> bool {
    page.status.as_u16() == 409 && page.body.contains("Is it this one?")
}

#[test]
fn the_same_name_and_phone_is_asked_about_with_all_that_was_typed() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        let counter = shop.sign_in("counter").await;
        let page = counter.post("/intake", &typed(&[])).await;
        assert!(asks(&page), "{}", page.body);
        assert!(
            page.body
                .contains(&format!("name=\"choose\" value=\"{}\"", order.customer))
        );
        assert_eq!(
            (page.field("instrument.maker"), page.field("customer.phone")),
            ("Brindle", "01/555-0142")
        );
        assert_eq!(
            (shop.count("customer").await, shop.count("work_order").await),
            (1, 1)
        );
        // One tap: it is this one, and what was described is still another instrument.
        let chosen = order.customer.to_string();
        let known = counter.post("/intake/look", &typed(&[("choose", &chosen)])).await;
        assert!(known.body.contains("Known here: Marta Ellingworth.") && known.body.contains("a fizz"));
        assert!(
            known
                .body
                .contains("name=\"instrument.id\" value=\"new\" checked"),
            "{}",
            known.body
        );
        assert_eq!(known.field("instrument.maker"), "Brindle");
        // One tap: it is somebody else.
        let other = counter
            .post("/intake", &typed(&[("customer.another", "yes")]))
            .await;
        assert_eq!(other.status.as_u16(), 303, "{}", other.body);
        assert_eq!(shop.count("customer").await, 2);
    });
}

#[test]
fn a_family_that_shares_a_phone_stays_apart() {
    on_both(async |shop| {
        shop.order(|_| {}).await;
        let counter = shop.sign_in("counter").await;
        for (key, name, phone) in [
            ("a", "Jonas Ellingworth", "01 555 0142"),
            ("b", "Marta Ellingworth", "01 555 0143"),
            ("c", "Marta Ellingworth", ""),
            ("d", "Marta", "01 555 0142"),
        ] {
            let form = typed(&[("customer.name", name), ("customer.phone", phone), ("once", key)]);
            let page = counter.post("/intake", &form).await;
            assert_eq!(page.status.as_u16(), 303, "{name} {phone}: {}", page.body);
        }
        assert_eq!(shop.count("customer").await, 5);
    });
}

#[test]
fn a_program_that_takes_in_the_same_customer_again_is_given_the_one_who_is_here() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let mut body = violin();
        body["customer"] = json!({"name": "Ada Fenwick", "phone": "01 555 0142"});
        let first = take_in(&counter, "1", &body).await.json;
        body["customer"] =
            json!({"name": "Ada Fenwick", "phone": "015550142", "email": "ada@fenwick.example"});
        let second = take_in(&counter, "2", &body).await;
        assert_eq!(second.status.as_u16(), 201, "{}", second.json);
        assert_eq!(first["customer"]["id"], second.json["customer"]["id"]);
        assert_ne!(first["id"], second.json["id"]);
        // What was not known of them yet is kept, and the timeline says how they were known.
        assert_eq!(second.json["customer"]["email"], "ada@fenwick.example");
        let words = &second.json["timeline"][0]["words"];
        assert_eq!(words, "The customer is known here by name and phone");
        let read = counter
            .get(&format!(
                "{ORDERS}/{}",
                second.json["tag"].as_str().expect("a tag")
            ))
            .await;
        assert_eq!(&read.json["timeline"][0]["words"], words);
        let others = [
            json!({"name": "Ada Fenwick", "phone": "01 555 0142", "email": "another@fenwick.example"}),
            json!({"name": "Ada Fenwick", "phone": "01 555 0142", "kind": "school"}),
            json!({"name": "Ada Fenwick", "phone": "01 555 0142", "another": true}),
            json!({"name": "Bert Fenwick", "phone": "01 555 0142"}),
        ];
        for (at, other) in others.into_iter().enumerate() {
            body["customer"] = other;
            let taken = take_in(&counter, &format!("other {at}"), &body).await.json;
            assert_ne!(
                taken["customer"]["id"], first["customer"]["id"],
                "{}",
                body["customer"]
            );
            let words = taken["timeline"][0]["words"].as_str().expect("words");
            assert_eq!(words.contains("is here too"), at < 2, "{words}");
        }
        // However it is written, the timeline says that the name is here.
        body["customer"] = json!({"name": "ada fenwick", "phone": "015550142"});
        let small = take_in(&counter, "small", &body).await.json;
        assert_eq!(small["customer"]["name"], "ada fenwick");
        assert_eq!(
            small["timeline"][0]["words"],
            "Another customer of this name with the same phone or e-mail is here too"
        );
        assert_eq!(shop.count("customer").await, 6);
    });
}

#[test]
fn a_customer_who_is_here_is_not_added_again_unless_the_caller_insists() {
    on_both(async |shop| {
        let counter = shop.program("counter").await;
        let add = async |body: Value| counter.post(CUSTOMERS, &[], &body).await;
        let first = add(json!({"name": "Åsa Lund", "email": "Asa@lund.example"}))
            .await
            .json;
        let again = add(json!({"name": "Lund, Asa", "email": "asa@lund.example", "phone": "1234"})).await;
        assert_eq!(again.status.as_u16(), 409, "{}", again.json);
        assert_eq!(again.header("content-type"), "application/problem+json");
        assert_eq!(again.json["customers"], json!([first["id"]]));
        assert!(
            again.json["detail"]
                .as_str()
                .is_some_and(|words| words.contains("\"another\": true"))
        );
        let insisted = add(json!({"name": "Asa Lund", "email": "asa@lund.example", "another": true})).await;
        assert_eq!(insisted.status.as_u16(), 201, "{}", insisted.json);
        let both = add(json!({"name": "Asa Lund", "email": "asa@lund.example"}))
            .await
            .json;
        assert_eq!(both["customers"], json!([first["id"], insisted.json["id"]]));
        assert_eq!(add(json!({"name": "Asa Lund"})).await.status.as_u16(), 201);
    });
}

#[test]
fn the_same_customer_described_at_the_same_moment_is_one() {
    on_both(async |shop| {
        let who = shop.who("counter").await;
        let mut new = intake();
        new.alike = Alike::Take;
        let first = intake::take_in(&shop.app, &who, &new, Problems::default(), None).await;
        let (app, other) = (shop.app.clone(), who.clone());
        let second = tokio::spawn(async move {
            let taken = intake::take_in(&app, &other, &new, Problems::default(), None).await;
            taken.expect("an intake").commit(303, "").await.expect("kept")
        });
        // The second is well under way before the first is kept.
        tokio::time::sleep(Duration::from_millis(300)).await;
        assert!(!second.is_finished());
        let first = first.expect("an intake").commit(303, "").await.expect("kept");
        let second = second.await.expect("a second order");
        assert_ne!(first.tag, second.tag);
        assert_eq!(first.customer, second.customer);
        assert_eq!(shop.count("customer").await, 1);
    });
}
