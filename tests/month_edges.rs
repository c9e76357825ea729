//! Edges of the month: what the page says in words where there is little, all, or nothing to tell.

use purfle::diagnosis::age::AgeBand;
use purfle::reports::season::Seasons;

use crate::month::read;
use crate::recurrence::count;
use crate::shop::{Shop, on_both};

const SEAM: &str = "seam_open_lower";
const OLD: (&str, AgeBand) = ("violin", AgeBand::From100);
const STUDENT: (&str, AgeBand) = ("cello", AgeBand::From2);

/// The page in words; none of it is no number.
async fn words(shop: &Shop, query: &str) -> String {
    let page = shop.sign_in("owner").await.get(&format!("/month?{query}")).await;
    assert_eq!(page.status.as_u16(), 200, "{}", page.body);
    let words = read(&page);
    for never in ["NaN", "inf ", "-0 ", "0 of 0"] {
        assert!(!words.contains(never), "{never}: {words}");
    }
    words
}

async fn seasons(shop: &Shop, seasons: &str) {
    let set = shop.app.db.write("update shop set seasons = $1 where id = 1");
    set.bind(seasons.to_owned()).execute().await.expect("the seasons");
}

/// So many inspected and so many with an open seam in each month of 2025.
async fn a_year(shop: &Shop, inspected: i64, seams: impl Fn(i64) -> i64) {
    for month in 1..=12 {
        let at = format!("2025-{month:02}");
        count(shop, &at, STUDENT, "", inspected).await;
        count(shop, &at, STUDENT, SEAM, seams(month)).await;
    }
}

const YEAR: &str = "from=2025-01&to=2025-12";

#[test]
fn none_confirmed_at_all_is_said_and_nothing_is_drawn() {
    on_both(async |shop| {
        for at in [OLD, STUDENT] {
            count(&shop, "2026-01", at, "", 15).await;
        }
        count(&shop, "2025-01", OLD, "", 12).await;
        let words = words(&shop, "from=2026-01").await;
        for told in [
            "30 orders received in January 2026 were inspected; a year before 12. No cause was confirmed.",
            "Inspected 30 12",
        ] {
            assert!(words.contains(told), "{told}: {words}");
        }
        for none in [
            "What keeps coming back",
            "Cause by age",
            "Cause by month",
            "Comebacks within",
        ] {
            assert!(!words.contains(none), "{none}: {words}");
        }
    });
}

#[test]
fn all_confirmed_is_a_hundred_in_a_hundred_and_nothing_stands_out() {
    on_both(async |shop| {
        a_year(&shop, 10, |_| 10).await;
        count(&shop, "2025-06", OLD, "", 20).await;
        count(&shop, "2025-06", OLD, SEAM, 20).await;
        let words = words(&shop, YEAR).await;
        for told in [
            "in 140 of 140 (100 %, between 97 and 100).",
            "120 of 120 100 %, 97 to 100",
        ] {
            assert!(words.contains(told), "{told}: {words}");
        }
        for never in [
            "more often than chance",
            "by age most often",
            "it rises",
            "highest in",
            "↑",
            "↓",
        ] {
            assert!(
                !words
                    .to_lowercase()
                    .replace("more often, more seldom", "")
                    .contains(never),
                "{never}: {words}"
            );
        }
    });
}

#[test]
fn a_cause_seen_once_among_many_is_seldom_and_not_never() {
    on_both(async |shop| {
        a_year(&shop, 30, |month| i64::from(month == 3)).await;
        let year = words(&shop, YEAR).await;
        assert!(
            year.contains("in 1 of 360 (under 1 %, between 0 and 2)."),
            "{year}"
        );
        assert!(
            year.contains("One cause was confirmed, and it was no comeback."),
            "{year}"
        );
        assert!(year.contains("None 0 of 1"), "{year}");
        assert!(
            year.contains("too few to say"),
            "nothing is told of its swing: {year}"
        );
        let march = words(&shop, "from=2025-03").await;
        assert!(march.contains("in 1 of 30 (3 %, between 1 and 17)."), "{march}");
    });
}

