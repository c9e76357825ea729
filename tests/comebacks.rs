//! Comebacks: acts keep what was repaired and when it came back, and the report tells how many did by a day.

mod sanity;

use purfle::bench::finding::{self, NewFinding};
use purfle::bench::play_test::{self, NewPlayTest};
use purfle::bench::step::{self, NewStep};
use purfle::clock::{DAY_MS, Day, Moment};
use purfle::counter::intake::Which;
use purfle::counter::order::Order;
use purfle::counter::order_changes;
use purfle::counter::pickup::{self, NewPickup};
use purfle::db::Db;
use purfle::reports::bands::Bands;
use purfle::reports::comebacks::{self, By, Group};
use purfle::reports::comebacks_ask::Asked;
use purfle::reports::figures::survival::Curve;
use purfle::reports::group;
use purfle::reports::repaired::{self, Repaired, Repairs};
use purfle::reports::rules::Rules;
use purfle::reports::season::Seasons;
use serde_json::json;

use crate::demo::{AS_OF, empty, filled, wish};
use crate::month::read;
use crate::pickup::found;
use crate::shop::{NOW, Program, Shop, on_both};

pub const SEAM: &str = "seam_open_lower";

impl Shop {
    /// So many days after [`NOW`].
    pub fn on_day(&self, days: i64) -> Day {
        self.clock.set(NOW.plus_ms(days * DAY_MS));
        Day(NOW.0 / DAY_MS + days)
    }

    /// The same instrument is taken in again.
    pub async fn again(&self, before: &Order) -> Order {
        self.order(|intake| {
            intake.customer = Which::Known(before.customer);
            intake.instrument = Which::Known(before.instrument);
            intake.authorised_limit = Some(50_000);
        })
        .await
    }

    /// A cause is found on an order, put right in half an hour, and the instrument played quiet.
    pub async fn mend(&self, order: &Order, cause: &str) {
        self.at_bench(&order.tag, async |act| {
            let found = finding::log(act, &found(cause, "confirmed"))
                .await
                .expect("found");
            let new = NewStep {
                title: Some("Put right".into()),
                finding: Some(found.id),
                planned_minutes: Some(30),
                ..NewStep::default()
            };
            let step = step::plan(act, &new).await.expect("planned");
            step::done(act, step.id, 30).await.expect("done");
            quiet(act).await;
        })
        .await;
    }

    pub async fn hand_back(&self, order: &Order) {
        let who = self.who("counter").await;
        let mut act = purfle::act::Act::begin(&self.app, &who, &order.tag, purfle::act::Guard::default())
            .await
            .expect("the order");
        let new = NewPickup {
            collected_by: "Marta".into(),
            ..NewPickup::default()
        };
        pickup::hand_back(&mut act, &new).await.expect("handed back");
        act.then("/").await.expect("kept");
    }

    /// An order with a cause put right, that goes home on the same day.
    pub async fn repaired(&self, cause: &str) -> Order {
        let order = self.order(|intake| intake.authorised_limit = Some(50_000)).await;
        self.mend(&order, cause).await;
        self.hand_back(&order).await;
        self.order_now(&order.tag).await
    }

    pub async fn rows(&self) -> Vec<Repaired> {
        let rows = self
            .app
            .db
            .read("select * from repaired order by collected_on, cause");
        rows.all().await.expect("the rows")
    }

    pub async fn groups(&self, as_of: Day, by: By, cause: &str) -> Vec<Group> {
        let asked = Asked {
            as_of,
            by,
            cause: cause.to_owned(),
        };
        self.groups_in(&asked, &Seasons::northern()).await
    }

    pub async fn groups_in(&self, asked: &Asked, seasons: &Seasons) -> Vec<Group> {
        comebacks::read(&self.app.db, asked, &Rules::new(&Bands::default(), 90), seasons)
            .await
            .expect("groups")
    }
}

pub async fn quiet(act: &mut purfle::act::Act) {
    let quiet = NewPlayTest {
        result: "quiet".into(),
        ..NewPlayTest::default()
    };
    play_test::log(act, &quiet).await.expect("quiet");
}

