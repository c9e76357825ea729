//! Reported: a month is shown again as it was, and what was corrected since is told.

use purfle::clock::YearMonth;
use purfle::diagnosis::age::AgeBand;
use purfle::money::Money;
use purfle::reports::tally::Counts;
use serde_json::{Value, json};

use crate::month::read;
use crate::month_tables::{Row, csv_as_it_was};
use crate::recurrence::count;
use crate::shop::{Browser, Page, Shop, on_both};

const OLD: (&str, AgeBand) = ("violin", AgeBand::From100);

async fn january(shop: &Shop) {
    count(shop, "2026-01", OLD, "", 40).await;
    count(shop, "2026-01", OLD, "seam_open_lower", 12).await;
}

const MONTH: [(&str, &str); 3] = [("from", "2026-01"), ("to", "2026-01"), ("family", "")];

#[test]
fn a_month_is_shown_as_it_was_reported_and_what_was_corrected_is_told() {
    on_both(async |shop| {
        january(&shop).await;
        let owner = shop.sign_in("owner").await;
        let before = read(&owner.get("/month?from=2026-01").await);
        assert!(!before.contains("Reported on"), "{before}");
        let kept = owner.post("/month", &MONTH).await;
        assert_eq!(kept.status.as_u16(), 303, "{}", kept.body);
        let page = owner.get("/month?from=2026-01").await;
        let words = read(&page);
        assert!(words.contains("Reported on Tue 10 Feb 2026"), "{words}");
        assert!(words.contains("Nothing was corrected since."), "{words}");
        // One order more, and one of those with an open seam was none.
        count(&shop, "2026-01", OLD, "", 1).await;
        count(&shop, "2026-01", OLD, "seam_open_lower", -1).await;
        let page = owner.get("/month?from=2026-01").await;
        let words = read(&page);
        assert!(words.contains("41 orders received in January 2026"), "{words}");
        assert!(
            words.contains(
                "Inspected 40 41 Open seam at a lower bout or by the lower block, top or back 12 11"
            ),
            "{words}"
        );
        let at = page
            .body
            .split("reported=")
            .nth(1)
            .and_then(|rest| rest.split('"').next())
            .expect("a link");
        let was = read(
            &owner
                .get(&format!("/month?from=2026-01&to=2026-01&reported={at}"))
                .await,
        );
        assert!(
            was.contains("As it was reported on Tue 10 Feb 2026")
                && was.contains("40 orders received in January 2026"),
            "{was}"
        );
        assert!(was.contains("12 of 40") && !was.contains("41 orders"), "{was}");
    });
}

#[test]
fn kept_twice_it_is_there_once_and_what_is_not_over_is_not_kept() {
    on_both(async |shop| {
        january(&shop).await;
        let owner = shop.sign_in("owner").await;
        for _ in 0..2 {
            owner.post("/month", &MONTH).await;
        }
        let program = shop.program("owner").await;
        let list = program
            .get("/api/v1/reports/reported?from=2026-01&to=2026-01")
            .await;
        assert_eq!(
            list.json["items"].as_array().map(Vec::len),
            Some(1),
            "{}",
            list.json
        );
        let not_over = owner
            .post(
                "/month",
                &[("from", "2026-02"), ("to", "2026-02"), ("family", "")],
            )
            .await;
        assert_eq!(not_over.status.as_u16(), 422);
        assert!(not_over.body.contains("not over yet"), "{}", not_over.body);
        let none = program
            .get("/api/v1/reports/reported?from=2026-02&to=2026-02")
            .await;
        assert_eq!(none.json["items"].as_array().map(Vec::len), Some(0));
    });
}

