//! Recurrence: acts on orders move the tallies, and the report counts them where its definitions say.

use purfle::act::{Act, Guard};
use purfle::bench::check::{self, NewCheck};
use purfle::bench::finding::{self, Finding, NewFinding};
use purfle::clock::{Day, Moment, YearMonth, Zone};
use purfle::counter::intake::{Intake, Which};
use purfle::counter::order::Order;
use purfle::diagnosis::age::AgeBand;
use purfle::reports::calendar::Calendar;
use purfle::reports::figures::interval::wilson;
use purfle::reports::recurrence::{Recurrence, Totals, Years, by_month};
use purfle::reports::season::{Season, Seasons};
use purfle::reports::share::Share;
use purfle::reports::span::Span;
use purfle::reports::tally::{Cell, Counts};
use serde_json::Value;

use crate::shop::{Answer, Shop, on_both};

/// An age in the middle of a band.
fn years(band: AgeBand) -> Option<i64> {
    match band {
        AgeBand::Under2 => Some(1),
        AgeBand::From2 => Some(12),
        AgeBand::From20 => Some(50),
        AgeBand::From80 => Some(90),
        AgeBand::From100 => Some(150),
        AgeBand::Unknown => None,
    }
}

/// So many orders of a family and a band in a month: inspected when `cause` is empty, else confirmed.
pub async fn count(shop: &Shop, month: &str, at: (&str, AgeBand), cause: &str, orders: i64) {
    let mut tx = shop.app.db.begin().await.expect("a transaction");
    let cell = Cell {
        month: YearMonth::parse(month).expect("a month"),
        family: at.0,
        age: years(at.1),
        groups: ["full", "person"],
    };
    let mut counts = Counts::default();
    counts.orders(cell, cause, orders);
    counts.keep(&mut tx).await.expect("counted");
    tx.commit().await.expect("kept");
}

pub async fn act(shop: &Shop, order: &Order) -> Act {
    let who = shop.who("bench").await;
    Act::begin(&shop.app, &who, &order.tag, Guard::default())
        .await
        .expect("an act")
}

pub async fn check(shop: &Shop, order: &Order, cause: &str) {
    let mut act = act(shop, order).await;
    let new = NewCheck {
        cause: cause.into(),
        result: "not_found".into(),
        ..NewCheck::default()
    };
    check::log(&mut act, &new).await.expect("a check");
    act.then("/").await.expect("kept");
}

pub async fn find(shop: &Shop, order: &Order, cause: &str, certainty: &str) -> Finding {
    let mut act = act(shop, order).await;
    let new = NewFinding {
        cause: cause.into(),
        certainty: certainty.into(),
        ..NewFinding::default()
    };
    let finding = finding::log(&mut act, &new).await.expect("a finding");
    act.then("/").await.expect("kept");
    finding
}

pub fn of(intake: &mut Intake, family: &str, year_made: Option<i64>) {
    if let Which::New(instrument) = &mut intake.instrument {
        (instrument.family, instrument.size, instrument.year_made) =
            (family.into(), String::new(), year_made);
        if family == "violin" || family == "cello" {
            instrument.size = "4/4".into();
        }
    }
}

async fn figures(shop: &Shop, query: &str) -> Answer {
    let owner = shop.program("owner").await;
    let answer = owner.get(&format!("/api/v1/reports/recurrence?{query}")).await;
    assert_eq!(answer.status.as_u16(), 200, "{}", answer.json);
    answer
}

/// Band, season, inspected and confirmed of each cell of a cause.
fn cells(answer: &Value, cause: &str) -> Vec<(String, String, i64, i64)> {
    let cells = answer["cells"].as_array().expect("cells").iter();
    let text = |value: &Value| value.as_str().expect("text").to_owned();
    cells
        .filter(|cell| cell["cause"] == cause)
        .map(|cell| {
            (
                text(&cell["age_band"]),
                text(&cell["season"]),
                cell["inspected"].as_i64().expect("a count"),
                cell["confirmed"].as_i64().expect("a count"),
            )
        })
        .collect()
}

#[test]
fn acts_on_orders_lead_to_their_cells() {
    on_both(async |shop| {
        let old = shop.order(|new| of(new, "violin", Some(1850))).await;
        let unknown = shop.order(|new| of(new, "cello", None)).await;
        let _untouched = shop.order(|new| of(new, "violin", Some(2025))).await;
        check(&shop, &old, "peg_pin_loose").await;
        find(&shop, &old, "seam_open_lower", "confirmed").await;
        find(&shop, &old, "seam_open_lower", "confirmed").await; // twice written, once counted
        find(&shop, &unknown, "seam_open_upper", "suspected").await;
        let answer = figures(&shop, "from=2026-02&to=2026-02").await.json;
        assert_eq!(
            (&answer["as_of"], &answer["inspected"]),
            (&"2026-02-10".into(), &2.into())
        );
        let cell =
            |band: &str, inspected, confirmed| (band.to_owned(), "dry".to_owned(), inspected, confirmed);
        let expected = vec![cell("100_plus", 1, 1), cell("unknown", 1, 0)];
        assert_eq!(cells(&answer, "seam_open_lower"), expected);
        assert_eq!(answer["causes"].as_array().expect("causes").len(), 1);
        let cellos = figures(&shop, "from=2026-02&to=2026-02&family=cello").await.json;
        assert_eq!(
            (&cellos["inspected"], cellos["cells"].as_array().map(Vec::len)),
            (&1.into(), Some(0))
        );
    });
}

