//! Sentences: what the report says in words is counted, and true for one order as for thousands.

use purfle::reports::bands::Bands;
use purfle::reports::calendar::Calendar;
use purfle::reports::group::GROUPS;
use purfle::reports::recurrence::{Names, Recurrence, Totals};
use purfle::reports::season::{Season, Seasons};
use purfle::reports::sentences::{Told, listed};
use purfle::reports::span::Span;
use purfle::reports::standing::standings;
use purfle::reports::takings::{Job, Sum as Line, Takings};

const NAMES: [(&str, &str); 5] = [
    ("seam", "Open seam"),
    ("pin", "Loose pin"),
    ("nut", "Low nut"),
    ("tuner", "Loose tuner"),
    ("wolf", "Wolf note"),
];

struct Sum {
    cause: String,
    age_band: String,
    month: i64,
    orders: i64,
}

/// A cause in January or July, in a band, so many times; the cause is empty for what was inspected.
fn sum(cause: &str, band: &str, month: i64, orders: i64) -> Sum {
    Sum {
        cause: cause.into(),
        age_band: band.into(),
        month,
        orders,
    }
}

fn figures(sums: &[Sum]) -> Recurrence {
    let lines = sums.iter().map(|sum| {
        (
            sum.cause.as_str(),
            sum.age_band.as_str(),
            [(sum.month, sum.orders)],
        )
    });
    Recurrence::assemble(lines, &Bands::default(), &Seasons::northern())
}

fn before(span: Span, back: i64, inspected: i64, seams: i64) -> (Span, Totals) {
    let confirmed = [("seam".to_owned(), seams)].into();
    (span.moved(-12 * back), Totals { inspected, confirmed })
}

/// The sentences of a span, as they are read.
fn read(from: &str, to: &str, sums: &[Sum], years: &[(i64, i64)], takings: &Takings) -> Vec<String> {
    let span = Span::parse(from, to).expect("a span");
    let figures = figures(sums);
    let earlier: Vec<(Span, Totals)> = (1..)
        .zip(years)
        .map(|(back, (inspected, seams))| before(span, back, *inspected, *seams))
        .collect();
    let every_family = Totals::of_figures(&figures);
    let calendar = Calendar::of_figures(&figures, Seasons::northern());
    let told = Told {
        span,
        so_far: false,
        group: &GROUPS[0],
        figures: &figures,
        seasons: (span, &calendar),
        years: span,
        standings: &standings(&figures, &Season::ALL, &calendar, &calendar),
        earlier: &earlier,
        takings,
        every_family: &every_family,
        names: &Names::from(NAMES),
        charged: "€ 10.00",
    };
    let plain = |words: String| words.replace('\u{a0}', " ");
    told.sentences()
        .into_iter()
        .map(|sentence| plain(sentence.words()))
        .collect()
}

fn january(sums: &[Sum], years: &[(i64, i64)]) -> Vec<String> {
    read("2026-01", "2026-01", sums, years, &Takings::default())
}

#[test]
fn nothing_inspected_is_one_sentence() {
    assert_eq!(
        january(&[], &[]),
        ["Nothing received in January 2026 was inspected."]
    );
}

#[test]
fn one_order_is_one_and_too_few() {
    let said = january(
        &[sum("", "unknown", 0, 1), sum("seam", "unknown", 0, 1)],
        &[(1, 0)],
    );
    assert_eq!(
        said[0],
        "1 order received in January 2026 was inspected; a year before 1."
    );
    assert_eq!(said[1], "Most often: Open seam, in 1 of 1, too few to say more.");
    assert_eq!(said[2], "One cause was confirmed, and it was no comeback.");
    assert_eq!(said.len(), 3);
}

#[test]
fn inspected_without_a_cause_says_so() {
    let said = january(&[sum("", "2_to_19", 0, 12)], &[]);
    assert_eq!(
        said,
        [
            "12 orders received in January 2026 were inspected.",
            "No cause was confirmed."
        ]
    );
}

#[test]
fn a_share_stands_beside_the_years_before() {
    let sums = [sum("", "2_to_19", 0, 74), sum("seam", "2_to_19", 0, 18)];
    // 18 of 74 may be 16 to 35 %.
    for (seams, words) in [
        (
            7,
            "In the same month of the two years before it was 11 % (14 of 128), below that range.",
        ),
        (
            16,
            "In the same month of the two years before it was 25 % (32 of 128), within that range.",
        ),
        (
            25,
            "In the same month of the two years before it was 39 % (50 of 128), above that range.",
        ),
    ] {
        let said = january(&sums, &[(64, seams), (64, seams)]);
        assert_eq!(
            said[1],
            format!("Most often: Open seam, in 18 of 74 (24 %, between 16 and 35). {words}")
        );
    }
    let said = january(&sums, &[(3, 3), (1, 0)]);
    assert!(
        said[1].ends_with("In the same month of the two years before too few were inspected to compare.")
    );
    assert!(january(&sums, &[])[1].ends_with("between 16 and 35)."));
}

