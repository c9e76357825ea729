//! Groups: sizes and accounts are counted beside the families, moved by corrections, and asked for one at a time.

use std::collections::BTreeMap;

use purfle::admin::check::check as recount;
use purfle::bench::finding;
use purfle::clock::{Day, YearMonth};
use purfle::counter::intake::Which;
use purfle::counter::order::Order;
use purfle::db::Db;
use purfle::demo::chance::Chance;
use purfle::diagnosis::age::AgeBand;
use purfle::reports::group;
use purfle::reports::recurrence::{Recurrence, Totals, Years, by_month, earlier};
use purfle::reports::season::Seasons;
use purfle::reports::span::Span;
use purfle::reports::tally::{Cell, Counts};
use serde_json::{Value, json};

use crate::demo::{filled, wish};
use crate::month::read;
use crate::recurrence::{act, check, find};
use crate::shop::{Shop, on_both};

const SEAM: &str = "seam_open_lower";

impl Shop {
    /// Taken in of a customer of this kind, a violin of this size, on which an open seam was found.
    async fn seam(&self, kind: &str, size: &str) -> Order {
        let order = self
            .order(|new| {
                if let Which::New(customer) = &mut new.customer {
                    customer.kind = kind.into();
                }
                if let Which::New(instrument) = &mut new.instrument {
                    instrument.size = size.into();
                }
            })
            .await;
        check(self, &order, SEAM).await;
        find(self, &order, SEAM, "confirmed").await;
        order
    }

    /// Inspected, and confirmed with an open seam, as a program is told.
    async fn told(&self, asked: &str) -> (i64, i64) {
        let path = format!("/api/v1/reports/recurrence?from=2026-02&to=2026-02{asked}");
        let answer = self.program("owner").await.get(&path).await;
        assert_eq!(answer.status.as_u16(), 200, "{}", answer.json);
        let told = |value: &Value| value.as_i64().unwrap_or(0);
        (
            told(&answer.json["inspected"]),
            told(&answer.json["causes"][0]["confirmed"]),
        )
    }
}

#[test]
fn an_order_is_counted_under_its_size_and_its_account() {
    on_both(async |shop| {
        shop.seam("school", "1/2").await;
        shop.seam("school", "4/4").await;
        shop.seam("fleet", "").await;
        for (asked, orders) in [
            ("", 3),
            ("&size=full", 1),
            ("&size=fractional", 1),
            ("&size=unknown", 1),
            ("&account=person", 0),
            ("&account=school", 2),
            ("&account=fleet", 1),
            ("&family=violin", 3),
        ] {
            assert_eq!(shop.told(asked).await, (orders, orders), "{asked}");
        }
        shop.is_well().await;
    });
}

#[test]
fn a_finding_taken_back_is_counted_out_of_its_groups() {
    on_both(async |shop| {
        let order = shop.seam("school", "1/2").await;
        let found = find(&shop, &order, "wolf_note", "confirmed").await;
        let mut act = act(&shop, &order).await;
        finding::withdraw(&mut act, found.id).await.expect("taken back");
        act.then("/").await.expect("kept");
        assert_eq!(shop.told("&account=school").await, (1, 1));
        shop.is_well().await;
    });
}

#[test]
fn a_size_put_right_moves_the_orders_of_the_instrument() {
    on_both(async |shop| {
        let order = shop.seam("person", "1/2").await;
        let (page, call) = (
            format!("/instruments/{}", order.instrument),
            format!("/api/v1/instruments/{}", order.instrument),
        );
        let browser = shop.sign_in("counter").await;
        let mut form = vec![("size", "4/4"), ("maker", "Jos. Hallbrink"), ("version", "1")];
        form.extend([("year_made", "1951"), ("year_certainty", "circa")]);
        assert_eq!(browser.post(&page, &form).await.location(), page);
        assert_eq!(
            (shop.told("&size=full").await, shop.told("&size=fractional").await),
            ((1, 1), (0, 0))
        );
        let counter = shop.program("counter").await;
        for (size, asked) in [("3/4", "&size=fractional"), ("large", "&size=unknown")] {
            let etag = counter.get(&call).await.etag();
            let changed = counter.patch(&call, &etag, &json!({"size": size})).await;
            assert_eq!(changed.status.as_u16(), 200, "{}", changed.json);
            assert_eq!(shop.told(asked).await, (1, 1), "{size}");
            shop.is_well().await;
        }
    });
}

