//! The month: the owner's page and its CSV tell the same figures, and read well at any size.

use purfle::clock::YearMonth;
use purfle::diagnosis::age::AgeBand;
use purfle::money::Money;
use purfle::reports::tally::{Counts, DEFINITIONS};

use crate::recurrence::count;
use crate::shop::{Page, Shop, on_both};

const OLD: (&str, AgeBand) = ("violin", AgeBand::From100);
const STUDENT: (&str, AgeBand) = ("cello", AgeBand::From2);

/// January 2026 and the three Januaries before it, with work and money.
async fn fill(shop: &Shop) {
    for (month, inspected, seams) in [
        ("2026-01", 40, 14),
        ("2025-01", 30, 3),
        ("2024-01", 30, 3),
        ("2023-01", 30, 3),
    ] {
        count(shop, month, OLD, "", inspected).await;
        count(shop, month, OLD, "seam_open_lower", seams).await;
    }
    count(shop, "2026-01", STUDENT, "", 34).await;
    count(shop, "2026-01", STUDENT, "seam_open_lower", 4).await;
    count(shop, "2026-01", STUDENT, "peg_pin_loose", 7).await;
    count(shop, "2026-01", ("viola", AgeBand::Unknown), "", 3).await;
    count(shop, "2026-01", ("viola", AgeBand::Unknown), "peg_pin_loose", 2).await;
    count(shop, "2025-07", OLD, "", 12).await;
    let mut tx = shop.app.db.begin().await.expect("a transaction");
    let january = YearMonth::parse("2026-01").expect("a month");
    let mut counts = Counts::default();
    for actual in [30, 40, 50, 60, 70] {
        counts.job(january, "reglue_seam", 1, 40, actual);
    }
    counts.job(january, "", 1, 10, 90);
    for (kind, amount) in [
        ("charged_labour", 60_000),
        ("charged_parts", 4_000),
        ("charged_tax", 12_800),
        ("taken_card", 70_000),
    ] {
        counts.money(january, kind, Money(amount), 1);
    }
    counts.comeback(january, "seam_open_lower", 41, 2);
    counts.keep(&mut tx).await.expect("counted");
    tx.commit().await.expect("kept");
}

async fn page(shop: &Shop, query: &str) -> Page {
    shop.sign_in("owner").await.get(&format!("/month{query}")).await
}

async fn table(shop: &Shop, query: &str) -> Vec<Vec<String>> {
    let page = page(shop, &format!(".csv?{query}")).await;
    assert_eq!(page.status.as_u16(), 200, "{}", page.body);
    assert_eq!(page.header("content-type"), "text/csv; charset=utf-8");
    assert!(
        page.header("content-disposition")
            .starts_with("attachment; filename=\"")
    );
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(page.body.as_bytes());
    reader
        .records()
        .map(|row| row.expect("a row").iter().map(str::to_owned).collect())
        .collect()
}

