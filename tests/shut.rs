//! Shut is what nobody asked to have open: no key that came with the house, no file of it, no name that the sender chose.

use purfle::form::Problems;
use purfle::staff::sign_in::{SHORTEST, check_password};

use crate::shop::{Shop, on_both};

/// Of a form as it is shown: what a browser would send back. Our pages write each sign in one way; the one that begins all
/// of them comes last.
fn sent(text: &str) -> String {
    [
        ("&#34;", "\""),
        ("&#39;", "'"),
        ("&#60;", "<"),
        ("&#62;", ">"),
        ("&#38;", "&"),
    ]
    .iter()
    .fold(text.to_owned(), |text, (written, sign)| {
        text.replace(written, sign)
    })
}

#[test]
fn a_form_that_is_kept_unchanged_changes_no_sign() {
    on_both(async |shop| {
        for name in [
            "Tom & \"Jerry\" <b>",
            "&amp; Sons",
            "O'Hara &#38; Co",
            "a  <!-- b -->",
        ] {
            let order = shop
                .order(|intake| {
                    intake.customer =
                        purfle::counter::intake::Which::New(purfle::counter::customer::NewCustomer {
                            name: name.into(),
                            ..Default::default()
                        });
                })
                .await;
            let path = format!("/customers/{}", order.customer);
            let counter = shop.sign_in("counter").await;
            for _ in 0..2 {
                let page = counter.get(&path).await;
                let typed =
                    ["name", "phone", "email", "version"].map(|field| (field, sent(page.field(field))));
                let mut fields: Vec<(&str, &str)> =
                    typed.iter().map(|(field, value)| (*field, &**value)).collect();
                fields.push(("kind", "person"));
                let kept = counter.post(&path, &fields).await;
                assert_eq!(kept.location(), path, "{}", kept.body);
            }
            let (kept,): (String,) = shop
                .app
                .db
                .read("select name from customer where id = $1")
                .bind(order.customer)
                .one()
                .await
                .expect("the name");
            assert_eq!(kept, name);
        }
    });
}

#[test]
fn a_password_is_judged_by_its_length_and_the_list_alone() {
    let amiss = |password: &str| {
        let mut problems = Problems::default();
        check_password(&mut problems, "password", password, SHORTEST);
        problems.at("password").to_owned()
    };
    for fine in [
        "aaaaabbbbbccccc dddd",
        "398271650482913",
        "🎻🎻🎻🎻🎻🎻🎻🎻🎻",
        "  blanks at both ends  ",
        "ALL IN CAPITALS",
        "ohne Umlaute geht es auch nicht: äöü",
    ] {
        assert_eq!(amiss(fine), "", "{fine}");
    }
    for common in ["password", "12345678", "password1", "QWERTYUIOP", "iloveyou"] {
        assert!(amiss(common).contains("Everybody guesses"), "{common}");
    }
    assert!(amiss("7 signs").contains("at least 8"));
}

/// The shop as it is before anybody set it up.
async fn emptied(shop: &Shop) {
    for sql in ["delete from session", "delete from staff", "delete from shop"] {
        shop.app.db.write(sql).execute().await.expect("written");
    }
}

#[test]
fn no_key_comes_with_the_house() {
    on_both(async |shop| {
        emptied(&shop).await;
        let door = shop.stranger();
        for (name, password) in [
            ("admin", "admin"),
            ("owner", "owner"),
            ("root", "root"),
            ("purfle", "purfle"),
            ("", ""),
        ] {
            let page = door
                .post("/sign-in", &[("name", name), ("password", password)])
                .await;
            assert_eq!(page.status.as_u16(), 422, "{name}");
            assert_eq!(page.header("set-cookie"), "", "{name}");
        }
        for code in ["", "admin", "set-up", "00000000"] {
            assert_eq!(
                door.get(&format!("/set-up/{code}")).await.status.as_u16(),
                404,
                "{code}"
            );
        }
    });
}

#[test]
fn no_file_of_the_house_is_handed_out() {
    on_both(async |shop| {
        let (door, owner) = (shop.stranger(), shop.sign_in("owner").await);
        for path in [
            "/.git/HEAD",
            "/.svn/entries",
            "/.env",
            "/purfle.db",
            "/demo-sign-in.txt",
            "/Cargo.toml",
            "/static/x/../../Cargo.toml",
            "/static/x/%2e%2e/%2e%2e/Cargo.toml",
            "/static/x/..%2f..%2fCargo.toml",
            "/debug",
            "/debug/pprof",
        ] {
            for browser in [&door, &owner] {
                assert_eq!(browser.get(path).await.status.as_u16(), 404, "{path}");
            }
        }
    });
}

#[test]
fn the_name_of_a_file_that_is_handed_over_is_ours() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        for path in [
            "/month.csv?table=cells",
            "/comebacks.csv?table=rows",
            "/work.csv?table=minutes",
            "/air.csv?table=days",
        ] {
            let usual = owner.get(path).await;
            assert_eq!(usual.status.as_u16(), 200, "{path}: {}", usual.body);
            let named = usual.header("content-disposition").to_owned();
            assert!(named.starts_with("attachment; filename="), "{path}: {named}");
            let join = if path.contains('?') { '&' } else { '?' };
            for asked in ["filename=evil.html", "name=evil.html", "file=%0d%0aX:%20y"] {
                let page = owner.get(&format!("{path}{join}{asked}")).await;
                let refused = page.status.is_client_error();
                assert!(
                    refused || page.header("content-disposition") == named,
                    "{path} {asked}"
                );
                assert!(!page.headers.contains_key("x"), "{path} {asked}");
            }
        }
    });
}
