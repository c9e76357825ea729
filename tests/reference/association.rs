//! Fisher's exact test, the trend over ordered groups and the false discoveries against printed figures, scipy and R.

use purfle::reports::figures::association::Fourfold;
use purfle::reports::figures::discovery::q_values;
use purfle::reports::figures::trend::cochran_armitage;

use super::{Row, near, rows};

const TABLES: &str = include_str!("data/association_tests.csv");
const COMPUTED: &str = include_str!("data/fisher_computed.csv");
const DISCOVERIES: &str = include_str!("data/fdr_benjamini_hochberg.csv");

fn cells(row: &Row) -> Vec<(u64, u64)> {
    let pair = |pair: &str| {
        let (one, other) = pair.split_once(',').unwrap();
        (one.parse().unwrap(), other.parse().unwrap())
    };
    row.text("table").split(';').map(pair).collect()
}

#[test]
fn fisher_gives_the_printed_chances() {
    let mut checked = 0;
    for row in rows(TABLES) {
        if (row.text("test"), row.text("quantity")) != ("fisher", "p_two_sided") {
            continue;
        }
        let cells = cells(&row);
        let table = Fourfold {
            with_here: cells[0].0,
            without_here: cells[0].1,
            with_elsewhere: cells[1].0,
            without_elsewhere: cells[1].1,
        };
        let tolerance = row.number("tolerance").unwrap();
        near(table.fisher(), row.number("published"), tolerance, &row.source());
        near(table.fisher(), row.number("computed"), 1e-9, &row.source());
        checked += 1;
    }
    assert_eq!(checked, 5);
}

#[test]
fn fisher_agrees_with_scipy_from_a_dozen_orders_to_a_million() {
    for row in rows(COMPUTED) {
        let table = Fourfold {
            with_here: row.number("with_here").unwrap(),
            without_here: row.number("without_here").unwrap(),
            with_elsewhere: row.number("with_elsewhere").unwrap(),
            without_elsewhere: row.number("without_elsewhere").unwrap(),
        };
        let scipy: f64 = row.number("p_two_sided").unwrap();
        // Of a million the logarithms of the factorials are known to ten digits.
        near(table.fisher(), Some(scipy), 1e-12 + scipy * 1e-7, &row.source());
    }
}

/// The definition itself, on every small table: all tables with these margins that are no likelier, added up.
#[test]
fn fisher_is_the_sum_over_all_tables_no_likelier() {
    fn choose(n: u64, k: u64) -> u128 {
        (0..k).fold(1, |ways, at| ways * u128::from(n - at) / u128::from(at + 1))
    }
    for all in 1..=11_u64 {
        for (with, here) in (0..=all).flat_map(|with| (0..=all).map(move |here| (with, here))) {
            let ways = |count: u64| choose(with, count) * choose(all - with, here - count);
            let counts = here.saturating_sub(all - with)..=here.min(with);
            for seen in counts.clone() {
                let table = Fourfold::within((seen, here), (with, all)).unwrap();
                let unlikely: u128 = counts
                    .clone()
                    .map(ways)
                    .filter(|other| *other <= ways(seen))
                    .sum();
                #[expect(clippy::cast_precision_loss, reason = "small")]
                let expected = unlikely as f64 / choose(all, here) as f64;
                near(table.fisher(), Some(expected), 1e-12, &format!("{table:?}"));
            }
        }
    }
}

#[test]
fn a_part_is_within_its_whole() {
    assert_eq!(Fourfold::within((3, 2), (5, 10)), None);
    assert_eq!(Fourfold::within((3, 5), (2, 10)), None);
    assert_eq!(Fourfold::within((0, 8), (5, 10)), None);
    let all = Fourfold::within((5, 10), (5, 10)).unwrap();
    near(all.fisher(), Some(1.0), 0.0, "nothing is elsewhere");
}

#[test]
fn the_trend_gives_the_printed_figures() {
    let mut checked = 0;
    for row in rows(TABLES) {
        let ours = |groups: &[(f64, u64, u64)]| {
            let trend = cochran_armitage(groups).unwrap();
            match row.text("quantity") {
                "z" => Some(trend.z),
                "chi2" => Some(trend.chi_square),
                "p" => Some(trend.p_value),
                _ => None,
            }
        };
        if row.text("test") != "cochran_armitage" {
            continue;
        }
        let scores = row.text("scores").split(';').map(|score| score.parse().unwrap());
        let groups: Vec<(f64, u64, u64)> = scores
            .zip(cells(&row))
            .map(|(score, (with, without))| (score, with, with + without))
            .collect();
        let Some(ours) = ours(&groups) else { continue };
        near(
            ours,
            row.number("published"),
            row.number("tolerance").unwrap(),
            &row.source(),
        );
        near(ours, row.number("computed"), 1e-8, &row.source());
        checked += 1;
    }
    assert_eq!(checked, 7);
}

#[test]
fn there_is_no_trend_where_nothing_can_be_compared() {
    assert_eq!(cochran_armitage(&[]), None);
    assert_eq!(cochran_armitage(&[(1.0, 3, 9), (2.0, 0, 0)]), None);
    assert_eq!(cochran_armitage(&[(1.0, 0, 9), (2.0, 0, 4)]), None);
    assert_eq!(cochran_armitage(&[(1.0, 9, 9), (2.0, 4, 4)]), None);
    let flat = cochran_armitage(&[(1.0, 1, 10), (2.0, 2, 20)]).unwrap();
    near(flat.p_value, Some(1.0), 1e-12, "the same rate everywhere");
}

#[test]
fn discoveries_are_those_of_benjamini_and_hochberg() {
    let all = rows(DISCOVERIES);
    let mut cases: Vec<&str> = all.iter().map(|row| row.text("case_id")).collect();
    cases.dedup();
    for case in cases {
        let rows: Vec<&Row> = all.iter().filter(|row| row.text("case_id") == case).collect();
        let p_values: Vec<f64> = rows.iter().map(|row| row.number("p_value").unwrap()).collect();
        for (row, q_value) in rows.iter().zip(q_values(&p_values)) {
            near(q_value, row.number("computed_q_value"), 1e-9, &row.source());
            let told = u8::from(q_value <= 0.05);
            if let Some(published) = row.number::<u8>("published_rejected_at_0_05") {
                assert_eq!(told, published, "{}", row.source());
            }
        }
    }
}

#[test]
fn what_could_not_be_tested_does_not_count() {
    let q_values = q_values(&[0.01, f64::NAN, 0.04]);
    near(q_values[0], Some(0.02), 1e-12, "twice the least of two");
    assert!(q_values[1].is_nan());
    near(q_values[2], Some(0.04), 1e-12, "the greatest stays");
}
