//! A plate of any width: how far it would move, on the page and by the call, as the worked examples say.

use purfle::climate::wood::moisture;
use purfle::clock::{Day, Moment};
use serde_json::{Value, json};

use crate::reference::{Row, near, rows};
use crate::shop::{Program, Shop, on_both};

const MOVEMENT: &str = include_str!("reference/data/wood_movement.csv");
const CALL: &str = "/api/v1/climate/plate";
const CELLO: &str = "width_mm=440&wood=spruce&cut=quarter";

/// The humidity at 20 °C in which wood goes to a moisture, as it is typed.
fn humidity(percent: f64) -> String {
    let (mut low, mut high) = (0.0, 100.0);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if moisture(20.0, middle) < percent {
            low = middle;
        } else {
            high = middle;
        }
    }
    format!("{low:.2}")
}

/// The rows of the woods that we have, with what to ask for.
fn examples() -> Vec<(Row, String)> {
    let mut found = Vec::new();
    for row in rows(MOVEMENT) {
        let wood = match row.text("species") {
            "spruce, Engelmann" => "spruce",
            "maple, sugar" => "maple",
            _ => continue,
        };
        let cut = if row.text("direction") == "radial" {
            "quarter"
        } else {
            "slab"
        };
        let figure = |column| row.number::<f64>(column).expect("a figure");
        let query = format!(
            "width_mm={}&wood={wood}&cut={cut}&from_humidity={}&to_humidity={}&temperature_c=20",
            figure("dimension_mm"),
            humidity(figure("moisture_start_pct")),
            humidity(figure("moisture_end_pct")),
        );
        found.push((row, query));
    }
    assert!(found.len() >= 2, "{}", found.len());
    found
}

#[test]
fn a_plate_moves_as_the_worked_examples_say_on_the_page_and_by_the_call() {
    on_both(async |shop| {
        let (owner, bench) = (shop.sign_in("owner").await, shop.program("bench").await);
        for (row, query) in examples() {
            let change: f64 = row.number("computed_change_mm").expect("a figure");
            let told = bench.get(&format!("{CALL}?{query}")).await;
            assert_eq!(told.status.as_u16(), 200, "{}", told.json);
            let ours = told.json["change_mm"].as_f64().expect("a number");
            // A humidity is typed in hundredths, which is two thousandths of a percent of moisture.
            near(ours, Some(change), 0.003, &row.source());
            let way = if change < 0.0 { "narrower" } else { "wider" };
            let page = owner.get(&format!("/air?{query}")).await;
            let said = format!("would like to be {:.1} mm {way}", change.abs());
            assert!(page.body.contains(&said), "{said}: {}", page.body);
            let tenths = format!("{:.0} tenths of a millimetre", change.abs() * 10.0);
            assert!(page.body.contains(&tenths), "{tenths}");
            assert!(
                page.body.contains("What cannot move, cracks or opens.")
                    && page.body.contains("Across the plate")
            );
        }
    });
}

#[test]
fn what_is_no_plate_is_refused_at_its_field_and_everything_typed_stays() {
    on_both(async |shop| {
        let (owner, bench) = (shop.sign_in("owner").await, shop.program("bench").await);
        let airs = "from_humidity=60&to_humidity=40";
        for (query, field, typed) in [
            (
                format!("width_mm=wide&wood=maple&cut=slab&{airs}"),
                "width_mm",
                "wide",
            ),
            (
                format!("width_mm=0.5&wood=maple&cut=slab&{airs}"),
                "width_mm",
                "0.5",
            ),
            (
                format!("width_mm=2000.01&wood=maple&cut=slab&{airs}"),
                "width_mm",
                "2000.01",
            ),
            (format!("wood=maple&cut=slab&{airs}"), "width_mm", "60"),
            (format!("width_mm=208&wood=oak&cut=slab&{airs}"), "wood", "208"),
            (format!("width_mm=208&wood=maple&cut=across&{airs}"), "cut", "208"),
            (
                format!("{CELLO}&from_humidity=101&to_humidity=40"),
                "from_humidity",
                "101",
            ),
            (
                format!("{CELLO}&from_humidity=60&to_humidity=dry"),
                "to_humidity",
                "dry",
            ),
            (
                format!("{CELLO}&{airs}&temperature_c=warm"),
                "temperature_c",
                "warm",
            ),
            (format!("{CELLO}&{airs}&temperature_c=51"), "temperature_c", "51"),
            // Nobody has read the hygrometer: there is nothing to go by.
            (format!("{CELLO}&from_humidity=60"), "to_humidity", "440"),
            (CELLO.to_owned(), "from_humidity", "440"),
        ] {
            let page = owner.get(&format!("/air?{query}")).await;
            assert_eq!(page.status.as_u16(), 422, "{query}");
            assert!(page.body.contains(&format!("href=\"#{field}\"")), "{query}");
            assert!(page.body.contains(&format!("value=\"{typed}\"")), "{query}");
            assert!(!page.body.contains("would like to be"), "{query}");
            let refused = bench.get(&format!("{CALL}?{query}")).await;
            let at = &refused.json["errors"][0]["field"];
            assert_eq!((refused.status.as_u16(), at), (422, &json!(field)));
        }
        let unknown = bench.get(&format!("{CALL}?{CELLO}&{airs}&thick=3")).await;
        assert_eq!(unknown.status.as_u16(), 422);
        // A page that asks of no plate has nothing to refuse.
        assert_eq!(owner.get("/air?other=thing").await.status.as_u16(), 200);
    });
}