pub fn back(rows: &[Repaired]) -> Vec<Option<i64>> {
    rows.iter()
        .map(|row| row.back_on.map(|back| back.0 - row.collected_on.0))
        .collect()
}

#[test]
fn what_is_put_right_is_watched_from_its_pickup() {
    on_both(async |shop| {
        let order = shop.order(|intake| intake.authorised_limit = Some(50_000)).await;
        shop.mend(&order, SEAM).await;
        assert!(shop.rows().await.is_empty(), "it has not gone home");
        shop.hand_back(&order).await;
        let rows = shop.rows().await;
        let row = &rows[0];
        assert_eq!(
            (rows.len(), row.work_order, row.cause.as_str(), row.job.as_str()),
            (1, order.id, SEAM, "")
        );
        assert_eq!(
            (row.family.as_str(), row.age, row.month),
            ("violin", Some(105), 1)
        );
        assert_eq!(
            (row.technician, row.back_on),
            (shop.who("bench").await.staff, None)
        );
        shop.is_well().await;
    });
}

#[test]
fn two_comebacks_of_one_instrument_are_two() {
    on_both(async |shop| {
        let first = shop.repaired(SEAM).await;
        shop.on_day(41);
        let second = shop.again(&first).await;
        assert_eq!(back(&shop.rows().await), [None], "nobody has found it yet");
        shop.mend(&second, SEAM).await;
        shop.on_day(43);
        shop.hand_back(&second).await;
        let day = shop.on_day(100);
        let third = shop.again(&first).await;
        shop.mend(&third, SEAM).await;
        assert_eq!(back(&shop.rows().await), [Some(41), Some(57)]);
        let groups = shop.groups(day, By::Cause, "").await;
        assert_eq!(
            (groups[0].repaired(), groups[0].back(), groups[0].seasonal),
            (2, 2, 0)
        );
        shop.is_well().await;
    });
}

#[test]
fn another_cause_is_no_comeback_and_a_suspicion_is_none() {
    on_both(async |shop| {
        let first = shop.repaired(SEAM).await;
        shop.on_day(20);
        let second = shop.again(&first).await;
        shop.at_bench(&second.tag, async |act| {
            finding::log(act, &found("seam_open_upper", "confirmed"))
                .await
                .expect("found");
            finding::log(act, &found(SEAM, "suspected")).await.expect("found");
        })
        .await;
        assert_eq!(back(&shop.rows().await), [None]);
        let confirmed = NewFinding {
            cause: SEAM.into(),
            certainty: "confirmed".into(),
            ..NewFinding::default()
        };
        shop.at_bench(&second.tag, async |act| {
            finding::log(act, &confirmed).await.expect("confirmed now");
        })
        .await;
        assert_eq!(back(&shop.rows().await), [Some(20)]);
        shop.is_well().await;
    });
}

#[test]
fn a_finding_taken_back_is_neither_a_repair_nor_a_comeback() {
    on_both(async |shop| {
        let first = shop.repaired(SEAM).await;
        shop.on_day(20);
        let second = shop.again(&first).await;
        shop.mend(&second, SEAM).await;
        let take_back = async |order: &Order| {
            let of = purfle::bench::finding::Finding::of(&shop.app.db, order.id)
                .await
                .expect("findings")[0]
                .id;
            shop.at_bench(&order.tag, async |act| {
                finding::withdraw(act, of).await.expect("taken back");
            })
            .await;
        };
        take_back(&second).await;
        assert_eq!(back(&shop.rows().await), [None]);
        shop.is_well().await;
        take_back(&first).await;
        assert!(
            shop.rows().await.is_empty(),
            "what was wrongly found was not repaired"
        );
        shop.is_well().await;
    });
}

#[test]
fn an_order_taken_up_again_is_watched_once_from_the_pickup_that_was() {
    on_both(async |shop| {
        let order = shop.order(|intake| intake.authorised_limit = Some(50_000)).await;
        shop.mend(&order, SEAM).await;
        shop.on_day(3);
        shop.at_bench(&order.tag, async |act| {
            order_changes::reopen(act).await.expect("taken up again");
        })
        .await;
        shop.mend(&order, "peg_pin_loose").await;
        let day = shop.on_day(5);
        shop.hand_back(&order).await;
        let rows = shop.rows().await;
        let causes: Vec<&str> = rows.iter().map(|row| row.cause.as_str()).collect();
        assert_eq!(causes, ["peg_pin_loose", SEAM]);
        assert!(rows.iter().all(|row| row.collected_on == day));
        shop.is_well().await;
    });
}

