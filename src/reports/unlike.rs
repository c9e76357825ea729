//! Unlike is what groups of repairs are that come back sooner or later than each other, more than chance would have it.

use super::comebacks::Group;
use super::figures::survival::{LogRank, Watched, log_rank};

/// Of fewer comebacks than this the log-rank test tells differences that chance made: W. G. Cochran, Biometrics 10 (1954)
/// 417-451, on chi-square tests of small expectations.
const FEW_EXPECTED: f64 = 5.0;

/// Whether the groups come back alike, as it is told: those of which too few comebacks would be expected are taken together,
/// and with the smallest of the others where they are still too few. Two groups are always left.
#[must_use]
pub fn unlike(groups: &[Group]) -> Option<LogRank> {
    let watched: Vec<&Watched> = groups.iter().map(|group| &group.watched).collect();
    let of_each = log_rank(&watched)?;
    let mut expected: Vec<(f64, &Watched)> = of_each.expected.iter().copied().zip(watched).collect();
    expected.sort_by(|one, other| other.0.total_cmp(&one.0));
    let enough = expected.iter().filter(|group| group.0 >= FEW_EXPECTED).count();
    let (apart, small) = expected.split_at(enough.max(1));
    let mut apart: Vec<Watched> = apart.iter().map(|group| group.1.clone()).collect();
    let mut together = Watched::default();
    for group in small {
        together.add_all(group.1);
    }
    let still_few = small.iter().map(|group| group.0).sum::<f64>() < FEW_EXPECTED;
    match apart.last_mut() {
        Some(least) if still_few && enough > 1 => least.add_all(&together),
        _ => apart.push(together),
    }
    log_rank(&apart.iter().collect::<Vec<_>>())
}
