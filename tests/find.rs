//! Finding somebody: at any size, by their whole name, by a phone number however it is dialled, by what they play.

use std::collections::BTreeMap;

use purfle::counter::customer::{Customer, NewCustomer};
use purfle::counter::find;
use purfle::counter::intake::Which;
use uuid::Uuid;

use crate::demo::{filled, wish};
use crate::shop::{Shop, on_both};

async fn found(shop: &Shop, typed: &str) -> Vec<Uuid> {
    find::customers(&shop.app.db, typed, 8).await.expect("a search")
}

#[test]
fn every_customer_of_a_shop_is_among_the_first_by_their_whole_name_either_way_round() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(2500, 5)).await;
        let all: Vec<Customer> = db.read("select * from customer").all().await.expect("all");
        let mut of: BTreeMap<&str, usize> = BTreeMap::new();
        for one in &all {
            *of.entry(&one.name).or_default() += 1;
        }
        assert!(all.len() > 100, "{}", all.len());
        // The first 8 are shown; of as many of one name nobody can tell by the name.
        for one in all.iter().filter(|one| of[one.name.as_str()] <= 4) {
            let turned: Vec<&str> = one.name.split(' ').rev().collect();
            for typed in [one.name.clone(), turned.join(" ")] {
                assert!(found(&shop, &typed).await.contains(&one.id), "{typed}");
            }
        }
    });
}

/// Somebody whose two names many others have, each the other one's: cut off before they meet, they were lost.
#[test]
fn two_common_words_find_the_one_who_has_both() {
    on_both(async |shop| {
        let mut tx = shop.app.db.begin().await.expect("a transaction");
        let of = |name: String| Customer {
            id: Uuid::now_v7(),
            kind: "person".into(),
            name,
            phone: String::new(),
            email: String::new(),
            note: String::new(),
            version: 1,
            created_at: crate::shop::NOW,
        };
        let mut many: Vec<Customer> = (0..1500)
            .flat_map(|at| [of(format!("Anton Aa{at}")), of(format!("Bert{at} Krennwald"))])
            .collect();
        many.push(of("Anton Krennwald".into()));
        let meant = many.last().expect("one").id;
        Customer::insert(&mut tx, &many).await.expect("written");
        tx.commit().await.expect("kept");
        for typed in ["Anton Krennwald", "krennwald, anton", "ant kren"] {
            assert_eq!(found(&shop, typed).await, [meant], "{typed}");
            assert_eq!(
                find::hits(&shop.app.db, typed, true).await.expect("hits").len(),
                1
            );
        }
    });
}

async fn with_phone(shop: &Shop, name: &str, phone: &str, family: &str) -> Uuid {
    let order = shop
        .order(|intake| {
            intake.customer = Which::New(NewCustomer {
                name: name.into(),
                phone: phone.into(),
                ..NewCustomer::default()
            });
            if let Which::New(instrument) = &mut intake.instrument {
                instrument.family = family.into();
            }
        })
        .await;
    order.customer
}

#[test]
fn a_phone_number_is_found_however_it_is_dialled() {
    on_both(async |shop| {
        let abroad = with_phone(&shop, "Lea Sandmoor", "+43 1 555 0102", "violin").await;
        let home = with_phone(&shop, "Ida Sandmoor", "01 555 0177", "violin").await;
        for (meant, numbers) in [
            (
                abroad,
                [
                    "+43 1 555 0102",
                    "01 555 0102",
                    "(01) 5550102",
                    "0043 1 555 0102",
                    "+43 (0)1 555 0102",
                    "0102",
                ],
            ),
            (
                home,
                [
                    "+43 1 555 0177",
                    "01 555 0177",
                    "(01) 5550177",
                    "0043 1 555 0177",
                    "+43 (0)1 555 0177",
                    "0177",
                ],
            ),
        ] {
            for number in numbers {
                assert_eq!(found(&shop, number).await, [meant], "{number}");
            }
        }
        for nobody in ["+43 1 555 0103", "02 555 0102", "000"] {
            assert!(found(&shop, nobody).await.is_empty(), "{nobody}");
        }
    });
}

#[test]
fn somebody_is_found_by_what_they_play() {
    on_both(async |shop| {
        let cello = with_phone(&shop, "Lea Sandmoor", "", "cello").await;
        let violin = with_phone(&shop, "Lea Brightwell", "", "violin").await;
        assert_eq!(found(&shop, "lea cello").await, [cello]);
        assert_eq!(found(&shop, "Violin Lea").await, [violin]);
        let hits = find::hits(&shop.app.db, "cello sandmoor", true)
            .await
            .expect("hits");
        assert!(hits.len() == 1 && hits[0].instrument.is_some());
    });
}
