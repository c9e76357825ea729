//! Papers: what stands on them, what must not, and that their codes read back.

use purfle::bench::finding;
use purfle::bench::step::{self, NewPart, NewStep};
use purfle::counter::instrument::NewInstrument;
use purfle::counter::intake::Which;
use purfle::counter::order::Order;
use purfle::counter::stage::Move;

use crate::pickup::{found, hour};
use crate::reference::code::{bars_read, scanned};
use crate::shop::{ADDRESS, Shop, on_both};

const SIZES: [&str; 3] = ["label", "label4x6", "a6"];

impl Shop {
    /// What is printed of an address: the sheet alone, as the counter gets it.
    async fn sheet(&self, path: &str) -> String {
        let page = self.sign_in("counter").await.get(path).await;
        assert_eq!(page.status.as_u16(), 200, "{path}: {}", page.body);
        let (_, sheet) = page.body.split_once("<article").expect("a sheet");
        let (sheet, _) = sheet.split_once("</article>").expect("its end");
        sheet.to_owned()
    }
}

/// The picture whose label begins so.
fn picture<'a>(sheet: &'a str, label: &str) -> &'a str {
    let at = sheet.find(&format!("aria-label=\"{label}")).expect("the picture");
    let start = sheet[..at].rfind("<svg").expect("its beginning");
    let end = at + sheet[at..].find("</svg>").expect("its end");
    &sheet[start..end]
}

async fn secret(shop: &Shop) -> Order {
    shop.order(|intake| {
        intake.declared_value = Some(1_234_500);
        intake.authorised_limit = Some(7_700);
        intake.condition = "Old crack by the bar".into();
        if let Which::New(customer) = &mut intake.customer {
            customer.email = "marta@example.org".into();
        }
    })
    .await
}

#[test]
fn the_tag_is_scanned_to_the_order_in_every_size() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        for size in SIZES {
            let sheet = shop
                .sheet(&format!("/orders/{}/tag?size={size}", order.tag))
                .await;
            assert_eq!(
                scanned(picture(&sheet, "QR code")).1,
                format!("{ADDRESS}/orders/{}", order.tag)
            );
            assert_eq!(bars_read(picture(&sheet, "Bar code")), order.tag);
            for words in [
                order.spoken().as_str(),
                "Violin 4/4 · Marta",
                "Jos. Hallbrink, 1921",
                "Case · Bow",
                "a fizz up high",
                "no day promised",
            ] {
                assert!(sheet.contains(words), "{size}: {words} in {sheet}");
            }
            assert!(!sheet.contains("Ellingworth"), "{size}");
        }
    });
}

#[test]
fn the_stub_says_nothing_that_a_stranger_may_not_read() {
    on_both(async |shop| {
        let order = secret(&shop).await;
        for size in SIZES {
            let sheet = shop
                .sheet(&format!("/orders/{}/stub?size={size}", order.tag))
                .await;
            for words in [
                "Linden Yard Violins",
                "2 Linden Yard, Overbrook",
                "01 555 0190",
                "Tue 10 Feb 2026",
                "violin 4/4",
                "Case · Bow",
                "Please bring this stub",
                order.spoken().as_str(),
            ] {
                assert!(sheet.contains(words), "{size}: {words} in {sheet}");
            }
            for secret in [
                "Marta",
                "Ellingworth",
                "0142",
                "marta@",
                "Hallbrink",
                "1921",
                "fizz",
                "B5",
                "12,345",
                "12345",
                "77.00",
                "crack",
            ] {
                assert!(!sheet.contains(secret), "{size}: {secret}");
            }
            assert_eq!(
                scanned(picture(&sheet, "QR code")).1,
                format!("{ADDRESS}/orders/{}", order.tag)
            );
        }
    });
}

#[test]
fn what_was_typed_is_printed_and_never_run() {
    on_both(async |shop| {
        let order = shop
            .order(|intake| {
                intake.complaint.words = "<script>alert(1)</script> \u{202e}".into();
                intake.items_left = vec!["<img src=x>".into()];
                if let Which::New(instrument) = &mut intake.instrument {
                    *instrument = NewInstrument {
                        family: "bow".into(),
                        maker: "\"><i>".into(),
                        ..NewInstrument::default()
                    };
                }
            })
            .await;
        for path in ["tag", "tag?size=a6", "stub", "summary", "summary?large=yes"] {
            let sheet = shop.sheet(&format!("/orders/{}/{path}", order.tag)).await;
            assert!(
                !sheet.contains("<script") && !sheet.contains("<img") && !sheet.contains("\"><i>"),
                "{path}"
            );
        }
    });
}

#[test]
fn a_paper_that_there_is_not_is_not_found() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        let counter = shop.sign_in("counter").await;
        for path in ["tag?size=a5", "stub?sheet=a3", "summary?sheet=x"] {
            let page = counter.get(&format!("/orders/{}/{path}", order.tag)).await;
            assert_eq!(page.status.as_u16(), 404, "{path}");
        }
        for path in ["tag", "stub", "summary", "papers"] {
            assert_eq!(
                counter
                    .get(&format!("/orders/99999/{path}"))
                    .await
                    .status
                    .as_u16(),
                404
            );
            assert_eq!(
                shop.stranger()
                    .get(&format!("/orders/{}/{path}", order.tag))
                    .await
                    .location(),
                "/sign-in"
            );
        }
        let papers = counter.get(&format!("/orders/{}/papers", order.tag)).await.body;
        assert!(papers.contains(&format!("/orders/{}/tag?size=label4x6", order.tag)));
        assert!(
            counter
                .get("/papers/ruler?sheet=letter")
                .await
                .body
                .contains("paper-ruler on-letter")
        );
    });
}

