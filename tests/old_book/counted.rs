//! What was brought in is counted: inspected, confirmed, comebacks, minutes, money, and taught; but never scored.

use purfle::counter::order::Order;
use serde_json::json;

use super::{HEAD, SAMPLE, take};
use crate::shop::{Shop, on_both};
use crate::work::mended_free;

async fn number(shop: &Shop, sql: &'static str) -> i64 {
    let (number,): (i64,) = shop.app.db.read(sql).one().await.expect(sql);
    number
}

const COMEBACKS: &str = "select cast(coalesce(sum(orders), 0) as bigint) from comeback_tally";

#[test]
fn the_sample_comes_to_what_it_says() {
    on_both(async |shop| {
        take(&shop, SAMPLE).await;
        for (sql, due) in [
            // Four lines with a confirmed cause; the cello and the bow without one were not inspected.
            (
                "select cast(sum(orders) as bigint) from tally where cause = ''",
                4,
            ),
            (
                "select cast(sum(orders) as bigint) from tally where cause = 'seam_open_upper'",
                2,
            ),
            (
                "select cast(sum(orders) as bigint) from tally where cause <> ''",
                5,
            ),
            // Collected on 16 Jan, back on 20 Feb.
            (
                "select comeback_days from finding where comeback_days is not null",
                35,
            ),
            (COMEBACKS, 1),
            (
                "select cast(sum(actual_minutes) as bigint) from job_tally",
                40 + 35 + 25 + 30 + 45,
            ),
            ("select cast(sum(steps) as bigint) from job_tally", 5),
            (
                "select cast(sum(amount) as bigint) from money_tally where kind = 'charged_parts'",
                24_650,
            ),
            (
                "select cast(sum(amount) as bigint) from money_tally where kind = 'taken_account'",
                24_650,
            ),
            ("select cast(sum(orders) as bigint) from taught_share", 5),
            ("select lessons from diagnosis", 4),
            ("select count(*) from scored", 0),
        ] {
            assert_eq!(number(&shop, sql).await, due, "{sql}");
        }
    });
}

#[test]
fn nothing_is_owed_for_what_was_brought_in() {
    on_both(async |shop| {
        take(&shop, SAMPLE).await;
        let owner = shop.program("owner").await;
        let tags: Vec<(String,)> = shop
            .app
            .db
            .read("select tag from work_order")
            .all()
            .await
            .expect("orders");
        for (tag,) in tags {
            let order = owner.get(&format!("/api/v1/orders/{tag}")).await;
            assert_eq!(order.json["money"]["owed"], 0, "{}", order.json);
        }
    });
}

#[test]
fn comebacks_are_found_whatever_the_order_of_the_lines_and_in_how_many_files() {
    let lines = [
        "2019-01-01,2019-01-02,Ann,,A,violin,nut_loose;wolf_note,nut_loose",
        "2019-02-01,2019-02-02,Ann,,A,violin,nut_loose;wolf_note,nut_loose;wolf_note",
        "2019-03-01,2019-03-02,Ann,,A,violin,nut_loose;wolf_note,",
        "2019-03-20,2019-03-20,Ann,,A,violin,nut_loose,nut_loose",
        "2019-04-01,2019-04-02,Ann,,B,violin,nut_loose,nut_loose",
    ];
    let book = |lines: &[&str]| format!("{HEAD}{}\n", lines.join("\n"));
    let turned: Vec<&str> = lines.iter().rev().copied().collect();
    let ways = [
        vec![book(&lines)],
        vec![book(&turned)],
        turned.iter().map(|line| book(&[line])).collect(),
    ];
    for way in ways {
        on_both(async |shop| {
            for text in &way {
                take(&shop, text).await;
                shop.is_well().await;
            }
            // February after January; March after February, both causes; the 20th after February, since in March
            // nothing was repaired.
            assert_eq!(number(&shop, COMEBACKS).await, 4);
            let days = "select comeback_days from finding where comeback_days is not null order by 1";
            let days: Vec<(i64,)> = shop.app.db.read(days).all().await.expect("days");
            assert_eq!(days, [(27,), (27,), (30,), (46,)]);
        });
    }
}

/// Takes the instrument of the book in again, and finds its cause.
async fn again(shop: &Shop, customer: &str, cause: &str) {
    let counter = shop.program("owner").await;
    let (owner, instrument): (uuid::Uuid, uuid::Uuid) = shop
        .app
        .db
        .read("select c.id, i.id from customer c join instrument i on i.customer = c.id where c.name = $1 limit 1")
        .bind(customer.to_owned())
        .one()
        .await
        .expect("an instrument");
    let body = json!({"customer": {"id": owner}, "instrument": {"id": instrument}, "complaint": {"answers": {"onset": "sudden"}}});
    let order = counter
        .post("/api/v1/orders", &[("idempotency-key", cause)], &body)
        .await;
    let path = format!(
        "/api/v1/orders/{}/findings",
        order.json["tag"].as_str().expect("a tag")
    );
    let body = json!({"cause": cause, "certainty": "confirmed"});
    let found = counter
        .post(&path, &[("if-match", "\"1\""), ("idempotency-key", "f")], &body)
        .await;
    assert_eq!(found.status, 201, "{}", found.json);
}

#[test]
fn what_the_shop_found_is_a_comeback_of_what_the_book_repaired_whichever_was_first() {
    on_both(async |shop| {
        // The shop's clock stands on 10 Feb 2026.
        let repaired = format!("{HEAD}2026-01-02,2026-01-10,Ann,,A,violin,nut_loose,nut_loose\n");
        take(&shop, &repaired).await;
        again(&shop, "Ann", "nut_loose").await;
        assert_eq!(number(&shop, COMEBACKS).await, 1);
        shop.is_well().await;
        take(&shop, &format!("{HEAD}2019-01-02,2019-01-10,Eve,,E,violin,,\n")).await;
        again(&shop, "Eve", "wolf_note").await;
        assert_eq!(number(&shop, COMEBACKS).await, 1);
        take(
            &shop,
            &format!("{HEAD}2026-01-02,2026-01-10,Eve,,E,violin,wolf_note,wolf_note\n"),
        )
        .await;
        assert_eq!(number(&shop, COMEBACKS).await, 2);
        shop.is_well().await;
    });
}