#[test]
fn programs_keep_it_and_read_what_was_corrected() {
    on_both(async |shop| {
        january(&shop).await;
        let program = shop.program("owner").await;
        let body = json!({"from": "2026-01", "to": "2026-01", "family": "violin"});
        let kept = program.post("/api/v1/reports/reported", &[], &body).await;
        assert_eq!(kept.status.as_u16(), 201, "{}", kept.json);
        count(&shop, "2026-01", OLD, "peg_pin_loose", 2).await;
        let list = program
            .get("/api/v1/reports/reported?from=2026-01&to=2026-01&family=violin")
            .await
            .json;
        let corrected = &list["items"][0]["corrected"];
        assert_eq!(corrected.as_array().map(Vec::len), Some(2), "{list}");
        for (line, what) in ["Loose pin or ball in a peg head", "100 years and over"]
            .iter()
            .enumerate()
        {
            let told = &corrected[line];
            assert!(
                told["what"].as_str().is_some_and(|told| told.contains(what)),
                "{list}"
            );
            assert_eq!((&told["was"], &told["is"]), (&"0".into(), &"2".into()));
        }
        let others = program
            .get("/api/v1/reports/reported?from=2026-01&to=2026-01")
            .await
            .json;
        assert_eq!(others["items"].as_array().map(Vec::len), Some(0));
    });
}

#[test]
fn what_was_not_reported_is_not_found() {
    on_both(async |shop| {
        january(&shop).await;
        let owner = shop.sign_in("owner").await;
        for id in ["soon", "0199c0de-0000-7000-8000-000000000000"] {
            let page = owner.get(&format!("/month?from=2026-01&reported={id}")).await;
            assert_eq!(page.status.as_u16(), 404, "{}", page.body);
        }
    });
}

/// The id of the report that a page leads to.
fn kept(page: &Page) -> String {
    let at = page
        .body
        .split("&#38;reported=")
        .nth(1)
        .and_then(|rest| rest.split('"').next());
    at.expect("a link").to_owned()
}

/// The same month of earlier years and its summer, so that there are seasons and years to stand beside.
async fn years(shop: &Shop) {
    for (month, inspected, seams) in [("2026-01", 40, 12), ("2025-07", 30, 2), ("2025-01", 30, 3)] {
        count(shop, month, OLD, "", inspected).await;
        count(shop, month, OLD, "seam_open_lower", seams).await;
    }
}

/// Work, money and a comeback in January.
async fn work(shop: &Shop) {
    let mut tx = shop.app.db.begin().await.expect("a transaction");
    let january = YearMonth::parse("2026-01").expect("a month");
    let mut counts = Counts::default();
    counts.job(january, "reglue_seam", 1, 40, 50);
    counts.money(january, "charged_labour", Money(6_000), 1);
    counts.money(january, "taken_card", Money(7_200), 1);
    counts.comeback(january, "seam_open_lower", 30, 1);
    counts.keep(&mut tx).await.expect("counted");
    tx.commit().await.expect("kept");
}

async fn as_it_was(owner: &Browser, id: &str) -> Page {
    let page = owner
        .get(&format!("/month?from=2026-01&to=2026-01&reported={id}"))
        .await;
    assert_eq!(page.status.as_u16(), 200, "{}", page.body);
    page
}

