//! The air: readings typed, brought in a file and sent, kept by day, and what the pages and calls say of them.

use std::fmt::Write;

use axum::body::Body;
use axum::http::{Request, header};
use purfle::admin::check::check;
use purfle::admin::shop::Shop as Settings;
use purfle::climate::air_page::Known;
use purfle::climate::day::{self, AirDay};
use purfle::climate::follow::{Follows, TOLD};
use purfle::clock::{Day, Moment};
use purfle::demo::Wish;
use purfle::staff::Staff;
use serde_json::{Value, json};

use crate::alarms::at_most;
use crate::demo::{AS_OF, filled};
use crate::shop::{Answer, Browser, NOW, Page, Program, Shop, on_both};

const SEND: &str = "/api/v1/climate/readings";

async fn count(shop: &Shop) -> (i64, i64) {
    let sql = "select (select count(*) from reading), (select cast(coalesce(sum(readings), 0) as bigint) from air_day)";
    shop.app.db.read(sql).one().await.expect("counts")
}

async fn days(shop: &Shop) -> Vec<AirDay> {
    day::read(&shop.app.db, Day(-30_000), Day(40_000))
        .await
        .expect("days")
}

async fn well(shop: &Shop) -> bool {
    check(&shop.app.db).await.expect("a check").is_well()
}

async fn typed(browser: &Browser, humidity: &str, temperature: &str, more: &[(&str, &str)]) -> Page {
    let fields = [("relative_humidity", humidity), ("temperature_c", temperature)];
    browser.post("/air/reading", &[&fields, more].concat()).await
}

async fn bring(browser: &Browser, file: &[u8]) -> Page {
    let head = b"--x\r\nContent-Disposition: form-data; name=\"file\"; filename=\"air.csv\"\r\nContent-Type: text/csv\r\n\r\n";
    let body = [&head[..], file, b"\r\n--x--\r\n"].concat();
    let request = Request::post("/air/file")
        .header(header::CONTENT_TYPE, "multipart/form-data; boundary=x")
        .header("sec-fetch-site", "same-origin");
    browser
        .send(request.body(Body::from(body)).expect("a request"))
        .await
}

async fn send(program: &Program, key: &str, body: &Value) -> Answer {
    program.post(SEND, &[("idempotency-key", key)], body).await
}

fn reading(at: &str, humidity: f64) -> Value {
    json!({"at": at, "temperature_c": 20, "relative_humidity": humidity})
}

#[test]
fn a_reading_is_typed_with_two_fields_and_says_what_the_wood_makes_of_it() {
    on_both(async |shop| {
        for role in ["counter", "bench", "owner"] {
            let browser = shop.sign_in(role).await;
            let sent = typed(&browser, "50", "20", &[("once", role)]).await;
            assert_eq!(sent.status.as_u16(), 303, "{role}");
            let page = browser.get(sent.location()).await;
            // Wood Handbook equation 4-5 at 20 °C and 50 %: 9.27 % (tests/reference/data/wood_emc_models.csv).
            assert!(page.body.contains("wood goes to 9.3 %"), "{}", page.body);
        }
        assert_eq!(count(&shop).await, (1, 1), "the same minute is one reading");
        assert!(well(&shop).await);
    });
}

#[test]
fn a_double_tap_over_the_turn_of_a_minute_is_one_reading() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        let first = typed(&counter, "41", "20.5", &[("once", "k")]).await;
        shop.clock.set(NOW.plus_ms(61_000));
        let again = typed(&counter, "41", "20.5", &[("once", "k")]).await;
        assert_eq!((first.location(), count(&shop).await), (again.location(), (1, 1)));
        typed(&counter, "42", "20.5", &[("once", "l")]).await;
        assert_eq!(count(&shop).await, (2, 2));
    });
}

