//! Money against decimal arithmetic and the EN 16931 base example: rounding, tax, bench time; and what may be typed.

use std::num::NonZeroU32;

use proptest::prelude::*;
use purfle::money::{Currency, LIMIT, Money, MoneyProblem, Rate, labour, parse, rounded, tax, taxed};

use super::{Row, rows};

const ROUNDING: &str = include_str!("data/money_rounding.csv");
const TAX: &str = include_str!("data/money_tax.csv");
const LABOUR: &str = include_str!("data/money_labour.csv");

#[test]
fn halves_go_away_from_zero() {
    for row in rows(ROUNDING) {
        let (value, decimals) = exact(row.text("value"));
        let places: u32 = row.number("places").unwrap();
        let denominator = NonZeroU32::new(10_u32.pow(decimals - places)).unwrap();
        let ours = rounded(value, denominator).unwrap();
        for column in ["published_result", "computed_result"] {
            if !row.text(column).is_empty() {
                assert_eq!(ours, minor(row.text(column), places), "{}", row.source());
            }
        }
    }
}

#[test]
fn tax_is_worked_once_on_all_lines_of_a_rate() {
    for row in rows(TAX) {
        let rate = Rate::parse(row.text("tax_rate_pct")).unwrap();
        let lines: Vec<Money> = row
            .text("line_amounts")
            .split(';')
            .map(|line| minor(line, 2))
            .collect();
        let all = taxed(lines.iter().map(|&line| (line, rate))).unwrap();
        let [of_rate] = all[..] else { panic!("one rate") };
        assert_eq!(of_rate.base, Money::sum(lines).unwrap());
        assert_eq!(of_rate.tax, tax(of_rate.base, rate).unwrap());
        agrees(&row, "tax", of_rate.tax);
        agrees(&row, "total", of_rate.base.plus(of_rate.tax).unwrap());
    }
}

fn agrees(row: &Row, column: &str, ours: Money) {
    assert_eq!(
        ours,
        minor(row.text(&format!("computed_{column}")), 2),
        "{}",
        row.source()
    );
    let published = row.text(&format!("published_{column}"));
    assert!(
        published.is_empty() || ours == minor(published, 2),
        "{}",
        row.source()
    );
}

/// 7 % and 19 % on one bill: by hand, 4.97 and 4.97 at 19 % are 9.94 and 1.8886; 10.01 at 7 % is 0.7007.
#[test]
fn each_rate_of_a_bill_is_taxed_by_itself() {
    let (low, high) = (Rate(70_000), Rate(190_000));
    let all = taxed([(Money(497), high), (Money(1001), low), (Money(497), high)]).unwrap();
    let shown: Vec<_> = all.iter().map(|of| (of.rate, of.base.0, of.tax.0)).collect();
    assert_eq!(shown, [(low, 1001, 70), (high, 994, 189)]);
}

#[test]
fn bench_time_is_priced_to_the_minute() {
    for row in rows(LABOUR) {
        let minutes = row.number("minutes").unwrap();
        let ours = labour(minutes, minor(row.text("rate_per_hour"), 2)).unwrap();
        assert_eq!(ours, minor(row.text("computed_amount"), 2), "{}", row.source());
    }
}

#[test]
fn nothing_goes_over_the_limit_unseen() {
    let top = Money(LIMIT);
    let too_much = Err(MoneyProblem::TooMuch);
    assert_eq!(top.plus(Money(1)), too_much);
    assert_eq!(Money(-LIMIT).minus(Money(1)), too_much);
    assert_eq!(Money(99_999_999).times(200), too_much);
    assert_eq!(Money(i64::MAX).times(i64::MAX), too_much);
    assert_eq!(labour(i64::MAX, Money(i64::MAX)), too_much);
    assert_eq!(labour(i64::MIN, Money(i64::MAX)), too_much);
    assert_eq!(tax(Money(i64::MAX), Rate(i64::MAX)), too_much);
    assert_eq!(Money::sum([Money(i64::MAX); 3]), too_much);
    assert_eq!(
        taxed([(top, Rate(0)), (Money(1), Rate(0))]),
        Err(MoneyProblem::TooMuch)
    );
    assert_eq!(top.minus(top).and_then(|none| none.plus(top)), Ok(top));
    assert_eq!(Money::sum([top, top, Money(-LIMIT)]), Ok(top));
}