#[test]
fn a_kind_put_right_moves_all_orders_of_the_customer() {
    on_both(async |shop| {
        let order = shop.seam("person", "4/4").await;
        let page = format!("/customers/{}", order.customer);
        let version = shop.order_now(&order.tag).await.version;
        let form = [("kind", "school"), ("name", "Millrace School"), ("version", "1")];
        let browser = shop.sign_in("counter").await;
        assert_eq!(browser.post(&page, &form).await.location(), page);
        assert_eq!(
            (
                shop.told("&account=school").await,
                shop.told("&account=person").await
            ),
            ((1, 1), (0, 0))
        );
        let now = shop.order_now(&order.tag).await.version;
        assert!(now > version, "whoever has it open looks again");
        let (counter, call) = (shop.program("counter").await, format!("/api/v1{page}"));
        let etag = counter.get(&call).await.etag();
        let changed = counter.patch(&call, &etag, &json!({"kind": "fleet"})).await;
        assert_eq!(changed.status.as_u16(), 200, "{}", changed.json);
        assert_eq!(shop.told("&account=fleet").await, (1, 1));
        let renamed = json!({"name": "Millrace Rental"});
        let again = counter.patch(&call, &changed.etag(), &renamed).await;
        assert_eq!(again.status.as_u16(), 200, "{}", again.json);
        let after = shop.order_now(&order.tag).await.version;
        assert_eq!(after, now + 1, "a name moves nothing");
        shop.is_well().await;
    });
}

/// What the program before this one left: no groups.
async fn as_before(db: &Db) {
    for sql in [
        "delete from tally_block where family in ('full', 'fractional', 'no_size', 'person', 'school', 'fleet')",
        "update counted set groups_as = 0",
    ] {
        assert!(db.write(sql).execute().await.expect("written") > 0);
    }
}

#[test]
fn a_shop_that_was_there_before_counts_its_groups_when_it_is_opened() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(300, 7)).await;
        group::count_anew(db).await.expect("counted");
        shop.is_well().await;
        as_before(db).await;
        assert!(!recount(db).await.expect("a check").is_well());
        for _ in 0..2 {
            group::count_anew(db).await.expect("counted");
            shop.is_well().await;
        }
    });
}

/// Orders of a group by month, age band and cause.
type Cells = BTreeMap<(i64, AgeBand, String), i64>;

/// Straight from the rows; the invented shop has the sizes of the list alone.
async fn cells(db: &Db, group: &str) -> Cells {
    type Row = (Day, Option<i64>, String, String, String, String);
    let inspected = "select o.received_on, i.year_made, i.family, i.size, c.kind, '' from work_order o
        join instrument i on i.id = o.instrument join customer c on c.id = o.customer
        where o.inspected_on is not null";
    let confirmed =
        "select distinct o.received_on, i.year_made, i.family, i.size, c.kind, o.tag || ' ' || f.cause
        from work_order o join instrument i on i.id = o.instrument join customer c on c.id = o.customer
        join finding f on f.work_order = o.id where f.certainty = 'confirmed' and not f.withdrawn";
    let full = [
        "violin 4/4",
        "violin 7/8",
        "cello 4/4",
        "cello 7/8",
        "bass 4/4",
        "bass 3/4",
        "viola 16½ in",
        "viola 16 in",
        "viola 15½ in",
        "viola 15 in",
    ];
    let mut cells = Cells::new();
    for sql in [inspected, confirmed] {
        let rows: Vec<Row> = db.read(sql).all().await.expect("rows");
        for (day, made, family, size, kind, cause) in rows {
            let is_full = full.contains(&format!("{family} {size}").as_str());
            let size = if is_full { "full" } else { "fractional" };
            if group == size || group == kind {
                let cause = cause.split(' ').nth(1).unwrap_or_default().to_owned();
                let at = (day.month().0, AgeBand::at(made, day.year()), cause);
                *cells.entry(at).or_default() += 1;
            }
        }
    }
    cells
}

