//! The tables of the month: each figure and each mark of the page stands in a CSV, and each sentence leads to its table.

mod drawn;
mod shown;

use std::collections::BTreeMap;

use purfle::diagnosis::age::AgeBand;
use purfle::reports::comebacks::By;

use crate::demo::{filled, wish};
use crate::recurrence::count;
use crate::shop::{Browser, Page, on_both};

use shown::{Shown, plain, shown};

/// A row of a CSV by its heads.
pub type Row = BTreeMap<String, String>;

/// A month, a year, six years, and each of a group.
const ASKED: [&str; 6] = [
    "from=2026-01&to=2026-01",
    "from=2025-01&to=2025-12",
    "from=2020-02&to=2026-01",
    "from=2026-01&to=2026-01&size=full",
    "from=2025-01&to=2025-12&family=violin",
    "from=2024-03&to=2025-04&account=school",
];

/// The page of a span, and how to get its tables.
pub struct Asked<'a> {
    owner: &'a Browser,
    query: String,
    page: Page,
    tables: Vec<Shown>,
}

impl<'a> Asked<'a> {
    pub async fn read(owner: &'a Browser, query: &str) -> Asked<'a> {
        let page = owner.get(&format!("/month?{query}")).await;
        assert_eq!(page.status.as_u16(), 200, "{query}: {}", page.body);
        let tables = shown(&page.body);
        let query = query.to_owned();
        Asked {
            owner,
            query,
            page,
            tables,
        }
    }

    pub async fn csv(&self, table: &str) -> Vec<Row> {
        rows(self.owner, &format!("/month.csv?{}&table={table}", self.query)).await
    }

    /// The rows of all tables whose caption begins so.
    fn rows(&self, captions: &[&str]) -> Vec<Vec<String>> {
        let begins = |table: &&Shown| captions.iter().any(|words| table.caption.starts_with(words));
        let tables = self.tables.iter().filter(begins);
        tables.flat_map(|table| table.rows.clone()).collect()
    }
}

pub async fn rows(owner: &Browser, path: &str) -> Vec<Row> {
    let answer = owner.get(path).await;
    assert_eq!(answer.status.as_u16(), 200, "{path}: {}", answer.body);
    let mut reader = csv::Reader::from_reader(answer.body.as_bytes());
    reader.deserialize().map(|row| row.expect("a row")).collect()
}

pub fn figure(row: &Row, head: &str) -> Option<f64> {
    let written = row.get(head).unwrap_or_else(|| panic!("no {head} in {row:?}"));
    (!written.is_empty()).then(|| written.parse().expect("a figure"))
}

fn whole(row: &Row, head: &str) -> i64 {
    row[head].parse().unwrap_or_else(|_| panic!("{head} of {row:?}"))
}

fn grouped(n: i64) -> String {
    purfle::words::grouped(n.unsigned_abs())
}

fn counts(row: &Row) -> String {
    format!(
        "{} of {}",
        grouped(whole(row, "confirmed")),
        grouped(whole(row, "inspected"))
    )
}

fn percent(rate: f64) -> String {
    match (rate * 100.0).round() {
        whole if rate > 0.0 && whole < 1.0 => "under 1 %".to_owned(),
        whole if rate < 1.0 && whole > 99.0 => "over 99 %".to_owned(),
        whole => format!("{whole} %"),
    }
}

/// "24 %, 16 to 35"
fn said(row: &Row) -> String {
    let end = |head| (figure(row, head).expect("an end") * 100.0).round();
    let rate = percent(figure(row, "rate").expect("a rate"));
    format!("{rate}, {} to {}", end("low"), end("high"))
}

/// A cell of a table, with its mark where there may be one.
fn cell(row: &Row) -> String {
    if whole(row, "inspected") == 0 {
        return "–".to_owned();
    }
    if row["too_few"] == "yes" {
        return format!("too few to say {}", counts(row));
    }
    let marked = match row.get("marked").map(String::as_str) {
        Some("more") => " ↑ more often",
        Some("less") => " ↓ more seldom",
        _ => "",
    };
    // The mark is what its q value and its rate beside the others say.
    if let Some(q_value) = row.get("q_value").and_then(|_| figure(row, "q_value")) {
        assert_eq!(q_value <= 0.05, !marked.is_empty(), "{row:?}");
    }
    format!("{} {}{marked}", counts(row), said(row))
}

/// The cells of each cause, in the order of the table.
fn by_cause(rows: &[Row], cell: impl Fn(&Row) -> String) -> Vec<Vec<String>> {
    let mut table: Vec<Vec<String>> = Vec::new();
    let mut last = None;
    for row in rows {
        if last != Some(&row["cause"]) {
            table.push(vec![row["name"].clone()]);
            last = Some(&row["cause"]);
        }
        table.last_mut().expect("a cause").push(cell(row));
    }
    table
}

/// "rises by 4 in 100 a band", from the slope and the q value over all causes.
fn with_age(row: &Row) -> String {
    let Some(slope) = figure(row, "age_slope") else {
        return String::new();
    };
    if figure(row, "age_q_value").is_none_or(|q_value| q_value > 0.05) {
        return " with age: level".to_owned();
    }
    let way = if slope > 0.0 { "rises" } else { "falls" };
    let hundredths = match slope.abs() * 100.0 {
        many if many >= 2.0 => format!("{many:.0}"),
        some if some >= 0.1 => format!("{some:.1}"),
        _ => "under 0.1".to_owned(),
    };
    format!(" with age: {way} by {hundredths} in 100 a band")
}

async fn causes(of: &Asked<'_>) {
    let csv = of.csv("causes").await;
    let due = csv.iter().map(|row| {
        let few = row["too_few"] == "yes";
        let told = if few {
            counts(row)
        } else {
            format!("{} {}", counts(row), said(row))
        };
        vec![row["name"].clone(), String::new(), told]
    });
    let due: Vec<_> = due.collect();
    assert_eq!(
        of.rows(&["Inspected orders in which", "The other causes confirmed"]),
        due,
        "{}",
        of.query
    );
}

async fn ages(of: &Asked<'_>) {
    let mut due = by_cause(&of.csv("ages").await, cell);
    for (row, cause) in due.iter_mut().zip(of.csv("causes").await) {
        row[0] += &with_age(&cause);
    }
    assert_eq!(
        of.rows(&["Confirmed, of those inspected, by age"]),
        due,
        "{}",
        of.query
    );
}

async fn seasons(of: &Asked<'_>) {
    let csv = of.csv("seasons").await;
    let told = of.rows(&["Confirmed, of those inspected, by season"]);
    assert_eq!(told, by_cause(&csv, cell), "{}", of.query);
    let table = of
        .tables
        .iter()
        .find(|table| table.id == "seasons")
        .expect("the seasons");
    for row in &csv {
        assert!(
            table.head.iter().any(|head| head.contains(&row["months"])),
            "{row:?}"
        );
        let span = span(row);
        assert!(
            table.caption.contains(&span) || of.page.body.contains(&span),
            "{row:?}"
        );
    }
}

/// The months that a row is read from, in words.
fn span(row: &Row) -> String {
    let span = purfle::reports::span::Span::parse(&row["from"], &row["to"]);
    span.expect("a span").words()
}

fn month_at(point: f64) -> &'static str {
    const NAMES: [&str; 12] = [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ];
    let point = point.rem_euclid(12.0);
    let month = NAMES.iter().zip(1..).find(|month| point < f64::from(month.1));
    month.expect("a point of the year").0
}

