//! The shop's settings: set up once by whoever has the link, changed by the owner, never overwritten unseen.

use purfle::admin::set_up::Link;
use purfle::admin::shop::Shop as Settings;

use crate::shop::{Shop, on_both};

const LINK: &str = "/set-up/the-one-time-code";
const SET_UP: [(&str, &str); 15] = [
    ("name", "Third Bough Violins"),
    ("address", "9 Mill Row\r\nHarwick"),
    ("phone", "01 555 0144"),
    ("zone", "Pacific/Auckland"),
    ("hemisphere", "southern"),
    ("seasons", ""),
    ("currency", "NZD"),
    ("labour_rate", "95.50"),
    ("tax_name", "GST"),
    ("tax_labour", "15"),
    ("tax_parts", "15"),
    ("comeback_days", "120"),
    ("stub_terms", "Bring this stub."),
    ("owner", "Ines"),
    ("password", "a bough in the wind"),
];

/// The shop before it was set up, with a link that was printed.
async fn empty(shop: &Shop) {
    for sql in ["delete from session", "delete from staff", "delete from shop"] {
        shop.app.db.write(sql).execute().await.expect("written");
    }
    *shop.app.set_up_link.lock().expect("the link") = Some(Link::new("the-one-time-code", shop.clock.now()));
}

fn with<'a>(fields: &[(&'a str, &'a str)], change: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut all: Vec<_> = fields
        .iter()
        .filter(|field| !change.iter().any(|other| other.0 == field.0))
        .copied()
        .collect();
    all.extend(change);
    all
}

#[test]
fn the_link_makes_the_shop_and_its_first_owner_once() {
    on_both(async |shop| {
        empty(&shop).await;
        let door = shop.stranger();
        assert!(door.get("/sign-in").await.body.contains("not set up yet"));
        assert_eq!(door.get(LINK).await.field("comeback_days"), "90");
        let page = door.post(LINK, &SET_UP).await;
        assert_eq!(
            (page.status.as_u16(), page.location()),
            (303, "/"),
            "{}",
            page.body
        );
        let owner = shop.stranger().keeping(&page);
        assert_eq!(owner.get("/settings").await.status.as_u16(), 200);
        let made = Settings::get(&shop.app.db).await.expect("the shop");
        assert_eq!(
            (&*made.name, &*made.address),
            ("Third Bough Violins", "9 Mill Row\nHarwick")
        );
        assert_eq!(
            (made.labour_rate.0, made.tax_labour.0, made.comeback_days),
            (9550, 150_000, 120)
        );
        assert_eq!(
            made.seasons,
            purfle::reports::season::Seasons::southern().to_string()
        );
        let again = [door.get(LINK).await, door.post(LINK, &SET_UP).await];
        for page in again {
            assert!(
                page.status.as_u16() == 410 && page.body.contains("good for once"),
                "{}",
                page.body
            );
        }
        assert_eq!(shop.count("staff").await, 1);
    });
}

#[test]
fn a_link_is_over_after_a_day_and_says_what_to_do() {
    on_both(async |shop| {
        empty(&shop).await;
        let door = shop.stranger();
        let printed = shop.clock.now();
        shop.clock.set(printed.plus_ms(24 * 3_600_000));
        assert_eq!(door.get(LINK).await.status.as_u16(), 200);
        shop.clock.set(printed.plus_ms(24 * 3_600_000 + 1));
        for page in [door.get(LINK).await, door.post(LINK, &SET_UP).await] {
            assert_eq!(page.status.as_u16(), 410);
            assert!(page.body.contains("start it again"), "{}", page.body);
        }
        assert_eq!(door.get("/set-up/another").await.status.as_u16(), 404);
        assert_eq!(shop.count("staff").await, 0);
    });
}

#[test]
fn a_wrong_code_finds_nothing_nor_does_any_once_there_is_a_shop() {
    on_both(async |shop| {
        let door = shop.stranger();
        *shop.app.set_up_link.lock().expect("the link") =
            Some(Link::new("the-one-time-code", shop.clock.now()));
        assert_eq!(door.post(LINK, &SET_UP).await.status.as_u16(), 410);
        empty(&shop).await;
        for code in ["wrong", "the-one-time-cod", "%00", "the-one-time-code%20"] {
            assert_eq!(
                door.get(&format!("/set-up/{code}")).await.status.as_u16(),
                404,
                "{code}"
            );
            let page = door.post(&format!("/set-up/{code}"), &SET_UP).await;
            assert_eq!(page.status.as_u16(), 404, "{code}");
        }
        *shop.app.set_up_link.lock().expect("the link") = None;
        assert_eq!(door.get(LINK).await.status.as_u16(), 404);
        assert_eq!(shop.count("staff").await, 0);
    });
}

#[test]
fn twenty_at_once_make_one_shop_and_one_owner() {
    on_both(async |shop| {
        empty(&shop).await;
        let mut running = tokio::task::JoinSet::new();
        for n in 0..20 {
            let door = shop.stranger();
            running.spawn(async move {
                let owner = format!("Ines {n}");
                door.post(LINK, &with(&SET_UP, &[("owner", &owner)]))
                    .await
                    .status
                    .as_u16()
            });
        }
        let answers = running.join_all().await;
        assert_eq!(
            answers.iter().filter(|status| **status == 303).count(),
            1,
            "{answers:?}"
        );
        assert!(
            answers.iter().all(|status| [303, 409, 410].contains(status)),
            "{answers:?}"
        );
        assert_eq!((shop.count("staff").await, shop.count("session").await), (1, 1));
        Settings::get(&shop.app.db).await.expect("the shop");
    });
}