#[test]
fn a_corrected_year_moves_the_age_and_a_corrected_day_the_wait() {
    on_both(async |shop| {
        let first = shop.repaired(SEAM).await;
        shop.on_day(30);
        let second = shop.again(&first).await;
        shop.mend(&second, SEAM).await;
        let counter = shop.program("counter").await;
        let path = format!("/api/v1/instruments/{}", first.instrument);
        let etag = counter.get(&path).await.etag();
        let changed = counter.patch(&path, &etag, &json!({"year_made": 2020})).await;
        assert_eq!(changed.status.as_u16(), 200, "{}", changed.json);
        assert_eq!(shop.rows().await[0].age, Some(6));
        shop.is_well().await;
        let mut tx = shop.app.db.begin().await.expect("begun");
        tx.query("update work_order set received_on = received_on - 7 where id = $1")
            .bind(second.id)
            .execute()
            .await
            .expect("corrected");
        repaired::keep(&mut tx, first.instrument, &Repairs::All)
            .await
            .expect("kept");
        tx.commit().await.expect("kept");
        assert_eq!(back(&shop.rows().await), [Some(23)]);
        shop.is_well().await;
    });
}

#[test]
fn over_a_leap_day_a_year_is_a_day_longer() {
    on_both(async |shop| {
        shop.clock.set(Moment(1_835_434_800_000)); // Tue 29 Feb 2028, 12:00 in Vienna
        let first = shop.repaired(SEAM).await;
        assert_eq!(first.received_on.iso(), "2028-02-29");
        shop.clock.set(Moment(1_866_970_800_000)); // Wed 28 Feb 2029
        let second = shop.again(&first).await;
        shop.mend(&second, SEAM).await;
        assert_eq!(back(&shop.rows().await), [Some(365)]);
        let groups = shop.groups(second.received_on, By::Season, "").await;
        assert_eq!(
            (groups[0].key.as_str(), groups[0].back(), groups[0].seasonal),
            ("dry", 1, 1)
        );
        shop.is_well().await;
    });
}

#[test]
fn about_a_year_later_in_the_same_season_is_natures() {
    on_both(async |shop| {
        // Taken in on 10 Feb, dry. Back after 299 and 300 days: 6 and 7 Dec, dry; after 430 days in April, not dry; in June.
        // Taken in on 8 Jan, 33 days earlier: after 430 and 431 days it is 14 and 15 Mar, dry both.
        let (from, early) = (0, -33);
        for (taken_in, days, seasonal) in [
            (from, 299, 0),
            (from, 300, 1),
            (from, 380, 1),
            (from, 430, 0),
            (from, 480, 0),
            (early, 430, 1),
            (early, 431, 0),
        ] {
            shop.on_day(taken_in);
            let first = shop.repaired("peg_pin_loose").await;
            let day = shop.on_day(taken_in + days);
            let second = shop.again(&first).await;
            shop.mend(&second, "peg_pin_loose").await;
            let all = comebacks::together(&shop.groups(day, By::AgeBand, "").await);
            assert_eq!((all.back(), all.seasonal), (1, seasonal), "{days}");
            empty_rows(&shop.app.db).await;
        }
    });
}

#[test]
fn in_a_shop_without_seasons_nothing_that_comes_back_is_natures() {
    on_both(async |shop| {
        let none = Seasons::without_seasons();
        shop.app
            .db
            .write("update shop set seasons = $1")
            .bind(none.to_string())
            .execute()
            .await
            .expect("no seasons");
        shop.on_day(0);
        let first = shop.repaired("peg_pin_loose").await;
        let as_of = shop.on_day(380);
        let second = shop.again(&first).await;
        shop.mend(&second, "peg_pin_loose").await;
        let asked = Asked {
            as_of,
            by: By::Cause,
            cause: String::new(),
        };
        let all = comebacks::together(&shop.groups_in(&asked, &none).await);
        assert_eq!((all.back(), all.seasonal), (1, 0));
        let owner = shop.sign_in("owner").await;
        let page = owner.get(&format!("/orders/{}", second.tag)).await;
        assert!(
            page.body.contains("this was repaired here and went home"),
            "{}",
            page.body
        );
        assert!(!page.body.contains("both times"), "{}", page.body);
        assert_eq!(owner.get("/comebacks").await.status.as_u16(), 200);
    });
}

