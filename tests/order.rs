//! An order: where it may go from where, who may move it, and how its page is reached.

use purfle::counter::stage::{By, MOVES, Move, Stage, after};
use purfle::error::Error;
use purfle::staff::Roles;

use crate::shop::on_both;

const ACTS: [Move; 14] = [
    Move::Look,
    Move::PlanWithin,
    Move::PlanBeyond,
    Move::PlanNothing,
    Move::Approve,
    Move::Decline,
    Move::DeclineRest,
    Move::Work,
    Move::AllDone,
    Move::Quiet,
    Move::StillBuzzes,
    Move::GiveBack,
    Move::Reopen,
    Move::HandBack,
];

fn of(part: &str) -> Roles {
    Roles::named(part).expect("a part")
}

#[test]
fn every_move_is_in_the_table_or_refused_with_the_reason() {
    for stage in Stage::ALL {
        for act in ACTS {
            let row = MOVES.iter().find(|row| row.0 == stage && row.1 == act);
            match (row, after(stage, act, of("owner"))) {
                (Some(row), Ok(next)) => assert_eq!(next, row.2),
                (None, Err(Error::Conflict(why))) => {
                    assert!(
                        why.starts_with(stage.words()) && why.contains("cannot be"),
                        "{why}"
                    );
                    assert!(why.ends_with('.') && why.split(". ").count() > 1, "{why}");
                }
                (row, other) => panic!("{stage:?} {act:?}: {row:?} but {other:?}"),
            }
        }
    }
    let rows = MOVES.iter().map(|row| (row.0, row.1));
    assert_eq!(rows.clone().count(), MOVES.len());
    for (at, (stage, act, ..)) in MOVES.iter().enumerate() {
        assert!(
            !MOVES[..at].iter().any(|row| (row.0, row.1) == (*stage, *act)),
            "{stage:?} {act:?} twice"
        );
    }
}

#[test]
fn a_move_is_for_the_parts_that_the_table_names() {
    for &(stage, act, _, by) in MOVES {
        let may = |part| after(stage, act, of(part)).is_ok();
        let expected = match by {
            By::Counter => (true, false),
            By::Bench => (false, true),
            By::Either => (true, true),
        };
        assert_eq!((may("counter"), may("bench")), expected, "{stage:?} {act:?}");
        assert!(may("owner"));
        let nobody = after(stage, act, Roles::default());
        assert!(matches!(nobody, Err(Error::NotAllowed)), "{stage:?} {act:?}");
    }
}

#[test]
fn every_stage_but_the_last_can_be_left_and_the_last_cannot() {
    for stage in Stage::ALL {
        let leaves = MOVES.iter().any(|row| row.0 == stage && row.2 != stage);
        assert_eq!(leaves, stage != Stage::Collected, "{stage:?}");
        let reached = MOVES.iter().any(|row| row.2 == stage && row.0 != stage);
        assert_eq!(reached, stage != Stage::Received, "{stage:?}");
    }
}

#[test]
fn a_page_is_found_by_tag_however_it_is_typed_and_by_id() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let order = shop.order(|_| {}).await;
        let (head, tail) = order.tag.split_at(3);
        for path in [order.tag.clone(), format!("{head}-{tail}"), order.id.to_string()] {
            let page = bench.get(&format!("/orders/{path}")).await;
            assert_eq!(page.status.as_u16(), 200, "{path}");
            for seen in [
                "Violin 4/4, Jos. Hallbrink, 1921",
                "fizz up high",
                "B5 on the E string",
                "Case, Bow",
            ] {
                assert!(page.body.contains(seen), "{seen}");
            }
            assert!(page.body.contains("worst string") && page.body.contains("<dd>Top, the thinnest</dd>"));
            assert!(!page.body.contains("Ellingworth") || page.body.contains("Who said so"));
        }
    });
}

