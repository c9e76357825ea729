//! Tags against Damm's claims: his check digit catches every wrong digit and every swap of neighbours.

use proptest::prelude::*;
use purfle::counter::tag::{FIRST_NUMBER, Misread, adds_up, check_digit, from_number, read, spoken};

use super::rows;

const CHARACTERS: &str = include_str!("data/check_characters.csv");
const DETECTION: &str = include_str!("data/check_detection.csv");

#[test]
fn the_check_digit_is_the_published_one() {
    for row in rows(CHARACTERS) {
        let check: Option<u8> = row.number("computed_check");
        assert_eq!(check_digit(row.text("payload")), check, "{}", row.source());
        assert_eq!(row.number("published_check"), check, "{}", row.source());
        let valid = row.text("published_valid") == "1";
        assert_eq!(adds_up(row.text("full_string")), valid, "{}", row.source());
    }
}

/// Every slip in the four digits of the number, the check digit kept: as many tried and as many missed as the table says.
#[test]
fn as_many_slips_are_caught_as_damm_claims() {
    for row in rows(DETECTION) {
        let slips = match row.text("error_class") {
            "single_substitution" => wrong_digits,
            "adjacent_transposition" => swaps,
            other => panic!("{other}"),
        };
        let (mut tried, mut missed) = (0, 0);
        for number in 0..10_000 {
            let payload = format!("{number:04}");
            let check = check_digit(&payload).unwrap();
            for slip in slips(&payload) {
                tried += 1;
                missed += u32::from(adds_up(&format!("{slip}{check}")));
            }
        }
        assert_eq!(Some(tried), row.number("computed_tried"), "{}", row.source());
        assert_eq!(Some(missed), row.number("published_missed"), "{}", row.source());
        assert_eq!(Some(missed), row.number("computed_missed"), "{}", row.source());
    }
}

/// The whole tag now, check digit and all: every tag of five digits, some of six and seven.
#[test]
fn no_slip_opens_another_order() {
    let some_longer = (10_000..100_000)
        .step_by(61)
        .chain((100_000..1_000_000).step_by(997));
    for number in (FIRST_NUMBER..10_000).chain(some_longer) {
        let tag = from_number(number);
        assert_eq!(read(&tag), Ok(tag.clone()));
        for slip in wrong_digits(&tag).into_iter().chain(swaps(&tag)) {
            assert!(read(&slip).is_err(), "{tag} as {slip}");
        }
    }
}

#[test]
fn a_swap_is_hinted_at_only_where_one_alone_fits() {
    let mut hints = 0;
    for typed in (10_000..100_000).map(|n| n.to_string()) {
        let fitting = swaps(&typed)
            .iter()
            .filter(|swapped| read(swapped).is_ok())
            .count();
        let expected = match (adds_up(&typed), fitting) {
            (true, _) => Ok(typed.clone()),
            (false, 1) => Err(Misread::MaybeSwapped),
            (false, _) => Err(Misread::DoesNotAddUp),
        };
        hints += u32::from(expected == Err(Misread::MaybeSwapped));
        assert_eq!(read(&typed), expected);
    }
    assert!(hints > 0);
}

#[test]
fn a_tag_is_read_however_it_is_spaced() {
    let tag = from_number(1042);
    let (front, back) = tag.split_at(3);
    let nbsp = '\u{a0}';
    for typed in [
        format!("{front} {back}"),
        format!("#{tag}"),
        format!("# {front}-{back}"),
        format!("  {front}.{back}\r\n"),
        format!("{front}{nbsp}{back}"),
    ] {
        assert_eq!(read(&typed), Ok(tag.clone()), "{typed:?}");
    }
}

#[test]
fn what_is_not_a_tag_is_told_apart() {
    use Misread::{Empty, LeadingZero, NotDigits, TooLong, TooShort};
    let arabic_indic = "\u{661}\u{660}\u{664}\u{662}\u{667}";
    let full_width = "\u{ff11}\u{ff10}\u{ff14}\u{ff12}\u{ff17}";
    let (long, too_long, with_zero) = (
        "1".repeat(11),
        "9".repeat(5000),
        format!("0{}", from_number(1042)),
    );
    let cases = [
        ("", Empty),
        (" ", Empty),
        ("#", Empty),
        ("- .", Empty),
        ("l0427", NotDigits),
        ("1O427", NotDigits),
        ("1e4", NotDigits),
        ("+10427", NotDigits),
        ("##10427", NotDigits),
        ("104#27", NotDigits),
        ("10427\u{0}", NotDigits),
        ("' OR 1=1--", NotDigits),
        (arabic_indic, NotDigits),
        (full_width, NotDigits),
        ("5724", TooShort),
        ("7", TooShort),
        (&long, TooLong),
        (&too_long, TooLong),
        (&with_zero, LeadingZero),
    ];
    for (typed, problem) in cases {
        assert_eq!(read(typed), Err(problem), "{typed:?}");
    }
    assert_eq!(
        Misread::DoesNotAddUp.to_string(),
        "That number does not add up: read it again, digit by digit."
    );
}

#[test]
fn a_tag_is_spoken_in_twos_and_threes() {
    let groups = [
        ("5724", "57 24"),
        ("10427", "104 27"),
        ("104275", "104 275"),
        ("1042753", "104 27 53"),
    ];
    let longer = [
        ("10427536", "104 275 36"),
        ("104275361", "104 275 361"),
        ("1042753618", "104 275 36 18"),
    ];
    for (tag, aloud) in groups.into_iter().chain(longer) {
        assert_eq!(spoken(tag), aloud);
    }
}

/// Numbers run from 1000; below that there is no tag that could be read back.
#[test]
fn a_number_below_the_first_opens_nothing() {
    for number in (-20..FIRST_NUMBER).chain([i64::MIN, i64::MAX]) {
        assert!(read(&from_number(number)).is_err(), "{number}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_number_reads_back_as_spoken(number in FIRST_NUMBER..1_000_000_000) {
        let tag = from_number(number);
        prop_assert_eq!(read(&spoken(&tag)), Ok(tag.clone()));
        prop_assert_eq!(tag[..tag.len() - 1].parse(), Ok(number));
    }

    #[test]
    fn whatever_is_typed_is_a_tag_or_a_hint(typed in "\\PC{0,20}|[0-9 .#-]{0,14}") {
        match read(&typed) {
            Ok(tag) => prop_assert!(adds_up(&tag)),
            Err(hint) => prop_assert!(hint.to_string().ends_with('.')),
        }
    }
}

fn wrong_digits(digits: &str) -> Vec<String> {
    let place = |at: usize| (b'0'..=b'9').map(move |digit| (at, digit));
    let all = (0..digits.len())
        .flat_map(place)
        .filter(|&(at, digit)| digits.as_bytes()[at] != digit);
    all.map(|(at, digit)| format!("{}{}{}", &digits[..at], char::from(digit), &digits[at + 1..]))
        .collect()
}

fn swaps(digits: &str) -> Vec<String> {
    let signs: Vec<char> = digits.chars().collect();
    let differing = (1..signs.len()).filter(|&at| signs[at - 1] != signs[at]);
    differing
        .map(|at| {
            let mut swapped = signs.clone();
            swapped.swap(at - 1, at);
            swapped.into_iter().collect()
        })
        .collect()
}