#[test]
fn one_band_alone_is_not_put_beside_others() {
    on_both(async |shop| {
        a_year(&shop, 20, |month| if month < 4 { 9 } else { 1 }).await;
        let words = words(&shop, YEAR).await;
        assert!(
            !words.contains("by age most often") && !words.contains("with age:"),
            "{words}"
        );
        assert!(words.contains("in 2025 it was highest in"), "{words}");
        assert!(
            words.contains("under 2 none inspected 2 to 19 20 to 79 none inspected"),
            "{words}"
        );
    });
}

#[test]
fn the_first_month_of_a_new_shop_tells_what_there_is_and_no_more() {
    on_both(async |shop| {
        count(&shop, "2026-02", STUDENT, "", 9).await;
        count(&shop, "2026-02", STUDENT, SEAM, 2).await;
        let words = words(&shop, "from=2026-02").await;
        for told in [
            "9 orders received in February 2026 were inspected so far.",
            "Most often: Open seam at a lower bout or by the lower block, top or back, in 2 of 9 (22 %, between 6 and 55).",
            "Of 2 confirmed causes, none was a comeback.",
        ] {
            assert!(words.contains(told), "{told}: {words}");
        }
        for none in ["years before", "year before", "Beside earlier years"] {
            assert!(!words.contains(none), "{none}: {words}");
        }
    });
}

#[test]
fn a_southern_shop_reads_its_own_seasons() {
    on_both(async |shop| {
        seasons(&shop, &Seasons::southern().to_string()).await;
        // Its winter is dry, and what opens then is told of the dry months.
        a_year(&shop, 20, |month| if (6..=8).contains(&month) { 12 } else { 2 }).await;
        let words = words(&shop, YEAR).await;
        for told in [
            "dry months Jun to Aug",
            "humid months Jan to Feb",
            "36 of 60 60 %, 47 to 71 ↑ more often",
        ] {
            assert!(words.contains(told), "{told}: {words}");
        }
        assert!(words.contains("it was highest in July"), "{words}");
        assert!(words.contains("times the odds of January"), "{words}");
        // With too few for a wave the seasons themselves are told.
        let august = words_of_few(&shop).await;
        assert!(
            august.contains("it was 2 of 20 in dry months and 1 of 20 in humid months."),
            "{august}"
        );
    });
}

/// A year of two months, of which a wave says nothing.
async fn words_of_few(shop: &Shop) -> String {
    for (month, seams) in [("2024-07", 2), ("2024-01", 1)] {
        count(shop, month, OLD, "", 20).await;
        count(shop, month, OLD, SEAM, seams).await;
    }
    words(shop, "from=2024-01&to=2024-12").await
}

#[test]
fn a_shop_without_seasons_is_told_of_none_but_of_the_months() {
    on_both(async |shop| {
        seasons(&shop, &Seasons::without_seasons().to_string()).await;
        a_year(&shop, 20, |_| 4).await;
        let level = words(&shop, YEAR).await;
        for never in [
            "by season",
            "dry months",
            "humid months",
            "change months",
            "highest in",
        ] {
            assert!(!level.contains(never), "{never}: {level}");
        }
        let page = shop
            .sign_in("owner")
            .await
            .get(&format!("/month.csv?{YEAR}&table=seasons"))
            .await;
        assert!(
            page.body.lines().skip(1).all(|row| row.contains(",change,")),
            "{}",
            page.body
        );
        // A swing is told where there is one, whatever the seasons.
        for month in ["2025-01", "2025-02", "2025-12"] {
            count(&shop, month, STUDENT, SEAM, 12).await;
        }
        let swings = words(&shop, YEAR).await;
        assert!(swings.contains("it was highest in January"), "{swings}");
        assert!(!swings.contains("by season"), "{swings}");
    });
}
