//! What was seen and left: what is suspected, what was found and not repaired, what was planned and not done, and why.

use super::paper::in_short;
use super::summary::Visit;
use crate::bench::finding::Finding;
use crate::bench::step::Step;

/// One sentence for each; an instrument that goes back unrepaired begins with the reason.
#[must_use]
pub fn of(visit: &Visit) -> Vec<String> {
    let mut left = Vec::new();
    if let Some(why) = visit.order.returned_why.as_deref() {
        left.push(why_unrepaired(visit, why));
    }
    let standing = || visit.findings.iter().filter(|finding| !finding.withdrawn);
    let unrepaired: Vec<&Finding> = standing()
        .filter(|finding| finding.is_confirmed() && !is_repaired(visit, finding))
        .collect();
    let seen = visit.seen();
    left.extend(
        unrepaired
            .iter()
            .map(|finding| format!("{}. Found, and not repaired.", visit.placed(finding))),
    );
    let confirmed = |code: &str| standing().any(|other| other.is_confirmed() && other.cause == code);
    let suspected: Vec<&Finding> = standing()
        .filter(|finding| !finding.is_confirmed() && !confirmed(&finding.cause))
        .filter(|finding| !seen.contains(&finding.cause.as_str()) || !is_repaired(visit, finding))
        .collect();
    left.extend(suspected.iter().map(|finding| {
        let placed = visit.placed(finding);
        if seen.contains(&finding.cause.as_str()) {
            format!("{placed}. Seen, and not repaired.")
        } else {
            format!("{placed}. We suspect it; it did not show itself for certain.")
        }
    }));
    let undone = visit
        .account
        .lines
        .iter()
        .map(|line| &line.step)
        .filter(|step| step.done_at.is_none());
    left.extend(undone.map(|step: &Step| format!("{}. {}", step.title, why_undone(visit, step))));
    let structural = unrepaired
        .iter()
        .chain(&suspected)
        .any(|finding| visit.cause(&finding.cause).is_some_and(|cause| cause.structural));
    if structural {
        // The habit of the trade for a structural fault; common practice, no source.
        left.push(
            "Slacken the strings a little; do not play it or send it by post until it is repaired.".into(),
        );
    }
    left
}

/// Repaired is the cause that a step that was done belongs to; a step without a finding counts for all.
fn is_repaired(visit: &Visit, finding: &Finding) -> bool {
    let same = |id| {
        let mut of = visit.findings.iter().filter(|other| other.cause == finding.cause);
        of.any(|other| other.id == id)
    };
    visit.done().any(|step| step.finding.is_none_or(same))
}

fn why_unrepaired(visit: &Visit, why: &str) -> String {
    let what = if visit.instrument.is_bow() {
        "bow"
    } else {
        "instrument"
    };
    match (why, visit.order.returned_note.as_str()) {
        ("declined", _) => "It goes back without repair, as you wished.".to_owned(),
        // The reason that was written for the customer, or the one that always holds.
        ("beyond_repair", "") => {
            format!("We advise against a repair: it would take more than the {what} can give back.")
        }
        ("beyond_repair", note) => {
            format!(
                "We advise against a repair, it is not worth it: {}",
                in_short(note, 300)
            )
        }
        _ => "We found nothing to repair, so we left it as it is.".to_owned(),
    }
}

fn why_undone(visit: &Visit, step: &Step) -> &'static str {
    if step.declined_at.is_some() {
        return "Planned, and not done, as you wished.";
    }
    match (visit.order.returned_why.as_deref(), visit.order.approved_up_to) {
        (Some("declined"), _) => "Planned, and not done, as you wished.",
        (Some(_), _) => "Planned, and not done after all.",
        (None, Some(approved)) if approved >= visit.order.estimate => "Planned, and still to be done.",
        (None, _) if visit.order.estimate > visit.order.agreed() => {
            "Planned, and not done: it went beyond what was agreed."
        }
        (None, _) => "Planned, and not done yet.",
    }
}
