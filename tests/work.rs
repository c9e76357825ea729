//! Time and money: figures from orders made by hand, by acts that move them, and on the page, in CSV and by the API.

use purfle::admin::check::check;
use purfle::bench::finding::{self, Finding};
use purfle::bench::play_test::{self, NewPlayTest};
use purfle::bench::step::{self, NewPart, NewStep};
use purfle::clock::DAY_MS;
use purfle::counter::intake::Which;
use purfle::counter::order::Order;
use purfle::counter::pickup::{self, NewPayment, NewPickup};
use purfle::reports::counted_before;
use purfle::reports::span::Span;
use purfle::reports::work::Work;
use purfle::reports::work::job_minutes::Plan;
use serde_json::{Value, json};

use crate::new_bands::to_the_end;
use crate::pickup::found;
use crate::shop::{NOW, Shop, on_both};

/// All that was ever counted here.
const SPAN: &str = "from=2020-01&to=2026-12";

impl Shop {
    fn day(&self, days: i64) {
        self.clock.set(NOW.plus_ms(days * DAY_MS));
    }

    async fn work(&self) -> Work {
        let shop = purfle::admin::shop::Shop::get(&self.app.db)
            .await
            .expect("the shop");
        let span = Span::parse("2020-01", "2026-12").expect("a span");
        Work::read(&self.app, shop, span).await.expect("time and money")
    }

    /// A step of a job that was planned so long and took so long, with parts of 10.00.
    async fn step(&self, tag: &str, new: NewStep, took: i64) {
        self.at_bench(tag, async |act| {
            let step = step::plan(act, &new).await.expect("planned");
            step::done(act, step.id, took).await.expect("done");
        })
        .await;
    }

    async fn quiet(&self, tag: &str) {
        self.at_bench(tag, async |act| {
            let quiet = NewPlayTest {
                result: "quiet".into(),
                ..NewPlayTest::default()
            };
            play_test::log(act, &quiet).await.expect("quiet");
        })
        .await;
    }

    async fn fetched(&self, tag: &str, paid: i64) {
        self.at_counter(tag, async |act| {
            let new = NewPickup {
                collected_by: "Marta".into(),
                paid,
                method: Some("cash".into()),
            };
            pickup::hand_back(act, &new).await.expect("handed back");
        })
        .await;
    }

    async fn pays(&self, tag: &str, amount: i64) {
        self.at_counter(tag, async |act| {
            let method = "card".into();
            pickup::pay(act, &NewPayment { amount, method })
                .await
                .expect("paid");
        })
        .await;
    }

    async fn at_counter(&self, tag: &str, work: impl AsyncFnOnce(&mut purfle::act::Act)) {
        let who = self.who("counter").await;
        let mut act = purfle::act::Act::begin(&self.app, &who, tag, purfle::act::Guard::default())
            .await
            .expect("the order");
        work(&mut act).await;
        act.then("/").await.expect("kept");
    }

    async fn taken_in(&self) -> Order {
        self.order(|intake| intake.authorised_limit = Some(500_000)).await
    }
}

fn job(code: &str, planned: i64) -> NewStep {
    NewStep {
        job: Some(code.into()),
        planned_minutes: Some(planned),
        ..NewStep::default()
    }
}

fn part(name: &str, quantity: i64, unit_price: i64) -> NewPart {
    NewPart {
        name: name.into(),
        quantity,
        unit_price,
    }
}

#[test]
fn a_shop_without_orders_has_nothing_to_tell_and_says_so() {
    on_both(async |shop| {
        let work = shop.work().await;
        assert!(work.jobs.is_empty() && work.months.is_empty() && work.causes.is_empty());
        assert!(work.stock.parts.is_empty() && work.sentences().is_empty());
        assert_eq!(
            (work.has_stages(), work.owing.orders, work.stages_since),
            (false, 0, None)
        );
        let owner = shop.sign_in("owner").await;
        let page = owner.get("/work").await;
        assert_eq!(page.status, 200);
        assert!(
            page.body
                .contains("Nothing was done from February 2025 to January 2026"),
            "{}",
            page.body
        );
        assert!(page.body.contains("Parts to stock are told once"));
        shop.is_well().await;
    });
}

