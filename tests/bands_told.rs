//! The bands of age on pages, in tables and in the API: as the owner set them, also where they are odd.

use std::collections::BTreeMap;

use purfle::clock::YearMonth;
use purfle::reports::bands::Bands;
use purfle::reports::comebacks::{self, By};
use purfle::reports::comebacks_ask::Asked;
use purfle::reports::figures::trend::cochran_armitage;
use purfle::reports::rules::Rules;
use purfle::reports::season::Seasons;
use purfle::reports::tally::{Cell, Counts};
use serde_json::{Value, json};

use crate::demo::{AS_OF, filled, wish};
use crate::month::read;
use crate::new_bands::{correct, found, go_on, on, rules, to_the_end, want};
use crate::recurrence::{find, of};
use crate::shop::{Shop, on_both};

/// So many orders in January 2026 on violins of an age, inspected, or confirmed with a cause.
async fn count(shop: &Shop, age: Option<i64>, cause: &str, orders: i64) {
    let mut tx = shop.app.db.begin().await.expect("begun");
    let cell = Cell {
        month: YearMonth::parse("2026-01").expect("a month"),
        family: "violin",
        age,
        groups: ["full", "person"],
    };
    let mut counts = Counts::default();
    counts.orders(cell, cause, orders);
    counts.keep(&mut tx).await.expect("counted");
    tx.commit().await.expect("kept");
}

/// Seams open on 1 of 12 young ones, 6 of 20 of middle age, 9 of 14 old ones, and on 2 of 5 of which nobody knows.
async fn seams(shop: &Shop) {
    for (age, all, open) in [
        (Some(29), 12, 1),
        (Some(30), 20, 6),
        (Some(110), 14, 9),
        (None, 5, 2),
    ] {
        count(shop, age, "", all).await;
        count(shop, age, "seam_open_lower", open).await;
    }
    on(shop, "2026-02-10");
}

async fn answered(shop: &Shop) -> Value {
    let path = "/api/v1/reports/recurrence?from=2026-01&to=2026-01";
    shop.program("owner").await.get(path).await.json
}

/// What was inspected and confirmed by band, all seasons together.
fn by_band(answer: &Value) -> BTreeMap<String, [i64; 2]> {
    let mut bands = BTreeMap::<String, [i64; 2]>::new();
    for cell in answer["cells"].as_array().expect("cells") {
        let sums = bands
            .entry(cell["age_band"].as_str().expect("a band").to_owned())
            .or_default();
        sums[0] += cell["inspected"].as_i64().expect("a number");
        sums[1] += cell["confirmed"].as_i64().expect("a number");
    }
    bands
}

#[test]
fn figures_sentences_and_tables_follow_the_bands_of_the_owner() {
    on_both(async |shop| {
        want(&shop, &[30, 110]).await;
        to_the_end(&shop.app.db).await; // nothing was counted yet
        seams(&shop).await;
        let answer = answered(&shop).await;
        assert_eq!(answer["age_bounds"], json!([30, 110]));
        let due = [
            ("under_30", [12, 1]),
            ("30_to_109", [20, 6]),
            ("110_plus", [14, 9]),
            ("unknown", [5, 2]),
        ];
        assert_eq!(by_band(&answer), due.map(|(band, n)| (band.to_owned(), n)).into());
        // Over the bands in their order, without those whose age is not known.
        let trend = cochran_armitage(&[(0.0, 1, 12), (1.0, 6, 20), (2.0, 9, 14)]).expect("a trend");
        let told = &answer["causes"][0]["age_trend"];
        assert!(
            (told["p_value"].as_f64().expect("a chance") - trend.p_value).abs() < 1e-12,
            "{told}"
        );
        assert_eq!(told["direction"], "rises");
        let owner = shop.sign_in("owner").await;
        let words = read(&owner.get("/month?from=2026-01").await);
        for told in [
            "most often in instruments of 110 years and over (9 of 14), least often in those under 30 years (1 of 12)",
            "under 30 30 to 109 110 and over not known",
        ] {
            assert!(words.contains(told), "{told}: {words}");
        }
        let table = owner.get("/month.csv?from=2026-01&table=cells").await.body;
        assert!(
            table.contains(",110_plus,") && !table.contains("100_plus"),
            "{table}"
        );
    });
}