/// Fisher's tea tasting (The Design of Experiments, 1935): 3 of 4 beside 1 of 4 is 34 in 70 by chance, two-sided.
#[test]
fn cells_stand_beside_the_rest_of_the_shop() {
    on_both(async |shop| {
        for (band, seams) in [(AgeBand::From100, 3), (AgeBand::From2, 1)] {
            count(&shop, "2025-01", ("violin", band), "", 4).await;
            count(&shop, "2025-01", ("violin", band), "seam_open_lower", seams).await;
        }
        let answer = figures(&shop, "from=2025-01&to=2025-01").await.json;
        let cells = answer["cells"].as_array().expect("cells");
        assert_eq!(cells.len(), 2);
        for cell in cells {
            let figure = |name: &str| cell[name].as_f64().expect("a figure");
            assert!((figure("p_value") - 34.0 / 70.0).abs() < 1e-9, "{cell}");
            assert!((figure("q_value") - 34.0 / 70.0).abs() < 1e-9, "{cell}");
            assert!(
                figure("shrunk_rate") > 0.2 && figure("shrunk_rate") < 0.8,
                "{cell}"
            );
        }
        let cause = &answer["causes"][0];
        assert_eq!(
            (&cause["season"], &cause["age_trend"]),
            (&Value::Null, &Value::Null)
        );
    });
}

#[test]
fn causes_tell_how_they_go_with_age_and_over_the_year() {
    on_both(async |shop| {
        for month in 1..=12 {
            let at = format!("2025-{month:02}");
            let dry = if [12, 1, 2].contains(&month) { 3 } else { 1 };
            for (band, seams) in [(AgeBand::From2, 1), (AgeBand::From20, 2), (AgeBand::From100, 4)] {
                count(&shop, &at, ("violin", band), "", 40).await;
                count(&shop, &at, ("violin", band), "seam_open_lower", seams * dry).await;
            }
        }
        let answer = figures(&shop, "from=2025-01&to=2025-12").await.json;
        let cause = &answer["causes"][0];
        let (season, trend) = (&cause["season"], &cause["age_trend"]);
        assert_eq!(
            (&season["peak_month"], &trend["direction"]),
            (&1.into(), &"rises".into())
        );
        for told in [season, trend] {
            assert!(told["p_value"].as_f64().expect("a chance") < 0.001, "{told}");
            assert_eq!(
                told["p_value"], told["q_value"],
                "one cause alone: nothing to correct for"
            );
        }
        let words = shop
            .sign_in("owner")
            .await
            .get("/month?from=2025-01&to=2025-12")
            .await
            .body;
        assert!(
            words.contains("it rises with age") && words.contains("highest in January"),
            "{words}"
        );
        let table = shop
            .sign_in("owner")
            .await
            .get("/month.csv?from=2025-01&to=2025-12&table=months")
            .await
            .body;
        assert!(table.contains("1,120,21") && table.contains("6,120,7"), "{table}");
    });
}

#[test]
fn a_withdrawn_finding_counts_no_more() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        let finding = find(&shop, &order, "seam_open_lower", "confirmed").await;
        let mut taking_back = act(&shop, &order).await;
        finding::withdraw(&mut taking_back, finding.id)
            .await
            .expect("taken back");
        taking_back.then("/").await.expect("kept");
        let answer = figures(&shop, "from=2026-02&to=2026-02").await.json;
        assert_eq!(answer["inspected"], 1);
        assert_eq!(answer["causes"], Value::Array(Vec::new()));
    });
}

/// Newcombe, Statistics in Medicine 17 (1998) 857-872, Table I, method 3: 81 of 263 is 0.2553 to 0.3662, and 15 of 148 is
/// 0.0624 to 0.1605 (read where public test suites quote them).
#[test]
fn the_ranges_are_those_of_newcombes_table() {
    for (confirmed, inspected, low, high) in [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605)] {
        on_both(async |shop| {
            let at = ("violin", AgeBand::From20);
            count(&shop, "2025-11", at, "", inspected).await;
            count(&shop, "2025-11", at, "seam_open_lower", confirmed).await;
            let answer = figures(&shop, "from=2025-11&to=2025-11").await.json;
            for shown in [&answer["cells"][0], &answer["causes"][0]] {
                assert!(
                    (shown["low"].as_f64().expect("low") - low).abs() < 6e-5,
                    "{shown}"
                );
                assert!(
                    (shown["high"].as_f64().expect("high") - high).abs() < 6e-5,
                    "{shown}"
                );
            }
        });
    }
}

