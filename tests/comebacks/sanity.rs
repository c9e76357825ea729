//! What the trade calls a comeback: the same instrument with the same cause within the window, counted from the day it was
//! collected; next winter's is the season's (common practice, no source).

use purfle::bench::finding;
use purfle::reports::comebacks::{self, By};
use purfle::reports::tally::SEASONAL;

use super::{SEAM, back, empty_rows};
use crate::pickup::found;
use crate::shop::{Shop, on_both};

/// Comebacks by cause, as the month counts them.
async fn in_the_month(shop: &Shop, from: &str, to: &str) -> Vec<(String, i64)> {
    let owner = shop.sign_in("owner").await;
    let table = owner
        .get(&format!("/month.csv?from={from}&to={to}&table=comebacks"))
        .await;
    let mut reader = csv::Reader::from_reader(table.body.as_bytes());
    let rows = reader.deserialize::<std::collections::BTreeMap<String, String>>();
    rows.map(|row| {
        let row = row.expect("a row");
        (row["cause"].clone(), row["comebacks"].parse().expect("a count"))
    })
    .filter(|row| row.1 > 0)
    .collect()
}

#[test]
fn the_days_run_from_the_day_it_was_collected_and_another_cause_is_none() {
    on_both(async |shop| {
        let first = shop.order(|intake| intake.authorised_limit = Some(50_000)).await;
        shop.mend(&first, SEAM).await; // ready on 10 Feb, and fetched ten days later
        shop.on_day(10);
        shop.hand_back(&first).await;
        shop.on_day(50);
        let second = shop.again(&first).await;
        let find = async |cause: &str| {
            shop.at_bench(&second.tag, async |act| {
                finding::log(act, &found(cause, "confirmed"))
                    .await
                    .expect("found");
            })
            .await;
        };
        find("peg_pin_loose").await;
        assert_eq!(back(&shop.rows().await), [None]);
        assert_eq!(in_the_month(&shop, "2026-03", "2026-04").await, []);
        find(SEAM).await;
        assert_eq!(back(&shop.rows().await), [Some(40)]);
        let expected = [(SEAM.to_owned(), 1)];
        assert_eq!(in_the_month(&shop, "2026-03", "2026-04").await, expected);
        shop.is_well().await;
    });
}

#[test]
fn the_same_cause_next_winter_is_the_seasons_and_no_comeback_of_the_month() {
    on_both(async |shop| {
        for (days, comeback, seasonal) in [(60, 1, 0), (340, 0, 1)] {
            shop.on_day(0);
            let first = shop.repaired(SEAM).await;
            let day = shop.on_day(days);
            let second = shop.again(&first).await;
            shop.mend(&second, SEAM).await;
            let month = day.iso()[..7].to_owned();
            let told: i64 = in_the_month(&shop, &month, &month)
                .await
                .iter()
                .map(|cause| cause.1)
                .sum();
            assert_eq!(told, comeback, "after {days} days");
            let all = comebacks::together(&shop.groups(day, By::Cause, "").await);
            assert_eq!((all.back(), all.seasonal), (1, seasonal), "after {days} days");
            assert_eq!(SEASONAL.contains(&days), seasonal == 1);
            empty_rows(&shop.app.db).await;
        }
    });
}