/// Three weeks of readings from a day on, in which wood goes to a moisture.
async fn read(owner: &Program, from: &str, percent: f64) {
    let from = Day::parse(from).expect("a day");
    let humidity: f64 = humidity(percent).parse().expect("a number");
    let readings: Vec<Value> = (0..21)
        .map(|day| {
            let at = Moment((from.0 + day) * 86_400_000 + 8 * 3_600_000).rfc3339();
            json!({"at": at, "temperature_c": 20, "relative_humidity": humidity})
        })
        .collect();
    let sent = owner
        .post(
            "/api/v1/climate/readings",
            &[("idempotency-key", &from.iso())],
            &json!({"readings": readings}),
        )
        .await;
    assert_eq!(sent.json["kept"], 21, "{}", sent.json);
}

/// A cello's belly over the handbook's span: damp in July, dry in the last weeks, and a year before in between.
async fn with_readings(shop: &Shop) {
    let owner = shop.program("owner").await;
    read(&owner, "2025-07-05", 11.0).await;
    read(&owner, "2026-01-18", 6.5).await;
    read(&owner, "2025-01-18", 8.0).await;
}

#[test]
fn without_an_air_a_plate_goes_from_the_furthest_month_here_to_the_last_30_days() {
    on_both(async |shop| {
        with_readings(&shop).await;
        let owner = shop.sign_in("owner").await;
        let told = shop
            .program("counter")
            .await
            .get(&format!("{CALL}?{CELLO}"))
            .await;
        near(
            told.json["change_mm"].as_f64().expect("a number"),
            Some(-2.574),
            0.003,
            "the cello's belly",
        );
        assert_eq!(
            (
                &told.json["from"]["month"],
                &told.json["to"]["of"],
                &told.json["change_tenths_mm"]
            ),
            (&json!("2025-07"), &json!("last_30_days"), &json!(-26))
        );
        let page = owner.get(&format!("/air?{CELLO}")).await.body;
        for said in [
            "would like to be 2.6 mm narrower</a></b> than in July.",
            "11.0 % moisture: July 2025 here",
            "6.5 % moisture: the last 30 days here",
            "<option value=\"spruce\" selected>",
        ] {
            assert!(page.contains(said), "{said}: {page}");
        }
        let dry = shop
            .program("counter")
            .await
            .get(&format!("{CALL}?{CELLO}&to_humidity=30"))
            .await;
        assert_eq!(
            (&dry.json["from"]["of"], &dry.json["at_least"]),
            (&json!("last_30_days"), &json!(false))
        );
    });
}

#[test]
fn what_the_page_of_the_air_says_and_draws_leads_to_its_table_and_its_csv() {
    on_both(async |shop| {
        with_readings(&shop).await;
        let owner = shop.sign_in("owner").await;
        let page = owner.get("/air").await.body;
        let lead = page
            .split("In short")
            .nth(1)
            .and_then(|rest| rest.split("</section>").next());
        let places: Vec<&str> = lead
            .expect("sentences")
            .split("href=\"#")
            .skip(1)
            .filter_map(|rest| rest.split('"').next())
            .collect();
        assert!(
            places.contains(&"months") && places.contains(&"plates"),
            "{places:?}"
        );
        for place in places {
            assert!(page.contains(&format!("id=\"{place}\"")), "{place}");
        }
        let csv = async |table| {
            let page = owner.get(&format!("/air.csv?table={table}")).await;
            assert_eq!(page.status.as_u16(), 200, "{table}");
            page.body.lines().map(str::to_owned).collect::<Vec<String>>()
        };
        let plates = csv("plates").await;
        assert_eq!(plates.len(), 8);
        let cello: Vec<&str> = plates[5].split(',').collect();
        assert_eq!(cello[..5], ["Cello belly", "440", "spruce", "quarter", "2025-07"]);
        near(
            cello[7].parse().expect("a number"),
            Some(-2.574),
            0.003,
            "the cello's belly",
        );
        // Up to a week either way of the three weeks of the year before, 364 days on.
        let earlier = csv("earlier").await;
        assert_eq!(
            (earlier[1].get(..10), earlier.len()),
            (Some("2026-01-10"), 1 + 32)
        );
        assert!(earlier[1..].iter().all(|day| day.contains(",8.0")), "{earlier:?}");
        assert!(page.contains(">8.0 to 8.0<"), "beside the months");
    });
}
