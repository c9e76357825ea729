//! The recount: what the acts and the invented shop keep is what the history says, and what is not is told.

use std::process::Command;

use purfle::admin::check::{Checked, check};
use purfle::admin::shop::Shop as Settings;
use purfle::demo::{self, Wish};
use purfle::reports::recount::Recount;

use crate::demo::{AS_OF, empty, filled, hashes};
use crate::new_bands::to_the_end;
use crate::shop::{Shop, on_both, on_sqlite};

async fn checked(shop: &Shop) -> Checked {
    check(&shop.app.db).await.expect("a check")
}

fn amiss(checked: &Checked) -> Vec<String> {
    let of = |recount: &Recount| {
        let words = recount.words;
        let said = |amiss: &purfle::reports::recount::Amiss| format!("{words}: {}", amiss.said());
        recount.amiss.iter().map(said).collect::<Vec<_>>()
    };
    checked.recounts.iter().flat_map(of).collect()
}

async fn write(shop: &Shop, sql: &'static str) {
    let rows = shop.app.db.write(sql).execute().await.expect("written");
    assert_eq!(rows, 1, "{sql}");
}

fn wish() -> Wish {
    Wish {
        seed: 11,
        orders: 300,
        as_of: AS_OF,
    }
}

#[test]
fn every_figure_of_an_invented_shop_is_what_a_recount_finds() {
    on_both(async |shop| {
        filled(&shop.app.db, wish()).await;
        let checked = checked(&shop).await;
        assert!(checked.is_well(), "{:?}", amiss(&checked));
        let figures = checked
            .recounts
            .iter()
            .map(|recount| (recount.words, recount.figures));
        for (words, figures) in figures {
            assert!(figures > 0, "nothing was compared: {words}");
        }
    });
}

#[test]
fn one_figure_that_is_off_is_found_wherever_it_stands() {
    on_both(async |shop| {
        filled(&shop.app.db, wish()).await;
        for (one, back) in [
            (
                "update tally_block set jan = jan + 1 where (what, family, months, month, age_band, code) = (select what, family, months, month, age_band, code from tally_block where what = 'orders' order by 1, 2, 3, 4, 5, 6 limit 1)",
                "update tally_block set jan = jan - 1 where (what, family, months, month, age_band, code) = (select what, family, months, month, age_band, code from tally_block where what = 'orders' order by 1, 2, 3, 4, 5, 6 limit 1)",
            ),
            (
                "update tally_block set feb = feb + 1 where (what, family, months, month, age_band, code) = (select what, family, months, month, age_band, code from tally_block where what = 'comebacks' order by 1, 2, 3, 4, 5, 6 limit 1)",
                "update tally_block set feb = feb - 1 where (what, family, months, month, age_band, code) = (select what, family, months, month, age_band, code from tally_block where what = 'comebacks' order by 1, 2, 3, 4, 5, 6 limit 1)",
            ),
            (
                "update tally_block set mar = mar + 1 where (what, family, months, month, age_band, code) = (select what, family, months, month, age_band, code from tally_block where what = 'steps' order by 1, 2, 3, 4, 5, 6 limit 1)",
                "update tally_block set mar = mar - 1 where (what, family, months, month, age_band, code) = (select what, family, months, month, age_band, code from tally_block where what = 'steps' order by 1, 2, 3, 4, 5, 6 limit 1)",
            ),
            (
                "update tally_block set apr = apr + 1 where (what, family, months, month, age_band, code) = (select what, family, months, month, age_band, code from tally_block where what = 'actual' order by 1, 2, 3, 4, 5, 6 limit 1)",
                "update tally_block set apr = apr - 1 where (what, family, months, month, age_band, code) = (select what, family, months, month, age_band, code from tally_block where what = 'actual' order by 1, 2, 3, 4, 5, 6 limit 1)",
            ),
            (
                "update tally_block set may = may + 1 where (what, family, months, month, age_band, code) = (select what, family, months, month, age_band, code from tally_block where what = 'amount' order by 1, 2, 3, 4, 5, 6 limit 1)",
                "update tally_block set may = may - 1 where (what, family, months, month, age_band, code) = (select what, family, months, month, age_band, code from tally_block where what = 'amount' order by 1, 2, 3, 4, 5, 6 limit 1)",
            ),
            (
                "update tally_block set jun = jun + 1 where (what, family, months, month, age_band, code) = (select what, family, months, month, age_band, code from tally_block where family = 'school' order by 1, 2, 3, 4, 5, 6 limit 1)",
                "update tally_block set jun = jun - 1 where (what, family, months, month, age_band, code) = (select what, family, months, month, age_band, code from tally_block where family = 'school' order by 1, 2, 3, 4, 5, 6 limit 1)",
            ),
            (
                "update tally_block set jul = jul + 1 where (what, family, months, month, age_band, code) = (select what, family, months, month, age_band, code from tally_block where family = 'fractional' order by 1, 2, 3, 4, 5, 6 limit 1)",
                "update tally_block set jul = jul - 1 where (what, family, months, month, age_band, code) = (select what, family, months, month, age_band, code from tally_block where family = 'fractional' order by 1, 2, 3, 4, 5, 6 limit 1)",
            ),
            (
                "insert into taught_share (family, cause, age_band, month, orders, lesson) values ('viola', 'nut_loose', 'none', 3, 1, 1)",
                "delete from taught_share where age_band = 'none'",
            ),
            (
                "insert into taught_answer (cause, descriptor, answer, orders, lesson) values ('nut_loose', 'none', 'yes', 1, 1)",
                "delete from taught_answer where descriptor = 'none'",
            ),
            (
                "insert into score_tally (month, ranking, what, at, orders, hits, amount) values (1, 'shop', 'place', 1, 0, 1, 0)",
                "delete from score_tally where month = 1",
            ),
            (
                "update diagnosis set tempered = tempered + 1",
                "update diagnosis set tempered = tempered - 1",
            ),
            (
                "update air_day set temperature = temperature + 1 where day = (select min(day) from air_day)",
                "update air_day set temperature = temperature - 1 where day = (select min(day) from air_day)",
            ),
            (
                "update air_day set moisture_most = moisture_most + 1 where day = (select min(day) from air_day)",
                "update air_day set moisture_most = moisture_most - 1 where day = (select min(day) from air_day)",
            ),
        ] {
            write(&shop, one).await;
            let off = checked(&shop).await;
            assert_eq!(amiss(&off).len(), 1, "{one}: {:?}", amiss(&off));
            write(&shop, back).await;
            assert!(checked(&shop).await.is_well(), "{back}");
        }
        write(&shop, "update lesson set causes = 'gremlins' where work_order = (select work_order from lesson order by 1 limit 1)").await;
        assert!(
            !checked(&shop).await.is_well(),
            "a lesson that nothing was found for"
        );
    });
}