#[test]
fn causes_that_share_the_first_place_share_the_sentence() {
    let of = |causes: &[(&str, i64)]| {
        let mut sums = vec![sum("", "2_to_19", 0, 40)];
        sums.extend(
            causes
                .iter()
                .map(|(cause, orders)| sum(cause, "2_to_19", 0, *orders)),
        );
        january(&sums, &[(40, 1)])
    };
    let said = of(&[("seam", 6), ("pin", 6), ("nut", 2)]);
    assert_eq!(
        said[1],
        "Most often: “Loose pin” and “Open seam”, each in 6 of 40 (15 %, between 7 and 29)."
    );
    assert_eq!(said[2], "Then: “Low nut” (2).");
    let said = of(&[("seam", 1), ("pin", 1), ("nut", 1), ("tuner", 1)]);
    assert_eq!(
        said[1],
        "No cause leads: 4 causes were confirmed in 1 of 40 each."
    );
    assert!(said[2].starts_with("Of 4 confirmed causes"), "{said:?}");
    let said = of(&[("seam", 9), ("pin", 4), ("nut", 3), ("tuner", 2), ("wolf", 1)]);
    assert_eq!(
        said[2],
        "Then: “Loose pin” (4), “Low nut” (3) and “Loose tuner” (2). In all, 5 causes were confirmed."
    );
}

#[test]
fn age_is_spoken_of_where_one_band_is_first_and_one_last() {
    let sums = |young: i64, old: i64| {
        [
            sum("", "under_2", 0, 40),
            sum("", "100_plus", 0, 40),
            sum("", "unknown", 0, 40),
            sum("", "80_to_99", 0, 4),
            sum("seam", "80_to_99", 0, 4), // too few to be the first
            sum("seam", "under_2", 0, young),
            sum("seam", "100_plus", 0, old),
        ]
    };
    let apart = january(&sums(1, 20), &[]);
    let words = "Open seam: by age most often in instruments of 100 years and over (20 of 40), least often in those under 2 years (1 of 40)";
    assert_eq!(apart[2], format!("{words}; it rises with age."));
    let near = january(&sums(8, 10), &[]);
    assert!(near[2].ends_with("(8 of 40); that may be chance."), "{near:?}");
    let same = january(&sums(10, 10), &[]);
    assert!(
        !same.iter().any(|sentence| sentence.contains("by age")),
        "{same:?}"
    );
}

#[test]
fn seasons_are_spoken_of_where_there_are_several() {
    let sums = [
        sum("", "2_to_19", 0, 66),
        sum("", "2_to_19", 6, 38),
        sum("seam", "2_to_19", 0, 20),
        sum("seam", "2_to_19", 6, 1),
    ];
    let said = read(
        "2025-01",
        "2025-12",
        &sums,
        &[(100, 9), (90, 8)],
        &Takings::default(),
    );
    assert_eq!(
        said[0],
        "104 orders received in 2025 were inspected; in the two years before 100 and 90."
    );
    assert_eq!(
        said[2],
        "Open seam: in 2025 it was 20 of 66 in dry months and 1 of 38 in humid months."
    );
}

#[test]
fn work_is_said_in_ones_and_in_many() {
    let sums = [
        sum("", "2_to_19", 0, 74),
        sum("seam", "2_to_19", 0, 18),
        sum("pin", "2_to_19", 0, 9),
    ];
    let with = |steps: i64, pickups: i64, back: i64| {
        let takings = Takings {
            jobs: vec![Job {
                job: "a".into(),
                steps,
                planned_minutes: 60 * steps,
                actual_minutes: 66 * steps,
            }],
            money: vec![Line {
                kind: "charged_labour".into(),
                amount: purfle::money::Money(1000),
                orders: pickups,
            }],
            comebacks: [("seam".to_owned(), back)].into(),
        };
        read("2026-01", "2026-01", &sums, &[], &takings)
            .pop()
            .expect("a sentence")
    };
    assert_eq!(
        with(1, 1, 1),
        "Of 27 confirmed causes, one was a comeback. 1 step took 1 h 06 against 1 h planned. € 10.00 was charged at 1 pickup."
    );
    assert_eq!(
        with(10, 3, 4),
        "Of 27 confirmed causes, 4 were comebacks. 10 steps took 11 h against 10 h planned: 10 % over. € 10.00 was charged at 3 pickups."
    );
    assert!(with(10, 3, 0).starts_with("Of 27 confirmed causes, none was a comeback."));
}

#[test]
fn lists_read_as_they_are_said() {
    let of = |words: &[&str]| listed(&words.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>());
    assert_eq!((of(&[]), of(&["a"])), (String::new(), "a".into()));
    assert_eq!(
        (of(&["a", "b"]), of(&["a", "b", "c"])),
        ("a and b".into(), "a, b and c".into())
    );
}