/// What one order that comes in at a moment in a zone is counted as: its month and season.
async fn received(shop: &Shop, zone: &str, day: &str, hour: u8, minute: u8) -> (String, String) {
    shop.app
        .db
        .write("update shop set zone = $1")
        .bind(zone.to_owned())
        .execute()
        .await
        .expect("the zone");
    let at = Zone::named(zone)
        .expect("a zone")
        .moment(Day::parse(day).expect("a day"), hour, minute);
    counted(shop, at).await
}

async fn counted(shop: &Shop, at: Moment) -> (String, String) {
    shop.clock.set(at);
    shop.app
        .db
        .write("delete from tally_block")
        .execute()
        .await
        .expect("an empty tally");
    let order = shop.order(|_| {}).await;
    find(shop, &order, "seam_open_lower", "confirmed").await;
    let (month,): (YearMonth,) = shop
        .app
        .db
        .read("select month from tally where cause = ''")
        .one()
        .await
        .expect("one month");
    let answer = figures(shop, &format!("from={0}&to={0}", month.iso())).await.json;
    let cells = cells(&answer, "seam_open_lower");
    (month.iso(), cells[0].1.clone())
}

#[test]
fn an_order_counts_in_the_month_of_the_shops_own_day() {
    on_both(async |shop| {
        let said = |month: &str, season: &str| (month.to_owned(), season.to_owned());
        assert_eq!(
            received(&shop, "Europe/Vienna", "2026-03-31", 23, 30).await,
            said("2026-03", "dry")
        );
        assert_eq!(
            received(&shop, "Europe/Vienna", "2026-04-01", 0, 30).await,
            said("2026-04", "change")
        );
        // That moment is 22:30 UTC on 31 March: a shop that lives by UTC counts it in March.
        let moment = Zone::named("Europe/Vienna").expect("a zone").moment(
            Day::parse("2026-04-01").expect("a day"),
            0,
            30,
        );
        shop.app
            .db
            .write("update shop set zone = 'UTC'")
            .execute()
            .await
            .expect("the zone");
        assert_eq!(counted(&shop, moment).await, said("2026-03", "dry"));
        assert_eq!(
            received(&shop, "Pacific/Auckland", "2026-01-01", 0, 5).await,
            said("2026-01", "dry")
        );
        assert_eq!(
            received(&shop, "America/Los_Angeles", "2025-12-31", 23, 55).await,
            said("2025-12", "dry")
        );
    });
}

#[test]
fn leap_days_and_clock_changes_fall_into_their_month() {
    on_both(async |shop| {
        let said = |month: &str, season: &str| (month.to_owned(), season.to_owned());
        assert_eq!(
            received(&shop, "Europe/Vienna", "2028-02-29", 23, 59).await,
            said("2028-02", "dry")
        );
        assert_eq!(
            received(&shop, "Europe/Vienna", "2028-03-01", 0, 0).await,
            said("2028-03", "dry")
        );
        // The hour that is skipped, the hour that comes twice, and a day that begins at one o'clock.
        assert_eq!(
            received(&shop, "Europe/Vienna", "2026-03-29", 2, 30).await,
            said("2026-03", "dry")
        );
        assert_eq!(
            received(&shop, "Europe/Vienna", "2026-10-25", 2, 30).await,
            said("2026-10", "change")
        );
        assert_eq!(
            received(&shop, "Asia/Beirut", "2026-03-29", 0, 15).await,
            said("2026-03", "dry")
        );
    });
}

#[test]
fn southern_shops_have_their_own_seasons() {
    on_both(async |shop| {
        let seasons = Seasons::southern().to_string();
        shop.app
            .db
            .write("update shop set seasons = $1")
            .bind(seasons)
            .execute()
            .await
            .expect("the seasons");
        let months = [
            ("2026-01-15", "humid"),
            ("2026-07-15", "dry"),
            ("2026-10-15", "change"),
        ];
        for (day, season) in months {
            let (_, counted) = received(&shop, "Australia/Melbourne", day, 12, 0).await;
            assert_eq!(counted, season);
        }
    });
}