#[test]
fn what_no_hygrometer_shows_is_refused_at_its_field_and_everything_typed_stays() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        for (humidity, temperature, day, field) in [
            ("101", "20", "", "relative_humidity"),
            ("-1", "20", "", "relative_humidity"),
            ("dry", "20", "", "relative_humidity"),
            ("40", "51", "", "temperature_c"),
            ("40", "-20.01", "", "temperature_c"),
            ("40", "", "", "temperature_c"),
            ("40", "20", "2026-02-11", "day"),
            ("40", "20", "2026-02-30", "day"),
            ("40", "20", "1899-01-01", "day"),
        ] {
            let time = if day.is_empty() { "" } else { "10:00" };
            let page = typed(&bench, humidity, temperature, &[("day", day), ("time", time)]).await;
            assert_eq!(page.status.as_u16(), 422, "{humidity} {temperature} {day}");
            assert!(page.body.contains(&format!("href=\"#{field}\"")), "{field}");
            assert!(page.body.contains(&format!("value=\"{humidity}\"")), "{humidity}");
        }
        assert_eq!(count(&shop).await, (0, 0));
        for (humidity, temperature) in [("0", "-20"), ("100", "50")] {
            let day = [
                ("day", "2026-02-09"),
                ("time", if humidity == "0" { "9:00" } else { "9:01" }),
            ];
            let sent = typed(&bench, humidity, temperature, &day).await;
            let page = bench.get(sent.location()).await;
            assert!(
                page.body.contains("Look at the hygrometer once more."),
                "{humidity}"
            );
        }
        assert!(well(&shop).await);
    });
}

#[test]
fn another_reading_at_the_same_moment_does_not_replace_the_first_and_a_wrong_one_is_taken_out() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        let sent = typed(&counter, "4", "20", &[]).await;
        let other = typed(&counter, "44", "20", &[]).await;
        assert_eq!(other.status.as_u16(), 422);
        assert!(
            other.body.contains("there is another reading: 20 °C, 4 %"),
            "{}",
            other.body
        );
        let id = sent.location().split('=').nth(1).expect("an id");
        let out = format!("/air/reading/{id}/withdraw");
        for _ in 0..2 {
            assert_eq!(counter.post(&out, &[]).await.status.as_u16(), 303);
        }
        assert_eq!((count(&shop).await, days(&shop).await.len()), ((0, 0), 0));
        assert_eq!(typed(&counter, "44", "20", &[]).await.status.as_u16(), 303);
        assert_eq!(days(&shop).await[0].humidity, 4400);
        assert!(well(&shop).await);
    });
}

#[test]
fn a_day_keeps_its_least_and_most_when_one_of_its_readings_is_taken_out() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let many = json!({"readings": [reading("2026-02-09T08:00:00Z", 30.0), reading("2026-02-09T12:00:00Z", 50.0),
            reading("2026-02-09T16:00:00Z", 40.0), reading("2026-02-09T23:30:00Z", 60.0)]});
        let sent = send(&owner, "k", &many).await;
        assert_eq!((sent.status.as_u16(), &sent.json["kept"]), (201, &json!(4)));
        let all = days(&shop).await;
        // Half past midnight in Vienna is the next day.
        assert_eq!((all.len(), all[0].readings, all[0].humidity_most), (2, 3, 5000));
        let id = sent.json["readings"][1]["id"].as_str().expect("an id");
        let taken = owner
            .post(&format!("{SEND}/{id}/withdraw"), &[], &json!({}))
            .await;
        assert_eq!(taken.status.as_u16(), 200, "{}", taken.json);
        let first = days(&shop).await[0];
        assert_eq!(
            (
                first.readings,
                first.humidity,
                first.humidity_most,
                first.humidity_least
            ),
            (2, 7000, 4000, 3000)
        );
        assert!(well(&shop).await);
        let gone = owner
            .post(&format!("{SEND}/{id}/withdraw"), &[], &json!({}))
            .await;
        assert_eq!(gone.status.as_u16(), 404);
    });
}

#[test]
fn a_file_is_taken_line_by_line_and_nothing_twice() {
    on_both(async |shop| {
        let counter = shop.sign_in("counter").await;
        let file = "at,temperature_c,relative_humidity\n2026-02-08 09:00,20.5,41\n2026-02-08 09:00,20.5,41\n\
                    2026-02-08 09:00,21,50\n2026-02-08 16:00,20.5,141\n2026-02-09 09:00,20,9\nlater,20,40\n";
        let page = bring(&counter, file.as_bytes()).await;
        assert_eq!(page.status.as_u16(), 200, "{}", page.body);
        for said in [
            "2 readings brought in.",
            "1 reading was here already",
            "3 lines not taken",
            "Line 4: At this moment",
            "Line 5: Write the relative humidity",
            "Line 7: Write the moment",
            "1 reading looks odd",
        ] {
            assert!(page.body.contains(said), "{said}: {}", page.body);
        }
        let again = bring(&counter, file.as_bytes()).await;
        assert!(
            again.body.contains("0 readings brought in.")
                && again.body.contains("3 readings were here already")
        );
        assert_eq!(count(&shop).await, (2, 2));
        assert!(well(&shop).await);
        for (file, said) in [
            (&b""[..], "Choose a file first."),
            (b"a,b\n1,2\n", "The first line must name"),
            (b"\xff\xfe", "no text in UTF-8"),
        ] {
            let page = bring(&counter, file).await;
            assert!(page.status.as_u16() == 422 && page.body.contains(said), "{said}");
        }
    });
}

