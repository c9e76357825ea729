//! Standing: what is said to stand out is there, and where nothing is there no more is said than was stated.

use purfle::diagnosis::age::AgeBand;
use purfle::reports::bands::Bands;
use purfle::reports::calendar::Calendar;
use purfle::reports::recurrence::Recurrence;
use purfle::reports::season::{Season, Seasons};
use purfle::reports::standing::{Standing, outstanding, standings};
use purfle::reports::weigh::{self, MARKED, Way};

use crate::alarms::at_most;

/// Numbers that look like chance, the same every time: SplitMix64 (G. L. Steele, D. Lea and C. H. Flood, OOPSLA 2014).
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        #[expect(clippy::cast_precision_loss, reason = "53 bits")]
        let part = ((bits ^ (bits >> 31)) >> 11) as f64;
        part / 9_007_199_254_740_992.0
    }
}

/// How many orders of a band came in a month, in a shop of some thousand orders over the years.
const INSPECTED: [[i64; 12]; 6] = [
    [2, 1, 3, 2, 2, 1, 0, 2, 3, 2, 2, 3],
    [30, 22, 25, 20, 18, 16, 10, 24, 40, 30, 25, 22],
    [40, 35, 33, 30, 28, 25, 20, 22, 30, 33, 36, 40],
    [9, 8, 8, 7, 6, 6, 4, 5, 7, 8, 9, 9],
    [22, 20, 18, 15, 12, 10, 8, 9, 12, 16, 20, 22],
    [8, 7, 6, 6, 5, 5, 4, 5, 6, 7, 8, 8],
];
/// The shares of its causes.
const SHARES: [(&str, f64); 12] = [
    ("a", 0.14),
    ("b", 0.1),
    ("c", 0.08),
    ("d", 0.06),
    ("e", 0.05),
    ("f", 0.04),
    ("g", 0.03),
    ("h", 0.02),
    ("i", 0.015),
    ("j", 0.01),
    ("k", 0.005),
    ("l", 0.002),
];

/// A cause, a band, and how many in which months.
type Line = (&'static str, &'static str, Vec<(i64, i64)>);

/// A shop in which each cause has its share, times what `ratio` says of it in a band and a month.
fn shop(seed: u64, ratio: impl Fn(&str, usize, usize) -> f64) -> Recurrence {
    let mut chance = Chance(seed);
    let mut lines: Vec<Line> = Vec::new();
    for (band, inspected) in AgeBand::ALL.into_iter().zip(INSPECTED) {
        lines.push(("", band.code(), (0..).zip(inspected).collect()));
        for (cause, share) in SHARES {
            let mut months = Vec::new();
            for (month, inspected) in inspected.into_iter().enumerate() {
                let share = share * ratio(cause, band as usize, month);
                let confirmed = (0..inspected).filter(|_| chance.next() < share).count();
                months.push((i64::try_from(month).unwrap(), i64::try_from(confirmed).unwrap()));
            }
            lines.push((cause, band.code(), months));
        }
    }
    let lines = lines.iter().map(|line| (line.0, line.1, line.2.clone()));
    Recurrence::assemble(lines, &Bands::default(), &Seasons::northern())
}

fn standing(figures: &Recurrence) -> Vec<Standing> {
    let calendar = Calendar::of_figures(figures, Seasons::northern());
    standings(figures, &Season::ALL, &calendar, &calendar)
}

/// The share of shops in which anything at all is marked, in each of five tables.
fn alarms(shops: u64) -> [f64; 5] {
    let mut alarms = [0.0; 5];
    for seed in 0..shops {
        let figures = shop(seed, |_, _, _| 1.0);
        let standings = standing(&figures);
        let any = |told: &dyn Fn(&Standing) -> bool| standings.iter().any(told);
        let marked = [
            any(&|cause| cause.bands.iter().any(|band| band.way().is_some())),
            any(&|cause| cause.seasons.iter().any(|season| season.way().is_some())),
            any(&|cause| cause.trend_word().is_some()),
            any(&|cause| cause.told_swing().is_some()),
            weigh::cells(&figures, None)
                .iter()
                .any(|cell| cell.weighed.way().is_some()),
        ];
        for (alarms, marked) in alarms.iter_mut().zip(marked) {
            *alarms += f64::from(u8::from(marked));
        }
    }
    #[expect(clippy::cast_precision_loss, reason = "a thousand")]
    alarms.map(|alarms| alarms / shops as f64)
}