#[test]
fn minutes_are_counted_by_job_with_their_quartiles() {
    on_both(async |shop| {
        let order = shop.taken_in().await;
        for took in [35, 40, 48, 52, 61, 90] {
            shop.step(&order.tag, job("reglue_seam", 30), took).await;
        }
        for (planned, took) in [(60, 60), (60, 61), (60, 59), (60, 60), (60, 60)] {
            shop.step(&order.tag, job("new_nut", planned), took).await;
        }
        shop.step(&order.tag, job("dress_board", 120), 118).await;
        let free = NewStep {
            title: Some("Clean".into()),
            planned_minutes: Some(15),
            ..NewStep::default()
        };
        shop.step(&order.tag, free, 0).await;
        let work = shop.work().await;
        let [seam, nut, board, words] = &work.jobs[..] else {
            panic!("{:?}", work.jobs)
        };
        let of = seam.quartiles().expect("six are enough");
        // numpy: np.percentile([35, 40, 48, 52, 61, 90], [25, 50, 75])
        assert_eq!((of.low, of.middle, of.high), (42.0, 50.0, 58.75));
        assert_eq!(
            (seam.plan(), nut.plan(), board.plan()),
            (Plan::TooShort, Plan::Well, Plan::TooFew)
        );
        assert_eq!((seam.planned_middle(), seam.sums), (30.0, (180, 326)));
        assert_eq!(
            (board.quartiles(), board.took().0.as_str()),
            (None, "too few to say")
        );
        assert!(
            board
                .typical_minutes()
                .is_some_and(|of| of[1] < of[0] && of[0] < of[2])
        );
        assert_eq!(
            (words.job.as_str(), words.typical, words.took().0.as_str()),
            ("", None, "too few to say")
        );
        let told = &work.sentences()[0];
        assert!(
            told.lead.ends_with("min here") && told.rest == ", planned 30 min.",
            "{told:?}"
        );
        shop.is_well().await;
    });
}

#[test]
fn what_was_done_in_a_month_is_told_of_the_spans_that_hold_it() {
    on_both(async |shop| {
        let order = shop.taken_in().await;
        shop.step(&order.tag, job("new_nut", 60), 50).await; // February
        shop.day(30); // March
        shop.step(&order.tag, job("new_nut", 60), 70).await;
        let settings = purfle::admin::shop::Shop::get(&shop.app.db)
            .await
            .expect("the shop");
        for (from, to, sums) in [
            ("2026-01", "2026-01", None),
            ("2026-02", "2026-02", Some((60, 50))),
            ("2026-03", "2026-03", Some((60, 70))),
            ("2025-04", "2026-02", Some((60, 50))),
            ("2026-02", "2026-03", Some((120, 120))),
            ("2025-01", "2025-12", None),
            ("2020-01", "2026-12", Some((120, 120))),
        ] {
            let span = Span::parse(from, to).expect("a span");
            let work = Work::read(&shop.app, settings.clone(), span).await.expect("read");
            assert_eq!(work.jobs.first().map(|job| job.sums), sums, "{from} {to}");
        }
    });
}

#[test]
fn steps_of_nought_minutes_are_counted_and_compared_with_nothing() {
    on_both(async |shop| {
        let order = shop.taken_in().await;
        for _ in 0..5 {
            shop.step(&order.tag, job("new_nut", 0), 0).await;
        }
        let work = shop.work().await;
        let nut = &work.jobs[0];
        assert_eq!(
            (nut.actual.count(), nut.compared, nut.plan()),
            (5, 0, Plan::TooFew)
        );
        assert_eq!((nut.took().0.as_str(), nut.typical_minutes()), ("0 min", None));
    });
}