async fn empty_rows(db: &Db) {
    db.write("delete from repaired").execute().await.expect("emptied");
}

#[test]
fn as_of_an_earlier_day_what_came_later_is_not_known() {
    on_both(async |shop| {
        let first = shop.repaired(SEAM).await;
        let before = shop.on_day(40);
        let back = shop.on_day(41);
        let second = shop.again(&first).await;
        shop.mend(&second, SEAM).await;
        shop.hand_back(&second).await;
        let then = &shop.groups(before, By::Cause, SEAM).await[0];
        assert_eq!(
            (
                then.repaired(),
                then.back(),
                then.watched.at_risk(40),
                then.watched.at_risk(41)
            ),
            (1, 0, 1, 0)
        );
        let now = &shop.groups(back, By::Cause, SEAM).await[0];
        assert_eq!((now.repaired(), now.back()), (2, 1));
        assert!(shop.groups(back.plus(-42), By::Cause, SEAM).await.is_empty());
    });
}

#[test]
fn nothing_and_everything_censored_read_well() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let page = owner.get("/comebacks").await;
        assert!(
            page.body.contains("Nothing repaired has gone home yet."),
            "{}",
            page.body
        );
        shop.repaired(SEAM).await;
        for by in By::ALL {
            let page = owner.get(&format!("/comebacks?by={}", by.code())).await;
            assert_eq!(page.status.as_u16(), 200);
            assert!(
                page.body.contains("Of 1 repair none came back so far."),
                "{}",
                page.body
            );
            assert!(
                !page.body.contains("NaN") && !page.body.contains("<path"),
                "{}",
                page.body
            );
        }
        let answer = shop
            .program("owner")
            .await
            .get("/api/v1/reports/comebacks")
            .await
            .json;
        let group = &answer["groups"][0];
        assert_eq!((&answer["logrank"], &group["curve"]), (&json!(null), &json!([])));
        assert_eq!(
            group["at"]["30"],
            json!({"returned": null, "low": null, "high": null, "at_risk": 0})
        );
    });
}

#[test]
fn programs_of_the_owner_read_the_figures() {
    on_both(async |shop| {
        let first = shop.repaired(SEAM).await;
        shop.repaired(SEAM).await;
        shop.on_day(41);
        let second = shop.again(&first).await;
        shop.mend(&second, SEAM).await;
        shop.on_day(95);
        let owner = shop.program("owner").await;
        let answer = owner.get("/api/v1/reports/comebacks?by=technician").await.json;
        let bench = shop.who("bench").await.staff.expect("somebody").to_string();
        assert_eq!(
            (&answer["by"], &answer["groups"][0]["key"]),
            (&json!("technician"), &json!(bench))
        );
        let answer = owner
            .get("/api/v1/reports/comebacks?cause=seam_open_lower")
            .await
            .json;
        let group = &answer["groups"][0];
        assert_eq!(
            (
                &group["repaired"],
                &group["comebacks"],
                &group["seasonal_returns"]
            ),
            (&json!(2), &json!(1), &json!(0))
        );
        assert_eq!(
            (&group["at"]["90"]["returned"], &group["at"]["90"]["at_risk"]),
            (&json!(0.5), &json!(1))
        );
        assert_eq!(group["at"]["365"]["returned"], json!(null));
        assert_eq!(
            (&group["curve"][0]["day"], &group["curve"][0]["at_risk"]),
            (&json!(41), &json!(2))
        );
        assert_eq!(answer["together"]["comebacks"], json!(1));
    });
}

