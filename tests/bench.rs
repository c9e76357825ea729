//! The bench: a buzz is hunted, mended and played again, through the pages.

use purfle::counter::instrument::NewInstrument;
use purfle::counter::intake::{Complaint, Intake, Which};
use purfle::counter::order::Order;
use purfle::counter::stage::Stage;

use crate::shop::{Browser, Page, Shop, on_both};

/// Sends a form of the order's page as a browser does: with what is hidden in it.
async fn send(browser: &Browser, tag: &str, act: &str, fields: &[(&str, &str)]) -> Page {
    let page = browser.get(&format!("/orders/{tag}")).await;
    assert_eq!(page.status.as_u16(), 200, "{}", page.body);
    send_from(browser, &page, tag, act, fields).await
}

/// Sends a form from a page that was opened before.
async fn send_from(browser: &Browser, page: &Page, tag: &str, act: &str, fields: &[(&str, &str)]) -> Page {
    let mut all: Vec<(&str, &str)> = ["version", "once", "seen"]
        .map(|name| (name, page.field(name)))
        .into();
    all.extend_from_slice(fields);
    browser.post(&format!("/orders/{tag}/{act}"), &all).await
}

/// Sends a form that goes through.
async fn done(browser: &Browser, tag: &str, act: &str, fields: &[(&str, &str)]) {
    let page = send(browser, tag, act, fields).await;
    assert_eq!(page.status.as_u16(), 303, "{act}: {}", page.body);
}

async fn stage(shop: &Shop, order: &Order) -> Stage {
    shop.order_now(&order.tag).await.stage
}

/// The address of the first step that is not done.
fn step(page: &Page) -> String {
    let (_, after) = page.body.split_once("/steps/").expect("a step");
    format!("steps/{}", &after[..36])
}

async fn count(shop: &Shop, sql: &'static str) -> i64 {
    let (count,): (i64,) = shop.app.db.read(sql).one().await.expect("a count");
    count
}
const INSPECTED: &str = "select cast(coalesce(sum(orders), 0) as bigint) from tally where cause = ''";
const NUT: &str = "select cast(coalesce(sum(orders), 0) as bigint) from tally where cause = 'nut_slot_low'";

const FOUND: [(&str, &str); 3] = [("cause", "nut_slot_low"), ("result", "found"), ("minutes", "2")];
const QUIET: [(&str, &str); 1] = [("result", "quiet")];
const BUZZES: [(&str, &str); 1] = [("result", "still_buzzes")];
const YES: [(&str, &str); 4] = [
    ("decision", "approved"),
    ("channel", "phone"),
    ("by", "Marta"),
    ("limit", "300"),
];

#[test]
fn a_buzz_is_found_mended_and_played_until_it_is_quiet() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let order = shop.order(|_| {}).await;
        let tag = &order.tag;
        done(
            &bench,
            tag,
            "checks",
            &[("cause", "nut_loose"), ("result", "not_found")],
        )
        .await;
        assert_eq!(stage(&shop, &order).await, Stage::Inspecting);
        done(&bench, tag, "checks", &FOUND).await;
        assert_eq!(
            (shop.count("cause_check").await, shop.count("finding").await),
            (2, 1)
        );
        // 7200 an hour: 100 minutes are 120.00, 144.00 with tax; 80.00 was agreed.
        done(
            &bench,
            tag,
            "steps",
            &[("job", "fill_nut_slot"), ("planned_minutes", "100")],
        )
        .await;
        assert_eq!(stage(&shop, &order).await, Stage::AwaitingApproval);
        let page = bench.get(&format!("/orders/{tag}")).await;
        assert!(
            page.body.contains("Over what was agreed, €\u{a0}80.00"),
            "{}",
            page.body
        );
        let early = send(
            &bench,
            tag,
            &format!("{}/done", step(&page)),
            &[("actual_minutes", "9")],
        )
        .await;
        assert_eq!(early.status.as_u16(), 409);
        assert!(early.body.contains("has not said yes"));
        done(&bench, tag, "approval", &YES).await;
        done(
            &bench,
            tag,
            &format!("{}/done", step(&page)),
            &[("actual_minutes", "95")],
        )
        .await;
        assert_eq!(stage(&shop, &order).await, Stage::PlayTest);
        done(&bench, tag, "play_test", &BUZZES).await;
        assert_eq!(stage(&shop, &order).await, Stage::Inspecting);
        let page = bench.get(&format!("/orders/{tag}")).await;
        for kept in [
            "Not this:",
            "Found it:",
            "Confirmed:",
            "1 h 35",
            "Still buzzes",
            "said yes to €\u{a0}144.00",
        ] {
            assert!(page.body.contains(kept), "{kept} is gone");
        }
        done(&bench, tag, "play_test", &QUIET).await;
        assert_eq!(stage(&shop, &order).await, Stage::Ready);
        let page = shop.sign_in("counter").await.get(&format!("/orders/{tag}")).await;
        assert!(page.body.contains(&format!("/orders/{tag}/pickup")));
    });
}