#[test]
fn days_are_counted_where_the_order_stood_and_add_up() {
    on_both(async |shop| {
        let order = shop.order(|intake| intake.authorised_limit = Some(0)).await;
        shop.day(2);
        shop.at_bench(&order.tag, async |act| {
            finding::log(act, &found("seam_open_lower", "confirmed"))
                .await
                .expect("found");
        })
        .await;
        shop.day(3);
        let mut of = None;
        shop.at_bench(&order.tag, async |act| {
            of = Some(
                step::plan(act, &job("reglue_seam", 60))
                    .await
                    .expect("planned")
                    .id,
            );
        })
        .await;
        shop.day(7);
        shop.at_counter(&order.tag, async |act| {
            let yes = purfle::bench::approval::NewApproval {
                decision: "approved".into(),
                by: "Marta".into(),
                channel: "phone".into(),
                limit: None,
            };
            purfle::bench::approval::answer(act, &yes)
                .await
                .expect("answered");
        })
        .await;
        shop.day(9);
        shop.at_bench(&order.tag, async |act| {
            step::done(act, of.expect("a step"), 60).await.expect("done");
        })
        .await;
        shop.quiet(&order.tag).await;
        shop.day(14);
        shop.fetched(&order.tag, 0).await;
        let now = shop.order_now(&order.tag).await;
        let days = [now.days_first, now.days_answer, now.days_bench, now.days_ready];
        assert_eq!(days, [Some(2), Some(4), Some(3), Some(5)]);
        let work = shop.work().await;
        let said: Vec<(u64, Option<f64>)> = work
            .stages
            .iter()
            .map(|stage| (stage.orders(), stage.days.quantile(0.5)))
            .collect();
        let one = |days| (1, Some(days));
        assert_eq!(said, [one(2.0), one(4.0), one(3.0), one(5.0), one(14.0)]);
        assert_eq!(work.stages[1].stood().0, "too few to say");
        shop.is_well().await;
    });
}

#[test]
fn an_order_of_which_the_stages_are_not_known_counts_as_a_whole() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await;
        let forget =
            "update work_order set stage_on = null, days_first = null, days_bench = null, days_ready = null";
        shop.app.db.write(forget).execute().await.expect("forgotten");
        shop.day(4);
        shop.fetched(&order.tag, 0).await;
        let orders: Vec<u64> = shop
            .work()
            .await
            .stages
            .iter()
            .map(purfle::reports::work::stage_days::StageDays::orders)
            .collect();
        assert_eq!(orders, [0, 0, 0, 0, 1]);
        shop.is_well().await;
    });
}

#[test]
fn what_is_owed_comes_with_the_pickup_and_goes_with_the_payment() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await; // 94.39
        shop.pays(&order.tag, 2000).await;
        assert_eq!(shop.work().await.owing.orders, 0, "a deposit is no debt");
        shop.fetched(&order.tag, 4000).await;
        let work = shop.work().await;
        assert_eq!(
            (work.owing.orders, work.owing.sum.0, work.owing.list[0].owed.0),
            (1, 3439, 3439)
        );
        assert_eq!(work.owing.list[0].tag, order.tag);
        shop.day(30); // March
        shop.pays(&order.tag, 1439).await;
        shop.is_well().await;
        shop.day(60); // April
        shop.pays(&order.tag, 2000).await;
        let work = shop.work().await;
        let months: Vec<(String, i64, i64, i64)> = work
            .months
            .iter()
            .map(|money| (money.month.iso(), money.charged.0, money.taken.0, money.owed.0))
            .collect();
        let month = |iso: &str, charged, taken, owed| (iso.to_owned(), charged, taken, owed);
        assert_eq!(
            months,
            [
                month("2026-02", 9439, 6000, 3439),
                month("2026-03", 0, 1439, 2000),
                month("2026-04", 0, 2000, 0)
            ]
        );
        assert_eq!(work.owing.orders, 0);
        shop.is_well().await;
    });
}

