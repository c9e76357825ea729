//! A customer and an instrument: found again, corrected, and the counts that follow a corrected year.

use purfle::bench::finding;
use purfle::counter::customer::Customer;
use purfle::counter::instrument::Instrument;

use crate::pickup::found;
use crate::shop::{NOW, Shop, on_both};

#[test]
fn a_customer_is_shown_with_what_they_brought_and_what_was_found() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await;
        let page = shop
            .sign_in("counter")
            .await
            .get(&format!("/customers/{}", order.customer))
            .await;
        for words in [
            "Marta Ellingworth",
            "01 555 0142",
            "Violin 4/4, Jos. Hallbrink, 1921",
            &order.spoken(),
            "open seam",
            &format!("/intake?customer={}", order.customer),
        ] {
            assert!(page.body.contains(words), "{words} in {}", page.body);
        }
    });
}

#[test]
fn a_phone_is_changed_and_found_again() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        let (counter, path) = (
            shop.sign_in("counter").await,
            format!("/customers/{}", order.customer),
        );
        let form = [
            ("kind", "person"),
            ("name", "Marta Ellingworth"),
            ("phone", "0170 777 12"),
            ("note", "a\n<b>"),
            ("version", "1"),
        ];
        assert_eq!(counter.post(&path, &form).await.location(), path);
        // A double tap has nothing left to change.
        assert_eq!(counter.post(&path, &form).await.location(), path);
        assert!(counter.get(&path).await.body.contains("a<br>&#60;b&#62;"));
        let found = Customer::search(&shop.app.db, "777 12", 5)
            .await
            .expect("a search");
        assert_eq!(found.first().map(|customer| customer.id), Some(order.customer));
        assert!(
            Customer::search(&shop.app.db, "555 0142", 5)
                .await
                .expect("a search")
                .is_empty()
        );
    });
}

#[test]
fn what_is_amiss_comes_back_and_a_change_of_two_is_told_with_both() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        let (counter, path) = (
            shop.sign_in("counter").await,
            format!("/customers/{}", order.customer),
        );
        let amiss = counter
            .post(&path, &[("name", " "), ("email", "marta"), ("version", "1")])
            .await;
        assert_eq!((amiss.status.as_u16(), amiss.field("email")), (422, "marta"));
        assert!(
            amiss.body.contains("Write the customer's name")
                || amiss.body.contains("Write the customer&#39;s name")
        );
        let theirs = [("name", "Marta Ellingworth"), ("phone", "1111"), ("version", "1")];
        assert_eq!(counter.post(&path, &theirs).await.status.as_u16(), 303);
        let yours = counter
            .post(
                &path,
                &[("name", "Marta Ellingworth"), ("phone", "2222"), ("version", "1")],
            )
            .await;
        assert_eq!(
            (
                yours.status.as_u16(),
                yours.field("phone"),
                yours.field("version")
            ),
            (412, "2222", "2")
        );
        assert!(yours.body.contains("Now kept: 1111."), "{}", yours.body);
        let again = [
            ("name", "Marta Ellingworth"),
            ("phone", "2222"),
            ("version", yours.field("version")),
        ];
        assert_eq!(counter.post(&path, &again).await.status.as_u16(), 303);
    });
}

#[test]
fn nobody_else_sees_a_customer() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        let path = format!("/customers/{}", order.customer);
        assert_eq!(shop.sign_in("bench").await.get(&path).await.status.as_u16(), 403);
        assert_eq!(shop.stranger().get(&path).await.location(), "/sign-in");
        let counter = shop.sign_in("counter").await;
        for unknown in [
            "/customers/1",
            "/customers/00000000-0000-0000-0000-000000000000",
            "/instruments/x",
        ] {
            assert_eq!(counter.get(unknown).await.status.as_u16(), 404, "{unknown}");
        }
    });
}

impl Shop {
    /// The tally of a cause by age band, without the bands that came back to nothing.
    async fn bands(&self, cause: &str) -> Vec<(String, i64)> {
        let rows: Vec<(String, i64)> = self
            .app
            .db
            .read("select age_band, orders from tally where cause = $1 and orders <> 0 order by age_band")
            .bind(cause.to_owned())
            .all()
            .await
            .expect("the tally");
        rows
    }
}

