//! The comebacks as CSV: how many came back by a day, the curves day by day, and whether the groups differ.

use super::comebacks::DAYS;
use super::comebacks_told::{Named, Told};
use super::figures::survival::{Curve, LogRank, Point, log_rank};
use super::table_csv::{Table, figure, text};

/// The comebacks: `groups`, by the days at which they are told; `curves`, each day on which any came back; `log_rank`,
/// of each group and as it is told, or no line where no two groups can be compared.
#[must_use]
pub fn comebacks_csv(told: &Told, table: &str) -> Option<Table> {
    let all = || told.groups.iter().chain(std::iter::once(&told.together));
    Some(match table {
        "groups" => Table::new(
            &[
                "key",
                "name",
                "repaired",
                "comebacks",
                "seasonal_returns",
                "returned_30",
                "low_30",
                "high_30",
                "at_risk_30",
                "returned_90",
                "low_90",
                "high_90",
                "at_risk_90",
                "returned_365",
                "low_365",
                "high_365",
                "at_risk_365",
            ],
            all().map(comeback_group).collect(),
        ),
        "curves" => curves(all()),
        "log_rank" => Table::new(&["chi_square", "df", "p_value", "groups"], compared(told)),
        _ => return None,
    })
}

/// Each day on which any came back.
pub(super) fn curves<'a>(groups: impl Iterator<Item = &'a Named>) -> Table {
    Table::new(
        &[
            "key",
            "name",
            "day",
            "at_risk",
            "came_back",
            "survival",
            "low",
            "high",
        ],
        groups.flat_map(comeback_curve).collect(),
    )
}

fn comeback_group(named: &Named) -> Vec<String> {
    let (group, curve) = (&named.group, Curve::of(&named.group.watched));
    let mut row = vec![
        text(&group.key),
        text(&named.name),
        group.repaired().to_string(),
        group.back().to_string(),
        group.seasonal.to_string(),
    ];
    for day in DAYS {
        let known = curve.at(day);
        let range = known.and_then(|known| known.1);
        row.extend([
            figure(known.map(|known| 1.0 - known.0)),
            figure(range.map(|range| 1.0 - range.high)),
            figure(range.map(|range| 1.0 - range.low)),
            group.watched.at_risk(day).to_string(),
        ]);
    }
    row
}

fn comeback_curve(named: &Named) -> Vec<Vec<String>> {
    let points = Curve::of(&named.group.watched).points;
    let row = |point: Point| {
        let range = point.interval();
        vec![
            text(&named.group.key),
            text(&named.name),
            point.day.to_string(),
            point.at_risk.to_string(),
            point.back.to_string(),
            point.survival.to_string(),
            figure(range.map(|range| range.low)),
            figure(range.map(|range| range.high)),
        ]
    };
    points.into_iter().map(row).collect()
}

/// With small groups taken together, it is the one that is told.
fn compared(told: &Told) -> Vec<Vec<String>> {
    let groups = told.groups.iter().map(|named| &named.group.watched);
    let each = log_rank(&groups.collect::<Vec<_>>());
    let row = |(test, groups): (&LogRank, &str)| {
        vec![
            test.chi_square.to_string(),
            test.df.to_string(),
            test.p_value.to_string(),
            groups.to_owned(),
        ]
    };
    let each = each.iter().map(|test| (test, "each"));
    let told = told.compared.iter().map(|test| (test, "small_together"));
    each.chain(told).map(row).collect()
}
