//! Pickup: what is owed, who takes it home, and that it goes home once.

use purfle::act::{Act, Guard};
use purfle::bench::finding::{self, NewFinding};
use purfle::bench::play_test::{self, NewPlayTest};
use purfle::bench::step::{self, NewPart, NewStep};
use purfle::counter::intake::Intake;
use purfle::counter::order::Order;
use purfle::counter::stage::Stage;

use crate::shop::{NOW, Page, Shop, on_both};

impl Shop {
    /// Something the bench does on an order.
    pub async fn at_bench(&self, tag: &str, work: impl AsyncFnOnce(&mut Act)) {
        let who = self.who("bench").await;
        let mut act = Act::begin(&self.app, &who, tag, Guard::default())
            .await
            .expect("the order");
        work(&mut act).await;
        act.then("/").await.expect("kept");
    }

    /// An open seam that was found, glued in an hour with two clamps' worth of cork, and played again.
    pub async fn ready(&self, change: impl FnOnce(&mut Intake)) -> Order {
        let order = self
            .order(|intake| {
                intake.authorised_limit = Some(50_000);
                change(intake);
            })
            .await;
        self.at_bench(&order.tag, async |act| {
            let found = finding::log(act, &found("seam_open_lower", "confirmed"))
                .await
                .expect("found");
            let step = step::plan(act, &hour(Some(found.id))).await.expect("planned");
            step::done(act, step.id, 70).await.expect("done");
            let quiet = NewPlayTest {
                result: "quiet".into(),
                ..NewPlayTest::default()
            };
            play_test::log(act, &quiet).await.expect("quiet");
        })
        .await;
        self.order_now(&order.tag).await
    }

    async fn money(&self, kind: &str) -> i64 {
        let month = purfle::admin::shop::Shop::get(&self.app.db)
            .await
            .expect("the shop")
            .today(NOW)
            .month();
        let row: Option<(i64,)> = self
            .app
            .db
            .read("select amount from money_tally where month = $1 and kind = $2")
            .bind(month)
            .bind(kind.to_owned())
            .optional()
            .await
            .expect("the tally");
        row.map_or(0, |row| row.0)
    }
}

pub fn found(cause: &str, certainty: &str) -> NewFinding {
    NewFinding {
        cause: cause.into(),
        certainty: certainty.into(),
        place: "bass side".into(),
        note: String::new(),
    }
}

/// € 72.00 of work and € 6.66 of cork, both with 20 % VAT: € 94.39 together.
pub fn hour(finding: Option<uuid::Uuid>) -> NewStep {
    NewStep {
        job: Some("reglue_seam".into()),
        finding,
        planned_minutes: Some(60),
        parts: vec![NewPart {
            name: "Cork".into(),
            quantity: 2,
            unit_price: 333,
        }],
        ..NewStep::default()
    }
}

/// The form as the page sends it, with what is changed.
fn fields<'a>(page: &'a Page, change: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let usual = [
        ("version", page.field("version")),
        ("once", page.field("once")),
        ("seen", page.field("seen")),
        ("who", "customer"),
        ("back", "0"),
        ("back", "1"),
    ];
    let kept = usual
        .into_iter()
        .filter(|(name, _)| !change.iter().any(|other| other.0 == *name));
    kept.chain(change.iter().copied())
        .filter(|(_, value)| !value.is_empty())
        .collect()
}

#[test]
fn a_ready_violin_goes_home_for_cash_and_the_money_is_counted() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await;
        let (counter, path) = (
            shop.sign_in("counter").await,
            format!("/orders/{}/pickup", order.tag),
        );
        let page = counter.get(&path).await;
        assert_eq!(page.field("paid"), "94.39");
        let answer = counter
            .post(&path, &fields(&page, &[("paid", "94.39"), ("method", "cash")]))
            .await;
        assert_eq!(
            answer.location(),
            format!("/orders/{}/handed", order.tag),
            "{}",
            answer.body
        );
        let handed = counter.get(answer.location()).await.body;
        assert!(handed.contains("Handed back to Marta Ellingworth") && handed.contains("Nothing is owed"));
        let order = shop.order_now(&order.tag).await;
        assert_eq!(
            (order.stage, order.collected_by.as_str()),
            (Stage::Collected, "Marta Ellingworth")
        );
        let told = [
            ("charged_labour", 7200),
            ("charged_parts", 666),
            ("charged_tax", 1573),
            ("taken_cash", 9439),
        ];
        for (kind, amount) in told {
            assert_eq!(shop.money(kind).await, amount, "{kind}");
        }
    });
}