#[test]
fn found_it_is_confirmed_at_the_bench_and_suspected_at_the_counter() {
    on_both(async |shop| {
        let (bench, counter) = (shop.sign_in("bench").await, shop.sign_in("counter").await);
        let order = shop.order(|_| {}).await;
        done(&counter, &order.tag, "checks", &FOUND).await;
        assert_eq!(
            (shop.count("cause_check").await, shop.count("finding").await),
            (1, 1)
        );
        assert_eq!(count(&shop, NUT).await, 0);
        done(&bench, &order.tag, "checks", &FOUND).await;
        done(&bench, &order.tag, "checks", &FOUND).await;
        assert_eq!(
            (shop.count("cause_check").await, shop.count("finding").await),
            (3, 2)
        );
        assert_eq!(count(&shop, NUT).await, 1);
        // The counter confirms what is looked at on the counter, and nothing else.
        let finding = [("cause", "nut_slot_low"), ("certainty", "confirmed")];
        let page = send(&counter, &order.tag, "findings", &finding).await;
        assert_eq!(page.status.as_u16(), 403);
        assert_eq!(shop.count("finding").await, 2);
    });
}

#[test]
fn a_form_that_comes_twice_is_done_once() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let order = shop.order(|_| {}).await;
        let page = bench.get(&format!("/orders/{}", order.tag)).await;
        for _ in 0..2 {
            let sent = send_from(&bench, &page, &order.tag, "checks", &FOUND).await;
            assert_eq!(
                (sent.status.as_u16(), sent.location()),
                (303, &*format!("/orders/{}", order.tag))
            );
        }
        assert_eq!(
            (shop.count("cause_check").await, shop.count("finding").await),
            (1, 1)
        );
        // The same page, sent with something else in it, is an old page.
        let other = [("cause", "nut_loose"), ("result", "unclear")];
        let sent = send_from(&bench, &page, &order.tag, "checks", &other).await;
        assert!(
            sent.body
                .contains("This order was changed while you were writing")
        );
        assert_eq!(shop.count("cause_check").await, 1);
    });
}