/// How many were repaired and how many of them came back, by size or by account.
async fn told_by(shop: &Shop, by: &str) -> Vec<(String, u64, u64)> {
    let path = format!("/api/v1/reports/comebacks?by={by}");
    let answer = shop.program("owner").await.get(&path).await.json;
    let groups = answer["groups"].as_array().expect("groups").iter();
    let number = |group: &serde_json::Value, of: &str| group[of].as_u64().expect("a number");
    groups
        .map(|group| {
            let key = group["key"].as_str().expect("a key").to_owned();
            (key, number(group, "repaired"), number(group, "comebacks"))
        })
        .collect()
}

#[test]
fn comebacks_are_told_by_size_and_by_account_and_follow_what_is_put_right() {
    on_both(async |shop| {
        let (first, other) = (shop.repaired(SEAM).await, shop.repaired("nut_loose").await);
        shop.on_day(41);
        let second = shop.again(&first).await;
        shop.mend(&second, SEAM).await;
        let of = |key: &str, n: u64, back: u64| (key.to_owned(), n, back);
        assert_eq!(told_by(&shop, "size").await, [of("full", 2, 1)]);
        assert_eq!(told_by(&shop, "account").await, [of("person", 2, 1)]);
        let counter = shop.program("counter").await;
        for (path, body) in [
            (
                format!("/api/v1/instruments/{}", first.instrument),
                json!({"size": "1/2"}),
            ),
            (
                format!("/api/v1/customers/{}", other.customer),
                json!({"kind": "school"}),
            ),
        ] {
            let etag = counter.get(&path).await.etag();
            let changed = counter.patch(&path, &etag, &body).await;
            assert_eq!(changed.status.as_u16(), 200, "{}", changed.json);
            shop.is_well().await;
        }
        assert_eq!(
            told_by(&shop, "size").await,
            [of("full", 1, 0), of("fractional", 1, 1)]
        );
        assert_eq!(
            told_by(&shop, "account").await,
            [of("person", 1, 1), of("school", 1, 0)]
        );
        let owner = shop.sign_in("owner").await;
        let words = read(&owner.get("/comebacks?by=size").await);
        assert!(
            words.contains("Fractional") && words.contains("Full size"),
            "{words}"
        );
        let rows = owner.get("/comebacks.csv?table=rows").await.body;
        assert!(
            rows.contains(",fractional,person,") && rows.contains(",full,school,"),
            "{rows}"
        );
    });
}

#[test]
fn what_cannot_be_asked_is_told_at_its_field() {
    on_both(async |shop| {
        let (program, browser) = (shop.program("owner").await, shop.sign_in("owner").await);
        for (query, field) in [
            ("by=maker", "by"),
            ("cause=gremlins", "cause"),
            ("cause=%00", "cause"),
            ("as_of=soon", "as_of"),
            ("as_of=2026-02-11", "as_of"),
        ] {
            let answer = program.get(&format!("/api/v1/reports/comebacks?{query}")).await;
            assert_eq!(
                (answer.status.as_u16(), &answer.json["errors"][0]["field"]),
                (422, &json!(field)),
                "{}",
                answer.json
            );
            let page = browser.get(&format!("/comebacks?{query}")).await;
            assert_eq!(page.status.as_u16(), 422);
            assert!(
                page.body.contains(&format!("href=\"#{field}\"")),
                "{query}: {}",
                page.body
            );
        }
        assert_eq!(browser.get("/comebacks.csv?table=all").await.status.as_u16(), 422);
    });
}

/// Notes it through the API, from the version that stands.
async fn note_gone(
    program: &Program,
    order: &Order,
    what: &str,
    body: &serde_json::Value,
) -> crate::shop::Answer {
    let path = format!("/api/v1/instruments/{}", order.instrument);
    let etag = program.get(&path).await.etag();
    program
        .post(&format!("{path}/{what}"), &[("if-match", &etag)], body)
        .await
}

