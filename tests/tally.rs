//! The tally: what the blocks hold is what a plain count of orders and findings comes to, over any span, whatever was done.

use std::collections::BTreeMap;

use purfle::bench::finding;
use purfle::clock::{Day, YearMonth, Zone};
use purfle::counter::order::Order;
use purfle::db::Db;
use purfle::demo::chance::Chance;
use purfle::diagnosis::age::AgeBand;
use purfle::reports::group;
use purfle::reports::recurrence::{Recurrence, Totals, by_month, earlier};
use purfle::reports::season::{Season, Seasons};
use purfle::reports::span::Span;
use purfle::reports::takings::Takings;

use crate::demo::counts::{Cells, recount, tally};
use crate::demo::{filled, wish};
use crate::recurrence::{act, check, find, of};
use crate::shop::{Shop, on_both};

const FAMILIES: [&str; 5] = ["violin", "viola", "cello", "bass", "bow"];
const CAUSES: [&str; 4] = ["seam_open_lower", "seam_open_upper", "peg_pin_loose", "wolf_note"];

/// Something of what the bench does to an order: looks, finds, takes back.
async fn work(shop: &Shop, chance: &mut Chance, order: &Order) {
    if chance.yes(0.5) {
        check(shop, order, chance.pick(&CAUSES)).await;
    }
    for _ in 0..chance.below(4) {
        let certainty = if chance.yes(0.7) { "confirmed" } else { "suspected" };
        let found = find(shop, order, chance.pick(&CAUSES), certainty).await;
        if chance.yes(0.3) {
            let mut act = act(shop, order).await;
            finding::withdraw(&mut act, found.id).await.expect("taken back");
            act.then("/").await.expect("kept");
        }
    }
}

/// The counter learns when an instrument was made, or that nobody knows.
async fn correct(shop: &Shop, chance: &mut Chance, order: &Order) {
    let counter = shop.sign_in("counter").await;
    let path = format!("/instruments/{}", order.instrument);
    let version = counter.get(&path).await.field("version").to_owned();
    let year = (1700 + chance.range(0, 250)).to_string();
    let (year, certainty) = if chance.yes(0.3) {
        ("", "unknown")
    } else {
        (year.as_str(), "exact")
    };
    let form = [
        ("size", ""),
        ("year_made", year),
        ("year_certainty", certainty),
        ("version", &version),
    ];
    let answer = counter.post(&path, &form).await;
    assert_eq!(answer.status.as_u16(), 303, "{}", answer.body);
}

/// Some forty years of a shop, orders some months apart, over the turn of a century.
async fn live(shop: &Shop, chance: &mut Chance) {
    let zone = Zone::named("Europe/Vienna").expect("a zone");
    let mut day = Day::parse("1985-05-20").expect("a day");
    for _ in 0..50 {
        day = day.plus(chance.range(1, 600));
        shop.clock.set(zone.moment(day, 10, 0));
        let (family, year) = (chance.pick(&FAMILIES), 1800 + chance.range(0, 180));
        let year = chance.yes(0.8).then_some(year);
        let order = shop.order(|new| of(new, family, year)).await;
        if family != "bow" {
            work(shop, chance, &order).await;
        }
        if chance.yes(0.2) {
            correct(shop, chance, &order).await;
        }
    }
}

/// Short and long, whole years and decades or not, before and beyond what was counted.
fn span(chance: &mut Chance) -> Span {
    let from = YearMonth(1975 * 12 + chance.range(0, 60 * 12));
    let months = match chance.below(4) {
        0 => 1,
        1 => 12,
        2 => chance.range(1, 40),
        _ => chance.range(40, 90 * 12),
    };
    match chance.below(3) {
        0 => Span::up_to(Span::year(from.year() + months / 12).to, months / 12 * 12 + 12),
        _ => Span {
            from,
            to: from.plus(months - 1),
        },
    }
}

/// The cells of a span and a family, added up by cause.
fn within<'a>(
    cells: &'a Cells,
    span: Span,
    family: &'a str,
) -> impl Iterator<Item = (&'a str, &'a str, i64, i64)> {
    let month = move |month: i64| month >= span.from.0 && month <= span.to.0;
    cells
        .iter()
        .filter(move |((at, of, _, _), _)| month(*at) && (family.is_empty() || of == family))
        .map(|((at, _, band, cause), orders)| (cause.as_str(), band.as_str(), *at, *orders))
}