#[test]
fn an_amount_over_the_limit_is_not_read_from_the_api() {
    assert_eq!(serde_json::from_str::<Money>("99999999").unwrap(), Money(LIMIT));
    for refused in [
        "100000000",
        "-100000000",
        "9223372036854775808",
        "5.0",
        "\"5\"",
        "true",
        "null",
        "[5]",
    ] {
        assert!(serde_json::from_str::<Money>(refused).is_err(), "{refused}");
    }
    assert_eq!(serde_json::to_string(&Money(-5)).unwrap(), "-5");
    for refused in ["-1", "1000001"] {
        assert!(serde_json::from_str::<Rate>(refused).is_err(), "{refused}");
    }
}

#[test]
fn a_rate_is_typed_as_a_percentage() {
    let typed = [
        ("19", 190_000),
        ("7.25", 72_500),
        ("8,875", 88_750),
        ("0", 0),
        ("100", 1_000_000),
        ("0.0001", 1),
    ];
    for (text, millionths) in typed {
        assert_eq!(Rate::parse(text), Ok(Rate(millionths)), "{text}");
    }
    for text in [
        "",
        "100.01",
        "-5",
        "19%",
        "1e1",
        "0.00001",
        "1000",
        ".5",
        "5.",
        "\u{661}\u{669}",
    ] {
        assert_eq!(Rate::parse(text), Err(MoneyProblem::NotARate), "{text}");
    }
    assert_eq!(Rate(72_500).typed(), "7.25");
    assert_eq!(Rate(190_000).show(), "19\u{a0}%");
    assert_eq!(Rate(1_000_000).typed(), "100");
}

/// Digits behind the mark as ISO 4217 has them: euro 2, yen 0, Kuwaiti dinar 3 (from memory).
#[test]
fn an_amount_is_shown_with_its_currency() {
    let shown = [
        ("EUR", 124_050, "€\u{a0}1,240.50"),
        ("EUR", 5, "€\u{a0}0.05"),
        ("EUR", 0, "€\u{a0}0.00"),
        ("EUR", -2000, "\u{2212}€\u{a0}20.00"),
        ("USD", LIMIT, "$\u{a0}999,999.99"),
        ("CHF", 100, "CHF\u{a0}1.00"),
        ("JPY", 124_050, "¥\u{a0}124,050"),
        ("KWD", 124_050, "KWD\u{a0}124.050"),
        ("XTS", 1234, "XTS\u{a0}12.34"),
    ];
    for (code, minor, text) in shown {
        assert_eq!(Money(minor).show(&currency(code)), text);
    }
    assert_eq!(
        Money(i64::MIN).show(&currency("JPY")),
        "\u{2212}¥\u{a0}9,223,372,036,854,775,808"
    );
}

#[test]
fn a_currency_is_three_capital_letters() {
    for code in ["", "EU", "EURO", "eur", "€€€", "E1R", "ÄÖ"] {
        assert_eq!(Currency::new(code), None, "{code}");
    }
    let mut listed: Vec<&str> = Currency::codes().collect();
    assert!(
        listed
            .iter()
            .all(|code| Currency::listed(code).is_some_and(|known| known.code() == *code))
    );
    listed.sort_unstable();
    listed.dedup();
    assert_eq!(listed.len(), Currency::codes().count());
}

/// ISO 4217, list one: what people pay with, and the digits of its minor unit.
#[test]
fn a_new_shop_counts_in_a_money_that_there_is() {
    for code in ["ZZZ", "XTS", "XAU", "XDR", "CHW", "DEM", "BGN", "eur", "EU", ""] {
        assert_eq!(Currency::listed(code), None, "{code}");
    }
    let digits = |code: &str| Currency::listed(code).map(|known| known.digits());
    for code in [
        "BIF", "CLP", "ISK", "JPY", "KRW", "PYG", "UGX", "VND", "XAF", "XOF", "XPF",
    ] {
        assert_eq!(digits(code), Some(0), "{code}");
    }
    for code in ["BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"] {
        assert_eq!(digits(code), Some(3), "{code}");
    }
    for code in [
        "EUR", "USD", "CHF", "HUF", "IDR", "MGA", "NGN", "SLE", "XCD", "ZWG",
    ] {
        assert_eq!(digits(code), Some(2), "{code}");
    }
    assert_eq!(Currency::codes().count(), 16 + 132 + 7);
}