#[test]
fn a_gone_instrument_is_watched_no_longer_until_that_is_taken_back() {
    on_both(async |shop| {
        let order = shop.repaired(SEAM).await;
        let day = shop.on_day(60);
        let counter = shop.program("counter").await;
        let gone = note_gone(
            &counter,
            &order,
            "gone",
            &json!({"why": "sold", "on": "2026-03-12"}),
        )
        .await;
        assert_eq!(
            (gone.status.as_u16(), &gone.json["gone"]),
            (200, &json!({"why": "sold", "on": "2026-03-12"}))
        );
        let at_risk = async |days| shop.groups(day, By::Cause, "").await[0].watched.at_risk(days);
        assert_eq!((at_risk(30).await, at_risk(31).await), (1, 0));
        shop.is_well().await;
        let back = note_gone(&counter, &order, "gone/off", &json!({})).await;
        assert_eq!((back.status.as_u16(), &back.json["gone"]), (200, &json!(null)));
        assert_eq!((at_risk(31).await, at_risk(60).await), (1, 1));
        note_gone(&counter, &order, "gone", &json!({"why": "moved_away"})).await;
        let again = shop.again(&order).await;
        let path = format!("/api/v1/instruments/{}", order.instrument);
        assert_eq!(
            counter.get(&path).await.json["gone"],
            json!(null),
            "it is here again"
        );
        assert_eq!(at_risk(60).await, 1);
        let refused = note_gone(&counter, &again, "gone", &json!({"why": "sold"})).await;
        assert_eq!(refused.status.as_u16(), 409, "it is in the shop");
        shop.is_well().await;
    });
}

#[test]
fn what_cannot_be_noted_as_gone_is_told_at_its_field() {
    on_both(async |shop| {
        let order = shop.repaired(SEAM).await;
        let counter = shop.program("counter").await;
        for (body, field) in [
            (json!({"why": "stolen"}), "/why"),
            (json!({"why": "sold", "on": "2026-02-11"}), "/on"),
            (json!({"why": "sold", "on": "2026-02-09"}), "/on"),
            (json!({"why": "sold", "on": "then"}), "/on"),
        ] {
            let refused = note_gone(&counter, &order, "gone", &body).await;
            assert_eq!(refused.status.as_u16(), 422, "{}", refused.json);
            assert_eq!(
                refused.json["errors"][0]["pointer"],
                json!(field),
                "{}",
                refused.json
            );
        }
        let stale = counter
            .post(
                &format!("/api/v1/instruments/{}/gone", order.instrument),
                &[("if-match", "\"9\"")],
                &json!({"why": "sold"}),
            )
            .await;
        assert_eq!(stale.status.as_u16(), 412);
    });
}

#[test]
fn the_instruments_page_notes_that_it_is_gone_and_takes_it_back() {
    on_both(async |shop| {
        let order = shop.repaired(SEAM).await;
        let counter = shop.sign_in("counter").await;
        let path = format!("/instruments/{}", order.instrument);
        let version = counter.get(&path).await.field("version").to_owned();
        let fields = [
            ("version", version.as_str()),
            ("why", "destroyed"),
            ("on", "2026-02-01"),
        ];
        let refused = counter.post(&format!("{path}/gone"), &fields).await;
        assert_eq!(refused.status.as_u16(), 422);
        assert!(
            refused.body.contains("It was here on Tue 10 Feb 2026."),
            "{}",
            refused.body
        );
        let fields = [
            ("version", version.as_str()),
            ("why", "destroyed"),
            ("on", "2026-02-10"),
        ];
        assert_eq!(
            counter.post(&format!("{path}/gone"), &fields).await.location(),
            path
        );
        let page = counter.get(&path).await;
        assert!(page.body.contains("Destroyed, Tue 10 Feb 2026."), "{}", page.body);
        let version = page.field("version").to_owned();
        counter
            .post(&format!("{path}/gone/off"), &[("version", &version)])
            .await;
        assert!(counter.get(&path).await.body.contains("It will not come again"));
    });
}

