//! How repairs of the leading causes held lately, on the month's page, is what the repairs themselves say.

use std::collections::{BTreeMap, BTreeSet};

use purfle::clock::Day;
use purfle::reports::lately::Lately;
use purfle::reports::recurrence::Names;
use purfle::reports::span::Span;

use crate::climate::invented;
use crate::demo::AS_OF;
use crate::shop::{Browser, on_both};

type Row = BTreeMap<String, String>;

async fn csv(owner: &Browser, address: &str) -> Vec<Row> {
    let page = owner.get(address).await;
    assert_eq!(page.status.as_u16(), 200, "{address}: {}", page.body);
    let mut reader = csv::Reader::from_reader(page.body.as_bytes());
    reader.deserialize().map(|row| row.expect("a row")).collect()
}

fn number(row: &Row, column: &str) -> i64 {
    row[column]
        .parse()
        .unwrap_or_else(|_| panic!("{column} of {row:?}"))
}

/// How long each repair of a cause was watched, and whether it came back, of those that went home between two days.
fn repairs<'a>(
    rows: &'a [Row],
    cause: &'a str,
    (from, to): (Day, Day),
) -> impl Iterator<Item = (i64, bool)> + 'a {
    let home = |row: &Row| Day::parse(&row["collected_on"]).expect("a day");
    rows.iter()
        .filter(move |row| row["cause"] == cause && (from..=to).contains(&home(row)))
        .map(|row| (number(row, "days_watched"), row["came_back"] == "yes"))
}

#[test]
fn the_curves_of_a_month_are_of_its_leading_causes_and_of_two_years() {
    on_both(async |shop| {
        invented(&shop, 900).await;
        let owner = shop.sign_in("owner").await;
        let month = AS_OF.month().plus(-1);
        let span = format!("from={}&to={}", month.plus(-11).iso(), month.iso());
        let lately = csv(&owner, &format!("/month.csv?table=lately&{span}")).await;
        let rows = csv(&owner, "/comebacks.csv?table=rows").await;
        let window = (month.last_day().plus(-729), month.last_day());
        let causes: BTreeSet<&str> = lately.iter().map(|row| row["key"].as_str()).collect();
        assert!((1..=3).contains(&causes.len()), "{causes:?}");
        for cause in &causes {
            let all: Vec<(i64, bool)> = repairs(&rows, cause, window).collect();
            let back: BTreeSet<i64> = all.iter().filter(|one| one.1).map(|one| one.0).collect();
            let told: Vec<&Row> = lately.iter().filter(|row| row["key"] == *cause).collect();
            assert_eq!(
                told.iter().map(|row| number(row, "day")).collect::<BTreeSet<_>>(),
                back,
                "{cause}"
            );
            for row in told {
                let day = number(row, "day");
                let (at_risk, came) = all.iter().fold((0, 0), |sum, one| {
                    (
                        sum.0 + i64::from(one.0 >= day),
                        sum.1 + i64::from(*one == (day, true)),
                    )
                });
                assert_eq!(
                    (number(row, "at_risk"), number(row, "came_back")),
                    (at_risk, came),
                    "{row:?}"
                );
            }
        }
        // They lead in the table of the causes, too.
        let leading = csv(&owner, &format!("/month.csv?table=causes&{span}")).await;
        let leading: Vec<&str> = leading.iter().take(3).map(|row| row["cause"].as_str()).collect();
        assert!(
            causes.iter().all(|cause| leading.contains(cause)),
            "{causes:?} {leading:?}"
        );
        let page = owner.get(&format!("/month?{span}")).await.body;
        let figure = page
            .split("id=\"lately\"")
            .nth(1)
            .and_then(|rest| rest.split("</figure>").next());
        let figure = figure.expect("the figure");
        assert!(
            figure.contains("class=\"curve\"") && figure.contains("still watched"),
            "{figure}"
        );
    });
}

#[test]
fn a_shop_without_repairs_of_its_leading_causes_has_no_such_curves() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        for query in ["", "?from=2026-02", "?from=2027-02"] {
            let page = owner.get(&format!("/month{query}")).await;
            assert_eq!(page.status.as_u16(), 200);
            assert!(!page.body.contains("id=\"lately\""), "{query}");
        }
        assert!(
            csv(&owner, "/month.csv?table=lately&from=2026-01")
                .await
                .is_empty()
        );
    });
}

#[test]
fn a_shop_that_repairs_very_many_is_told_by_some_of_its_days_and_says_which() {
    on_both(async |shop| {
        invented(&shop, 900).await;
        let db = &shop.app.db;
        let month = AS_OF.month().plus(-1);
        let (last, first) = (month.last_day(), month.last_day().plus(-729));
        let repairs: Vec<(String, Day)> = db
            .read("select cause, collected_on from repaired where collected_on between $1 and $2")
            .bind(first)
            .bind(last)
            .all()
            .await
            .expect("repairs");
        let causes = ["seam_open_lower", "seam_open_upper"];
        // A thousand a month are 24,000 in two years: every third day.
        for (a_month, every) in [(10, 1), (1000, 3)] {
            let read = Lately::read(db, Span::month(month), (&causes, a_month), AS_OF).await;
            let lately = read.expect("read").expect("some");
            assert_eq!(lately.every, every);
            assert_eq!(lately.of_what().contains("one day in 3"), every == 3);
            for named in lately.named(&Names::default()) {
                let due = repairs
                    .iter()
                    .filter(|one| one.0 == named.group.key && (one.1.0 - first.0) % every == 0);
                assert_eq!(named.group.repaired(), due.count() as u64, "{}", named.group.key);
            }
        }
    });
}