/// "highest in January (December to February), 2.3 times the odds of July"
fn over_year(row: &Row) -> String {
    let Some(peak) = figure(row, "peak") else {
        return "too few to say".to_owned();
    };
    if figure(row, "q_value").is_none_or(|q_value| q_value > 0.05) {
        return "level".to_owned();
    }
    let within = figure(row, "peak_within").map_or(String::new(), |within| {
        match (month_at(peak - within), month_at(peak + within)) {
            (from, to) if from == month_at(peak) && to == from => String::new(),
            (from, to) => format!(" ({from} to {to})"),
        }
    });
    let times = match (2.0 * figure(row, "amplitude").expect("an amplitude")).exp() {
        few if few < 9.95 => format!("{few:.1}"),
        many if many < 100.0 => format!("{many:.0}"),
        _ => "over 100".to_owned(),
    };
    let (highest, lowest) = (month_at(peak), month_at(peak + 6.0));
    format!("highest in {highest}{within}, {times} times the odds of {lowest}")
}

async fn heat(of: &Asked<'_>) {
    let in_100 = |row: &Row| {
        let tint = match figure(row, "times_its_share") {
            _ if row["too_few"] == "yes" => "",
            None => "",
            Some(times) if times < 0.75 => "0",
            Some(times) if times < 1.25 => "1",
            Some(times) if times < 1.75 => "2",
            Some(_) => "3",
        };
        assert_eq!(row["tint"], tint, "{row:?}");
        match figure(row, "rate").filter(|_| !tint.is_empty()) {
            None => "–".to_owned(),
            Some(rate) if rate > 0.0 && rate < 0.005 => format!("<1 heat-{tint}"),
            Some(rate) => format!("{} heat-{tint}", (rate * 100.0).round()),
        }
    };
    let csv = of.csv("heat").await;
    let mut due = by_cause(&csv, in_100);
    for (row, year) in due.iter_mut().zip(of.csv("year").await) {
        row.push(over_year(&year));
        assert_eq!(year["told"] == "yes", over_year(&year).starts_with("highest"));
    }
    assert_eq!(of.rows(&["Of 100 inspected in each month"]), due, "{}", of.query);
    let caption = format!("Of 100 inspected in each month of the year {};", span(&csv[0]));
    assert!(
        of.tables.iter().any(|table| table.caption.starts_with(&caption)),
        "{caption}"
    );
}

