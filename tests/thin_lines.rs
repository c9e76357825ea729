//! The thin lines behind the months of a cause: each is drawn from the figures of its own year.

use purfle::diagnosis::age::AgeBand;

use crate::recurrence::count;
use crate::shop::{Shop, on_both};

const OLD: (&str, AgeBand) = ("violin", AgeBand::From100);
const CAUSE: &str = "seam_open_lower";
/// Inspected and confirmed in February, March and April, and in the January after: of three years, the last of them first.
const YEARS: [(i64, [(i64, i64); 4]); 3] = [
    (2025, [(20, 6), (20, 5), (20, 4), (20, 8)]),
    (2024, [(20, 2), (4, 1), (20, 3), (25, 10)]),
    (2023, [(10, 1), (10, 2), (30, 3), (10, 3)]),
];

fn months(year: i64) -> [String; 4] {
    let january = year + 1;
    ["02", "03", "04"]
        .map(|month| format!("{year}-{month}"))
        .into_iter()
        .chain([format!("{january}-01")])
        .collect::<Vec<_>>()
        .try_into()
        .expect("four months")
}

async fn fill(shop: &Shop) {
    for (year, counts) in YEARS {
        for (month, (inspected, confirmed)) in months(year).iter().zip(counts) {
            count(shop, month, OLD, "", inspected).await;
            count(shop, month, OLD, CAUSE, confirmed).await;
        }
    }
}

/// The points of a line, each with its month of the twelve, 0 for the first, and the share it stands for.
fn points(path: &str, scale: f64) -> Vec<(i64, f64)> {
    let point = |point: &str| {
        let (x, y) = point.split_once(' ').expect("a point");
        let (x, y): (f64, f64) = (x.parse().expect("x"), y.parse().expect("y"));
        // Twelve months from 44 to 670; nought at 170, the top of the scale at 12.
        let month = ((x - 44.0) / (626.0 / 12.0)).floor();
        #[expect(clippy::cast_possible_truncation, reason = "one of twelve")]
        (month as i64, (170.0 - y) / 158.0 * scale)
    };
    path.split(['M', 'L']).skip(1).map(point).collect()
}

#[test]
fn each_thin_line_is_drawn_from_its_own_year_and_broken_where_too_few_were_inspected() {
    on_both(async |shop| {
        fill(&shop).await;
        let owner = shop.sign_in("owner").await;
        let page = owner.get("/month?from=2026-01&to=2026-01").await.body;
        assert!(page.contains("thin lines: the two years before"), "{page}");
        let top = page
            .split(" %</text>")
            .next()
            .and_then(|before| before.rsplit('>').next());
        let scale = top.and_then(|top| top.parse::<f64>().ok()).expect("a scale") / 100.0;
        let lines: Vec<&str> = page
            .split("<path class=\"faint\" d=\"")
            .skip(1)
            .filter_map(|rest| rest.split('"').next())
            .collect();
        assert_eq!(lines.len(), 2, "{lines:?}");
        for (line, (_, counts)) in lines.iter().zip(&YEARS[1..]) {
            let drawn = points(line, scale);
            // February, March and April stand first, January last; the months between had nobody.
            let due: Vec<(i64, f64)> = [0, 1, 2, 11]
                .into_iter()
                .zip(counts)
                .filter(|(_, (inspected, _))| *inspected >= 5)
                .map(|(at, (inspected, confirmed))| {
                    let share = |n: i64| f64::from(i32::try_from(n).expect("few"));
                    (at, share(*confirmed) / share(*inspected))
                })
                .collect();
            assert_eq!(drawn.len(), due.len(), "{line}");
            for (drawn, due) in drawn.iter().zip(&due) {
                assert!(
                    drawn.0 == due.0 && (drawn.1 - due.1).abs() < 0.002,
                    "{drawn:?} {due:?}"
                );
            }
            let runs = if due.len() == 4 { 2 } else { 3 };
            assert_eq!(line.matches('M').count(), runs, "{line}");
        }
    });
}

#[test]
fn years_of_a_long_span_have_no_thin_lines_and_neither_has_a_first_year() {
    on_both(async |shop| {
        fill(&shop).await;
        let owner = shop.sign_in("owner").await;
        for query in ["from=2023-02&to=2026-01", "from=2024-01&to=2024-01"] {
            let page = owner.get(&format!("/month?{query}")).await.body;
            assert!(
                !page.contains("class=\"faint\"") && !page.contains("thin line"),
                "{query}"
            );
        }
    });
}