#[test]
fn two_files_at_once_are_counted_as_one_after_the_other() {
    on_both(async |shop| {
        let mut file = "at,temperature_c,relative_humidity\n".to_owned();
        for hour in 0..2000 {
            let at = Moment(NOW.0 - hour * 3_600_000).rfc3339();
            let _ = writeln!(file, "{at},20,{}", 30 + hour % 30);
        }
        let (one, other) = (shop.sign_in("counter").await, shop.sign_in("owner").await);
        let (first, second) = tokio::join!(bring(&one, file.as_bytes()), bring(&other, file.as_bytes()));
        assert_eq!((first.status.as_u16(), second.status.as_u16()), (200, 200));
        assert_eq!(count(&shop).await, (2000, 2000));
        assert!(well(&shop).await);
    });
}

#[test]
fn a_program_sends_one_or_many_and_hears_the_moisture_of_the_wood() {
    on_both(async |shop| {
        let bench = shop.program("bench").await;
        let one = json!({"temperature_c": 20, "relative_humidity": 50});
        let first = send(&bench, "k", &one).await;
        assert_eq!(first.json["readings"][0]["at"], NOW.rfc3339());
        assert_eq!(first.json["readings"][0]["wood_moisture_percent"], 9.271);
        let again = send(&bench, "k", &one).await;
        assert_eq!(
            (again.header("idempotent-replay"), &again.json),
            ("true", &first.json)
        );
        let known = send(&bench, "l", &one).await;
        assert_eq!((&known.json["known"], count(&shop).await), (&json!(1), (1, 1)));
        let other = send(&bench, "m", &reading(&NOW.rfc3339(), 12.0)).await;
        assert_eq!(
            (&other.json["other"], &other.json["readings"][0]["id"]),
            (&json!(1), &Value::Null)
        );
        let told = bench.get("/api/v1/climate").await;
        assert_eq!(told.json["latest"]["relative_humidity"], 50.0);
        assert_eq!(
            (&told.json["days"][0]["day"], &told.json["last_30_days"]),
            (&json!("2026-02-10"), &Value::Null)
        );
    });
}

#[test]
fn what_is_sent_amiss_is_refused_as_a_whole_at_its_place() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let good = reading("2026-02-09T08:00:00Z", 30.0);
        for (body, field) in [
            (json!({}), "temperature_c"),
            (
                json!({"readings": [good, reading("soon", 30.0)]}),
                "readings.1.at",
            ),
            (
                json!({"readings": [good, reading("2026-02-09T09:00:00Z", 100.01)]}),
                "readings.1.relative_humidity",
            ),
            (
                json!({"readings": [good, reading("2026-02-10T09:30:00Z", 40.0)]}),
                "readings.1.at",
            ),
            (json!({"readings": []}), "readings"),
            (json!({"readings": [good], "temperature_c": 3}), "readings"),
            (json!({"readings": vec![good.clone(); 1001]}), "readings"),
            (
                json!({"temperature_c": "20", "relative_humidity": 40}),
                "temperature_c",
            ),
            (
                json!({"temperature_c": 1e300, "relative_humidity": 40}),
                "temperature_c",
            ),
        ] {
            let refused = send(&owner, "k", &body).await;
            assert_eq!(
                (refused.status.as_u16(), &refused.json["errors"][0]["field"]),
                (422, &json!(field)),
                "{field}"
            );
        }
        assert_eq!(count(&shop).await, (0, 0));
    });
}

#[test]
fn another_zone_counts_the_days_anew() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        send(&owner, "k", &reading("2026-02-09T08:00:00Z", 30.0)).await;
        assert_eq!(days(&shop).await[0].day.iso(), "2026-02-09");
        let mut tx = shop.app.db.begin().await.expect("begun");
        let mut settings = Settings::get(&mut tx).await.expect("the shop");
        settings.zone = "Pacific/Honolulu".into();
        assert!(settings.update(&mut tx).await.expect("kept"));
        tx.commit().await.expect("kept");
        assert_eq!(days(&shop).await[0].day.iso(), "2026-02-08");
        assert!(well(&shop).await);
    });
}

