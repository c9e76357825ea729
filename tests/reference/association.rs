//! Fisher's exact test, the trend over ordered groups and the false discoveries against printed figures, scipy and R.

use purfle::reports::figures::association::Fourfold;
use purfle::reports::figures::discovery::q_values;
use purfle::reports::figures::regression::{Family, Group, fit, likelihood_ratio};
use purfle::reports::figures::trend::{Trend, cochran_armitage};
use purfle::reports::figures::{chi_square_1, chi_square_2, of};

use super::not_used::NotUsed;
use super::{Row, near, rows};

const TABLES: &str = include_str!("data/association_tests.csv");
const COMPUTED: &str = include_str!("data/fisher_computed.csv");
const DISCOVERIES: &str = include_str!("data/fdr_benjamini_hochberg.csv");

/// Each group's orders with and without; a table of two rows is turned, so that its columns are the groups.
fn cells(row: &Row) -> Vec<(u64, u64)> {
    let numbers = |line: &str| -> Vec<u64> { line.split(',').map(|n| n.parse().unwrap()).collect() };
    let lines: Vec<Vec<u64>> = row.text("table").split(';').map(numbers).collect();
    match &lines[..] {
        [with, without] if with.len() > 2 => with.iter().copied().zip(without.iter().copied()).collect(),
        lines => lines.iter().map(|line| (line[0], line[1])).collect(),
    }
}

/// What the program's own functions give of a row's statistic; nothing where none of them does.
fn ours(row: &Row, cells: &[(u64, u64)]) -> Option<f64> {
    let all: u64 = cells.iter().map(|cell| cell.0 + cell.1).sum();
    Some(match (row.text("test"), row.text("quantity")) {
        ("fisher", "p_two_sided") => fourfold(cells).fisher(),
        ("cochran_armitage", quantity) => {
            let trend = cochran_armitage(&scored(row, cells)).unwrap();
            match quantity {
                "z" => trend.z,
                "chi2" => trend.chi_square,
                "p" => trend.p_value,
                // Mantel's extension, whose variance is larger by one order in all.
                "chi2_mantel" => trend.chi_square * (of(all) - 1.0) / of(all),
                other => panic!("{other}"),
            }
        }
        // Of two groups the trend is Pearson's test.
        ("pearson", "statistic") if cells.len() == 2 => two(cells).chi_square,
        ("pearson", "p") if cells.len() == 2 => two(cells).p_value,
        ("likelihood_ratio", "statistic") => ratio(cells),
        ("likelihood_ratio", "p") if cells.len() == 2 => chi_square_1(ratio(cells)),
        ("likelihood_ratio", "p") if cells.len() == 3 => chi_square_2(ratio(cells)),
        _ => return None,
    })
}

fn fourfold(cells: &[(u64, u64)]) -> Fourfold {
    Fourfold {
        with_here: cells[0].0,
        without_here: cells[0].1,
        with_elsewhere: cells[1].0,
        without_elsewhere: cells[1].1,
    }
}

fn scored(row: &Row, cells: &[(u64, u64)]) -> Vec<(f64, u64, u64)> {
    let scores = row.text("scores").split(';').map(|score| score.parse().unwrap());
    let groups = scores.zip(cells);
    groups
        .map(|(score, (with, without))| (score, *with, with + without))
        .collect()
}

fn two(cells: &[(u64, u64)]) -> Trend {
    let group = |score, cell: (u64, u64)| (score, cell.0, cell.0 + cell.1);
    cochran_armitage(&[group(0.0, cells[0]), group(1.0, cells[1])]).unwrap()
}

/// Of a regression in which each group has a figure of its own, against one in which none has.
fn ratio(cells: &[(u64, u64)]) -> f64 {
    let is = |here: usize, at: usize| f64::from(u8::from(here == at));
    let groups: Vec<Group> = (0..)
        .zip(cells)
        .map(|(at, cell)| Group::new([is(1, at), is(2, at)], cell.0, cell.0 + cell.1))
        .collect();
    let alone = fit(Family::Binomial, 1, &groups).unwrap();
    let each = fit(Family::Binomial, cells.len(), &groups).unwrap();
    likelihood_ratio(&alone, &each)
}

#[test]
fn tests_of_association_give_the_printed_figures() {
    let (mut not_used, mut checked) = (NotUsed::of("association_tests"), 0);
    for row in rows(TABLES) {
        let statistic = format!("{} {}", row.text("test"), row.text("quantity"));
        // Tables in strata are of tests that are not used.
        let cells = (!row.text("table").contains('|')).then(|| cells(&row));
        let several = cells.as_ref().is_some_and(|cells| cells.len() > 2);
        let Some(ours) = cells.and_then(|cells| ours(&row, &cells)) else {
            let of_which = matches!(&*statistic, "pearson statistic" | "pearson p") && several;
            not_used.cross_off(&if of_which {
                statistic + " of several"
            } else {
                statistic
            });
            continue;
        };
        let tolerance = row.number("tolerance").unwrap();
        near(ours, row.number("published"), tolerance, &row.source());
        near(ours, row.number("computed"), 1e-8, &row.source());
        checked += 1;
    }
    assert_eq!(checked, 19);
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
