//! Whatever is wrong with a line is told, with its number, its column and what to do.

use serde::Deserialize;

use super::{HEAD, SAMPLE, bring, take};
use crate::shop::on_both;

/// A whole line, with some columns written otherwise.
fn line(otherwise: &[(&str, &str)]) -> String {
    let usual = [
        ("received_on", "2019-01-14"),
        ("collected_on", "2019-01-16"),
        ("customer", "Ann"),
        ("phone", ""),
        ("instrument", "The red one"),
        ("family", "violin"),
        ("size", "4/4"),
        ("year_made", "1924"),
        ("year_certainty", "circa"),
        ("complaint", "It buzzes"),
        ("answers", "onset=sudden"),
        ("confirmed", "nut_loose"),
        ("repaired", "nut_loose"),
        ("minutes", "40"),
        ("charged", "58.00"),
    ];
    let cell = |(column, cell): (&str, &str)| {
        let other = otherwise.iter().find(|other| other.0 == column);
        format!("\"{}\"", other.map_or(cell, |other| other.1).replace('"', "\"\""))
    };
    usual.map(cell).join(",")
}

fn book(otherwise: &[(&str, &str)]) -> String {
    let head = SAMPLE.lines().next().expect("a header");
    format!("{head}\n{}\n", line(otherwise))
}

#[test]
fn each_mistake_in_a_line_is_told_at_its_column() {
    let long = "x".repeat(4001);
    let mistakes: &[(&str, &str, &str)] = &[
        ("received_on", "14.1.2019", "Write the day as 2019-01-14."),
        (
            "received_on",
            "01/02/2019",
            "is no day of the calendar. Write it like",
        ),
        ("received_on", "2019-02-29", "is no day of the calendar"),
        ("received_on", "", "Write the day it came in"),
        ("received_on", "2019-01-17", ""),
        (
            "collected_on",
            "",
            "What is still here is taken in at the counter.",
        ),
        ("collected_on", "2026-02-11", "This day is still to come."),
        (
            "collected_on",
            "2019-01-13",
            "It cannot go home before it came in.",
        ),
        ("customer", " ", "Write the customer's name."),
        ("instrument", "", "Write what tells it from others"),
        ("family", "fiddle", "Choose violin, viola, cello, bass or bow."),
        ("size", "a size that is a sentence", "Keep this to 20 letters."),
        ("year_made", "2020", "The year made cannot be after 2019."),
        ("year_made", "about 1920", "Write the year in four digits"),
        ("year_made", "", "Write the year, or say that it is not known."),
        ("year_certainty", "perhaps", "Say exact, circa or unknown."),
        ("complaint", &long, "Keep this to 4000 letters."),
        ("complaint", "a\u{0}b", ""),
        ("answers", "onset", "“onset” is no answer. Write question=answer."),
        (
            "answers",
            "onsett=sudden",
            "“onsett” is no question of the catalogue. The nearest is onset.",
        ),
        (
            "answers",
            "onset=suden",
            "“suden” is no answer of onset. The nearest is sudden.",
        ),
        (
            "answers",
            "onset=sudden;onset=gradual",
            "onset is answered twice.",
        ),
        ("confirmed", "nut_lose", "The nearest is nut_loose."),
        (
            "confirmed",
            "gremlins",
            "“gremlins” is no cause of the catalogue.",
        ),
        ("confirmed", "bass_machine_loose", "does not happen on a violin"),
        (
            "repaired",
            "wolf_note",
            "wolf_note is not among the confirmed. Write it there too.",
        ),
        ("minutes", "an hour", "Write a whole number from 0 to 10000."),
        ("minutes", "10001", "Write a whole number from 0 to 10000."),
        ("charged", "$58", "Write only the figures"),
        ("charged", "-1", "Write the amount without a minus"),
        ("charged", "1.000", "That could be read two ways"),
    ];
    on_both(async |shop| {
        for (column, cell, words) in mistakes {
            let (brought, told) = bring(&shop, book(&[(column, cell)]), true).await;
            assert_eq!((brought.taken, brought.amiss), (0, 1), "{column} {cell}");
            let said = told
                .iter()
                .any(|told| told.starts_with("2 ") && told.contains(words));
            assert!(said, "{column} {cell}: {told:?}");
            let at = told.iter().any(|told| told.starts_with(&format!("2 {column}: ")));
            assert!(
                at || words.is_empty() || *column == "confirmed",
                "{column} {cell}: {told:?}"
            );
        }
        assert_eq!(shop.count("customer").await, 0);
        assert_eq!(take(&shop, &book(&[])).await.taken, 1);
    });
}