/// Words as they are read: markup gone, blanks made one.
pub fn read(page: &Page) -> String {
    let (mut words, mut inside) = (String::new(), false);
    for letter in page.body.chars() {
        match letter {
            '<' => inside = true,
            '>' => {
                inside = false;
                words.push(' ');
            }
            _ if !inside => words.push(letter),
            _ => {}
        }
    }
    let words = words.replace("&#39;", "'");
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_last_full_month_opens_and_says_what_came_back() {
    on_both(async |shop| {
        fill(&shop).await;
        let words = read(&page(&shop, "").await);
        for sentence in [
            "The month of January 2026",
            "77 orders received in January 2026 were inspected; in the same month of the three years before 30, 30 and 30.",
            "18 of 77 (23 %, between 15 and 34). In the same month of the three years before it was 10 % (9 of 90), below that range.",
            "Then: “Loose pin or ball in a peg head” (9).",
            "by age most often in instruments of 100 years and over (14 of 40), least often in those of 2 to 19 years (4 of 34); it rises with age.",
            "Of 27 confirmed causes, 2 were comebacks.",
            "6 steps took 5 h 40 against 3 h 30 planned: 62 % over.",
            "€ 768.00 was charged at 1 pickup.",
        ] {
            assert!(words.contains(sentence), "{sentence}\n{words}");
        }
    });
}

#[test]
fn unknown_years_stand_in_a_band_of_their_own_and_few_are_not_rated() {
    on_both(async |shop| {
        fill(&shop).await;
        let words = read(&page(&shop, "?from=2026-01").await);
        assert!(words.contains("100 and over not known"));
        assert!(words.contains("too few to say 2 of 3"), "{words}");
        assert!(words.contains("too few to say 0 of 3"), "{words}");
        // One month is one season, so the seasons are read from the last five years, as far as there are any.
        assert!(words.contains("by season of intake, January 2023 to January 2026"));
        assert!(words.contains("humid months Jul to Aug"), "{words}");
    });
}

#[test]
fn an_empty_shop_reads_well() {
    on_both(async |shop| {
        let empty = page(&shop, "").await;
        assert_eq!(empty.status.as_u16(), 200);
        let words = read(&empty);
        assert!(
            words.contains("Nothing received in January 2026 was inspected."),
            "{words}"
        );
        assert!(!words.contains("0 of 0") && !words.contains("NaN"), "{words}");
        let words = read(&page(&shop, "?from=2026-02").await);
        assert!(
            words.contains("was inspected so far.") && words.contains("not over yet"),
            "{words}"
        );
        let words = read(&page(&shop, "?from=2027-02").await);
        assert!(words.contains("February 2027 has not begun yet."), "{words}");
    });
}

#[test]
fn the_first_month_of_a_shop_has_nothing_to_stand_beside() {
    on_both(async |shop| {
        count(&shop, "2026-02", STUDENT, "", 1).await;
        count(&shop, "2026-02", STUDENT, "peg_pin_loose", 1).await;
        let words = read(&page(&shop, "?from=2026-02").await);
        assert!(
            words.contains("1 order received in February 2026 was inspected so far."),
            "{words}"
        );
        assert!(words.contains("in 1 of 1, too few to say more."), "{words}");
        assert!(
            words.contains("One cause was confirmed, and it was no comeback."),
            "{words}"
        );
        assert!(
            !words.contains("Beside earlier years") && !words.contains("the years before"),
            "{words}"
        );
    });
}

#[test]
fn months_that_cannot_be_are_told_at_their_field_and_kept() {
    on_both(async |shop| {
        for (query, field, typed) in [
            ("?from=2025-13&to=2025-12", "from", "2025-13"),
            ("?from=1025-01&to=2025-12", "from", "1025-01"),
            ("?from=1900-01&to=2199-01", "from", "1900-01"),
        ] {
            let page = page(&shop, query).await;
            assert_eq!(page.status.as_u16(), 422);
            assert_eq!(page.field(field), typed);
            assert!(
                page.body.contains("Please look at what is marked"),
                "{}",
                page.body
            );
        }
        let turned = page(&shop, "?from=2025-12&to=2025-10").await;
        assert_eq!(
            (turned.status.as_u16(), turned.field("from"), turned.field("to")),
            (200, "2025-10", "2025-12")
        );
        assert!(turned.body.contains("turned round"));
    });
}

#[test]
fn one_steps_from_month_to_month_within_what_is_counted() {
    on_both(async |shop| {
        fill(&shop).await;
        let january = page(&shop, "?from=2026-01&family=cello").await.body;
        assert!(
            january.contains("/month?from=2025-12&#38;to=2025-12&#38;family=cello"),
            "{january}"
        );
        assert!(january.contains("/month?from=2026-02&#38;to=2026-02&#38;family=cello"));
        let first = page(&shop, "?from=2023-01").await.body;
        assert!(!first.contains("rel=\"prev\"") && first.contains("rel=\"next\""));
        let last = page(&shop, "?from=2026-02").await.body;
        assert!(last.contains("rel=\"prev\"") && !last.contains("rel=\"next\""));
    });
}

#[test]
fn the_csv_has_the_figures_of_the_page() {
    on_both(async |shop| {
        fill(&shop).await;
        let words = read(&page(&shop, "?from=2026-01").await);
        let causes = table(&shop, "from=2026-01&table=causes").await;
        assert_eq!(causes[0][..4], ["cause", "name", "inspected", "confirmed"]);
        assert_eq!(causes.len(), 3);
        for row in &causes[1..] {
            let rate: f64 = row[4].parse().expect("a rate");
            let (low, high): (f64, f64) = (row[5].parse().expect("low"), row[6].parse().expect("high"));
            let percent = |part: f64| (part * 100.0).round();
            let line = format!(
                "{} {} of {} {} %, {} to {}",
                row[1],
                row[3],
                row[2],
                percent(rate),
                percent(low),
                percent(high)
            );
            assert!(words.contains(&line), "{line}\n{words}");
        }
        let cells = table(&shop, "from=2026-01&table=cells").await;
        assert_eq!(cells.len(), 1 + 2 * 3); // two causes in three bands, one season
        let confirmed: i64 = cells[1..]
            .iter()
            .map(|row| row[5].parse::<i64>().expect("a count"))
            .sum();
        assert_eq!(confirmed, 27);
    });
}

#[test]
fn each_table_of_the_page_is_there_as_csv() {
    on_both(async |shop| {
        fill(&shop).await;
        let years = table(&shop, "from=2026-01&table=years").await;
        assert_eq!(years.len(), 1 + 2 * 4);
        let jobs = table(&shop, "from=2026-01&table=jobs").await;
        assert_eq!(jobs[1][2..], ["5", "200", "250"]);
        assert_eq!(jobs[2][..2], ["", "In free words"]);
        let money = table(&shop, "from=2026-01&table=money").await;
        assert_eq!(money[1], ["charged_labour", "600.00", "EUR", "1"]);
        assert_eq!(money[5], ["taken_card", "700.00", "EUR", "1"]);
        let back = table(&shop, "from=2026-01&table=comebacks").await;
        assert_eq!(
            (&*back[1][0], &back[1][2..4]),
            ("seam_open_lower", &["18".to_owned(), "2".to_owned()][..])
        );
        assert_eq!(page(&shop, ".csv?table=people").await.status.as_u16(), 422);
        assert_eq!(
            page(&shop, ".csv?table=cells&from=soon").await.status.as_u16(),
            422
        );
    });
}

#[test]
fn a_name_that_starts_a_formula_is_defused_in_the_csv_alone() {
    on_both(async |shop| {
        fill(&shop).await;
        let name = "=HYPERLINK(\"x\")<b>";
        shop.app
            .db
            .write("update cause set name = $1 where code = 'peg_pin_loose'")
            .bind(name.to_owned())
            .execute()
            .await
            .expect("a new name");
        let causes = table(&shop, "from=2026-01&table=causes").await;
        assert_eq!(causes[2][1], format!("'{name}"));
        let page = page(&shop, "?from=2026-01").await;
        assert!(
            page.body.contains("=HYPERLINK(&#34;x&#34;)&#60;b&#62;"),
            "{}",
            page.body
        );
    });
}

#[test]
fn the_definitions_stand_on_the_page() {
    on_both(async |shop| {
        let words = read(&page(&shop, "").await);
        for (word, meaning) in DEFINITIONS {
            assert!(words.contains(&format!("{word} {meaning}")), "{word}");
        }
        assert!(words.contains("Where fewer than five orders were inspected"));
    });
}

#[test]
fn a_broken_address_is_told_in_words_on_the_page_and_to_a_program() {
    on_both(async |shop| {
        let (owner, program) = (shop.sign_in("owner").await, shop.program("owner").await);
        for (query, words) in [
            (
                "from=2025-01&from=2025-02",
                "This address names the first month twice. Choose it once.",
            ),
            (
                "to=2025-01&to=2025-01",
                "This address names the last month twice. Choose it once.",
            ),
            (
                "from=%ff",
                "There are signs in this address that are no text. Choose the months anew.",
            ),
        ] {
            for path in ["/month", "/month.csv"] {
                let page = owner.get(&format!("{path}?{query}")).await;
                assert_eq!(page.status.as_u16(), 400, "{path}?{query}");
                assert!(page.body.contains(words), "{query}: {}", page.body);
            }
            let told = program
                .get(&format!("/api/v1/reports/recurrence?{query}"))
                .await
                .json
                .to_string();
            assert!(
                told.contains("This stands twice. Say it once.") || told.contains("no text in UTF-8"),
                "{told}"
            );
        }
    });
}

#[test]
fn a_long_span_is_drawn_year_by_year_and_says_so() {
    on_both(async |shop| {
        fill(&shop).await;
        let words = read(&page(&shop, "?from=2023-01&to=2026-02").await);
        assert!(
            words.contains("year by year share of inspected orders"),
            "{words}"
        );
        for year in [
            "2023 3 of 30 10",
            "2025 3 of 42 7",
            "January to February 2026 18 of 77 23",
        ] {
            assert!(words.contains(year), "{year}\n{words}");
        }
        let words = read(&page(&shop, "?from=1950-01&to=2026-02").await);
        assert!(words.contains("year by year, the last twelve share"), "{words}");
        assert!(!words.contains("2014 0 of 0"), "{words}");
        let words = read(&page(&shop, "?from=2025-01&to=2025-12").await);
        assert!(
            words.contains("month by month share of inspected orders"),
            "{words}"
        );
    });
}