#[test]
fn a_change_on_an_old_page_is_told_with_both_and_nothing_is_overwritten() {
    on_both(async |shop| {
        let (bench, owner) = (shop.sign_in("bench").await, shop.sign_in("owner").await);
        let order = shop.order(|_| {}).await;
        let old = bench.get(&format!("/orders/{}", order.tag)).await;
        done(
            &owner,
            &order.tag,
            "checks",
            &[("cause", "nut_loose"), ("result", "unclear")],
        )
        .await;
        let typed = [
            ("cause", "nut_slot_wide"),
            ("certainty", "suspected"),
            ("note", "sitar on the A"),
        ];
        let page = send_from(&bench, &old, &order.tag, "findings", &typed).await;
        assert_eq!(page.status.as_u16(), 412);
        assert!(
            page.body
                .contains("owner changed this order while you were writing")
        );
        let (_, told) = page.body.split_once("What is new").expect("the news");
        let (news, yours) = told.split_once("What you typed").expect("what was typed");
        assert!(
            news.contains("Unclear: Nut unglued") && !news.contains("Taken in"),
            "{news}"
        );
        assert!(yours.contains("<mark>sitar on the A</mark>") && yours.contains("<mark>Nut slot too wide"));
        assert!(page.body.contains(r#"<details class="fold" id="finding" open>"#));
        assert_eq!(shop.count("finding").await, 0);
        let again = send_from(&bench, &page, &order.tag, "findings", &typed).await;
        assert_eq!(again.status.as_u16(), 303, "{}", again.body);
    });
}

#[test]
fn what_was_typed_is_kept_when_the_minutes_want_mending() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let order = shop.order(|_| {}).await;
        let typed = [
            ("cause", "nut_loose"),
            ("result", "unclear"),
            ("minutes", "a few"),
            ("note", "clicks"),
        ];
        let page = send(&bench, &order.tag, "checks", &typed).await;
        assert_eq!(page.status.as_u16(), 422);
        assert!(
            page.body
                .contains(r##"<a href="#check-minutes">Write a whole number from 0 to 1440.</a>"##)
        );
        assert!(page.body.contains(r#"<details class="fold" id="check" open>"#));
        assert!(
            page.body
                .contains(r#"id="check-minutes" name="minutes" value="a few""#)
        );
        assert!(page.body.contains(r#"<option value="nut_loose" selected>"#));
        assert!(
            page.body
                .contains(r#"id="check-note" name="note" value="clicks""#)
        );
        let step = [
            ("title", "New E"),
            ("planned_minutes", "10"),
            ("part_name", "E string"),
            ("part_price", "9,5x"),
        ];
        let page = send(&bench, &order.tag, "steps", &step).await;
        assert_eq!(page.status.as_u16(), 422);
        assert!(page.body.contains(r##"<a href="#step-part_price">"##));
        assert!(page.body.contains(r#"name="part_price" value="9,5x""#));
        assert_eq!(shop.count("repair_step").await, 0);
    });
}

#[test]
fn what_was_inspected_confirmed_and_taken_back_is_counted() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let order = shop.order(|_| {}).await;
        assert_eq!(count(&shop, INSPECTED).await, 0);
        done(&bench, &order.tag, "checks", &FOUND).await;
        done(
            &bench,
            &order.tag,
            "findings",
            &[("cause", "nut_slot_low"), ("certainty", "confirmed")],
        )
        .await;
        assert_eq!((count(&shop, INSPECTED).await, count(&shop, NUT).await), (1, 1));
        let findings = purfle::bench::finding::Finding::of(&shop.app.db, order.id)
            .await
            .expect("findings");
        for (at, left) in [(0, 1), (1, 0)] {
            done(
                &bench,
                &order.tag,
                &format!("findings/{}/withdraw", findings[at].id),
                &[],
            )
            .await;
            assert_eq!(count(&shop, NUT).await, left);
        }
        assert_eq!(count(&shop, INSPECTED).await, 1);
        let again = send(
            &bench,
            &order.tag,
            &format!("findings/{}/withdraw", findings[0].id),
            &[],
        )
        .await;
        assert_eq!(again.status.as_u16(), 409);
    });
}

#[test]
fn nothing_found_counts_as_inspected_and_cannot_follow_a_finding() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let order = shop.order(|_| {}).await;
        done(
            &bench,
            &order.tag,
            "return",
            &[("why", "nothing_found"), ("note", "quiet here")],
        )
        .await;
        assert_eq!(stage(&shop, &order).await, Stage::Returned);
        assert_eq!(count(&shop, INSPECTED).await, 1);
        done(&bench, &order.tag, "reopen", &[]).await;
        let now = shop.order_now(&order.tag).await;
        assert_eq!((now.stage, now.returned_why), (Stage::Inspecting, None));
        done(&bench, &order.tag, "checks", &FOUND).await;
        let page = send(&bench, &order.tag, "return", &[("why", "nothing_found")]).await;
        assert_eq!(page.status.as_u16(), 409);
        assert!(page.body.contains("Take the finding back first"));
        done(&bench, &order.tag, "return", &[("why", "beyond_repair")]).await;
        assert_eq!(count(&shop, INSPECTED).await, 1);
    });
}

#[test]
fn a_step_takes_several_parts_and_one_more_line_keeps_what_was_typed() {
    on_both(async |shop| {
        let (order, bench) = (shop.order(|_| {}).await, shop.sign_in("bench").await);
        let parts = [
            ("title", "New soundpost"),
            ("planned_minutes", "30"),
            ("part_name", "Soundpost spruce"),
            ("part_quantity", "1"),
            ("part_price", "4.50"),
            ("part_name", ""),
            ("part_quantity", "1"),
            ("part_price", ""),
            ("part_name", "Sandpaper & chalk"),
            ("part_quantity", "2"),
            ("part_price", "0"),
        ];
        let more = send(&bench, &order.tag, "steps/more", &parts).await;
        assert_eq!(
            (
                more.status.as_u16(),
                more.body.matches("name=\"part_name\"").count()
            ),
            (200, 4)
        );
        for kept in [
            "value=\"Soundpost spruce\"",
            "id=\"step-part_name_2\" name=\"part_name\" value=\"Sandpaper &#38; chalk\"",
            "id=\"step-part_name_3\"",
            "value=\"New soundpost\"",
        ] {
            assert!(more.body.contains(kept), "{kept} in {}", more.body);
        }
        assert_eq!(shop.count("repair_step").await, 0);
        done(&bench, &order.tag, "steps", &parts).await;
        let page = bench.get(&format!("/orders/{}", order.tag)).await.body;
        assert!(
            page.contains("1 × Soundpost spruce, €\u{a0}4.50") && page.contains("2 × Sandpaper &#38; chalk")
        );
        assert_eq!(page.matches("name=\"part_name\"").count(), 1);
    });
}

#[test]
fn what_is_amiss_with_a_part_is_said_at_its_own_line() {
    on_both(async |shop| {
        let (order, bench) = (shop.order(|_| {}).await, shop.sign_in("bench").await);
        let amiss = |name: &'static str, quantity: &'static str, price: &'static str| {
            [
                ("title", "New soundpost"),
                ("planned_minutes", "30"),
                ("part_name", ""),
                ("part_quantity", "1"),
                ("part_price", ""),
                ("part_name", name),
                ("part_quantity", quantity),
                ("part_price", price),
            ]
        };
        for (form, field) in [
            (amiss("Spruce", "1", "4,5x"), "part_price_1"),
            (amiss("Spruce", "none", "4"), "part_quantity_1"),
            (amiss("Spruce", "1", ""), "part_price_1"),
            (amiss("", "1", "4"), "part_name_1"),
        ] {
            let page = send(&bench, &order.tag, "steps", &form).await;
            assert_eq!(page.status.as_u16(), 422, "{field}");
            assert!(
                page.body.contains(&format!("<a href=\"#step-{field}\">")),
                "{field} in {}",
                page.body
            );
            assert!(page.body.contains(&format!("id=\"step-{field}\"")), "{field}");
        }
        assert_eq!(shop.count("repair_step").await, 0);
    });
}

#[test]
fn a_no_sends_it_back_and_after_some_work_what_is_done_is_played() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let no = [
            ("decision", "declined"),
            ("channel", "in_person"),
            ("by", "Marta"),
        ];
        let dear = [("title", "New bar"), ("planned_minutes", "600")];
        let before = shop.order(|_| {}).await;
        done(&bench, &before.tag, "steps", &dear).await;
        done(&bench, &before.tag, "approval", &no).await;
        let now = shop.order_now(&before.tag).await;
        assert_eq!(
            (now.stage, now.returned_why.as_deref()),
            (Stage::Returned, Some("declined"))
        );
        // Taken up again, its steps are put to the customer anew.
        done(&bench, &before.tag, "reopen", &[]).await;
        assert_eq!(stage(&shop, &before).await, Stage::AwaitingApproval);

        let after = shop.order(|_| {}).await;
        done(
            &bench,
            &after.tag,
            "steps",
            &[("title", "Clean"), ("planned_minutes", "5")],
        )
        .await;
        let page = bench.get(&format!("/orders/{}", after.tag)).await;
        done(&bench, &after.tag, "steps", &dear).await;
        assert_eq!(stage(&shop, &after).await, Stage::AwaitingApproval);
        done(&bench, &after.tag, "promise", &[("authorised_limit", "2000")]).await;
        done(
            &bench,
            &after.tag,
            &format!("{}/done", step(&page)),
            &[("actual_minutes", "5")],
        )
        .await;
        done(&bench, &after.tag, "promise", &[("authorised_limit", "10")]).await;
        assert_eq!(stage(&shop, &after).await, Stage::AwaitingApproval);
        done(&bench, &after.tag, "approval", &no).await;
        assert_eq!(stage(&shop, &after).await, Stage::PlayTest);
        done(&bench, &after.tag, "play_test", &QUIET).await;
        assert_eq!(stage(&shop, &after).await, Stage::Ready);
    });
}