#[test]
fn a_report_is_shown_by_the_seasons_the_window_and_the_name_of_its_day() {
    on_both(async |shop| {
        years(&shop).await;
        work(&shop).await;
        let owner = shop.sign_in("owner").await;
        owner.post("/month", &MONTH).await;
        let id = kept(&owner.get("/month?from=2026-01").await);
        let changed = shop.app.db.write(
            "update shop set name = 'Elsewhere Strings', seasons = 'hhcccdddcccc', comeback_days = 60 where id = 1",
        );
        changed.execute().await.expect("changed");
        let counted = shop
            .app
            .db
            .write("update counted set comeback_window = 60 where id = 1");
        counted.execute().await.expect("counted anew");
        let now = read(&owner.get("/month?from=2026-01").await);
        let then = read(&as_it_was(&owner, &id).await);
        for (was, is) in [
            ("Linden Yard Violins · as of", "Elsewhere Strings · as of"),
            ("within 90 days; whole shop", "within 60 days; whole shop"),
            ("humid months Jul to Aug", "humid months Jan to Feb"),
            ("15 of 70 in dry months", "2 of 30 in dry months"),
        ] {
            assert!(then.contains(was), "{was}: {then}");
            assert!(now.contains(is), "{is}: {now}");
            assert!(!then.contains(is) && !now.contains(was), "{was}: {now}");
        }
        assert!(
            now.contains(
                "Told otherwise then, so not compared: comebacks within 90 days; seasons by other months."
            ),
            "{now}"
        );
        assert!(
            then.contains("Told as then: comebacks within 90 days; seasons by other months."),
            "{then}"
        );
        let season = |rows: Vec<Row>| {
            rows.into_iter()
                .find(|row| row["season"] == "humid")
                .expect("a row")
        };
        let csv = season(csv_as_it_was(&owner, "seasons", &id).await);
        assert_eq!((&*csv["months"], &*csv["inspected"]), ("Jul to Aug", "30"));
        let csv = season(csv_as_it_was(&owner, "seasons", "").await);
        assert_eq!((&*csv["months"], &*csv["inspected"]), ("Jan to Feb", "70"));
    });
}

#[test]
fn the_tables_and_programs_get_a_report_as_it_was() {
    on_both(async |shop| {
        years(&shop).await;
        work(&shop).await;
        let owner = shop.sign_in("owner").await;
        owner.post("/month", &MONTH).await;
        let page = owner.get("/month?from=2026-01").await;
        let id = kept(&page);
        let tables = |page: &Page| -> Vec<String> {
            let links = page.body.split("href=\"/month.csv").skip(1);
            links
                .filter_map(|link| Some(link.split('"').next()?.replace("&#38;", "&")))
                .collect()
        };
        let mut before = Vec::new();
        for link in tables(&page) {
            before.push((link.clone(), owner.get(&format!("/month.csv{link}")).await.body));
        }
        assert!(before.len() > 12, "{before:?}");
        count(&shop, "2026-01", OLD, "", 7).await;
        count(&shop, "2025-01", OLD, "seam_open_lower", 5).await;
        work(&shop).await;
        let was = as_it_was(&owner, &id).await;
        for (link, due) in &before {
            assert!(tables(&was).contains(&format!("{link}&reported={id}")), "{link}");
            let csv = owner.get(&format!("/month.csv{link}&reported={id}")).await;
            assert_eq!(csv.body, *due, "{link}");
            assert!(
                csv.header("content-disposition")
                    .contains("-as-reported-2026-02-10")
            );
        }
        let program = shop.program("owner").await;
        let path = "/api/v1/reports/recurrence?from=2026-01&to=2026-01";
        let now = program.get(path).await.json;
        let then = program.get(&format!("{path}&reported={id}")).await.json;
        assert_eq!((&now["inspected"], &then["inspected"]), (&47.into(), &40.into()));
        for wrong in [
            format!("{path}&reported=soon"),
            format!("{path}&family=cello&reported={id}"),
        ] {
            assert_eq!(program.get(&wrong).await.status.as_u16(), 404, "{wrong}");
        }
        assert_eq!(
            owner
                .get(&format!("/month.csv?from=2025-12&table=cells&reported={id}"))
                .await
                .status
                .as_u16(),
            404
        );
    });
}