#[test]
fn a_plain_amount_is_taken() {
    let taken = [
        ("12", 1200),
        ("12.5", 1250),
        ("12,5", 1250),
        ("12,50", 1250),
        ("1240.50", 124_050),
        ("0", 0),
        ("0.01", 1),
        ("007", 700),
        (" 5 ", 500),
        ("\t5\n", 500),
        ("1234", 123_400),
        ("999999.99", LIMIT),
        ("00000000000000000000005", 500),
    ];
    for (text, minor) in taken {
        assert_eq!(parse(text, &currency("EUR")), Ok(Money(minor)), "{text:?}");
    }
    assert_eq!(parse("1234", &currency("JPY")), Ok(Money(1234)));
    assert_eq!(parse("99999999", &currency("JPY")), Ok(Money(LIMIT)));
    assert_eq!(parse("12.5", &currency("KWD")), Ok(Money(12_500)));
    assert_eq!(parse("1.234", &currency("KWD")), Ok(Money(1234)));
    assert_eq!(parse("0,125", &currency("KWD")), Ok(Money(125)));
}

#[test]
fn what_may_be_misread_by_a_thousand_comes_back() {
    let cases = [
        ("EUR", "1,234", "1234"),
        ("EUR", "123,456", "123456"),
        ("EUR", "1.234", "1234"),
        ("EUR", "1.999", "1999"),
        ("EUR", "1,23,456", "123456"),
        ("EUR", "1.23.45", "123.45"),
        ("JPY", "1,234", "1234"),
        ("KWD", "1,234", "1234"),
    ];
    for (code, text, example) in cases {
        let problem = MoneyProblem::TwoReadings {
            example: example.to_owned(),
        };
        assert_eq!(parse(text, &currency(code)), Err(problem), "{code} {text}");
    }
}

#[test]
fn marks_and_signs_that_can_mean_one_thing_only_are_understood() {
    let cases = [
        ("EUR", "1.234,56", 123_456),
        ("EUR", "1,234.56", 123_456),
        ("EUR", "1 234,50", 123_450),
        ("EUR", "1'234.56", 123_456),
        ("EUR", "1 234", 123_400),
        ("EUR", "€ 5", 500),
        ("EUR", "5 EUR", 500),
        ("EUR", "1.234,56 €", 123_456),
        ("BRL", "R$ 5,50", 550),
        ("JPY", "¥1,234,567", 1_234_567),
        ("KWD", "1,234.567", 1_234_567),
    ];
    for (code, text, minor) in cases {
        assert_eq!(parse(text, &currency(code)), Ok(Money(minor)), "{code} {text}");
    }
    for text in ["1.234,567", "1.23,45", "1 23", "1.234 567", "1,234.5.6", "$ 5"] {
        assert!(parse(text, &currency("EUR")).is_err(), "{text}");
    }
}

#[test]
fn decimals_that_the_currency_lacks_are_never_rounded_away() {
    let cases = [
        ("EUR", "0.001"),
        ("EUR", "0.005"),
        ("EUR", "12.3456"),
        ("EUR", "1234.567"),
        ("JPY", "12.5"),
        ("KWD", "0.1234"),
    ];
    for (code, text) in cases {
        let problem = parse(text, &currency(code)).unwrap_err();
        assert!(
            matches!(problem, MoneyProblem::TooManyDecimals { .. }),
            "{code} {text}: {problem:?}"
        );
    }
    let hint = parse("0.005", &currency("EUR")).unwrap_err().to_string();
    assert_eq!(hint, "EUR has 2 decimals here: write it like 12.00.");
}