#[test]
fn more_than_is_owed_is_refused_with_words_and_what_was_typed_stays() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await;
        let (counter, path) = (
            shop.sign_in("counter").await,
            format!("/orders/{}/pickup", order.tag),
        );
        let page = counter.get(&path).await;
        let typed = [
            ("who", "other"),
            ("collected_by", "Idris"),
            ("paid", "100"),
            ("method", "card"),
        ];
        let answer = counter.post(&path, &fields(&page, &typed)).await;
        assert_eq!(answer.status.as_u16(), 422);
        assert!(
            answer.body.contains("more than is open: €\u{a0}94.39"),
            "{}",
            answer.body
        );
        assert_eq!(
            (answer.field("paid"), answer.field("collected_by")),
            ("100", "Idris")
        );
        assert!(answer.body.contains(r#"value="card" form="pickup" checked"#));
        assert!(answer.body.contains(r#"name="back" value="1" checked"#));
        assert_eq!(
            (
                shop.count("payment").await,
                shop.order_now(&order.tag).await.stage
            ),
            (0, Stage::Ready)
        );
    });
}

#[test]
fn what_is_not_ticked_is_asked_about_once() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await;
        let (counter, path) = (
            shop.sign_in("counter").await,
            format!("/orders/{}/pickup", order.tag),
        );
        let page = counter.get(&path).await;
        let some = [("back", "0"), ("method", "later")];
        let answer = counter.post(&path, &fields(&page, &some)).await;
        assert_eq!(answer.status.as_u16(), 422);
        assert!(
            answer.body.contains("Not ticked is: Bow. Hand back anyway?"),
            "{}",
            answer.body
        );
        let anyway = [("back", "0"), ("method", "later"), ("anyway", "yes")];
        let done = counter.post(&path, &fields(&answer, &anyway)).await;
        assert_eq!(done.status.as_u16(), 303, "{}", done.body);
        assert!(
            counter
                .get(done.location())
                .await
                .body
                .contains("€\u{a0}94.39 is still owed")
        );
        let story = purfle::counter::story::Story::of(&shop.app.db, order.id, 20)
            .await
            .expect("the story");
        assert!(story.iter().any(|line| line.words == "Went back with it: Case"));
        assert!(
            story
                .iter()
                .any(|line| line.words == "Not ticked when it went: Bow")
        );
    });
}

#[test]
fn a_double_tap_hands_it_back_once() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await;
        let (counter, path) = (
            shop.sign_in("counter").await,
            format!("/orders/{}/pickup", order.tag),
        );
        let page = counter.get(&path).await;
        let form = fields(&page, &[("paid", "94.39"), ("method", "cash")]);
        let (one, two) = tokio::join!(counter.post(&path, &form), counter.post(&path, &form));
        assert_eq!(
            (one.location(), two.location()),
            (format!("/orders/{}/handed", order.tag).as_str(), one.location())
        );
        assert_eq!(
            (shop.count("payment").await, shop.money("charged_labour").await),
            (1, 7200)
        );
        let third = counter
            .post(
                &path,
                &fields(
                    &page,
                    &[("once", "another"), ("version", ""), ("method", "later")],
                ),
            )
            .await;
        assert_eq!(third.status.as_u16(), 409);
    });
}