#[test]
fn the_page_of_a_new_shop_says_what_is_missing() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let page = owner.get("/air").await;
        assert_eq!(page.status.as_u16(), 200);
        assert!(
            page.body.contains("Nobody has read the hygrometer yet")
                && page.body.contains("Too few months to say")
        );
        assert!(!page.body.contains("<svg class=\"chart"));
        typed(&owner, "45", "20", &[]).await;
        let page = owner.get("/air").await;
        assert!(
            page.body.contains("Too few days with readings") && page.body.contains("Today at 10:00"),
            "{}",
            page.body
        );
        assert_eq!(owner.get("/air.csv?table=weeks").await.status.as_u16(), 422);
    });
}

/// The shop of the tests with an invented history and its people as they were, on the day after it ends.
pub async fn invented(shop: &Shop, orders: u64) {
    let people = Staff::all(&shop.app.db).await.expect("the staff");
    let wish = Wish {
        seed: 4,
        orders,
        as_of: AS_OF,
    };
    filled(&shop.app.db, wish).await;
    let mut tx = shop.app.db.begin().await.expect("begun");
    for person in people {
        assert!(person.insert(&mut tx).await.expect("a person"));
    }
    tx.commit().await.expect("kept");
    shop.clock.set(purfle::demo::end_of(AS_OF));
}

#[test]
fn the_air_of_an_invented_shop_is_drawn_with_its_gap_and_earlier_years() {
    on_both(async |shop| {
        invented(&shop, 900).await;
        let owner = shop.sign_in("owner").await;
        let page = owner.get("/air").await.body;
        for said in [
            "A cello belly 440 mm wide would like to be",
            "No readings from",
            "class=\"curve\"",
            "class=\"band\"",
            "class=\"gap\"",
            "By calendar",
        ] {
            assert!(page.contains(said), "{said}");
        }
        let settings = Settings::get(&shop.app.db).await.expect("the shop");
        let known = Known::read(&shop.app, &settings).await.expect("known");
        let csv = owner.get("/air.csv?table=days").await.body;
        let listed = known.course.within(AS_OF.plus(-364), AS_OF).len();
        assert_eq!(csv.lines().count(), listed + 1);
        the_months_that_the_causes_are_told_by(&owner, &known).await;
        assert!(well(&shop).await);
    });
}

/// The months that the causes are told by, with their air: as many as the page says, and each with what was inspected in it.
async fn the_months_that_the_causes_are_told_by(owner: &Browser, known: &Known) {
    let csv = owner.get("/air.csv?table=months").await.body;
    let rows = csv::Reader::from_reader(csv.as_bytes())
        .deserialize::<std::collections::BTreeMap<String, String>>()
        .collect::<Result<Vec<_>, _>>()
        .expect("rows");
    let months = |with_air: bool| {
        let some = rows
            .iter()
            .filter(|row| row["wood_moisture_percent"].is_empty() != with_air);
        let months: std::collections::BTreeSet<&String> = some.map(|row| &row["month"]).collect();
        months.len()
    };
    assert!(known.weighed.months > 0);
    assert_eq!(
        (months(true), months(false)),
        (known.weighed.months, known.weighed.without)
    );
    for row in &rows {
        let count = |column: &str| row[column].parse::<i64>().expect("a count");
        assert!(count("inspected") > 0 && (0..=count("inspected")).contains(&count("confirmed")));
        assert_eq!(
            row["wood_moisture_percent"].is_empty(),
            row["change_percent"].is_empty()
        );
    }
}

/// Ten years of a room that swings over the year, and so many inspected each month.
mod made_up {
    use std::collections::BTreeMap;

    use purfle::climate::course::Course;
    use purfle::climate::day::by_day;
    use purfle::climate::follow::{Weighed, air_of, weigh};
    use purfle::climate::reading::Air;
    use purfle::clock::{Day, YearMonth, Zone};
    use purfle::demo::chance::{Chance, real, whole};
    use purfle::reports::recurrence::Totals;

    const FIRST: YearMonth = YearMonth(2020 * 12);