#[test]
fn dropping_the_last_step_leaves_no_order_stuck() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let order = shop.order(|_| {}).await;
        done(&bench, &order.tag, "steps", &[("job", "reglue_nut")]).await;
        assert_eq!(stage(&shop, &order).await, Stage::Approved);
        let page = bench.get(&format!("/orders/{}", order.tag)).await;
        done(&bench, &order.tag, &format!("{}/drop", step(&page)), &[]).await;
        let now = shop.order_now(&order.tag).await;
        assert_eq!((now.stage, now.estimate.0), (Stage::Inspecting, 0));
        // One done and one dear: dropping the dear one leaves an instrument that is to be played.
        done(
            &bench,
            &order.tag,
            "steps",
            &[("title", "Clean"), ("planned_minutes", "5")],
        )
        .await;
        let page = bench.get(&format!("/orders/{}", order.tag)).await;
        done(
            &bench,
            &order.tag,
            &format!("{}/done", step(&page)),
            &[("actual_minutes", "5")],
        )
        .await;
        done(
            &bench,
            &order.tag,
            "steps",
            &[("title", "New bar"), ("planned_minutes", "600")],
        )
        .await;
        let page = bench.get(&format!("/orders/{}", order.tag)).await;
        done(&bench, &order.tag, &format!("{}/drop", step(&page)), &[]).await;
        assert_eq!(stage(&shop, &order).await, Stage::PlayTest);
    });
}