#[test]
fn who_takes_it_in_sees_what_was_repaired_here() {
    on_both(async |shop| {
        let first = shop.repaired(SEAM).await;
        shop.on_day(41);
        let counter = shop.sign_in("counter").await;
        let intake = counter
            .get(&format!(
                "/intake?customer={}&instrument={}",
                first.customer, first.instrument
            ))
            .await;
        assert!(
            intake.body.contains("repaired here 41 days ago"),
            "{}",
            intake.body
        );
        let second = shop.again(&first).await;
        let path = format!("/orders/{}", second.tag);
        let page = counter.get(&path).await.body;
        assert!(page.contains("this was repaired here 41 days ago."), "{page}");
        assert!(
            page.contains(&format!("href=\"/orders/{}\">The order then", first.tag)),
            "{page}"
        );
        assert!(
            page.contains("If it is that again: put right without charge."),
            "{page}"
        );
        shop.at_bench(&second.tag, async |act| {
            finding::log(act, &found(SEAM, "confirmed")).await.expect("found");
        })
        .await;
        let page = shop.sign_in("bench").await.get(&path).await.body;
        assert!(
            page.contains("<b>Put right without charge.</b>") && !page.contains("this was repaired here 41"),
            "{page}"
        );
        assert!(page.contains("name=\"free\" value=\"yes\" checked"), "{page}");
    });
}

#[test]
fn an_invented_shop_keeps_it_as_the_acts_and_the_migration_do() {
    on_both(async |shop| {
        filled(&shop.app.db, wish(400, 5)).await;
        shop.is_well().await;
        let rows = shop.rows().await;
        assert!(
            rows.len() > 100
                && rows.iter().any(|row| row.back_on.is_some())
                && rows.iter().any(|row| row.gone_on.is_some())
        );
        // Back to the table that was there, filled as it was, and made what it is.
        let (filled, now) = (
            include_str!("../migrations/0040_repaired.sql"),
            concat!(
                include_str!("../migrations/0141_repaired_age.sql"),
                include_str!("../migrations/0142_repaired_group.sql")
            ),
        );
        let before =
            "delete from gone; delete from repaired; drop index repaired_age; drop index repaired_ended;
            drop index repaired_size; drop index repaired_account; update counted set groups_as = 1;
            alter table repaired drop column size; alter table repaired drop column account; alter table repaired drop column age; alter table repaired add column age_band text";
        let of_then = [
            "insert into repaired",
            "index repaired_age",
            "index repaired_ended",
        ];
        let then = filled
            .split(';')
            .filter(|sql| of_then.iter().any(|of| sql.contains(of)));
        let mut tx = shop.app.db.begin().await.expect("begun");
        for sql in before.split(';').chain(then).chain(now.split(';')) {
            if !sql.trim().is_empty() {
                tx.query(sql).execute().await.expect(sql);
            }
        }
        tx.commit().await.expect("kept");
        assert_eq!(shop.rows().await.len(), rows.len());
        group::count_anew(&shop.app.db)
            .await
            .expect("the classes of sizes");
        shop.is_well().await;
        empty(&shop.app.db).await;
    });
}

#[test]
fn packed_and_read_again_they_are_the_rows_counted_one_by_one() {
    on_both(async |shop| {
        filled(&shop.app.db, wish(400, 5)).await;
        for as_of in [AS_OF, AS_OF.plus(-200)] {
            let groups = shop.groups(as_of, By::Job, "").await;
            let rows = shop.rows().await;
            for group in &groups {
                let mut watched = purfle::reports::figures::survival::Watched::default();
                for row in rows
                    .iter()
                    .filter(|row| row.job == group.key && row.collected_on <= as_of)
                {
                    let back = row
                        .back_on
                        .filter(|back| *back <= as_of && row.gone_on.is_none_or(|gone| *back <= gone));
                    let until = back
                        .or(row.gone_on.filter(|gone| *gone <= as_of))
                        .unwrap_or(as_of);
                    watched.add(
                        until.0 - row.collected_on.0,
                        u64::from(back.is_some()),
                        u64::from(back.is_none()),
                    );
                }
                assert_eq!(group.watched, watched, "{}", group.key);
            }
            assert!(Curve::of(&comebacks::together(&groups).watched).at(90).is_some());
        }
    });
}

