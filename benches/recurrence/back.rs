//! The comebacks of all time: the curves of every group, from the database to the test that compares them, and the page; and
//! how long another comeback window takes.

use purfle::clock::Day;
use purfle::reports::bands::Bands;
use purfle::reports::comebacks::{By, compared, read, together};
use purfle::reports::comebacks_ask::Asked;
use purfle::reports::figures::survival::Curve;
use purfle::reports::new_bands::{Step, step};
use purfle::reports::rules::{self, Rules};
use purfle::reports::season::Seasons;

use crate::client::Client;
use crate::place::Place;
use crate::{Times, timed};

const TIMES: usize = 9;

pub async fn measure(place: &Place) {
    let (db, seasons) = (&place.app.db, Seasons::northern());
    let rules = Rules::new(&Bands::default(), 90);
    let mut client = Client::connect(place.port).await;
    let head = format!("cookie: {}\r\n", place.cookie);
    for by in By::ALL {
        let asked = Asked {
            as_of: Day::parse("2026-02-20").expect("a day"),
            by,
            cause: String::new(),
        };
        let (mut ours, mut page) = (Vec::new(), Vec::new());
        for _ in 0..TIMES {
            let (ms, curves) = timed(async {
                let groups = read(db, &asked, &rules, &seasons).await.expect("comebacks");
                let all = together(&groups);
                let curves = groups
                    .iter()
                    .map(|group| Curve::of(&group.watched))
                    .collect::<Vec<_>>();
                (compared(&groups), Curve::of(&all.watched), curves)
            })
            .await;
            assert!(!curves.2.is_empty(), "something came back");
            ours.push(ms);
            let path = format!("/comebacks?by={}", by.code());
            let (ms, status) = timed(client.send("GET", &path, &head, "")).await;
            assert_eq!(status, 200, "the page is there");
            page.push(ms);
        }
        println!(
            "| {} | {} | comebacks of all time, by {} | {} | | | | | {} |",
            place.kind(),
            place.orders,
            by.words(),
            Times::of(ours),
            Times::of(page),
        );
    }
    another_window(place).await;
}

/// The owner answers for a year instead of 90 days, and for 90 days again: the step that counts all by it anew.
async fn another_window(place: &Place) {
    let db = &place.app.db;
    let mut ours = Vec::new();
    for days in [365, 90, 365, 90] {
        let mut tx = db.begin().await.expect("begun");
        rules::want_window(&mut tx, days).await.expect("wanted");
        tx.commit().await.expect("kept");
        let (ms, did) = timed(step(db)).await;
        assert_eq!(did.expect("a step"), Step::Window, "it counted");
        ours.push(ms);
    }
    println!(
        "| {} | {} | another comeback window, counted anew | {} | | | | | |",
        place.kind(),
        place.orders,
        Times::of(ours),
    );
}
