//! Whether the invented history shows the ties of age and season that a report should find in a real shop's.
//!
//! The ties are common practice of the trade, no source: their strengths are from memory, to spot a broken report.

use std::collections::HashMap;

use purfle::clock::YearMonth;
use purfle::reports::season::{Season, Seasons};

use super::{books, invented, wish};

const SEAMS: [&str; 3] = ["seam_open_upper", "seam_open_lower", "seam_open_centre"];
const TUNERS: [&str; 3] = ["tuner_screw_loose", "tuner_lock_nut_loose", "tuner_lever_on_top"];

/// One inspected order: season, real band of age as far as the shop knows it, student use by its size, family, causes.
struct Seen {
    season: Season,
    years: Option<i64>,
    small: bool,
    family: &'static str,
    causes: Vec<String>,
}

struct Shop(Vec<Seen>);

impl Shop {
    fn of(orders: u64) -> Shop {
        let (_, batches) = invented(wish(orders, 1));
        let small: HashMap<_, _> = batches
            .iter()
            .flat_map(|batch| &batch.instruments)
            .map(|row| {
                (
                    row.id,
                    matches!(row.size.as_str(), "3/4" | "1/2" | "1/4" | "1/8" | "1/10" | "1/16"),
                )
            })
            .collect();
        let of = batches.iter().flat_map(|batch| &batch.of);
        let seen = books(&batches)
            .zip(of)
            .filter(|(book, _)| book.order.inspected_on.is_some());
        let all = seen.map(|(book, brought)| {
            let (family, made) = (brought.family, brought.year_made);
            let month: YearMonth = book.order.received_on.month();
            let season = Seasons::northern().of_month(month.month_number());
            let confirmed = book.findings.iter().filter(|finding| finding.is_confirmed());
            Seen {
                season: season.expect("a month has a season"),
                years: made.map(|made| book.order.received_on.year() - made),
                small: small[&book.order.instrument],
                family,
                causes: confirmed.map(|finding| finding.cause.clone()).collect(),
            }
        });
        Shop(all.collect())
    }

    /// Of the orders that `among` lets through, the share with one of these causes.
    #[expect(clippy::cast_precision_loss, reason = "counts of a few thousand")]
    fn share(&self, causes: &[&str], among: impl Fn(&Seen) -> bool) -> f64 {
        let among: Vec<&Seen> = self.0.iter().filter(|seen| among(seen)).collect();
        let with = among
            .iter()
            .filter(|seen| seen.causes.iter().any(|cause| causes.contains(&cause.as_str())));
        assert!(among.len() > 100, "too few to say");
        with.count() as f64 / among.len() as f64
    }

    fn in_season(&self, causes: &[&str], season: Season) -> f64 {
        self.share(causes, |seen| seen.season == season)
    }
}

#[test]
fn the_history_has_the_ties_of_the_trade() {
    let shop = Shop::of(12_000);
    let dry_to_humid =
        |causes: &[&str]| shop.in_season(causes, Season::Dry) / shop.in_season(causes, Season::Humid);
    // 1. Open seams at least twice as common in dry months. 3. Strings too low in dry months.
    assert!(
        (2.0..5.0).contains(&dry_to_humid(&SEAMS)),
        "{}",
        dry_to_humid(&SEAMS)
    );
    assert!(
        dry_to_humid(&["heights_low"]) > 1.3,
        "{}",
        dry_to_humid(&["heights_low"])
    );
    // 2. What the weather does not touch is near flat. Shares sum to one: it loses a little where seams gain.
    let flat = [
        &TUNERS[..],
        &[
            "mute_on_afterlength",
            "sleeve_at_bridge",
            "sleeve_in_afterlength",
            "clothing_jewellery",
            "room_sympathetic",
        ],
    ]
    .concat();
    assert!(
        (0.6..1.5).contains(&dry_to_humid(&flat)),
        "{}",
        dry_to_humid(&flat)
    );
    // 4. Loose posts lean to humid months, and to new instruments.
    assert!(
        dry_to_humid(&["post_loose"]) < 0.8,
        "{}",
        dry_to_humid(&["post_loose"])
    );
    let years =
        |from: i64, to: i64| move |seen: &Seen| seen.years.is_some_and(|years| (from..to).contains(&years));
    assert!(shop.share(&["post_loose"], years(0, 2)) > 1.5 * shop.share(&["post_loose"], years(2, 400)));
    // 5. Grooves in the board are of those much played; next to none on new ones.
    assert!(
        shop.share(&["board_grooves"], years(20, 400)) > 3.0 * shop.share(&["board_grooves"], years(2, 20))
    );
    assert!(shop.share(&["board_grooves"], years(0, 2)) < 0.01);
    // 6. Tapes, wrong strings and tuners are of students, here those with small instruments.
    let student = [&TUNERS[..], &["finger_tapes", "string_mismatch"]].concat();
    assert!(shop.share(&student, |seen| seen.small) > 1.3 * shop.share(&student, |seen| !seen.small));
    // 7. Old glue is of old instruments.
    let old = ["purfling_loose", "cleat_loose", "label_loose"];
    assert!(shop.share(&old, years(80, 400)) > 2.0 * shop.share(&old, years(0, 80)));
    // 8. Cello and bass carry more seams and cracks.
    let splits = [
        &SEAMS[..],
        &[
            "top_crack",
            "rib_crack",
            "wing_crack",
            "post_crack",
            "back_crack_or_joint",
        ],
    ]
    .concat();
    let large = |seen: &Seen| matches!(seen.family, "cello" | "bass");
    assert!(shop.share(&splits, large) > 1.2 * shop.share(&splits, |seen| !large(seen)));
}

#[test]
fn the_history_is_of_the_size_it_says() {
    let (_, batches) = invented(wish(12_000, 1));
    let people = batches.iter().flat_map(|batch| &batch.customers);
    let kinds: Vec<&str> = people.map(|row| row.kind.as_str()).collect();
    let count = |kind| kinds.iter().filter(|known| **known == kind).count();
    assert_eq!((count("school"), count("fleet")), (2, 1));
    assert!(
        (500..1500).contains(&count("person")),
        "{} people",
        count("person")
    );
    let made: Vec<Option<i64>> = batches
        .iter()
        .flat_map(|batch| &batch.instruments)
        .map(|row| row.year_made)
        .collect();
    let unknown = made.iter().filter(|made| made.is_none()).count() * 100 / made.len();
    assert!((8..=17).contains(&unknown), "{unknown} % of unknown year");
    assert!(made.iter().flatten().any(|made| *made < 1800));
    let noises = books(&batches)
        .filter(|book| !book.findings.is_empty() || !book.order.answers.is_empty())
        .count();
    assert!((60..85).contains(&(noises * 100 / 12_000)), "{noises} noises");
    let months = 72;
    assert!(
        books(&batches)
            .map(|book| book.order.received_on.month())
            .min()
            .expect("orders")
            .0
            <= super::AS_OF.month().0 - months
    );
}