#[test]
fn what_was_paid_too_much_is_owed_by_the_shop_and_by_nobody_else() {
    on_both(async |shop| {
        let order = shop.taken_in().await;
        shop.pays(&order.tag, 5000).await;
        shop.at_counter(&order.tag, async |act| {
            let back = purfle::counter::order_changes::NewReturn {
                why: "declined".into(),
                ..Default::default()
            };
            purfle::counter::order_changes::give_back(act, &back)
                .await
                .expect("back");
        })
        .await;
        shop.fetched(&order.tag, 0).await;
        let work = shop.work().await;
        assert_eq!((work.owing.orders, work.owing.sum.0), (0, 0));
        assert_eq!(
            (
                work.months[0].owed.0,
                work.months[0].shop_owes.0,
                work.months[0].charged.0
            ),
            (0, 5000, 0)
        );
        assert_eq!(shop.order_now(&order.tag).await.owed.0, -5000);
        shop.is_well().await;
    });
}

/// Takes a violin in, this one again or a new one, and puts a seam right without charge: 25 minutes, parts of 2.00.
pub async fn mended_free(shop: &Shop, before: Option<&Order>) -> Order {
    let order = shop
        .order(|intake| {
            if let Some(before) = before {
                intake.customer = Which::Known(before.customer);
                intake.instrument = Which::Known(before.instrument);
            }
            intake.authorised_limit = Some(50_000);
        })
        .await;
    shop.at_bench(&order.tag, async |act| {
        let found = finding::log(act, &found("seam_open_lower", "confirmed"))
            .await
            .expect("found");
        let free = NewStep {
            finding: Some(found.id),
            free: true,
            parts: vec![part("Glue", 1, 200)],
            ..job("reglue_seam", 30)
        };
        let step = step::plan(act, &free).await.expect("planned");
        step::done(act, step.id, 25).await.expect("done");
    })
    .await;
    shop.quiet(&order.tag).await;
    shop.fetched(&order.tag, 0).await;
    order
}

async fn free(shop: &Shop) -> [i64; 3] {
    let work = shop.work().await;
    let seam = &work.causes[0];
    [seam.minutes, seam.free_minutes, seam.free_parts.0]
}

#[test]
fn only_what_came_back_within_the_window_was_put_right_without_charge() {
    on_both(async |shop| {
        let first = mended_free(&shop, None).await;
        assert_eq!(free(&shop).await, [25, 0, 0], "a kindness is no comeback");
        shop.day(41);
        mended_free(&shop, Some(&first)).await;
        assert_eq!(free(&shop).await, [50, 25, 200]);
        shop.is_well().await;
        let owner = shop.program("owner").await;
        for (window, due) in [
            (30, [50, 0, 0]),
            (41, [50, 25, 200]),
            (40, [50, 0, 0]),
            (90, [50, 25, 200]),
        ] {
            let etag = owner.get("/api/v1/shop").await.etag();
            let body = json!({"comeback_days": window});
            let answer = owner.patch("/api/v1/shop", &etag, &body).await;
            assert_eq!(answer.status.as_u16(), 200, "{}", answer.json);
            to_the_end(&shop.app.db).await;
            assert_eq!(free(&shop).await, due, "{window}");
            shop.is_well().await;
        }
    });
}