    pub fn course(chance: &mut Chance) -> Course {
        let zone = Zone::named("UTC").expect("a zone");
        let from = FIRST.first_day().plus(-90);
        let readings: Vec<_> = (0..2300)
            .map(|at| {
                let swing = (real(at) / 365.25 * std::f64::consts::TAU).cos();
                let humidity = 47.0 + 12.0 * swing + 3.0 * chance.bell();
                let air = Air {
                    temperature: 2100,
                    humidity: whole(humidity * 100.0).clamp(500, 9500),
                };
                (zone.moment(Day(from.0 + at), 12, 0), air)
            })
            .collect();
        Course::new(by_day(&zone, readings))
    }

    /// A month in which something was inspected, with the air of another course.
    pub fn weighed_without(course: &Course, unread: &Course) -> Weighed {
        assert!(air_of(course, FIRST).is_some());
        let totals = Totals {
            inspected: 9,
            confirmed: BTreeMap::new(),
        };
        weigh(unread, &[(FIRST, totals)])
    }

    /// Causes whose odds are multiplied by so much for each percent of moisture less.
    pub fn shop(chance: &mut Chance, course: &Course, count: i64, times: &[f64]) -> Weighed {
        let months: Vec<(YearMonth, Totals)> = (0..count)
            .map(|at| {
                let month = YearMonth(FIRST.0 + at);
                let moisture = air_of(course, month).expect("air").moisture;
                let mut confirmed = BTreeMap::new();
                for (which, times) in times.iter().enumerate() {
                    let odds = 0.08 * times.powf(9.0 - moisture);
                    let found = (0..40).filter(|_| chance.yes(odds / (1.0 + odds))).count();
                    confirmed.insert(format!("cause {which}"), i64::try_from(found).expect("few"));
                }
                let inspected = 40;
                (month, Totals { inspected, confirmed })
            })
            .collect();
        weigh(course, &months)
    }
}

#[test]
fn an_effect_that_is_there_is_found_and_its_size_lies_in_the_interval() {
    let (mut found, mut within) = (0, 0);
    for seed in 0..100 {
        let mut chance = purfle::demo::chance::Chance::of(seed, "air effect", 0);
        let course = made_up::course(&mut chance);
        let weighed = made_up::shop(&mut chance, &course, 72, &[1.35, 1.0, 1.0]);
        let cause = weighed
            .causes
            .iter()
            .find(|cause| cause.cause == "cause 0")
            .expect("weighed");
        found += i32::from(cause.told());
        within += i32::from(cause.drier.low <= 1.35 && 1.35 <= cause.drier.high);
        assert!(
            !cause.told() || cause.words().contains("the odds"),
            "{}",
            cause.words()
        );
    }
    assert!(found >= 95, "found in {found} of 100");
    // 95 of 100 are due; 88 is three deviations short.
    assert!(within >= 88, "within in {within} of 100");
}

#[test]
fn where_nothing_follows_the_air_hardly_a_shop_is_told_that_something_does() {
    let mut alarms = 0;
    for seed in 0..1000 {
        let mut chance = purfle::demo::chance::Chance::of(seed, "air chance", 0);
        let course = made_up::course(&mut chance);
        let weighed = made_up::shop(&mut chance, &course, 72, &[1.0; 6]);
        assert_eq!((weighed.months, weighed.causes.len()), (72, 6));
        alarms += i32::from(weighed.causes.iter().any(Follows::told));
    }
    println!("false alarms where nothing follows the air: {alarms} of 1000 shops");
    // One shop in twenty is due, as told are those that hold after Benjamini and Hochberg at 5 %.
    assert!(f64::from(alarms) <= at_most(TOLD, 1000), "{alarms} of 1000");
}

#[test]
fn few_months_are_too_few_to_say() {
    let mut chance = purfle::demo::chance::Chance::of(1, "air few", 0);
    let course = made_up::course(&mut chance);
    let few = made_up::shop(&mut chance, &course, 17, &[1.3]);
    assert_eq!((few.months, few.causes.len()), (17, 0));
    let enough = made_up::shop(&mut chance, &course, 18, &[1.3]);
    assert_eq!((enough.months, enough.causes.len()), (18, 1));
    // A month whose days nobody read is left out, and counted as such.
    let unread = purfle::climate::course::Course::default();
    let without = made_up::weighed_without(&course, &unread);
    assert_eq!((without.months, without.without), (0, 1));
}