#[test]
fn one_band_of_every_known_age_reads_well_and_keeps_those_not_known_apart() {
    on_both(async |shop| {
        assert_eq!(want(&shop, &[]).await.json["age_bounds"], json!([]));
        to_the_end(&shop.app.db).await;
        seams(&shop).await;
        let answer = answered(&shop).await;
        let due = [("known", [46, 16]), ("unknown", [5, 2])];
        assert_eq!(by_band(&answer), due.map(|(band, n)| (band.to_owned(), n)).into());
        assert_eq!(
            answer["causes"][0]["age_trend"],
            Value::Null,
            "one band has no trend"
        );
        let owner = shop.sign_in("owner").await;
        let words = read(&owner.get("/month?from=2026-01").await);
        assert!(words.contains("known not known"), "{words}");
        let page = owner.get("/settings").await;
        assert_eq!(page.field("age_bounds"), "");
        assert!(
            read(&page).contains("Now the reports tell: known, not known ."),
            "{}",
            read(&page)
        );
        // Cleared, they are the usual ones again.
        let program = shop.program("owner").await;
        let etag = program.get("/api/v1/shop").await.etag();
        let told = program
            .patch("/api/v1/shop", &etag, &json!({"age_bounds": null}))
            .await
            .json;
        assert_eq!(told["age_bounds"], json!([2, 20, 80, 100]));
    });
}

#[test]
fn a_band_without_instruments_is_told_as_one() {
    on_both(async |shop| {
        want(&shop, &[30, 40, 300]).await;
        to_the_end(&shop.app.db).await;
        seams(&shop).await;
        let answer = answered(&shop).await;
        let due = [
            ("under_30", [12, 1]),
            ("30_to_39", [20, 6]),
            ("40_to_299", [14, 9]),
            ("unknown", [5, 2]),
        ];
        assert_eq!(by_band(&answer), due.map(|(band, n)| (band.to_owned(), n)).into());
        assert_eq!(answer["causes"][0]["age_trend"]["direction"], "rises");
        let words = read(&shop.sign_in("owner").await.get("/month?from=2026-01").await);
        assert!(words.contains("300 and over none inspected"), "{words}");
    });
}

#[test]
fn a_year_that_lies_ahead_says_nothing_of_the_age_and_is_not_dropped() {
    on_both(async |shop| {
        let db = &shop.app.db;
        on(&shop, "2026-01-20");
        let order = shop.order(|new| of(new, "violin", Some(1950))).await;
        // The counter refuses it; a database that was written by hand may hold it.
        let ahead = "update instrument set year_made = 2031";
        assert_eq!(db.write(ahead).execute().await.expect("written"), 1);
        find(&shop, &order, "seam_open_lower", "confirmed").await;
        on(&shop, "2026-02-10");
        assert_eq!(
            by_band(&answered(&shop).await),
            [("unknown".to_owned(), [1, 1])].into()
        );
        want(&shop, &[50]).await;
        to_the_end(db).await;
        assert_eq!(
            by_band(&answered(&shop).await),
            [("unknown".to_owned(), [1, 1])].into()
        );
        shop.is_well().await;
    });
}

#[test]
fn a_circa_year_counts_as_it_is_written() {
    on_both(async |shop| {
        let order = found(&shop, "2026-01-20", Some(1950)).await;
        on(&shop, "2026-02-10");
        let counter = shop.program("counter").await;
        let path = format!("/api/v1/instruments/{}", order.instrument);
        let etag = counter.get(&path).await.etag();
        let circa = json!({"year_made": 1920, "year_certainty": "circa"});
        let answer = counter.patch(&path, &etag, &circa).await;
        assert_eq!(answer.status.as_u16(), 200, "{}", answer.json);
        assert_eq!(
            by_band(&answered(&shop).await),
            [("100_plus".to_owned(), [1, 1])].into()
        );
        let words = read(&shop.sign_in("owner").await.get("/month?from=2026-01").await);
        assert!(words.contains("A circa year counts as it is written"), "{words}");
        shop.is_well().await;
    });
}