#[test]
fn where_all_that_was_free_was_counted_it_is_counted_anew_once() {
    on_both(async |shop| {
        let db = &shop.app.db;
        let first = mended_free(&shop, None).await;
        shop.day(41);
        mended_free(&shop, Some(&first)).await;
        let before = free(&shop).await;
        // As it was counted then: the first one too.
        for wrong in [
            "update tally_block set jan = jan * 2, feb = feb * 2, mar = mar * 2, apr = apr * 2, may = may * 2, jun = jun * 2,
             jul = jul * 2, aug = aug * 2, sep = sep * 2, oct = oct * 2, nov = nov * 2, dec = dec * 2
             where what = 'cost' and code in ('seam_open_lower free_minutes', 'seam_open_lower free_parts')",
            "update counted set free_of_comebacks = false",
        ] {
            db.write(wrong).execute().await.expect(wrong);
        }
        assert_ne!(free(&shop).await, before);
        for _ in 0..2 {
            counted_before::count_free(db).await.expect("counted anew");
            assert_eq!(free(&shop).await, before);
        }
        shop.is_well().await;
    });
}

#[test]
fn a_cause_costs_its_minutes_and_parts_and_what_was_free_stands_by_itself() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await; // 70 minutes took, 60 planned, parts of 6.66
        shop.fetched(&order.tag, 0).await;
        let again = mended_free(&shop, Some(&order)).await;
        let work = shop.work().await;
        let [seam] = &work.causes[..] else {
            panic!("{:?}", work.causes)
        };
        assert_eq!((seam.orders, seam.minutes, seam.parts.0), (2, 95, 866));
        // 72.00 an hour: 95 minutes are 114.00; 25 of them 30.00.
        assert_eq!(
            (seam.cost.0, seam.charged.0, seam.free.0),
            (11_400 + 866, 7200 + 666, 3000 + 200)
        );
        shop.is_well().await;
        let of = Finding::of(&shop.app.db, again.id).await.expect("findings")[0].id;
        shop.at_bench(&again.tag, async |act| {
            finding::withdraw(act, of).await.expect("taken back");
        })
        .await;
        let work = shop.work().await;
        assert_eq!(
            (
                work.causes[0].orders,
                work.causes[0].minutes,
                work.causes[0].free.0
            ),
            (1, 70, 0)
        );
        shop.is_well().await;
    });
}

#[test]
fn parts_are_expected_from_the_same_months_of_the_years_before() {
    on_both(async |shop| {
        for (year, quantity) in [(-3, 4), (-2, 6), (-1, 5)] {
            shop.day(year * 365 + 40); // March
            let order = shop.taken_in().await;
            let name = if year == -2 {
                "  e STRING,\u{a0} steel"
            } else {
                "E string, steel"
            };
            let new = NewStep {
                parts: vec![part(name, quantity, 900), part("Rosin", 1, 500)],
                ..job("replace_set", 20)
            };
            // Something in January, so that all of the three months are known.
            shop.day(year * 365 - 20);
            let before = shop.taken_in().await;
            let rosin = NewStep {
                parts: vec![part("rosin", 1, 500)],
                ..job("clean_strings", 5)
            };
            shop.step(&before.tag, rosin, 5).await;
            shop.day(year * 365 + 40);
            shop.step(&order.tag, new, 20).await;
        }
        shop.day(0);
        let stock = shop.work().await.stock;
        assert_eq!(stock.span.to_string(), "2026-03-to-2026-05");
        let strings = stock
            .parts
            .iter()
            .find(|part| part.name == "e string, steel")
            .expect("the strings");
        assert_eq!(strings.years, [5, 6, 4]);
        // scipy: stats.nbinom.ppf([0.025, 0.975], 15.5, 15.5 / (15.5 + 5.1667)), no dispersion found.
        assert_eq!((stock.dispersion, strings.forecast.range), (0.0, Some((1, 11))));
        assert_eq!(strings.words(), "E string, steel");
        shop.is_well().await;
    });
}

