//! Age bands and seasons: common practice of the trade, no source; the edges are those that the reports promise.

use proptest::prelude::*;
use purfle::diagnosis::age::AgeBand;
use purfle::reports::season::{NotSeasons, Season, Seasons};

#[test]
fn a_birthday_on_the_edge_goes_to_the_higher_band() {
    use AgeBand::{From2, From20, From80, From100, Under2};
    let edges = [
        (0, Under2),
        (1, Under2),
        (2, From2),
        (19, From2),
        (20, From20),
        (79, From20),
        (80, From80),
        (99, From80),
        (100, From100),
        (350, From100),
    ];
    for (age, band) in edges {
        assert_eq!(AgeBand::at(Some(2026 - age), 2026), band, "{age} years");
    }
}

/// Made on 29 February 2024 or any other day of it: only the years count.
#[test]
fn the_day_of_the_year_does_not_matter() {
    assert_eq!(AgeBand::at(Some(2024), 2025), AgeBand::Under2);
    assert_eq!(AgeBand::at(Some(2024), 2026), AgeBand::From2);
    assert_eq!(AgeBand::at(Some(1924), 2024), AgeBand::From100);
}

#[test]
fn no_year_or_an_impossible_one_is_unknown() {
    assert_eq!(AgeBand::at(None, 2026), AgeBand::Unknown);
    assert_eq!(AgeBand::at(Some(2027), 2026), AgeBand::Unknown);
    assert_eq!(AgeBand::at(Some(i64::MIN), i64::MAX), AgeBand::Unknown);
    assert_eq!(AgeBand::at(Some(i64::MAX), i64::MIN), AgeBand::Unknown);
}

#[test]
fn the_codes_of_the_bands_are_the_promised_ones() {
    let codes = [
        "under_2", "2_to_19", "20_to_79", "80_to_99", "100_plus", "unknown",
    ];
    assert_eq!(AgeBand::ALL.map(AgeBand::code), codes);
    for band in AgeBand::ALL {
        assert_eq!(AgeBand::of_code(band.code()), Some(band));
        assert_eq!(serde_json::to_value(band).unwrap(), band.code());
    }
    assert!(AgeBand::ALL.is_sorted());
    assert_eq!(AgeBand::of_code("old"), None);
}

/// Dry December to March, humid July and August.
#[test]
fn the_north_is_dry_in_winter() {
    let north = Seasons::northern();
    assert_eq!(north.months(Season::Dry).collect::<Vec<_>>(), [1, 2, 3, 12]);
    assert_eq!(north.months(Season::Humid).collect::<Vec<_>>(), [7, 8]);
    assert_eq!(
        north.months(Season::Change).collect::<Vec<_>>(),
        [4, 5, 6, 9, 10, 11]
    );
}

/// Dry June to August, humid January and February.
#[test]
fn the_south_is_dry_in_its_own_winter() {
    let south = Seasons::southern();
    assert_eq!(south.months(Season::Dry).collect::<Vec<_>>(), [6, 7, 8]);
    assert_eq!(south.months(Season::Humid).collect::<Vec<_>>(), [1, 2]);
    assert_eq!(
        south.months(Season::Change).collect::<Vec<_>>(),
        [3, 4, 5, 9, 10, 11, 12]
    );
}

#[test]
fn a_shop_without_seasons_has_one() {
    let even = Seasons::without_seasons();
    assert!((1..=12).all(|month| even.of_month(month) == Some(Season::Change)));
}

#[test]
fn there_is_no_month_outside_the_year() {
    for month in [0, 13, 255] {
        assert_eq!(Seasons::northern().of_month(month), None);
    }
}

#[test]
fn seasons_are_written_as_twelve_letters() {
    assert_eq!(Seasons::northern().to_string(), "dddccchhcccd");
    assert_eq!(Seasons::southern().to_string(), "hhcccdddcccc");
    assert_eq!("dddccchhcccd".parse(), Ok(Seasons::northern()));
    for typed in [
        "",
        "dddccchhccc",
        "dddccchhcccdd",
        "DDDCCCHHCCCD",
        "dddccchhcccx",
        " dddccchhcccd",
    ] {
        assert_eq!(typed.parse::<Seasons>(), Err(NotSeasons), "{typed:?}");
    }
}

#[test]
fn the_codes_of_the_seasons_are_the_promised_ones() {
    assert_eq!(Season::ALL.map(Season::code), ["dry", "humid", "change"]);
    for season in Season::ALL {
        assert_eq!(Season::of_code(season.code()), Some(season));
        assert_eq!(serde_json::to_value(season).unwrap(), season.code());
    }
    assert_eq!(Season::of_code("winter"), None);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_year_has_its_seasons_back(letters in "[dhc]{12}") {
        let seasons: Seasons = letters.parse().unwrap();
        prop_assert_eq!(seasons.to_string(), letters.clone());
        for (letter, month) in letters.chars().zip(1..) {
            let code = seasons.of_month(month).unwrap().code();
            prop_assert!(code.starts_with(letter));
        }
        prop_assert_eq!(Season::ALL.map(|season| seasons.months(season).count()).iter().sum::<usize>(), 12);
    }
}