/// Where nothing differs, whatever is marked is a false discovery: at most one shop in twenty may have any.
#[test]
fn a_thousand_shops_with_nothing_to_find_are_told_of_nothing_more_than_one_in_twenty_times() {
    let alarms = alarms(1000);
    println!(
        "by age {}, by season {}, trends {}, swings {}, cells {}",
        alarms[0], alarms[1], alarms[2], alarms[3], alarms[4]
    );
    for alarms in alarms {
        assert!(alarms * 1000.0 <= at_most(MARKED, 1000), "{alarms}");
    }
}

/// "b" three times as often on the two oldest bands, "c" 2.5 times in the dry months: both are found in nine of ten shops.
#[test]
fn what_is_there_is_found() {
    let mut found = [0; 4];
    for seed in 0..100 {
        let figures = shop(1_000_000 + seed, |cause, band, month| match cause {
            "b" if band == AgeBand::From80 as usize || band == AgeBand::From100 as usize => 3.0,
            "c" if [11, 0, 1, 2].contains(&month) => 2.5,
            _ => 1.0,
        });
        let standings = standing(&figures);
        let at = |code: &str| {
            figures
                .causes
                .iter()
                .position(|cause| cause.cause == code)
                .unwrap()
        };
        let (b, c) = (&standings[at("b")], &standings[at("c")]);
        let old = outstanding(&figures.bands, &standings)
            .iter()
            .any(|found| found.cause == at("b") && found.band == figures.bands.of(Some(100)));
        let dry = c.seasons[Season::Dry as usize].way() == Some(Way::More);
        let rises = b.trend_word() == Some("rises");
        let peak = c
            .told_swing()
            .is_some_and(|swing| [12, 1, 2, 3].contains(&swing.peak_month()));
        for (found, here) in found.iter_mut().zip([old, dry, rises, peak]) {
            *found += i32::from(here);
        }
    }
    println!(
        "old {}, dry {}, rises {}, peak {} of 100",
        found[0], found[1], found[2], found[3]
    );
    assert!(found.iter().all(|found| *found >= 90), "{found:?}");
}

#[test]
fn one_band_alone_has_nothing_beside_it() {
    let lines = [
        ("", "2_to_19", vec![(0, 30), (6, 20)]),
        ("seam", "2_to_19", vec![(0, 12), (6, 1)]),
    ];
    let figures = Recurrence::assemble(lines, &Bands::default(), &Seasons::northern());
    let standing = &standing(&figures)[0];
    assert!(
        standing
            .bands
            .iter()
            .all(|band| band.p_value.is_none() && band.way().is_none())
    );
    assert_eq!((standing.trend, standing.swing), (None, None));
    assert_eq!((standing.with_age(), standing.over_year()), (None, None));
    // But of the seasons there are two.
    assert_eq!(standing.seasons[Season::Dry as usize].way(), Some(Way::More));
}

#[test]
fn none_and_all_confirmed_are_told_without_a_figure_that_is_none() {
    for confirmed in [0, 1, 40] {
        let lines = [
            (
                "",
                "2_to_19",
                (0..12).map(|month| (month, 40)).collect::<Vec<_>>(),
            ),
            ("", "100_plus", (0..12).map(|month| (month, 40)).collect()),
            (
                "seam",
                "2_to_19",
                (0..12).map(|month| (month, confirmed)).collect(),
            ),
            (
                "seam",
                "100_plus",
                (0..12).map(|month| (month, confirmed)).collect(),
            ),
        ];
        let figures = Recurrence::assemble(lines, &Bands::default(), &Seasons::southern());
        for standing in standing(&figures) {
            for weighed in standing.bands.iter().chain(&standing.seasons) {
                let sane = |figure: Option<f64>| figure.is_none_or(|figure| (0.0..=1.0).contains(&figure));
                assert!(sane(weighed.p_value) && sane(weighed.q_value));
                assert_eq!(weighed.way(), None);
            }
            for shrunk in weigh::shrunk(&standing.bands) {
                assert!(shrunk.is_some_and(|rate| (0.0..=1.0).contains(&rate)));
            }
            let level = |words: Option<String>| words.is_none_or(|words| words == "level");
            assert!(level(standing.with_age()) && level(standing.over_year()));
        }
    }
}