fn totals(cells: &Cells, span: Span) -> Totals {
    let mut totals = Totals::default();
    let within = |at: i64| at >= span.from.0 && at <= span.to.0;
    for ((_, _, cause), orders) in cells.iter().filter(|cell| within(cell.0.0)) {
        match cause.as_str() {
            "" => totals.inspected += orders,
            cause => *totals.confirmed.entry(cause.to_owned()).or_default() += orders,
        }
    }
    totals
}

/// All that the report reads of a group, beside the raw rows.
async fn compare(db: &Db, cells: &Cells, span: Span, group: &str) {
    let expected = totals(cells, span);
    let read = Totals::read(db, span, group).await.expect("totals");
    assert_eq!(read, expected, "{span} {group}");
    let figures = Recurrence::read(db, span, group, &Seasons::northern())
        .await
        .expect("figures");
    assert_eq!(Totals::of_figures(&figures), expected, "{span} {group}");
    for band in AgeBand::ALL {
        let of_band = cells
            .iter()
            .filter(|cell| cell.0.1 == band && cell.0.2.is_empty());
        let all: i64 = of_band
            .filter(|cell| cell.0.0 >= span.from.0 && cell.0.0 <= span.to.0)
            .map(|cell| cell.1)
            .sum();
        let here = figures.bands.of_code(band.code()).expect("a band of the shop");
        assert_eq!(figures.inspected.of_band(here), all, "{span} {group} {band:?}");
    }
    for (before, read) in earlier(db, span, group).await.expect("earlier years") {
        assert_eq!(read, totals(cells, before), "{before} before {span} {group}");
    }
    let twelve = Span::up_to(span.to, 12);
    for (month, read) in by_month(db, twelve, group).await.expect("months") {
        assert_eq!(read, totals(cells, Span::month(month)), "{} {group}", month.iso());
    }
    let years = (span.from.year(), span.to.year());
    let of_one = Years::read(db, group, years, SEAM)
        .await
        .expect("years")
        .totals(span);
    let (all, one) = (expected.share(SEAM), of_one.share(SEAM));
    assert_eq!((one.confirmed, one.inspected), (all.confirmed, all.inspected));
}

#[test]
fn any_span_of_a_group_is_what_a_plain_count_of_the_rows_comes_to() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(400, 9)).await;
        let mut chance = Chance::of(14, "group", 0);
        for group in ["full", "fractional", "person", "school", "fleet"] {
            let cells = cells(db, group).await;
            assert!(cells.len() > 5, "{group} is not empty");
            compare(
                db,
                &cells,
                Span::parse("1930-01", "2029-12").expect("a span"),
                group,
            )
            .await;
            for _ in 0..6 {
                let from = YearMonth(2025 * 12 + chance.range(-12, 12));
                let to = from.plus(chance.range(0, 30));
                compare(db, &cells, Span { from, to }, group).await;
            }
        }
    });
}

#[test]
fn the_page_and_its_tables_say_of_what_they_are() {
    on_both(async |shop| {
        shop.seam("school", "1/2").await;
        shop.seam("person", "4/4").await;
        let owner = shop.sign_in("owner").await;
        let page = owner.get("/month?from=2026-02&to=2026-02&group=school").await;
        let words = read(&page);
        for said in [
            "The month of February 2026: Schools",
            "1 order on schools' instruments received in February 2026 was inspected so far",
            "The whole shop: Of 2 confirmed causes",
            "A size that is not written, or cannot be read, is counted as not known.",
            "The kind of customer whose order it is, as it is known now.",
        ] {
            assert!(words.contains(said), "{said}: {words}");
        }
        assert!(
            page.body
                .contains("<option value=\"school\" selected>Schools</option>")
        );
        let link = "/month.csv?table=cells&#38;from=2026-02&#38;to=2026-02&#38;account=school";
        assert!(page.body.contains(link), "{}", page.body);
        let csv = owner
            .get("/month.csv?from=2026-02&to=2026-02&size=fractional&table=causes")
            .await;
        assert!(
            csv.header("content-disposition")
                .contains("causes-fractional-2026-02.csv")
        );
        let lines: Vec<&str> = csv.body.lines().collect();
        assert!(
            lines[0].ends_with(",group") && lines[1].ends_with(",fractional"),
            "{lines:?}"
        );
        assert_eq!(lines.len(), 2);
        let whole = owner
            .get("/month.csv?from=2026-02&to=2026-02&size=fractional&table=comebacks")
            .await;
        assert!(
            whole
                .header("content-disposition")
                .contains("comebacks-all-2026-02.csv")
        );
    });
}