#[test]
fn a_step_with_a_part_is_priced_and_counted_when_it_is_done() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let order = shop.order(|intake| intake.authorised_limit = Some(20_000)).await;
        let fields = [
            ("job", "replace_string"),
            ("part_name", "E string"),
            ("part_quantity", "2"),
            ("part_price", "12.50"),
        ];
        done(&bench, &order.tag, "steps", &fields).await;
        // 10 minutes at 72.00 an hour are 12.00, two strings 25.00, 20 % on both: 44.40.
        let page = bench.get(&format!("/orders/{}", order.tag)).await;
        assert!(
            page.body.contains("€\u{a0}44.40") && page.body.contains("2 × E string, €\u{a0}12.50"),
            "{}",
            page.body
        );
        done(
            &bench,
            &order.tag,
            &format!("{}/done", step(&page)),
            &[("actual_minutes", "14")],
        )
        .await;
        let minutes =
            "select planned_minutes * 100 + actual_minutes from job_tally where job = 'replace_string'";
        assert_eq!(count(&shop, minutes).await, 1014);
    });
}

#[test]
fn a_hold_is_put_on_by_the_hours_or_the_clock_and_taken_off() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let order = shop.order(|_| {}).await;
        done(&bench, &order.tag, "hold", &[("until", "240"), ("why", "clamp")]).await;
        assert_eq!(
            shop.order_now(&order.tag).await.hold_until,
            Some(crate::shop::NOW.plus_ms(4 * 3_600_000))
        );
        done(&bench, &order.tag, "hold", &[("until", "tomorrow")]).await;
        let page = bench.get(&format!("/orders/{}", order.tag)).await;
        assert!(page.body.contains("Wed 11 Feb 9:00"), "{}", page.body);
        let other = [("until", "other"), ("date", "2026-02-12"), ("time", "16:30")];
        done(&bench, &order.tag, "hold", &other).await;
        assert!(
            bench
                .get(&format!("/orders/{}", order.tag))
                .await
                .body
                .contains("Thu 12 Feb 16:30")
        );
        let left_out = [("until", "other"), ("date", "2026-03-29"), ("time", "2:30")];
        let page = send(&bench, &order.tag, "hold", &left_out).await;
        assert_eq!(page.status.as_u16(), 422, "no clock shows 2:30 that night");
        assert!(page.body.contains("The clocks go forward then") && page.body.contains("Write 3:30"));
        let past = [("until", "other"), ("date", "2026-02-10"), ("time", "8:00")];
        let page = send(&bench, &order.tag, "hold", &past).await;
        assert_eq!(page.status.as_u16(), 422);
        assert!(page.body.contains("This time is past") && page.body.contains("value=\"2026-02-10\""));
        done(&bench, &order.tag, "hold/off", &[]).await;
        let page = send(&bench, &order.tag, "hold/off", &[]).await;
        assert_eq!(page.status.as_u16(), 409);
    });
}

