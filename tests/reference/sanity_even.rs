//! What a report of a shop without winters should show, in the tropics or kept damp all year: seams near flat over the months.

use std::collections::BTreeMap;

use purfle::demo::World;
use purfle::demo::history::History;
use purfle::diagnosis::age::AgeBand;
use purfle::reports::bands::Bands;
use purfle::reports::calendar::Calendar;
use purfle::reports::recurrence::Recurrence;
use purfle::reports::season::{Season, Seasons};
use purfle::reports::standing::standings;

use crate::demo::wish;

const SEAMS: [&str; 3] = ["seam_open_upper", "seam_open_lower", "seam_open_centre"];

/// The history of an invented shop as its report counts it, without a database.
fn report(even: bool) -> Recurrence {
    let mut world = World::new(wish(6000, 1)).expect("a world");
    if even {
        world.trade.without_seasons();
    }
    let mut counts = BTreeMap::<(String, &str, i64), i64>::new();
    let told = History::new(&world).tell(|batch| {
        for (book, of) in batch.books.iter().zip(&batch.of) {
            let order = &book.order;
            if book.is_bow || order.inspected_on.is_none() {
                continue;
            }
            let band = AgeBand::at(of.year_made, order.received_on.year()).code();
            let month = i64::from(order.received_on.month().month_number()) - 1;
            let confirmed = book.findings.iter().filter(|finding| finding.is_confirmed());
            let mut causes: Vec<&str> = confirmed.map(|finding| finding.cause.as_str()).collect();
            causes.sort_unstable();
            causes.dedup();
            for cause in causes.into_iter().chain([""]) {
                *counts.entry((cause.to_owned(), band, month)).or_default() += 1;
            }
        }
        true
    });
    told.expect("a history");
    let lines = counts
        .iter()
        .map(|((cause, band, month), orders)| (cause.as_str(), *band, vec![(*month, *orders)]));
    Recurrence::assemble(lines, &Bands::default(), &Seasons::northern())
}

fn dry_to_humid(report: &Recurrence) -> f64 {
    let calendar = Calendar::of_figures(report, Seasons::northern());
    let share = |season| -> f64 {
        let shares = SEAMS.map(|cause| calendar.share(season, cause).rate().expect("a rate"));
        shares.iter().sum()
    };
    share(Season::Dry) / share(Season::Humid)
}

/// Of seams, those that are told to swing over the year.
fn swinging(report: &Recurrence) -> usize {
    let calendar = Calendar::of_figures(report, Seasons::northern());
    let standings = standings(report, &Season::ALL, &calendar, &calendar);
    let causes = report.causes.iter().zip(&standings);
    let told =
        causes.filter(|(cause, told)| SEAMS.contains(&cause.cause.as_str()) && told.told_swing().is_some());
    told.count()
}

#[test]
fn seams_are_near_flat_in_a_shop_without_winters() {
    let (winters, even) = (report(false), report(true));
    assert!(dry_to_humid(&winters) >= 2.0 && swinging(&winters) == 3);
    let flat = dry_to_humid(&even);
    assert!((0.7..1.4).contains(&flat), "{flat}");
    assert_eq!(swinging(&even), 0);
}