/// The sums of a summary: every row before the total, the total, what was paid, and what is open.
fn sums(sheet: &str) -> (Vec<i64>, i64, Vec<i64>, i64) {
    let rows: Vec<(&str, i64)> = sheet
        .split("<tr")
        .skip(1)
        .map(|row| {
            let amount = row
                .split("<td>")
                .nth(1)
                .and_then(|rest| rest.split('<').next())
                .expect("an amount");
            let digits: String = amount.chars().filter(char::is_ascii_digit).collect();
            let amount =
                digits.parse::<i64>().unwrap_or(0) * if amount.contains('\u{2212}') { -1 } else { 1 };
            (row, amount)
        })
        .collect();
    let total = rows
        .iter()
        .position(|row| row.0.contains("Together"))
        .expect("a total");
    let amounts = |rows: &[(&str, i64)]| rows.iter().map(|row| row.1).collect::<Vec<_>>();
    let last = rows.len() - 1;
    (
        amounts(&rows[..total]),
        rows[total].1,
        amounts(&rows[total + 1..last]),
        rows[last].1,
    )
}

#[test]
fn the_summary_tells_what_was_said_found_done_and_owed_and_its_money_adds_up() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await;
        let counter = shop.sign_in("counter").await;
        let pay = [("amount", "50"), ("method", "card")];
        assert_eq!(
            counter
                .post(&format!("/orders/{}/payments", order.tag), &pay)
                .await
                .status
                .as_u16(),
            303
        );
        for large in ["", "?large=yes"] {
            let sheet = shop.sheet(&format!("/orders/{}/summary{large}", order.tag)).await;
            for words in [
                "“Since I changed the E there is a fizz up high.”",
                "bass side",
                "Reglue an open seam",
                "2 × Cork",
                "VAT 20\u{a0}% on €\u{a0}78.66",
                "Paid Tue 10 Feb 2026, card",
                "Still to pay",
                "In the dry months",
                "For two days",
                "Mon 11 May 2026",
                "Work by bench.",
                "Played again by bench on Tue 10 Feb: quiet.",
                "class=\"pin\"",
            ] {
                assert!(sheet.contains(words), "{words} in {sheet}");
            }
            let (lines, total, paid, open) = sums(&sheet);
            assert_eq!(
                (lines, total, paid, open),
                (vec![7200, 666, 1573], 9439, vec![-5000], 4439)
            );
        }
    });
}

#[test]
fn what_was_suspected_or_not_done_is_told_with_the_reason() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        shop.at_bench(&order.tag, async |act| {
            finding::log(act, &found("bassbar_loose", "suspected"))
                .await
                .expect("found");
            finding::log(act, &found("seam_open_lower", "confirmed"))
                .await
                .expect("found");
            step::plan(act, &hour(None)).await.expect("planned");
            act.go(Move::Decline).expect("it may");
            act.order.returned_why = Some("declined".into());
        })
        .await;
        let sheet = shop.sheet(&format!("/orders/{}/summary", order.tag)).await;
        for words in [
            "What we found<",
            "as you wished",
            "Found, and not repaired.",
            "We suspect it",
            "Planned, and not done, as you wished.",
            "do not play it",
            "Nothing.",
            "If it speaks again",
        ] {
            assert!(sheet.contains(words), "{words} in {sheet}");
        }
        assert!(!sheet.contains("ours to put right"));
    });
}

#[test]
fn sixty_steps_are_set_small_and_still_add_up() {
    on_both(async |shop| {
        let order = shop
            .order(|intake| intake.authorised_limit = Some(9_000_000))
            .await;
        shop.at_bench(&order.tag, async |act| {
            let mut steps = Vec::new();
            for number in 1..=60 {
                let parts = vec![NewPart {
                    name: format!("Part {number}"),
                    quantity: 1,
                    unit_price: 101 * number,
                }];
                let new = NewStep {
                    title: Some(format!("Work number {number}")),
                    planned_minutes: Some(7),
                    parts,
                    free: number == 9,
                    ..NewStep::default()
                };
                steps.push(step::plan(act, &new).await.expect("planned").id);
            }
            for step in steps {
                step::done(act, step, 7).await.expect("done");
            }
        })
        .await;
        let page = shop.sign_in("counter").await;
        for large in ["", "?large=yes"] {
            let path = format!("/orders/{}/summary{large}", order.tag);
            assert!(page.get(&path).await.body.contains("tightest"));
            let sheet = shop.sheet(&path).await;
            let (lines, total, _, open) = sums(&sheet);
            assert_eq!((lines.iter().sum::<i64>(), total), (total, open));
            assert!(
                sheet.contains("more steps") && sheet.contains("no charge"),
                "{}",
                lines.len()
            );
        }
    });
}