#[test]
fn what_was_put_right_without_charge_counts_once_the_book_tells_that_it_came_back() {
    on_both(async |shop| {
        const FREE: &str = "select cast(coalesce(sum(n), 0) as bigint) from month_tally where what = 'cost'
            and code in ('seam_open_lower free_minutes', 'seam_open_lower free_parts')";
        take(&shop, &format!("{HEAD}2019-01-02,2019-01-10,Eve,,E,violin,,\n")).await;
        let visit: Order = shop
            .app
            .db
            .read("select * from work_order")
            .one()
            .await
            .expect("a visit");
        mended_free(&shop, Some(&visit)).await;
        assert_eq!(number(&shop, FREE).await, 0);
        let earlier = format!("{HEAD}2026-01-02,2026-01-10,Eve,,E,violin,seam_open_lower,seam_open_lower\n");
        take(&shop, &earlier).await;
        assert_eq!(number(&shop, FREE).await, 25 + 200);
        shop.is_well().await;
    });
}

#[test]
fn a_finding_that_is_taken_back_later_is_unlearned_and_still_not_scored() {
    on_both(async |shop| {
        let head = HEAD.trim_end();
        take(
            &shop,
            &format!(
                "{head},answers\n2019-01-01,2019-01-02,Ann,,A,violin,nut_loose;wolf_note,,onset=sudden\n"
            ),
        )
        .await;
        let owner = shop.program("owner").await;
        let (tag, finding): (String, uuid::Uuid) = shop
            .app
            .db
            .read("select o.tag, f.id from finding f join work_order o on o.id = f.work_order where f.cause = 'nut_loose'")
            .one()
            .await
            .expect("a finding");
        let path = format!("/api/v1/orders/{tag}/findings/{finding}/withdraw");
        let back = owner
            .post(
                &path,
                &[("if-match", "\"1\""), ("idempotency-key", "w")],
                &json!({}),
            )
            .await;
        assert!(back.status.is_success(), "{} {}", back.status, back.json);
        assert_eq!(
            number(&shop, "select cast(sum(orders) as bigint) from taught_share").await,
            1
        );
        assert_eq!(number(&shop, "select count(*) from scored").await, 0);
        shop.is_well().await;
    });
}

/// A book of any shape: many visits of few instruments, several causes, gaps everywhere.
fn any_book(seed: u64, lines: u64) -> String {
    let mut state = seed;
    let mut draw = |below: u64| {
        // Numerical Recipes' linear congruence (from memory); any mixing of cases does here.
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % below
    };
    let head = "received_on,collected_on,customer,instrument,family,year_made,confirmed,repaired,minutes,charged,answers";
    let mut text = vec![head.to_owned()];
    for line in 0..lines {
        let causes = ["nut_loose", "wolf_note", "seam_open_upper"];
        let confirmed: Vec<&str> = causes.into_iter().filter(|_| draw(2) == 0).collect();
        let repaired: Vec<&str> = confirmed.iter().copied().filter(|_| draw(3) > 0).collect();
        let (year, day) = (2000 + line / 12, line % 12 + 1);
        let instrument = draw(9);
        let family = ["violin", "viola", "cello"][usize::try_from(instrument % 3).expect("small")];
        let minutes = ["", "10", "35"][usize::try_from(draw(3)).expect("small")];
        let charged = ["", "58.25", "0"][usize::try_from(draw(3)).expect("small")];
        let answers = ["", "onset=sudden"][usize::try_from(draw(2)).expect("small")];
        let made = if instrument < 4 { "1950" } else { "" };
        let (confirmed, repaired) = (confirmed.join(";"), repaired.join(";"));
        let (home, owner) = (draw(20) + 3, instrument % 4);
        text.push(format!("{year}-{day:02}-03,{year}-{day:02}-{home:02},P{owner},I{instrument},{family},{made},{confirmed},{repaired},{minutes},{charged},{answers}"));
    }
    text.join("\n")
}

#[test]
fn whatever_is_in_a_book_a_recount_finds_the_same_counts() {
    on_both(async |shop| {
        for seed in 0..6 {
            let text = any_book(seed, 60);
            let text = text.replace(",P", &format!(",Shop {seed} P"));
            assert_eq!(take(&shop, &text).await.taken, 60);
        }
        shop.is_well().await;
        // A month between visits, nine instruments of one shop: most come back later than its window.
        let all = number(
            &shop,
            "select count(*) from finding where comeback_days is not null",
        )
        .await;
        assert!(all > 50 && number(&shop, COMEBACKS).await > 0, "{all}");
    });
}

#[test]
fn what_came_back_before_1970_is_told_as_what_came_back_later() {
    on_both(async |shop| {
        let book = format!(
            "{HEAD}1965-03-01,1965-03-04,Ann,,A,violin,nut_loose,nut_loose\n1965-04-08,1965-04-09,Ann,,A,violin,nut_loose,nut_loose\n"
        );
        take(&shop, &book).await;
        let told = shop.program("owner").await.get("/api/v1/reports/comebacks").await;
        let group = &told.json["groups"][0];
        assert_eq!((&group["repaired"], &group["comebacks"]), (&json!(2), &json!(1)));
        assert_eq!(group["curve"][0]["day"], 35);
    });
}
