//! The cells of a report: each cause by age and season together, ordered by what is to be expected, as in its CSV.

use purfle::reports::figures::discovery::q_values;

use crate::demo::{filled, wish};
use crate::month::read;
use crate::recurrence::{act, check, find, of};
use crate::shop::{Shop, on_both};

const SEAM: &str = "seam_open_lower";
/// Of the invented shop.
const OWNER: &str = "Tove Lindgarten";
const YEAR: &str = "from=2025-02&to=2026-01";

/// The rows of the CSV by their heads.
async fn cells(shop: &Shop, owner: &str, asked: &str) -> Vec<std::collections::HashMap<String, String>> {
    let page = shop
        .sign_in(owner)
        .await
        .get(&format!("/month.csv?table=cells&{asked}"))
        .await;
    assert_eq!(page.status.as_u16(), 200, "{}", page.body);
    let mut reader = csv::Reader::from_reader(page.body.as_bytes());
    reader.deserialize().map(|row| row.expect("a row")).collect()
}

fn figure(row: &std::collections::HashMap<String, String>, head: &str) -> f64 {
    row[head].parse().unwrap_or(f64::NAN)
}

#[test]
fn the_most_to_be_expected_stands_first_and_the_page_says_what_its_csv_says() {
    on_both(async |shop| {
        filled(&shop.app.db, wish(600, 5)).await;
        let owner = shop.sign_in(OWNER).await;
        for (cause, group) in [("", ""), (SEAM, ""), (SEAM, "&family=cello")] {
            let asked = format!("{YEAR}{group}&cause={cause}");
            let mut due = cells(&shop, OWNER, &asked).await;
            due.sort_by(|one, other| figure(other, "shrunk_rate").total_cmp(&figure(one, "shrunk_rate")));
            let page = owner.get(&format!("/month/cells?{asked}")).await;
            assert_eq!(page.status.as_u16(), 200, "{}", page.body);
            let table = page.body.split("id=\"cells\"").nth(1).expect("the table");
            let shown: Vec<&str> = table.split("<tr><th scope=\"row\">").skip(1).collect();
            assert_eq!(shown.len(), if cause.is_empty() { 40 } else { due.len() });
            for (row, due) in shown.iter().zip(&due) {
                let counts = format!("{} of {}", due["confirmed"], due["inspected"]);
                assert!(row.contains(&counts), "{counts}: {row}");
                let rate = format!(">{}\u{a0}%<", (figure(due, "shrunk_rate") * 100.0).round());
                assert!(
                    row.contains(&rate) || row.contains("under\u{a0}1"),
                    "{rate}: {row}"
                );
                let marked = figure(due, "q_value") <= 0.05;
                assert_eq!(
                    row.contains('↑') || row.contains('↓'),
                    marked && due["too_few"] == "no",
                    "{row}"
                );
            }
        }
    });
}

#[test]
fn of_one_cause_chance_is_weighed_over_its_own_cells() {
    on_both(async |shop| {
        filled(&shop.app.db, wish(600, 5)).await;
        let of_all = cells(&shop, OWNER, YEAR).await;
        let own = cells(&shop, OWNER, &format!("{YEAR}&cause={SEAM}")).await;
        assert!(!own.is_empty() && own.iter().all(|row| row["cause"] == SEAM));
        let p_values: Vec<f64> = own.iter().map(|row| figure(row, "p_value")).collect();
        for (row, due) in own.iter().zip(q_values(&p_values)) {
            assert!((figure(row, "q_value") - due).abs() < 1e-12, "{row:?}");
        }
        for row in &own {
            let same = of_all.iter().find(|other| {
                ["cause", "age_band", "season"]
                    .iter()
                    .all(|head| other[*head] == row[*head])
            });
            let same = same.expect("the same cell of all causes");
            assert_eq!(same["p_value"], row["p_value"]);
            assert_eq!(same["shrunk_rate"], row["shrunk_rate"]);
        }
        assert!(
            of_all
                .iter()
                .any(|row| row["cause"] == SEAM && figure(row, "q_value") > 0.0)
        );
    });
}

#[test]
fn a_small_shop_is_told_by_hand() {
    on_both(async |shop| {
        // 10 Feb 2026, dry: of six violins of 1900 five have an open seam, of five of 2020 none.
        for at in 0..11 {
            let made = if at < 6 { 1900 } else { 2020 };
            let order = shop.order(|new| of(new, "violin", Some(made))).await;
            check(&shop, &order, "nut_loose").await;
            if at < 5 {
                find(&shop, &order, SEAM, "confirmed").await;
            }
        }
        let owner = shop.sign_in("owner").await;
        let page = owner
            .get(&format!("/month/cells?from=2026-02&cause={SEAM}"))
            .await;
        let words = read(&page);
        assert!(
            words.contains("2 cells in which somebody was inspected"),
            "{words}"
        );
        assert!(words.contains("5 of 6") && words.contains("0 of 5"), "{words}");
        // Fisher: of C(11, 5) = 462 ways 6 are as these, and one, none of the old, is less likely still.
        let rows = cells(&shop, "owner", &format!("from=2026-02&cause={SEAM}")).await;
        let old = rows
            .iter()
            .find(|row| row["age_band"] == "100_plus")
            .expect("the old ones");
        assert!((figure(old, "p_value") - 7.0 / 462.0).abs() < 1e-9, "{old:?}");
        assert!(
            words.contains("2 of 2 cells stand out") && words.contains("Most to be expected: "),
            "{words}"
        );
        assert!(
            words.contains("on instruments of 100 years and over in dry months"),
            "{words}"
        );
    });
}

#[test]
fn what_is_not_there_is_said() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let empty = owner.get("/month/cells?from=2026-02").await;
        assert_eq!(empty.status.as_u16(), 200);
        assert!(
            read(&empty).contains("Nothing was confirmed in February 2026."),
            "{}",
            read(&empty)
        );
        let order = shop.order(|new| of(new, "violin", None)).await;
        let mut looked = act(&shop, &order).await;
        looked.say("Looked at");
        looked.then("/").await.expect("kept");
        find(&shop, &order, SEAM, "confirmed").await;
        let few = read(&owner.get("/month/cells?from=2026-02").await);
        assert!(
            few.contains("Too few were inspected") && few.contains("not known"),
            "{few}"
        );
        let other = read(&owner.get("/month/cells?from=2026-02&cause=nut_loose").await);
        assert!(
            other.contains("Nothing was confirmed in February 2026 of this cause."),
            "{other}"
        );
        let amiss = owner.get("/month/cells?from=2026-02&cause=gremlins").await;
        assert_eq!(amiss.status.as_u16(), 422);
        assert!(amiss.body.contains("Choose one of the list."), "{}", amiss.body);
        let amiss = owner.get("/month/cells?from=soon").await;
        assert_eq!(amiss.status.as_u16(), 422);
        let bench = shop.sign_in("bench").await.get("/month/cells").await;
        assert_eq!(bench.status.as_u16(), 403);
    });
}
