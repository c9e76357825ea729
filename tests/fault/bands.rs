//! Killed while the ages are counted anew by other bands: the next one to open goes on, and counts each order once.

use std::time::{Duration, Instant};

use purfle::reports::bands::Bands;
use purfle::reports::new_bands::Step;

use super::running::{Running, program};
use crate::demo::{filled, wish};
use crate::new_bands::{go_on, plain, rules, shown, want_by_hand};
use crate::shop::on_both;

#[test]
fn a_recount_that_was_killed_goes_on_when_the_shop_opens_again() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(300, 14)).await;
        let new = Bands::parse("15 45 110").unwrap();
        want_by_hand(&shop, &new).await;
        for _ in 0..3 {
            assert!(matches!(go_on(db).await, Step::Counted(_)));
        }
        let before = rules(db).await.progress().expect("it is under way");
        // Whatever it had done by then.
        for _ in 0..2 {
            Running::on(&shop.url).kill();
            let now = rules(db).await;
            assert!(now.next().is_none() || now.progress().expect("under way").done >= before.done);
            shop.is_well().await;
        }
        let mut server = Running::on(&shop.url);
        let begun = Instant::now();
        while rules(db).await.next().is_some() {
            assert!(
                begun.elapsed() < Duration::from_mins(1),
                "it does not go on: {}",
                server.said()
            );
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        assert!(server.stop().success());
        assert_eq!(rules(db).await.bands(), new);
        assert_eq!(shown(db).await, plain(db, &new).await);
        let check = program(&[], &["check", "--database", &shop.url])
            .output()
            .expect("a check");
        let said = String::from_utf8_lossy(&check.stdout).into_owned();
        assert!(
            check.status.success() && said.ends_with("All is well.\n"),
            "{said}"
        );
    });
}