#[test]
fn one_year_of_parts_has_no_range_and_says_so() {
    on_both(async |shop| {
        shop.day(-385);
        let order = shop.taken_in().await;
        let with = |name: &str| NewStep {
            parts: vec![part(name, 3, 900)],
            ..job("replace_set", 20)
        };
        shop.step(&order.tag, with("Rosin"), 20).await;
        shop.day(-325);
        let order = shop.taken_in().await;
        shop.step(&order.tag, with("E string"), 20).await;
        shop.day(0);
        let stock = shop.work().await.stock;
        assert_eq!((stock.earlier.len(), stock.parts.len()), (1, 1));
        assert_eq!(
            (stock.parts[0].expected().as_str(), stock.parts[0].range()),
            ("3", None)
        );
        let page = shop.sign_in("owner").await.get("/work").await;
        assert!(
            page.body.contains("There is but one year to go by"),
            "{}",
            page.body
        );
    });
}

#[test]
fn a_wrong_figure_is_found_wherever_it_stands() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await;
        shop.fetched(&order.tag, 0).await;
        shop.is_well().await;
        for (one, back) in [
            (
                "update tally_block set feb = feb + 1 where what = 'minutes' and months = 12",
                "update tally_block set feb = feb - 1 where what = 'minutes' and months = 12",
            ),
            (
                "update tally_block set feb = feb + 1 where what = 'days' and months = 12 and code = 'whole 0'",
                "update tally_block set feb = feb - 1 where what = 'days' and months = 12 and code = 'whole 0'",
            ),
            (
                "update tally_block set feb = feb + 1 where what = 'owed' and months = 120",
                "update tally_block set feb = feb - 1 where what = 'owed' and months = 120",
            ),
            (
                "update tally_block set feb = feb + 1 where what = 'cost' and months = 12 and code like '% minutes'",
                "update tally_block set feb = feb - 1 where what = 'cost' and months = 12 and code like '% minutes'",
            ),
            (
                "update tally_block set feb = feb + 1 where what = 'parts' and months = 12",
                "update tally_block set feb = feb - 1 where what = 'parts' and months = 12",
            ),
            (
                "update work_order set owed = owed + 1",
                "update work_order set owed = owed - 1",
            ),
        ] {
            assert_eq!(
                shop.app.db.write(one).execute().await.expect("written"),
                1,
                "{one}"
            );
            let checked = check(&shop.app.db).await.expect("a check");
            let amiss: usize = checked.recounts.iter().map(|recount| recount.amiss.len()).sum();
            assert_eq!(amiss, 1, "{one}");
            shop.app.db.write(back).execute().await.expect("written");
            shop.is_well().await;
        }
        let days = "update work_order set days_bench = days_bench + 1";
        shop.app.db.write(days).execute().await.expect("written");
        assert!(
            !check(&shop.app.db).await.expect("a check").is_well(),
            "days that do not add up"
        );
    });
}

#[test]
fn a_shop_older_than_these_figures_is_counted_once_when_it_is_opened() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await;
        shop.fetched(&order.tag, 1000).await;
        for sql in [
            "delete from tally_block where what in ('minutes', 'days', 'owed', 'cost', 'parts')",
            "update work_order set owed = 0",
            "insert into older_shop (id, since, note) values (1, null, 'work')",
        ] {
            shop.app.db.write(sql).execute().await.expect("written");
        }
        assert!(!check(&shop.app.db).await.expect("a check").is_well());
        for _ in 0..2 {
            purfle::reports::counted_before::count(&shop.app.db, &shop.clock)
                .await
                .expect("counted");
            shop.is_well().await;
        }
        let work = shop.work().await;
        assert_eq!(
            (work.owing.sum.0, work.jobs.len(), work.causes.len()),
            (8439, 1, 1)
        );
        assert_eq!(
            work.stages_since.map(purfle::clock::Day::iso).as_deref(),
            Some("2026-02-10")
        );
    });
}