#[test]
fn the_page_tells_draws_and_lists_them_and_gives_them_as_csv() {
    on_both(async |shop| {
        filled(&shop.app.db, wish(900, 5)).await;
        let asked = |by: &str| format!("by={by}&as_of=2026-02-10");
        let owner = shop.sign_in("Tove Lindgarten").await;
        for by in By::ALL {
            let page = owner.get(&format!("/comebacks?{}", asked(by.code()))).await;
            assert_eq!(page.status.as_u16(), 200, "{}", page.body);
            for words in [
                "came back so far.",
                "<svg class=\"chart tall\"",
                "All together",
                "log-rank",
            ] {
                assert!(page.body.contains(words), "{words}: {}", page.body);
            }
            assert!(!page.body.contains("NaN"));
            for (table, head) in [
                ("groups", "key,name,repaired"),
                ("curves", "key,name,day,at_risk"),
            ] {
                let csv = owner
                    .get(&format!("/comebacks.csv?table={table}&{}", asked(by.code())))
                    .await;
                assert!(
                    csv.body.starts_with(head) && csv.body.lines().count() > 2,
                    "{}",
                    csv.body
                );
            }
        }
    });
}

#[test]
fn the_rows_come_to_the_same_figures_and_name_nobody() {
    on_both(async |shop| {
        filled(&shop.app.db, wish(900, 5)).await;
        let owner = shop.sign_in("Tove Lindgarten").await;
        for cause in ["", SEAM] {
            let asked = format!("as_of=2026-02-10&cause={cause}");
            let rows = owner.get(&format!("/comebacks.csv?table=rows&{asked}")).await;
            assert_eq!(
                rows.header("content-disposition"),
                "attachment; filename=\"comebacks-rows-2026-02-10.csv\""
            );
            let lines: Vec<&str> = rows.body.split_terminator("\r\n").collect();
            assert_eq!(
                lines[0],
                "cause,job,age_band,size,account,season,collected_on,back_on,gone_on,days_watched,came_back"
            );
            let groups = shop
                .groups(Day::parse("2026-02-10").expect("a day"), By::Season, cause)
                .await;
            let all = comebacks::together(&groups);
            let back = lines.iter().filter(|line| line.ends_with(",yes")).count() as u64;
            assert_eq!((lines.len() as u64 - 1, back), (all.repaired(), all.back()));
            assert!(back > 0, "none came back");
        }
        let test = owner.get("/comebacks.csv?table=log_rank&by=cause").await;
        assert!(test.body.starts_with("chi_square,df,p_value,groups\r\n"));
        let last: Vec<&str> = test
            .body
            .lines()
            .filter_map(|line| line.rsplit(',').next())
            .collect();
        assert_eq!(last, ["groups", "each", "small_together"]);
        let bench = shop.sign_in("Aiko Trembath").await;
        assert_eq!(bench.get("/comebacks.csv?table=rows").await.status.as_u16(), 403);
    });
}

#[test]
fn an_instrument_noted_as_gone_too_late_keeps_what_was_typed_beside_what_stands() {
    on_both(async |shop| {
        let order = shop.repaired(SEAM).await;
        let counter = shop.sign_in("counter").await;
        let path = format!("/instruments/{}", order.instrument);
        let version = counter.get(&path).await.field("version").to_owned();
        let note = async |why: &str| {
            let fields = [("version", &*version), ("why", why), ("on", "2026-02-10")];
            counter.post(&format!("{path}/gone"), &fields).await
        };
        let mended = [
            ("version", &*version),
            ("maker", "Another"),
            ("year_certainty", "unknown"),
        ];
        assert_eq!(counter.post(&path, &mended).await.location(), path);
        let late = note("destroyed").await;
        assert_eq!(late.status.as_u16(), 412);
        assert!(late.body.contains("What you typed is still in its fields"));
        assert!(late.body.contains("value=\"destroyed\" checked"), "{}", late.body);
        assert_eq!(late.field("maker"), "Another");
        let version = counter.get(&path).await.field("version").to_owned();
        let sold = [("version", &*version), ("why", "sold"), ("on", "2026-02-10")];
        counter.post(&format!("{path}/gone"), &sold).await;
        let late = note("destroyed").await;
        assert!(late.body.contains("You were noting: Destroyed"), "{}", late.body);
        assert!(late.body.contains("Sold, Tue 10 Feb 2026."), "{}", late.body);
    });
}