#[test]
fn programs_hear_while_the_ages_are_counted_anew_and_what_they_are_told_by_until_then() {
    on_both(async |shop| {
        let db = &shop.app.db;
        found(&shop, "2026-01-20", Some(1950)).await;
        on(&shop, "2026-02-10");
        want(&shop, &[50, 76]).await;
        let recount = json!({"bounds_before": [2, 20, 80, 100], "months_done": 0, "months_all": 1});
        let comebacks = "/api/v1/reports/comebacks?by=age_band";
        let owner = shop.program("owner").await;
        for answer in [answered(&shop).await, owner.get(comebacks).await.json] {
            assert_eq!(answer["age_bounds"], json!([2, 20, 80, 100]), "{answer}");
            assert_eq!(answer["age_recount"], recount, "{answer}");
        }
        to_the_end(db).await;
        for answer in [answered(&shop).await, owner.get(comebacks).await.json] {
            assert_eq!(answer["age_bounds"], json!([50, 76]), "{answer}");
            assert_eq!(answer["age_recount"], Value::Null, "{answer}");
        }
        assert_eq!(
            by_band(&answered(&shop).await),
            [("76_plus".to_owned(), [1, 1])].into()
        );
    });
}

#[test]
fn comebacks_are_told_by_the_bands_in_force_without_a_recount() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(400, 5)).await;
        for bands in [Bands::default(), Bands::parse("60").unwrap()] {
            let asked = Asked {
                as_of: AS_OF,
                by: By::AgeBand,
                cause: String::new(),
            };
            let groups = comebacks::read(db, &asked, &Rules::new(&bands, 90), &Seasons::northern())
                .await
                .expect("groups");
            let ages: Vec<(Option<i64>,)> = db.read("select age from repaired").all().await.expect("ages");
            let mut due = BTreeMap::<String, u64>::new();
            for (age,) in ages {
                *due.entry(bands.code(bands.of(age))).or_default() += 1;
            }
            let told: BTreeMap<String, u64> = groups
                .iter()
                .map(|group| (group.key.clone(), group.repaired()))
                .collect();
            assert_eq!(told, due);
            let places = groups.iter().map(|group| bands.of_code(&group.key));
            assert!(places.is_sorted(), "the youngest first");
        }
    });
}

const MONTH: [(&str, &str); 3] = [("from", "2026-01"), ("to", "2026-01"), ("family", "")];

#[test]
fn a_month_that_was_reported_is_shown_by_its_own_bands() {
    on_both(async |shop| {
        let db = &shop.app.db;
        found(&shop, "2026-01-05", Some(1950)).await;
        on(&shop, "2026-02-10");
        let owner = shop.sign_in("owner").await;
        owner.post("/month", &MONTH).await;
        // As it was kept before there were other bands: without any.
        let rows = db
            .write("update reported set figures = replace(figures, '\"bands\":[2,20,80,100],', '')")
            .execute();
        assert_eq!(rows.await.expect("written"), 1);
        owner.post("/month", &MONTH).await;
        let program = shop.program("owner").await;
        let path = "/api/v1/reports/reported?from=2026-01&to=2026-01";
        let list = program.get(path).await.json;
        assert_eq!(
            list["items"].as_array().map(Vec::len),
            Some(1),
            "nothing changed: {list}"
        );
        assert_eq!(list["items"][0]["age_bounds"], json!([2, 20, 80, 100]));
        want(&shop, &[76]).await;
        to_the_end(db).await;
        let list = program.get(path).await.json;
        assert_eq!(list["items"][0]["corrected"], json!([]), "{list}");
        let page = owner.get("/month?from=2026-01").await;
        let words = read(&page);
        assert!(
            words.contains("not compared: ages by the bands under 2, 2 to 19, 20 to 79,"),
            "{words}"
        );
        assert!(words.contains("under 76 none inspected 76 and over"), "{words}");
        let at = page
            .body
            .split("reported=")
            .nth(1)
            .and_then(|rest| rest.split('"').next())
            .expect("a link");
        let path = format!("/month?from=2026-01&to=2026-01&reported={at}");
        let was = read(&owner.get(&path).await);
        assert!(
            was.contains("20 to 79 80 to 99 none inspected") && !was.contains("76 and over"),
            "{was}"
        );
        assert!(was.contains("Told as then: ages by the bands under 2,"), "{was}");
    });
}