#[test]
fn a_span_adds_up_its_months_and_nothing_else() {
    on_both(async |shop| {
        let (young, old) = (("violin", AgeBand::Under2), ("bass", AgeBand::From100));
        for (month, orders) in [
            ("2025-06", 1),
            ("2025-07", 10),
            ("2025-08", 100),
            ("2025-09", 1000),
        ] {
            count(&shop, month, young, "", 2 * orders).await;
            count(&shop, month, old, "", 3 * orders).await;
            count(&shop, month, old, "seam_open_lower", orders).await;
        }
        let answer = figures(&shop, "from=2025-07&to=2025-09").await.json;
        assert_eq!(answer["inspected"], 5550);
        let text = |band: &str, season: &str, inspected, confirmed| {
            (band.to_owned(), season.to_owned(), inspected, confirmed)
        };
        let expected = [
            text("under_2", "humid", 220, 0),
            text("under_2", "change", 2000, 0),
            text("100_plus", "humid", 330, 110),
            text("100_plus", "change", 3000, 1000),
        ];
        assert_eq!(cells(&answer, "seam_open_lower"), expected);
        let range = wilson(1110, 5550).expect("a range");
        assert_eq!(answer["causes"][0]["low"].as_f64(), Some(range.low));
    });
}

/// Seasons are read month by month where the span is short, and from the figures where it is long: it must not matter.
#[test]
fn seasons_are_the_same_read_either_way() {
    on_both(async |shop| {
        for (at, month) in ["2025-01", "2025-04", "2025-07", "2025-08", "2025-12"]
            .iter()
            .enumerate()
        {
            let orders = 10 * (i64::try_from(at).expect("few") + 1);
            count(&shop, month, ("cello", AgeBand::From2), "", orders).await;
            count(&shop, month, ("bass", AgeBand::From80), "", 1).await;
            count(
                &shop,
                month,
                ("cello", AgeBand::From2),
                "seam_open_lower",
                orders / 5,
            )
            .await;
        }
        let (db, seasons) = (&shop.app.db, Seasons::northern());
        for family in ["", "cello", "viola"] {
            let year = Span::year(2025);
            let figures = Recurrence::read(db, year, family, &seasons)
                .await
                .expect("figures");
            let months = by_month(db, year, family).await.expect("months");
            let years = Years::read(db, family, (2024, 2026), "").await.expect("years");
            let (one, other) = (
                Calendar::of_figures(&figures, seasons),
                Calendar::of_years(&years, year, seasons),
            );
            for season in Season::ALL {
                for cause in ["seam_open_lower", "peg_pin_loose"] {
                    assert_eq!(one.share(season, cause), other.share(season, cause));
                }
            }
            assert_eq!(
                Totals::read(db, year, family).await.expect("totals"),
                Totals::of_figures(&figures)
            );
            assert_eq!(months.len(), 12);
        }
        let cellos = by_month(db, Span::year(2025), "cello").await.expect("months");
        assert_eq!(cellos[6].1.share("seam_open_lower"), Share::new(6, 30));
    });
}

#[test]
fn calls_that_cannot_be_answered_are_told_why() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        for (query, field) in [
            ("", "from"),
            ("from=2025-13&to=2025-12", "from"),
            ("from=2025-12&to=2025-11", "from"),
            ("from=2025-12&from=2025-11&to=2025-12", "from"),
            ("from=1900-01&to=2199-12", "from"),
            ("from=2025-12&to=2025-12&family=bow", "family"),
            ("from=2025-12&to=2025-12&size=large", "size"),
            ("from=2025-12&to=2025-12&account=teacher", "account"),
            ("from=2025-12&to=2025-12&family=cello&account=school", "account"),
            ("from=2025-12&to=2025-12&by=cause", "by"),
        ] {
            let answer = owner.get(&format!("/api/v1/reports/recurrence?{query}")).await;
            assert_eq!(answer.status.as_u16(), 422, "{query}");
            assert_eq!(answer.header("content-type"), "application/problem+json");
            let told = &answer.json["errors"][0];
            assert_eq!(
                (&told["in"], &told["field"]),
                (&"query".into(), &field.into()),
                "{}",
                answer.json
            );
        }
        let empty = figures(&shop, "from=2025-12&to=2025-12").await.json;
        assert_eq!(
            (&empty["inspected"], &empty["cells"]),
            (&0.into(), &Value::Array(Vec::new()))
        );
    });
}

#[test]
fn only_the_owner_reads_the_figures() {
    on_both(async |shop| {
        for role in ["counter", "bench"] {
            let answer = shop
                .program(role)
                .await
                .get("/api/v1/reports/recurrence?from=2025-12&to=2025-12")
                .await;
            assert_eq!(answer.status.as_u16(), 403);
            let browser = shop.sign_in(role).await;
            for path in ["/month", "/month.csv?table=cells"] {
                assert_eq!(browser.get(path).await.status.as_u16(), 403, "{role} {path}");
            }
        }
        assert_eq!(shop.stranger().get("/month").await.location(), "/sign-in");
    });
}