async fn years(of: &Asked<'_>) {
    let csv = of.csv("years").await;
    let shown = of.csv("causes").await;
    let of_shown: Vec<Row> = shown
        .iter()
        .flat_map(|cause| csv.iter().filter(|row| row["cause"] == cause["cause"]).cloned())
        .collect();
    let inspected = of.csv("inspected").await;
    let all = inspected.iter().filter(|row| row["age_band"] == "all");
    let mut first = vec!["Inspected".to_owned()];
    first.extend(all.map(|row| grouped(whole(row, "inspected"))));
    let told = of.rows(&["The same months, year by year", "The other causes, year by year"]);
    if first.len() == 2 {
        assert_eq!(told, Vec::<Vec<String>>::new(), "{}", of.query);
        return;
    }
    let told: Vec<_> = told.into_iter().filter(|row| *row != first).collect();
    assert_eq!(told, by_cause(&of_shown, cell), "{}", of.query);
    let by_age: i64 = inspected
        .iter()
        .filter(|row| row["age_band"] != "all")
        .map(|row| whole(row, "inspected"))
        .sum();
    assert_eq!(grouped(by_age), first[1]);
}

async fn work(of: &Asked<'_>) {
    let csv = of.csv("comebacks").await;
    let back: Vec<&Row> = csv.iter().filter(|row| row["comebacks"] != "0").collect();
    let told = of.rows(&["Comebacks"]);
    for (row, told) in back.iter().zip(&told).take(3) {
        let due = format!("{} of {}", row["comebacks"], row["confirmed"]);
        assert_eq!(*told, [row["name"].clone(), due], "{}", of.query);
    }
    let (all, came): (i64, i64) = (
        csv.iter().map(|row| whole(row, "confirmed")).sum(),
        csv.iter().map(|row| whole(row, "comebacks")).sum(),
    );
    let sentence = format!(
        "Of {} confirmed causes, {} were comebacks.",
        grouped(all),
        grouped(came)
    );
    let words = plain(&of.page.body);
    assert!(words.contains(&sentence) || came < 2, "{sentence}: {words}");
    let steps: Vec<Row> = of.csv("jobs").await;
    let told = of.rows(&["Steps done", "The other jobs"]);
    for job in &steps {
        let time = |head| purfle::words::minutes(whole(job, head)).replace('\u{a0}', " ");
        let due = [
            grouped(whole(job, "steps")),
            time("planned_minutes"),
            time("actual_minutes"),
        ];
        let row = told.iter().find(|row| row[0] == job["name"]).expect("the job");
        assert_eq!(row[1..4], due, "{}", of.query);
    }
    for (kind, words) in [
        ("charged_labour", "Labour"),
        ("charged_tax", "Tax"),
        ("taken_card", "Card"),
    ] {
        let money = of.csv("money").await;
        let amount = money
            .iter()
            .find(|row| row["kind"] == kind)
            .map(|row| row["amount"].clone());
        let row = of
            .rows(&["Charged", "Taken"])
            .into_iter()
            .find(|row| row[0] == words)
            .expect(words);
        let shown = row[1].replace(['€', ',', ' '], "");
        assert_eq!(Some(shown), amount, "{kind} {}", of.query);
    }
}

#[test]
fn every_figure_and_every_mark_of_the_page_stands_in_its_csv() {
    on_both(async |shop| {
        filled(&shop.app.db, wish(2_000, 5)).await;
        let owner = shop.sign_in("Tove Lindgarten").await;
        let mut words = String::new();
        for query in ASKED {
            let of = Asked::read(&owner, query).await;
            causes(&of).await;
            ages(&of).await;
            seasons(&of).await;
            heat(&of).await;
            years(&of).await;
            work(&of).await;
            drawn::course(&of).await;
            drawn::panels(&of).await;
            drawn::bars(&of).await;
            words += &plain(&of.page.body);
        }
        // It was not all level and unmarked.
        for mark in [
            "↑ more often",
            "↓ more seldom",
            "highest in",
            "with age: rises by",
        ] {
            assert!(words.contains(mark), "{mark} was never shown");
        }
    });
}