#[test]
fn anything_else_is_told_apart() {
    let kind = |text: &str| match parse(text, &currency("EUR")).unwrap_err() {
        MoneyProblem::Empty => "empty",
        MoneyProblem::Negative => "negative",
        MoneyProblem::CurrencySign { .. } => "sign",
        MoneyProblem::AboveLimit { .. } => "limit",
        MoneyProblem::NotAnAmount { .. } => "not an amount",
        other => panic!("{text}: {other:?}"),
    };
    let groups: [(&str, &[&str]); 5] = [
        ("empty", &["", "  ", "\u{a0}"]),
        ("negative", &["-0.01", "-0", "\u{2212}5"]),
        ("sign", &["5 £", "$5", "€", "5₿"]),
        (
            "limit",
            &[
                "10000000",
                "10000000.00",
                "9223372036854775807",
                "92233720368547758.08",
                "99999999999999999999999999",
            ],
        ),
        (
            "not an amount",
            &[
                "1e3",
                "1E400",
                "1e308",
                "NaN",
                "Infinity",
                "0x10",
                "1_000",
                "1/2",
                "=1+1",
                "+5",
                "--5",
                "-x",
                ".5",
                "5.",
                ".",
                ",",
                "1..2",
                "\u{663}\u{66b}\u{665}",
                "\u{ff11}\u{ff12}",
                "\u{6f5}",
                "EUR",
                "5\u{0}",
                "12 a",
            ],
        ),
    ];
    for (expected, texts) in groups {
        for text in texts {
            assert_eq!(kind(text), expected, "{text:?}");
        }
    }
    assert_eq!(kind(&"9".repeat(100_000)), "limit");
    let hint = parse("10000000", &currency("EUR")).unwrap_err().to_string();
    assert_eq!(
        hint,
        "That is more than can be written down: €\u{a0}999,999.99 at most."
    );
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_we_type_we_read_back(minor in 0..=LIMIT, small in 0..=20_000_i64) {
        for code in ["EUR", "JPY", "KWD", "XTS"] {
            for money in [Money(minor), Money(small)] {
                prop_assert_eq!(parse(&money.typed(&currency(code)), &currency(code)), Ok(money));
            }
        }
    }

    #[test]
    fn no_text_trips_the_reading(text in "\\PC{0,12}|[0-9.,' €-]{0,14}") {
        if let Ok(money) = parse(&text, &currency("EUR")) {
            prop_assert!((0..=LIMIT).contains(&money.0));
        }
    }

    /// The definition: the nearest whole unit, and of two equally near the one further from zero.
    #[test]
    fn tax_is_the_nearest_unit(base in -LIMIT..=LIMIT, rate in 0..=1_000_000_i64) {
        let ours = i128::from(tax(Money(base), Rate(rate)).unwrap().0);
        let exact = i128::from(base) * i128::from(rate);
        let off = (ours * 1_000_000 - exact) * exact.signum();
        prop_assert!(-500_000 < off && off <= 500_000);
    }

    #[test]
    fn a_credit_is_the_charge_turned_round(base in 0..=LIMIT, rate in 0..=1_000_000_i64, minutes in 0..=6000_i64) {
        prop_assert_eq!(tax(Money(-base), Rate(rate)).unwrap().0, -tax(Money(base), Rate(rate)).unwrap().0);
        let hourly = Money(base / 100);
        prop_assert_eq!(labour(-minutes, hourly).unwrap().0, -labour(minutes, hourly).unwrap().0);
    }

    #[test]
    fn a_rate_comes_back_as_typed(millionths in 0..=1_000_000_i64) {
        prop_assert_eq!(Rate::parse(&Rate(millionths).typed()), Ok(Rate(millionths)));
    }
}

fn currency(code: &str) -> Currency {
    Currency::new(code).unwrap()
}

/// A decimal as a whole number and how many of its digits stand behind the point: "-1.005" is (-1005, 3).
fn exact(decimal: &str) -> (i128, u32) {
    let decimals = decimal.split_once('.').map_or(0, |(_, behind)| behind.len());
    (
        decimal.replace('.', "").parse().unwrap(),
        u32::try_from(decimals).unwrap(),
    )
}

fn minor(decimal: &str, places: u32) -> Money {
    let (value, decimals) = exact(decimal);
    Money(i64::try_from(value * 10_i128.pow(places - decimals)).unwrap())
}