#[test]
fn a_cause_written_by_its_name_is_told_its_code() {
    on_both(async |shop| {
        let (name,): (String,) = shop
            .app
            .db
            .read("select name from cause where code = 'nut_loose'")
            .one()
            .await
            .expect("a cause");
        let (_, told) = bring(&shop, book(&[("confirmed", &name)]), false).await;
        assert_eq!(
            told[0],
            format!("2 confirmed: “{name}” is written nut_loose here.")
        );
    });
}

#[test]
fn a_header_that_is_not_right_is_told_and_nothing_is_read() {
    let one = "2019-01-01,2019-01-02,Ann,,A,violin,,\n";
    on_both(async |shop| {
        for (head, words) in [
            ("", "The column received_on is missing."),
            (
                &HEAD.replace("customer", "custommer"),
                "There is no column “custommer”. Perhaps it is customer.",
            ),
            (
                &HEAD.replace("phone", "colour of the case"),
                "There is no column “colour_of_the_case”. Take it out.",
            ),
            (
                &HEAD.replace("phone", "customer"),
                "The column customer is there twice.",
            ),
            (&HEAD.replace(",repaired", ""), "The column repaired is missing"),
        ] {
            let (brought, told) = bring(&shop, format!("{head}{one}"), true).await;
            assert_eq!((brought.taken, brought.amiss), (0, 1), "{head}");
            assert!(
                told.iter()
                    .any(|told| told.starts_with("1 ") && told.contains(words)),
                "{head}: {told:?}"
            );
        }
        let (_, told) = bring(&shop, "", true).await;
        assert_eq!(told, ["1 : There is nothing in this file."]);
        let wide: Vec<u8> = "\u{feff}received_on"
            .encode_utf16()
            .flat_map(u16::to_le_bytes)
            .collect();
        let (_, told) = bring(&shop, wide, true).await;
        assert_eq!(
            told,
            ["1 : This is not text in UTF-8. Save the table as CSV in UTF-8."]
        );
    });
}

#[test]
fn a_line_that_cannot_be_taken_apart_costs_itself_alone() {
    on_both(async |shop| {
        let mut text = HEAD.as_bytes().to_vec();
        text.extend(b"2019-01-01,2019-01-02,M\xfcller,,A,violin,,\n"); // Latin-1
        text.extend(b"2019-01-01,2019-01-02,\"Bob,,B,violin,,\n");
        text.extend(b"2019-01-01,2019-01-02,Eve,,C,violin,nut_loose,wolf_note,more,\n");
        text.extend("2019-01-01,2019-01-02,Zoë,,D,violin,,\n".as_bytes());
        let (brought, told) = bring(&shop, text, true).await;
        assert_eq!((brought.taken, brought.amiss), (1, 3));
        for (told, words) in told.iter().zip([
            "2 : customer: some letters are not UTF-8.",
            "3 : A quote is opened in this line",
            "4 : There are 10 cells in this line, more than the 8 of the header.",
        ]) {
            assert!(told.starts_with(words), "{told}");
        }
    });
}

#[derive(Deserialize)]
struct BadString {
    id: String,
    field: String,
    value: String,
    expect: String,
}

#[test]
fn bad_strings_are_kept_exactly_or_told() {
    #[derive(Deserialize)]
    struct File {
        strings: Vec<BadString>,
    }
    let file: File = serde_json::from_str(include_str!("../data/bad_strings.json")).expect("the strings");
    on_both(async |shop| {
        for string in &file.strings {
            let (column, value) = (string.field.as_str(), string.value.as_str());
            // Nothing at all and 0 are no amount that was charged.
            let column = match column {
                "text" => "complaint",
                "date" => "received_on",
                "price" if !value.is_empty() => "charged",
                _ => continue,
            };
            let collected = if column == "received_on" {
                "2026-02-10"
            } else {
                "2019-01-16"
            };
            let of = [
                (column, value),
                ("collected_on", collected),
                ("customer", string.id.as_str()),
            ];
            let (brought, told) = bring(&shop, book(&of), false).await;
            let kept = (brought.taken, told.len()) == (1, 0);
            let must = string.expect.starts_with("KEEP") && string.expect != "KEEP_OR_REF";
            let may_not = column != "complaint" && string.expect == "REF";
            assert!(kept || !must, "{}: {told:?}", string.id);
            assert!(!(kept && may_not), "{}", string.id);
            if kept && column == "complaint" {
                let (words,): (String,) =
                    shop.app.db.read("select o.words from work_order o join customer c on c.id = o.customer where c.name = $1")
                        .bind(string.id.clone()).one().await.expect("an order");
                assert_eq!(words, value.replace("\r\n", "\n").trim(), "{}", string.id);
            }
        }
        shop.is_well().await;
    });
}