#[test]
fn what_is_known_of_orders_older_than_the_days_is_taken_over() {
    on_both(async |shop| {
        let waits = shop.taken_in().await;
        let ready = shop.ready(|_| {}).await;
        let home = shop.ready(|_| {}).await;
        shop.day(4);
        shop.fetched(&home.tag, 0).await;
        let forget =
            "update work_order set stage_on = null, days_first = null, days_bench = null, days_ready = null";
        shop.app.db.write(forget).execute().await.expect("forgotten");
        let migration = include_str!("../migrations/0100_order_days.sql");
        let updates: Vec<&str> = migration
            .lines()
            .filter(|line| line.starts_with("update "))
            .collect();
        assert_eq!(updates.len(), 3);
        for update in updates {
            shop.app.db.write(update).execute().await.expect(update);
        }
        let known = async |tag: &str| {
            let order = shop.order_now(tag).await;
            (
                order.stage_on.is_some(),
                order.days_first,
                order.days_bench,
                order.days_ready,
            )
        };
        assert_eq!(known(&waits.tag).await, (true, Some(0), None, None));
        assert_eq!(known(&ready.tag).await, (false, Some(0), None, None));
        assert_eq!(known(&home.tag).await, (false, Some(0), None, Some(4)));
        shop.fetched(&ready.tag, 0).await;
        assert_eq!(
            known(&ready.tag).await,
            (false, Some(0), None, None),
            "the day it became ready is not its stage's"
        );
    });
}

#[test]
fn the_page_its_tables_and_the_call_tell_the_same_to_the_owner_alone() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await;
        shop.fetched(&order.tag, 1000).await;
        for role in ["counter", "bench"] {
            let browser = shop.sign_in(role).await;
            assert_eq!(browser.get("/work").await.status, 403);
            assert_eq!(browser.get("/work.csv?table=months").await.status, 403);
        }
        let owner = shop.sign_in("owner").await;
        let page = owner.get(&format!("/work?{SPAN}")).await;
        assert_eq!(page.status, 200);
        for words in [
            "Marta Ellingworth",
            "84.39",
            "Open seam",
            "from intake to pickup",
            "too few to say",
        ] {
            assert!(
                page.body.to_lowercase().contains(&words.to_lowercase()),
                "{words}: {}",
                page.body
            );
        }
        let csv = async |table: &str| owner.get(&format!("/work.csv?{SPAN}&table={table}")).await.body;
        assert!(csv("steps").await.contains("reglue_seam,60,70,1"));
        assert!(csv("days").await.contains("whole,0,1"));
        assert!(csv("months").await.contains("2026-02,EUR,94.39,10.00,84.39,0.00"));
        assert!(csv("causes").await.contains("seam_open_lower,"));
        assert!(csv("owing").await.contains(&order.tag));
        assert!(csv("minutes").await.contains("too_few") && csv("stages").await.contains("whole,"));
        assert!(csv("parts").await.starts_with("part,from,to"));
        let answer: Value = shop
            .program("owner")
            .await
            .get(&format!("/api/v1/reports/work?{SPAN}"))
            .await
            .json;
        assert_eq!(answer["owed"]["amount"], 8439);
        assert_eq!(answer["jobs"][0]["actual"]["middle"], 70.0);
        assert_eq!(answer["stages"][4]["orders"], 1);
        assert_eq!(answer["causes"][0]["minutes"], 70);
        assert_eq!(answer["months"][0]["charged"], 9439);
    });
}

#[test]
fn what_is_no_span_is_told_at_its_field() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        for query in ["from=soon", "from=2025-13&to=2026-01", "from=1900-01&to=2199-12"] {
            let page = owner.get(&format!("/work?{query}")).await;
            assert_eq!(page.status, 422, "{query}");
        }
        assert_eq!(owner.get("/work.csv?table=everything").await.status, 422);
        let program = shop.program("owner").await;
        for query in [
            "",
            "?from=2026-01",
            "?from=2026-02&to=2026-01",
            "?from=2026-01&to=2026-01&family=cello",
        ] {
            let answer = program.get(&format!("/api/v1/reports/work{query}")).await;
            assert_eq!(answer.status, 422, "{query}");
        }
    });
}