#[test]
fn a_mistyped_tag_opens_nobodys_order_and_says_what_to_do() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let order = shop.order(|_| {}).await;
        let last = order
            .tag
            .chars()
            .last()
            .and_then(|digit| digit.to_digit(10))
            .expect("a digit");
        let wrong = format!("{}{}", &order.tag[..4], (last + 1) % 10);
        let page = bench.get(&format!("/orders/{wrong}")).await;
        assert_eq!(page.status.as_u16(), 404);
        assert!(
            page.body.contains("does not add up: read it again"),
            "{}",
            page.body
        );
        let unknown = purfle::counter::tag::from_number(4321);
        for path in [&unknown, "nothing", "019c0000-0000-7000-8000-000000000000"] {
            let page = bench.get(&format!("/orders/{path}")).await;
            assert_eq!(page.status.as_u16(), 404, "{path}");
            let page = bench.post(&format!("/orders/{path}/hold/off"), &[]).await;
            assert_eq!(page.status.as_u16(), 404, "{path}");
        }
        let page = bench
            .post(&format!("/orders/{}/steps/nothing/done", order.tag), &[])
            .await;
        assert_eq!(page.status.as_u16(), 404);
    });
}

#[test]
fn a_stranger_is_asked_to_sign_in_and_sees_nothing_of_an_order() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        for path in [format!("/orders/{}", order.tag), "/bench".to_owned()] {
            let page = shop.stranger().get(&path).await;
            assert_eq!((page.status.as_u16(), page.location()), (303, "/sign-in"));
        }
    });
}

#[test]
fn what_came_back_is_said_with_the_days_and_the_season() {
    on_both(async |shop| {
        let bench = shop.sign_in("bench").await;
        let first = shop.order(|_| {}).await;
        mend(&shop, &bench, &first.tag).await;
        shop.clock
            .set(crate::shop::NOW.plus_ms(20 * purfle::clock::DAY_MS));
        let bench = shop.sign_in("bench").await; // nobody stays signed in for so long
        let again = shop
            .order(|intake| {
                intake.customer = purfle::counter::intake::Which::Known(first.customer);
                intake.instrument = purfle::counter::intake::Which::Known(first.instrument);
            })
            .await;
        let found = [("cause", "nut_slot_low"), ("result", "found")];
        bench.post(&format!("/orders/{}/checks", again.tag), &found).await;
        let page = bench.get(&format!("/orders/{}", again.tag)).await;
        assert!(
            page.body
                .contains("went home 20 days before it came in again, within the comeback window"),
            "{}",
            page.body
        );
        assert!(page.body.contains("in the dry months both times"));
        assert!(page.body.contains("1 earlier visit: ") && page.body.contains(&first.spoken()));
    });
}

/// The first visit: found, mended, played and handed back on the same day.
async fn mend(shop: &crate::shop::Shop, bench: &crate::shop::Browser, tag: &str) {
    use purfle::act::{Act, Guard};
    let found = [("cause", "nut_slot_low"), ("result", "found")];
    bench.post(&format!("/orders/{tag}/checks"), &found).await;
    bench
        .post(&format!("/orders/{tag}/steps"), &[("job", "fill_nut_slot")])
        .await;
    let page = bench.get(&format!("/orders/{tag}")).await;
    let (_, after) = page.body.split_once("/steps/").expect("a step");
    let done = format!("/orders/{tag}/steps/{}/done", &after[..36]);
    bench.post(&done, &[("actual_minutes", "18")]).await;
    bench
        .post(&format!("/orders/{tag}/play_test"), &[("result", "quiet")])
        .await;
    let who = shop.who("counter").await;
    let mut act = Act::begin(&shop.app, &who, tag, Guard::default())
        .await
        .expect("an act");
    let pickup = purfle::counter::pickup::NewPickup {
        collected_by: "Marta".into(),
        ..Default::default()
    };
    purfle::counter::pickup::hand_back(&mut act, &pickup)
        .await
        .expect("handed back");
    act.then("/").await.expect("kept");
}