fn totals(cells: &Cells, span: Span, family: &str) -> Totals {
    let mut totals = Totals::default();
    for (cause, _, _, orders) in within(cells, span, family) {
        match cause {
            "" => totals.inspected += orders,
            cause => *totals.confirmed.entry(cause.to_owned()).or_default() += orders,
        }
    }
    totals
}

/// Cause by band by season, as the raw rows have it; the cause is empty for all that were inspected.
fn grid(
    cells: &Cells,
    span: Span,
    family: &str,
    seasons: &Seasons,
) -> BTreeMap<(String, AgeBand, Season), i64> {
    let mut grid = BTreeMap::new();
    for (cause, band, month, orders) in within(cells, span, family) {
        let band = AgeBand::of_code(band).expect("a band");
        let season = seasons
            .of_month(YearMonth(month).month_number())
            .expect("a season");
        *grid.entry((cause.to_owned(), band, season)).or_default() += orders;
    }
    grid
}

fn grid_of(figures: &Recurrence) -> BTreeMap<(String, AgeBand, Season), i64> {
    let causes = figures
        .causes
        .iter()
        .map(|cause| (cause.cause.as_str(), &cause.orders));
    let mut grid = BTreeMap::new();
    for (cause, orders) in causes.chain([("", &figures.inspected)]) {
        for (band, season) in AgeBand::ALL
            .into_iter()
            .flat_map(|band| Season::ALL.map(|season| (band, season)))
        {
            let here = figures.bands.of_code(band.code()).expect("a band of the shop");
            if orders.at(here, season) != 0 {
                grid.insert((cause.to_owned(), band, season), orders.at(here, season));
            }
        }
    }
    grid
}

/// Everything the report reads of orders, against the raw rows.
async fn compare(db: &Db, cells: &Cells, span: Span, family: &str) {
    for seasons in [Seasons::northern(), Seasons::southern()] {
        let figures = Recurrence::read(db, span, family, &seasons)
            .await
            .expect("figures");
        assert_eq!(
            grid_of(&figures),
            grid(cells, span, family, &seasons),
            "{span} {family}"
        );
    }
    let read = Totals::read(db, span, family).await.expect("totals");
    assert_eq!(read, totals(cells, span, family), "{span} {family}");
    for (before, read) in earlier(db, span, family).await.expect("earlier years") {
        assert_eq!(
            read,
            totals(cells, before, family),
            "{before} before {span} {family}"
        );
    }
    let twelve = Span::up_to(span.to, 12);
    for (month, read) in by_month(db, twelve, family).await.expect("months") {
        assert_eq!(
            read,
            totals(cells, Span::month(month), family),
            "{} {family}",
            month.iso()
        );
    }
}

#[test]
fn any_span_is_what_a_plain_count_of_the_rows_comes_to() {
    on_both(async |shop| {
        let mut chance = Chance::of(11, "tally", 0);
        live(&shop, &mut chance).await;
        let (db, cells) = (&shop.app.db, recount(&shop.app.db).await);
        let kept: Cells = tally(db).await.into_iter().filter(|cell| cell.1 != 0).collect();
        assert_eq!(kept, cells);
        let last = cells.keys().map(|cell| cell.0).max().expect("orders");
        assert!(last > 2020 * 12, "the acts span decades");
        for _ in 0..60 {
            let (span, family) = (span(&mut chance), chance.pick(&["", "violin", "cello", "bass"]));
            compare(db, &cells, span, family).await;
        }
    });
}

#[test]
fn any_span_of_the_invented_shop_too() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(400, 5)).await;
        let cells = recount(db).await;
        let mut chance = Chance::of(12, "tally", 0);
        let all = Span::parse("1930-01", "2029-12").expect("a span");
        compare(db, &cells, all, "").await;
        for _ in 0..20 {
            let from = YearMonth(2025 * 12 + chance.range(-12, 12));
            let span = Span {
                from,
                to: from.plus(chance.range(0, 30)),
            };
            compare(db, &cells, span, chance.pick(&["", "violin", "viola"])).await;
        }
    });
}