#[test]
fn a_corrected_year_moves_every_count_of_the_instrument() {
    on_both(async |shop| {
        let order = shop.ready(|_| {}).await;
        let (counter, path) = (
            shop.sign_in("counter").await,
            format!("/instruments/{}", order.instrument),
        );
        assert_eq!(shop.bands("seam_open_lower").await, [("100_plus".to_owned(), 1)]);
        // Twice the same cause is one order, and a suspicion is none.
        let other = shop.order(|_| {}).await;
        shop.at_bench(&other.tag, async |act| {
            for (cause, certainty) in [
                ("seam_open_lower", "confirmed"),
                ("seam_open_lower", "confirmed"),
                ("wolf_note", "suspected"),
            ] {
                finding::log(act, &found(cause, certainty)).await.expect("found");
            }
        })
        .await;
        let before = shop.order_now(&order.tag).await.version;
        let form = [
            ("size", "4/4"),
            ("maker", "Jos. Hallbrink"),
            ("year_made", "1951"),
            ("year_certainty", "circa"),
            ("version", "1"),
        ];
        let answer = counter.post(&path, &form).await;
        assert_eq!(answer.location(), path, "{}", answer.body);
        let both = [("100_plus".to_owned(), 1), ("20_to_79".to_owned(), 1)];
        assert_eq!(
            (shop.bands("").await, shop.bands("seam_open_lower").await),
            (both.to_vec(), both.to_vec())
        );
        assert!(
            shop.order_now(&order.tag).await.version > before,
            "whoever has it open looks again"
        );
        let form = [
            ("size", "4/4"),
            ("maker", "Jos. Hallbrink"),
            ("year_certainty", "unknown"),
            ("version", "2"),
        ];
        assert_eq!(counter.post(&path, &form).await.status.as_u16(), 303);
        let both = [("100_plus".to_owned(), 1), ("unknown".to_owned(), 1)];
        assert_eq!(shop.bands("").await, both);
        let kept = Instrument::get(&shop.app.db, order.instrument).await.expect("it");
        assert_eq!((kept.year_made, kept.version), (None, 3));
    });
}

#[test]
fn an_instrument_is_not_younger_than_its_first_visit() {
    on_both(async |shop| {
        let order = shop.order(|_| {}).await;
        shop.clock.set(NOW.plus_ms(3 * 366 * 86_400_000));
        let (bench, path) = (
            shop.sign_in("bench").await,
            format!("/instruments/{}", order.instrument),
        );
        let form = [
            ("maker", "Jos. Hallbrink"),
            ("year_made", "2027"),
            ("year_certainty", "exact"),
            ("version", "1"),
        ];
        let answer = bench.post(&path, &form).await;
        assert_eq!((answer.status.as_u16(), answer.field("year_made")), (422, "2027"));
        assert!(
            answer.body.contains("The year made cannot be after 2026"),
            "{}",
            answer.body
        );
        let answer = bench
            .post(
                &path,
                &[
                    ("year_made", "about"),
                    ("year_certainty", "circa"),
                    ("version", "1"),
                ],
            )
            .await;
        assert_eq!(
            (answer.status.as_u16(), answer.field("year_made")),
            (422, "about")
        );
        let theirs = [
            ("maker", "Hallbrink"),
            ("year_made", "1921"),
            ("year_certainty", "exact"),
            ("version", "1"),
        ];
        assert_eq!(bench.post(&path, &theirs).await.status.as_u16(), 303);
        let yours = bench
            .post(
                &path,
                &[
                    ("maker", "J. Hallbrink"),
                    ("year_made", "1921"),
                    ("year_certainty", "exact"),
                    ("version", "1"),
                ],
            )
            .await;
        assert_eq!(
            (yours.status.as_u16(), yours.field("maker")),
            (412, "J. Hallbrink")
        );
        assert!(yours.body.contains("Now kept: Hallbrink."));
    });
}