#[test]
fn a_set_up_that_wants_mending_makes_nothing_and_keeps_what_was_typed() {
    on_both(async |shop| {
        empty(&shop).await;
        let bad = with(
            &SET_UP,
            &[
                ("zone", "Auckland"),
                ("labour_rate", "seventy"),
                ("currency", "ZZZ"),
                ("hemisphere", "east"),
                ("tax_parts", "-3"),
                ("password", "too short"),
                ("owner", " "),
            ],
        );
        let page = shop.stranger().post(LINK, &bad).await;
        assert_eq!(page.status.as_u16(), 422);
        for field in [
            "zone",
            "labour_rate",
            "currency",
            "hemisphere",
            "tax_parts",
            "password",
            "owner",
        ] {
            assert!(page.body.contains(&format!("href=\"#{field}\"")), "{field}");
            assert!(page.body.contains(&format!("id=\"{field}\"")), "{field}");
        }
        assert!(page.body.contains("“ZZZ” is no money in use"));
        assert_eq!(
            (page.field("name"), page.field("zone")),
            ("Third Bough Violins", "Auckland")
        );
        assert_eq!(
            (page.field("labour_rate"), page.field("password")),
            ("seventy", "")
        );
        assert_eq!(shop.count("staff").await, 0);
        assert!(Settings::find(&shop.app.db).await.expect("read").is_none());
    });
}

/// The settings as the page shows them, but for one field.
const SETTINGS: [(&str, &str); 12] = [
    ("name", "Linden Yard Violins"),
    ("address", "2 Linden Yard"),
    ("phone", "01 555 0190"),
    ("zone", "Europe/Vienna"),
    ("hemisphere", "northern"),
    ("labour_rate", "80.00"),
    ("tax_name", "VAT"),
    ("tax_labour", "20"),
    ("tax_parts", "20"),
    ("comeback_days", "90"),
    ("stub_terms", "Bring this stub."),
    ("version", "1"),
];

#[test]
fn the_owner_changes_the_settings_but_not_the_currency() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let page = owner.get("/settings").await;
        assert_eq!(
            (page.field("labour_rate"), page.field("tax_labour")),
            ("72.00", "20")
        );
        assert_eq!(page.field("version"), "1");
        let page = owner
            .post("/settings", &with(&SETTINGS, &[("currency", "USD")]))
            .await;
        assert_eq!(page.location(), "/settings?kept=yes", "{}", page.body);
        assert!(owner.get(page.location()).await.body.contains("Kept."));
        let now = Settings::get(&shop.app.db).await.expect("the shop");
        assert_eq!((&*now.currency, now.labour_rate.0, now.version), ("EUR", 8000, 2));
        let page = owner
            .post(
                "/settings",
                &with(&SETTINGS, &[("version", "2"), ("labour_rate", "a lot")]),
            )
            .await;
        assert_eq!((page.status.as_u16(), page.field("labour_rate")), (422, "a lot"));
        assert_eq!(page.field("version"), "2");
    });
}

#[test]
fn another_hemisphere_brings_its_months_unless_the_shop_has_its_own() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let seasons = async || Settings::get(&shop.app.db).await.expect("the shop").seasons;
        owner
            .post("/settings", &with(&SETTINGS, &[("hemisphere", "southern")]))
            .await;
        assert_eq!(
            seasons().await,
            purfle::reports::season::Seasons::southern().to_string()
        );
        assert_eq!(owner.get("/settings").await.field("seasons"), "");
        let own = with(&SETTINGS, &[("seasons", "ddddccchhccd"), ("version", "2")]);
        owner.post("/settings", &own).await;
        assert_eq!(seasons().await, "ddddccchhccd");
        assert_eq!(owner.get("/settings").await.field("seasons"), "ddddccchhccd");
        let page = owner
            .post(
                "/settings",
                &with(&SETTINGS, &[("seasons", "dry"), ("version", "3")]),
            )
            .await;
        assert!(page.status.as_u16() == 422 && page.body.contains("twelve letters"));
    });
}

#[test]
fn settings_that_were_changed_meanwhile_are_shown_beside_what_was_typed() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        assert_eq!(owner.post("/settings", &SETTINGS).await.status.as_u16(), 303);
        let page = owner
            .post("/settings", &with(&SETTINGS, &[("labour_rate", "85.00")]))
            .await;
        assert_eq!(page.status.as_u16(), 412);
        assert!(page.body.contains("<td>80.00</td><td><mark>85.00</mark>"));
        assert!(!page.body.contains("<th scope=\"row\">Phone</th>"));
        assert_eq!((page.field("labour_rate"), page.field("version")), ("85.00", "2"));
        assert_eq!(
            Settings::get(&shop.app.db).await.expect("the shop").labour_rate.0,
            8000
        );
    });
}