#[test]
fn what_is_not_ready_stays_here() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        let (counter, path) = (
            shop.sign_in("counter").await,
            format!("/orders/{}/pickup", order.tag),
        );
        let page = counter.get(&path).await;
        assert!(
            page.body.contains("It cannot go home yet: taken in") && !page.body.contains("Hand it back<")
        );
        let answer = counter.post(&path, &fields(&page, &[("method", "later")])).await;
        assert_eq!(answer.status.as_u16(), 409);
        assert!(answer.body.contains("not ready yet"), "{}", answer.body);
        assert_eq!(
            counter
                .get(&format!("/orders/{}/handed", order.tag))
                .await
                .status
                .as_u16(),
            404
        );
    });
}

#[test]
fn a_deposit_is_taken_and_too_much_of_it_told_when_it_goes_back_unrepaired() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        let counter = shop.sign_in("counter").await;
        let (path, pay) = (
            format!("/orders/{}/pickup", order.tag),
            format!("/orders/{}/payments", order.tag),
        );
        let page = counter.get(&path).await;
        let none = counter
            .post(
                &pay,
                &[
                    ("version", page.field("version")),
                    ("amount", "2o"),
                    ("method", "cash"),
                ],
            )
            .await;
        assert_eq!((none.status.as_u16(), none.field("amount")), (422, "2o"));
        let deposit = [
            ("version", page.field("version")),
            ("once", page.field("once")),
            ("amount", "20,00"),
            ("method", "card"),
        ];
        assert_eq!(counter.post(&pay, &deposit).await.location(), path);
        assert_eq!(counter.post(&pay, &deposit).await.location(), path);
        assert_eq!(
            (shop.count("payment").await, shop.money("taken_card").await),
            (1, 2000)
        );
        shop.at_bench(&order.tag, async |act| {
            act.go(purfle::counter::stage::Move::GiveBack).expect("it may");
            act.order.returned_why = Some("nothing_found".into());
        })
        .await;
        let page = counter.get(&path).await;
        assert!(page.body.contains("Give €\u{a0}20.00 back."), "{}", page.body);
        let done = counter.post(&path, &fields(&page, &[])).await;
        assert_eq!(done.status.as_u16(), 303, "{}", done.body);
        let order = shop.order_now(&order.tag).await;
        assert_eq!((order.stage, order.is_handed_back()), (Stage::Returned, true));
        assert_eq!(shop.money("charged_labour").await, 0);
    });
}

#[test]
fn a_change_in_the_meantime_is_told_and_what_was_typed_stays() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await;
        let (counter, path) = (
            shop.sign_in("counter").await,
            format!("/orders/{}/pickup", order.tag),
        );
        let page = counter.get(&path).await;
        shop.at_bench(&order.tag, async |act| act.say("Cleaned once more"))
            .await;
        let form = fields(
            &page,
            &[
                ("who", "other"),
                ("collected_by", "Idris"),
                ("paid", "90"),
                ("method", "cash"),
            ],
        );
        let answer = counter.post(&path, &form).await;
        assert_eq!(
            (answer.status.as_u16(), answer.field("collected_by")),
            (412, "Idris")
        );
        assert_ne!(answer.field("version"), page.field("version"));
        let news = answer.body.split("What is new").nth(1).expect("news");
        let news = news.split("</ol>").next().expect("its end");
        assert!(
            news.contains("Cleaned once more") && news.matches("<li>").count() == 1,
            "{news}"
        );
        assert_eq!(shop.count("payment").await, 0);
    });
}

#[test]
fn the_bench_hands_nothing_back() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await;
        let bench = shop.sign_in("bench").await;
        for path in ["pickup", "handed"] {
            assert_eq!(
                bench
                    .get(&format!("/orders/{}/{path}", order.tag))
                    .await
                    .status
                    .as_u16(),
                403
            );
        }
        for path in ["pickup", "payments"] {
            let answer = bench
                .post(&format!("/orders/{}/{path}", order.tag), &[("who", "customer")])
                .await;
            assert_eq!(answer.status.as_u16(), 403);
        }
        assert_eq!(shop.order_now(&order.tag).await.stage, Stage::Ready);
    });
}