#[test]
fn every_figure_that_was_corrected_is_told_and_the_most_telling_first() {
    on_both(async |shop| {
        years(&shop).await;
        work(&shop).await;
        let owner = shop.sign_in("owner").await;
        owner.post("/month", &MONTH).await;
        assert!(read(&owner.get("/month?from=2026-01").await).contains("Nothing was corrected since."));
        work(&shop).await;
        count(&shop, "2026-01", ("violin", AgeBand::From2), "", 5).await;
        count(&shop, "2025-07", OLD, "seam_open_lower", 4).await;
        count(&shop, "2025-01", OLD, "", 1).await;
        let page = owner.get("/month?from=2026-01").await;
        let words = read(&page);
        let told = words
            .split("Reported Now")
            .nth(1)
            .and_then(|rest| rest.split("What keeps coming back").next())
            .expect("a table");
        let in_order = [
            "Inspected 40 45",
            "Comebacks 1 2",
            "Charged € 60.00 € 120.00",
            "Taken € 72.00 € 144.00",
        ];
        let at: Vec<usize> = in_order
            .iter()
            .map(|line| told.find(line).unwrap_or_else(|| panic!("{line}: {told}")))
            .collect();
        assert!(at.is_sorted() && at[0] < 3, "{told}");
        let id = kept(&page);
        let all = csv_as_it_was(&owner, "corrected", &id).await;
        // On paper the most telling stand in a line.
        let line = format!(
            "Not any more as it was reported: Inspected 40, now 45; Comebacks 1, now 2; Charged € 60.00, now € 120.00; Taken € 72.00, now € 144.00; and {} more figures.",
            all.len() - 4
        );
        assert!(words.contains(&line), "{line}: {words}");
        assert!(
            told.contains(&format!("And {} more figures: all of them as CSV", all.len() - 8)),
            "{told}"
        );
        let seam = "Open seam at a lower bout or by the lower block, top or back";
        for (what, was, is) in [
            ("Charged: Labour", "€ 60.00", "€ 120.00"),
            ("Taken: Card", "€ 72.00", "€ 144.00"),
            ("Pickups", "1", "2"),
            ("Taken: Card, payments", "1", "2"),
            (&format!("{seam}, comebacks"), "1", "2"),
            ("Reglue an open seam, needed", "50 min", "1 h 40"),
            ("Reglue an open seam, planned", "40 min", "1 h 20"),
            ("Reglue an open seam, steps", "1", "2"),
            ("Inspected, 2 to 19 years", "0", "5"),
            ("Inspected, dry months, January 2025 to January 2026", "70", "76"),
            (
                &format!("{seam}, humid months, January 2025 to January 2026"),
                "2",
                "6",
            ),
            (
                &format!("{seam}, every July, January 2025 to January 2026"),
                "2",
                "6",
            ),
            ("Inspected, January 2025", "30", "31"),
            (&format!("{seam}, July 2025"), "2", "6"),
        ] {
            let line = all
                .iter()
                .find(|row| row["counted"] == what)
                .unwrap_or_else(|| panic!("{what}: {all:?}"));
            let told = |head: &str| line[head].replace('\u{a0}', " ");
            assert_eq!(
                (told("reported"), told("now")),
                (was.to_owned(), is.to_owned()),
                "{what}"
            );
        }
        let programs = shop.program("owner").await;
        let list = programs
            .get("/api/v1/reports/reported?from=2026-01&to=2026-01")
            .await
            .json;
        assert_eq!(
            list["items"][0]["corrected"].as_array().map(Vec::len),
            Some(all.len())
        );
    });
}

#[test]
fn what_was_kept_before_this_was_kept_beside_it_can_be_shown_still() {
    on_both(async |shop| {
        years(&shop).await;
        let owner = shop.sign_in("owner").await;
        owner.post("/month", &MONTH).await;
        let id = kept(&owner.get("/month?from=2026-01").await);
        let (figures,): (String,) = shop
            .app
            .db
            .read("select figures from reported")
            .one()
            .await
            .expect("kept");
        let mut figures: Value = serde_json::from_str(&figures).expect("figures");
        assert!(
            figures
                .as_object_mut()
                .and_then(|all| all.remove("in_force"))
                .is_some()
        );
        let older = shop
            .app
            .db
            .write("update reported set figures = $1")
            .bind(figures.to_string());
        older.execute().await.expect("as it was kept before");
        let words = read(&as_it_was(&owner, &id).await);
        assert!(
            words.contains("Linden Yard Violins") && words.contains("12 of 40"),
            "{words}"
        );
    });
}
