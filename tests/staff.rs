//! Staff: who gets in, and who does not.

use crate::shop::{PASSWORD, on_both};

#[test]
fn a_name_and_its_password_open_the_door() {
    on_both(async |shop| {
        let door = shop.stranger();
        let page = door
            .post("/sign-in", &[("name", " Counter "), ("password", PASSWORD)])
            .await;
        assert_eq!((page.status.as_u16(), page.location()), (303, "/"));
        let inside = door.keeping(&page);
        assert_eq!(inside.get("/sign-in").await.location(), "/");
    });
}

#[test]
fn a_wrong_password_keeps_the_name_and_says_what_to_do() {
    on_both(async |shop| {
        let page = shop
            .stranger()
            .post("/sign-in", &[("name", "counter"), ("password", "loud strings")])
            .await;
        assert_eq!(page.status.as_u16(), 422);
        assert!(page.body.contains("do not fit together"));
        assert_eq!(page.field("name"), "counter");
    });
}

#[test]
fn guessing_is_slowed_and_a_colleague_is_not_locked_out() {
    on_both(async |shop| {
        let door = shop.stranger();
        for _ in 0..10 {
            door.post("/sign-in", &[("name", "owner"), ("password", "guess")])
                .await;
        }
        let page = door
            .post("/sign-in", &[("name", "OWNER"), ("password", "guess")])
            .await;
        assert_eq!(page.status.as_u16(), 429);
        assert!(page.header("retry-after").parse::<u64>().expect("seconds") <= 10);
        let page = door
            .post("/sign-in", &[("name", "bench"), ("password", PASSWORD)])
            .await;
        assert_eq!(page.status.as_u16(), 303);
    });
}

#[test]
fn whoever_is_put_out_is_out_at_once() {
    on_both(async |shop| {
        let (owner, bench) = (shop.sign_in("owner").await, shop.sign_in("bench").await);
        assert_eq!(bench.get("/sign-in").await.location(), "/");
        let person = purfle::staff::Staff::named(&shop.app.db, "bench")
            .await
            .expect("read")
            .expect("bench");
        let fields = [
            ("name", "bench"),
            ("bench", "yes"),
            ("active", "no"),
            ("version", "1"),
        ];
        let page = owner.post(&format!("/staff/{}", person.id), &fields).await;
        assert_eq!(page.status.as_u16(), 303, "{}", page.body);
        assert_eq!(bench.get("/sign-in").await.status.as_u16(), 200);
    });
}