/// Steps done and payments taken in a span, by plain sums over their rows.
#[test]
fn work_and_money_of_any_span_are_those_of_the_rows() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(400, 6)).await;
        let done: Vec<(Day, i64, i64)> = db
            .read(
                "select done_on, planned_minutes, actual_minutes from repair_step where done_on is not null",
            )
            .all()
            .await
            .expect("steps");
        let paid: Vec<(Day, i64)> = db
            .read("select paid_on, amount from payment")
            .all()
            .await
            .expect("payments");
        let mut chance = Chance::of(13, "tally", 0);
        for _ in 0..20 {
            let from = YearMonth(2025 * 12 + chance.range(-24, 13));
            let span = Span {
                from,
                to: from.plus(chance.range(0, 40)),
            };
            let inside = |day: &Day| day.month() >= span.from && day.month() <= span.to;
            let takings = Takings::read(db, span).await.expect("takings");
            let jobs = purfle::reports::takings::Job::sum(&takings.jobs);
            let steps: Vec<_> = done.iter().filter(|step| inside(&step.0)).collect();
            let (planned, actual): (i64, i64) =
                (steps.iter().map(|s| s.1).sum(), steps.iter().map(|s| s.2).sum());
            let counted = (
                usize::try_from(jobs.steps).expect("few"),
                jobs.planned_minutes,
                jobs.actual_minutes,
            );
            assert_eq!(counted, (steps.len(), planned, actual), "{span}");
            let taken: i64 = takings.taken().iter().map(|line| line.1.amount.0).sum();
            let rows: i64 = paid
                .iter()
                .filter(|paid| inside(&paid.0))
                .map(|paid| paid.1)
                .sum();
            assert_eq!(taken, rows, "{span}");
        }
    });
}

/// Runs the statements of a migration, one after another.
async fn run(db: &Db, sql: &'static str) {
    for statement in sql.split(";\n").filter(|statement| !statement.trim().is_empty()) {
        db.write(statement).execute().await.expect(statement);
    }
}

#[test]
fn counts_kept_month_by_month_before_are_taken_over() {
    on_both(async |shop| {
        let db = &shop.app.db;
        filled(db, wish(300, 4)).await;
        // What is counted since then only was not there.
        let later = "delete from tally_block where what in ('minutes', 'days', 'owed', 'cost', 'parts')";
        db.write(later).execute().await.expect("taken away");
        let before = crate::demo::rows::counts(db).await;
        let kept: Vec<Vec<i64>> = blocks(db).await;
        // Back to the tables that were there, with the same counts in them.
        run(
            db,
            "create table t1 as select * from tally;\ncreate table t2 as select * from job_tally;\n
            create table t3 as select * from money_tally;\ncreate table t4 as select * from comeback_tally;\n
            drop view money_tally;\ndrop view job_tally;\ndrop view comeback_tally;\ndrop view tally;\n
            drop view month_tally;\ndrop table tally_block;\ndrop table counted;\n",
        )
        .await;
        run(db, include_str!("../migrations/0022_tally.sql")).await;
        run(db, "insert into tally (month, family, age_band, cause, orders) select month, family, age_band, cause, orders from t1;\n
            insert into job_tally (month, job, steps, planned_minutes, actual_minutes) select month, job, steps, planned_minutes, actual_minutes from t2;\n
            insert into money_tally (month, kind, amount, orders) select month, kind, amount, orders from t3;\n
            insert into comeback_tally (month, cause, orders) select month, cause, orders from t4;\n").await;
        run(db, include_str!("../migrations/0026_tally_block.sql")).await;
        run(db, include_str!("../migrations/0027_tally_view.sql")).await;
        for sql in [
            include_str!("../migrations/0095_group.sql"),
            include_str!("../migrations/0140_bands.sql"),
            include_str!("../migrations/0145_window.sql"),
        ] {
            run(db, sql).await;
        }
        group::count_anew(db).await.expect("sizes and accounts");
        assert_eq!(crate::demo::rows::counts(db).await, before);
        assert_eq!(blocks(db).await, kept, "years and decades alike");
    });
}

/// How much the blocks of each size hold, and the months between which it lies.
async fn blocks(db: &Db) -> Vec<Vec<i64>> {
    let sums: Vec<(i64, i64, i64)> = db
        .read(
            "select months, cast(sum(jan + feb + mar + apr + may + jun) as bigint), cast(sum(jul + aug + sep + oct + nov + dec) as bigint)
             from tally_block group by months order by months",
        )
        .all()
        .await
        .expect("blocks");
    let reach: (i64, i64) = db
        .read("select first_month, last_month from counted")
        .one()
        .await
        .expect("the reach");
    let mut all: Vec<Vec<i64>> = sums.into_iter().map(|row| vec![row.0, row.1, row.2]).collect();
    all.push(vec![reach.0, reach.1]);
    all
}