#[test]
fn each_picture_and_table_leads_to_its_own_csv() {
    on_both(async |shop| {
        filled(&shop.app.db, wish(600, 5)).await;
        let owner = shop.sign_in("Tove Lindgarten").await;
        let page = owner.get("/month?from=2025-01&to=2025-12&group=violin").await;
        for table in [
            "causes",
            "course",
            "comebacks",
            "money",
            "jobs",
            "years",
            "inspected",
            "ages",
            "heat",
            "year",
            "seasons",
        ] {
            let link = format!(
                "/month.csv?table={table}&#38;from=2025-01&#38;to=2025-12&#38;family=violin\">{table}.csv</a>"
            );
            assert!(page.body.contains(&link), "{link}");
        }
        for link in page.body.split("href=\"/month.csv").skip(1) {
            let query = link.split('"').next().expect("its end").replace("&#38;", "&");
            let csv = owner.get(&format!("/month.csv{query}")).await;
            assert_eq!(csv.status.as_u16(), 200, "{query}");
            assert!(csv.body.lines().count() > 1, "{query}: {}", csv.body);
        }
    });
}

/// Each sentence of the page opens with a link, and each link leads to one part of the page.
fn leads(page: &Page, sentences: usize) {
    let lead = page
        .body
        .split("report-part lead")
        .nth(1)
        .or_else(|| page.body.split("purfled lead").nth(1));
    let lead = lead
        .and_then(|part| part.split("</section>").next())
        .expect("the sentences");
    let told: Vec<&str> = lead.split("<p>").skip(1).collect();
    assert!(told.len() >= sentences, "{lead}");
    for sentence in told {
        assert!(sentence.starts_with("<b><a href=\"#"), "{sentence}");
        for link in sentence.split("href=\"#").skip(1) {
            let id = link.split('"').next().expect("its end");
            let there = page.body.matches(&format!(" id=\"{id}\"")).count();
            assert_eq!(there, 1, "{id} in {}", page.body);
        }
    }
}

#[test]
fn each_sentence_leads_to_its_table_at_any_size() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        for query in ["", "?from=2026-02", "?family=cello"] {
            leads(&owner.get(&format!("/month{query}")).await, 1);
        }
        leads(&owner.get("/comebacks").await, 1);
        // One order, inspected and nothing found; then one found, with nothing else; then a year before it.
        let student = ("cello", AgeBand::From2);
        for (month, cause) in [("2026-01", ""), ("2026-01", "peg_pin_loose"), ("2025-01", "")] {
            count(&shop, month, student, cause, 1).await;
            for query in ["", "?from=2025-01&to=2025-12", "?family=cello", "?family=viola"] {
                leads(&owner.get(&format!("/month{query}")).await, 1);
            }
        }
    });
}

#[test]
fn each_sentence_of_a_busy_shop_leads_to_its_table() {
    on_both(async |shop| {
        filled(&shop.app.db, wish(900, 5)).await;
        let owner = shop.sign_in("Tove Lindgarten").await;
        for query in ASKED {
            leads(&owner.get(&format!("/month?{query}")).await, 3);
        }
        for by in By::ALL.into_iter().filter(|by| *by != By::Technician) {
            leads(
                &owner
                    .get(&format!("/comebacks?by={}&as_of=2026-02-10", by.code()))
                    .await,
                2,
            );
        }
    });
}

#[test]
fn a_group_is_put_beside_the_rest_of_the_group_and_the_page_says_so() {
    on_both(async |shop| {
        let (old, student) = (("cello", AgeBand::From100), ("cello", AgeBand::From2));
        for (at, seams) in [(old, 20), (student, 2), (("violin", AgeBand::From2), 40)] {
            count(&shop, "2026-01", at, "", 40).await;
            count(&shop, "2026-01", at, "seam_open_lower", seams).await;
        }
        let owner = shop.sign_in("owner").await;
        let of = Asked::read(&owner, "from=2026-01&to=2026-01&family=cello").await;
        let old = of
            .csv("ages")
            .await
            .into_iter()
            .find(|row| row["age_band"] == "100_plus")
            .expect("the old");
        // Beside the students' 2 of 40, not beside the violins, all of which had an open seam.
        assert_eq!(old["marked"], "more");
        let words = plain(&of.page.body);
        assert!(
            words.contains("Than in the rest of all that this report is of, by Fisher's exact test"),
            "{words}"
        );
        assert!(!words.contains("rest of the shop"), "{words}");
    });
}

/// For the tests of reports that were kept.
pub async fn csv_as_it_was(owner: &Browser, table: &str, reported: &str) -> Vec<Row> {
    rows(
        owner,
        &format!("/month.csv?from=2026-01&to=2026-01&table={table}&reported={reported}"),
    )
    .await
}