/// So many orders of an account in February: inspected when `cause` is empty, else confirmed.
async fn count(shop: &Shop, account: &'static str, cause: &str, orders: i64) {
    let mut tx = shop.app.db.begin().await.expect("a transaction");
    let day = Day::parse("2026-02-02").expect("a day");
    let mut counts = Counts::default();
    let cell = Cell::at(day, ("violin", "1/2", None), account);
    counts.orders(cell, cause, orders);
    counts.keep(&mut tx).await.expect("counted");
    tx.commit().await.expect("kept");
}

#[test]
fn what_a_group_has_most_often_stands_beside_the_rest_of_the_shop() {
    on_both(async |shop| {
        for (account, inspected, seams) in [("school", 40, 20), ("person", 50, 5)] {
            count(&shop, account, "", inspected).await;
            count(&shop, account, SEAM, seams).await;
        }
        let owner = shop.sign_in("owner").await;
        for (asked, said) in [
            (
                "&account=school",
                "On the other instruments it was 10 % (5 of 50), below that range.",
            ),
            (
                "&account=person",
                "On the other instruments it was 50 % (20 of 40), above that range.",
            ),
        ] {
            let words = read(&owner.get(&format!("/month?from=2026-02{asked}")).await);
            assert!(words.contains(said), "{words}");
        }
        for asked in ["", "&size=fractional"] {
            let words = read(&owner.get(&format!("/month?from=2026-02{asked}")).await);
            assert!(!words.contains("On the other instruments"), "{words}");
        }
    });
}

#[test]
fn two_groups_at_once_are_not_told_but_one_is_asked_for() {
    on_both(async |shop| {
        let one = "Ask for one of family, size and account at a time.";
        let query = "from=2026-02&to=2026-02&family=violin&size=full";
        let page = shop.sign_in("owner").await.get(&format!("/month?{query}")).await;
        assert_eq!(page.status.as_u16(), 422);
        assert!(
            page.body.contains(one) && page.body.contains("id=\"size\""),
            "{}",
            page.body
        );
        let owner = shop.program("owner").await;
        let answer = owner.get(&format!("/api/v1/reports/recurrence?{query}")).await;
        assert_eq!(answer.status.as_u16(), 422);
        assert!(
            answer.json["errors"][0].to_string().contains(one),
            "{}",
            answer.json
        );
    });
}

#[test]
fn a_group_is_kept_as_reported_by_itself() {
    on_both(async |shop| {
        shop.seam("school", "1/2").await;
        shop.clock.set(shop.clock.now().plus_ms(40 * 86_400_000));
        let owner = shop.sign_in("owner").await;
        let form = [("from", "2026-02"), ("to", "2026-02"), ("group", "school")];
        let kept = owner.post("/month", &form).await;
        assert_eq!(kept.location(), "/month?from=2026-02&to=2026-02&account=school");
        let program = shop.program("owner").await;
        for (asked, reports) in [("&account=school", 1), ("&size=fractional", 0), ("", 0)] {
            let path = format!("/api/v1/reports/reported?from=2026-02&to=2026-02{asked}");
            let items = program.get(&path).await.json["items"].clone();
            assert_eq!(items.as_array().map(Vec::len), Some(reports), "{asked}");
        }
    });
}