#[test]
fn a_corrected_year_is_told_of_a_month_that_was_reported() {
    on_both(async |shop| {
        let order = found(&shop, "2026-01-05", Some(1950)).await;
        on(&shop, "2026-02-10");
        let owner = shop.sign_in("owner").await;
        owner.post("/month", &MONTH).await;
        correct(&shop, &order, json!(1940)).await;
        let words = read(&owner.get("/month?from=2026-01").await);
        for told in ["Inspected, 20 to 79 years 1 0", "Inspected, 80 to 99 years 0 1"] {
            assert!(words.contains(told), "{words}");
        }
    });
}

#[test]
fn the_owner_types_the_bands_and_sees_how_far_it_is() {
    on_both(async |shop| {
        let db = &shop.app.db;
        found(&shop, "2025-12-05", Some(1950)).await;
        on(&shop, "2026-02-10");
        let owner = shop.sign_in("owner").await;
        let page = owner.get("/settings").await;
        assert_eq!(page.field("age_bounds"), "2, 20, 80, 100");
        let with = |bounds: &str| {
            let names = [
                "name",
                "address",
                "phone",
                "zone",
                "hemisphere",
                "seasons",
                "labour_rate",
                "tax_name",
                "tax_labour",
                "tax_parts",
                "comeback_days",
                "counter_fee",
                "stub_terms",
                "version",
            ];
            let mut fields: Vec<(&str, String)> =
                names.map(|name| (name, page.field(name).to_owned())).into();
            fields.retain(|field| field.0 != "hemisphere" && field.0 != "address" && field.0 != "stub_terms");
            fields.push(("hemisphere", "northern".into()));
            fields.push(("age_bounds", bounds.to_owned()));
            fields
        };
        let post = async |bounds: &str| {
            let fields = with(bounds);
            let fields: Vec<(&str, &str)> = fields.iter().map(|field| (field.0, &*field.1)).collect();
            owner.post("/settings", &fields).await
        };
        let words = read(&page);
        let told = "Other bands have all 1 order of 1 month counted anew, which takes some seconds.";
        assert!(words.contains(told), "{words}");
        for (typed, told) in [
            ("20, 10", "from the youngest to the oldest"),
            ("20, 20", "from the youngest to the oldest"),
            ("2 and 20", "Write whole years with commas between"),
            ("1 2 3 4 5 6 7 8", "at most seven ages"),
            ("0, 20", "Each of these ages is 1 to 400 years."),
            ("20, 500", "Each of these ages is 1 to 400 years."),
        ] {
            let again = post(typed).await;
            assert_eq!(again.status.as_u16(), 422);
            assert_eq!(again.field("age_bounds"), typed);
            assert!(read(&again).contains(told), "{}", read(&again));
            assert_eq!(rules(db).await.next(), None);
        }
        let kept = post("15, 76").await;
        assert_eq!(kept.status.as_u16(), 303, "{}", kept.body);
        go_on(db).await;
        for path in ["/settings", "/month", "/comebacks?by=age_band"] {
            let words = read(&owner.get(path).await);
            assert!(
                words.contains("counted anew by new bands: 1 of 1 month ."),
                "{words}"
            );
            assert!(
                words.contains("told by those before: under 2, 2 to 19,"),
                "{words}"
            );
        }
        to_the_end(db).await;
        let words = read(&owner.get("/settings").await);
        assert!(
            words.contains("Now the reports tell: under 15, 15 to 75, 76 and over, not known ."),
            "{words}"
        );
        assert!(!words.contains("counted anew by"), "{words}");
    });
}