#[test]
fn another_comeback_window_counts_all_comebacks_by_it() {
    on_both(async |shop| {
        filled(&shop.app.db, wish()).await;
        let backs = async || {
            let (sum,): (i64,) = shop
                .app
                .db
                .read("select cast(coalesce(sum(jan + feb + mar + apr + may + jun + jul + aug + sep + oct + nov + dec), 0) as bigint) from tally_block where what = 'comebacks' and months = 12")
                .one()
                .await
                .expect("a sum");
            sum
        };
        let before = backs().await;
        for days in [500, 20, 90] {
            let mut tx = shop.app.db.begin().await.expect("begun");
            let mut settings = Settings::get(&mut tx).await.expect("the shop");
            settings.comeback_days = days;
            assert!(settings.update(&mut tx).await.expect("kept"));
            tx.commit().await.expect("kept");
            assert!(checked(&shop).await.is_well(), "until {days} days are in force");
            to_the_end(&shop.app.db).await;
            assert!(checked(&shop).await.is_well(), "{days}");
            assert!(days != 500 || backs().await > before);
        }
        assert_eq!(backs().await, before);
    });
}

#[test]
fn the_program_says_all_is_well_or_what_is_amiss_and_fails() {
    on_sqlite(async |shop| {
        empty(&shop.app.db).await;
        demo::fill(&shop.app.db, wish(), &hashes(), |_| {})
            .await
            .expect("a demo");
        let url = format!("sqlite:{}", shop.folder().join("shop.db").display());
        let run = |url: &str| {
            let mut program = Command::new(env!("CARGO_BIN_EXE_purfle"));
            let done = program
                .args(["check", "--database", url])
                .output()
                .expect("the program");
            (
                done.status.code(),
                String::from_utf8_lossy(&done.stdout).into_owned(),
            )
        };
        let (code, said) = run(&url);
        assert_eq!(code, Some(0), "{said}");
        assert!(
            said.contains("The database file is sound.") && said.contains("All is well."),
            "{said}"
        );
        assert!(said.contains("Recounted: money charged and taken"), "{said}");
        write(&shop, "update diagnosis set tempered = tempered + 1").await;
        let (code, said) = run(&url);
        assert_eq!(code, Some(1), "{said}");
        assert!(
            said.contains("1 is amiss:") && !said.contains("All is well"),
            "{said}"
        );
        let elsewhere = shop.folder().join("elsewhere.db");
        let (code, _) = run(&format!("sqlite:{}", elsewhere.display()));
        assert!(
            code == Some(1) && !elsewhere.exists(),
            "what is not there is not made"
        );
        let checked = checked(&shop).await;
        assert_eq!(checked.file.as_deref(), Some(&[][..]));
        assert!(checked.astray.is_empty());
    });
}