#[test]
fn the_bench_sees_what_waits_the_clamp_first_then_the_oldest_promise() {
    on_both(async |shop| {
        let today = purfle::clock::Day::parse("2026-02-10").expect("a day");
        let mut tags = Vec::new();
        for days in [9, 0, 3] {
            let order = shop
                .order(|intake| intake.promised_on = Some(today.plus(days)))
                .await;
            tags.push(order.tag);
        }
        shop.clock
            .set(crate::shop::NOW.plus_ms(2 * purfle::clock::DAY_MS));
        let bench = shop.sign_in("bench").await;
        done(
            &bench,
            &tags[0],
            "hold",
            &[("until", "120"), ("why", "clamp off the bout")],
        )
        .await;
        let page = bench.get("/bench").await;
        let at = |tag: &str| page.body.find(&format!("/orders/{tag}")).expect("a row");
        assert!(
            at(&tags[0]) < at(&tags[1]) && at(&tags[1]) < at(&tags[2]),
            "{}",
            page.body
        );
        let row = &page.body[at(&tags[1])..at(&tags[2])];
        assert!(row.contains("promised, late") && row.contains("Marta") && !row.contains("Ellingworth"));
        assert!(row.contains("look at it for the first time"));
        assert!(page.body.contains("clamp off the bout") && page.body.contains("in 2 h"));
        done(&bench, &tags[1], "return", &[("why", "declined")]).await;
        assert!(
            !bench
                .get("/bench")
                .await
                .body
                .contains(&format!("/orders/{}", tags[1]))
        );
    });
}

/// Taken in for no noise.
fn a_bow(intake: &mut Intake) {
    intake.complaint = Complaint::default();
    intake.instrument = Which::New(NewInstrument {
        family: "bow".into(),
        ..NewInstrument::default()
    });
}

#[test]
fn a_bow_gets_jobs_and_is_never_looked_over_for_a_buzz() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let order = shop.order(a_bow).await;
        let page = bench.get(&format!("/orders/{}", order.tag)).await;
        assert!(!page.body.contains("/checks") && !page.body.contains("/findings"));
        let refused = send(&bench, &order.tag, "checks", &FOUND).await;
        assert_eq!(refused.status.as_u16(), 422);
        let offered = page.body.matches("<option value=").count();
        assert!(page.body.contains("value=\"rehair\"") && !page.body.contains("value=\"reset_post\""));
        assert_eq!(offered, 3, "two jobs, and words of one's own");
        let refused = send(&bench, &order.tag, "steps", &[("job", "reset_post")]).await;
        assert_eq!(refused.status.as_u16(), 422);
        assert!(refused.body.contains("is no work for a bow"));
        assert_eq!(shop.count("repair_step").await, 0);
        done(&bench, &order.tag, "steps", &[("job", "rehair")]).await;
        assert_eq!(stage(&shop, &order).await, Stage::Approved);
        assert_eq!(count(&shop, INSPECTED).await, 0);
    });
}

#[test]
fn a_bow_is_tried_and_is_right_or_not_right_yet() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let order = shop.order(a_bow).await;
        done(&bench, &order.tag, "steps", &[("job", "rehair")]).await;
        let (step,): (uuid::Uuid,) = shop
            .app
            .db
            .read("select id from repair_step")
            .one()
            .await
            .expect("a step");
        let finish = format!("steps/{step}/done");
        done(&bench, &order.tag, &finish, &[("actual_minutes", "60")]).await;
        let page = bench.get(&format!("/orders/{}", order.tag)).await.body;
        assert!(page.contains("Next: try it") && page.contains("Not right yet"));
        assert!(!page.contains("Still buzzes") && !page.contains("Another noise"));
        done(&bench, &order.tag, "play_test", &[("result", "quiet")]).await;
        let page = bench.get(&format!("/orders/{}", order.tag)).await.body;
        assert!(page.contains("Tried: Right"));
    });
}
