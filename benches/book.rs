//! The old book: how long its lines take to be brought in, beside the database alone copying the rows that came of it.
//!
//! `cargo bench --bench book` invents a book of 100,000 visits, or of as many as `PURFLE_BENCH_LINES` says, brings it into a
//! shop of some hundred orders on SQLite, and on PostgreSQL where `PURFLE_TEST_POSTGRES` names a server, and prints a table.
//! The ceiling reads no file, judges nothing and counts nothing: the rows of every table, as they came of the book, are
//! inserted by the database into empty tables with the same indexes.

#[path = "book/copy.rs"]
mod copy;
#[path = "service/place.rs"]
#[expect(dead_code, reason = "the other benches measure pages")]
mod place;

use std::fmt::Write;
use std::time::Instant;

use purfle::clock::Day;
use purfle::demo::chance::Chance;
use purfle::old_book::{self, Book};

use place::open;

const CAUSES: [&str; 6] = [
    "seam_open_lower",
    "seam_open_upper",
    "nut_loose",
    "peg_pin_loose",
    "tuner_screw_loose",
    "wolf_note",
];
const FAMILIES: [(&str, &str); 4] = [
    ("violin", "4/4"),
    ("violin", "1/2"),
    ("viola", "16 in"),
    ("cello", "4/4"),
];

fn main() {
    // `cargo test --benches` only wants to know that it starts.
    if std::env::args().any(|word| word == "--test") {
        return;
    }
    let lines = std::env::var("PURFLE_BENCH_LINES").unwrap_or("100000".into());
    let lines: usize = lines.parse().expect("a number of lines");
    let text = invented(lines);
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .expect("a runtime");
    runtime.block_on(async {
        println!("| database | lines | brought in, s | rows | the rows copied, s | ceiling to ours |");
        println!("|---|---|---|---|---|---|");
        for postgres in [false, true] {
            let Some(place) = open(400, postgres).await else {
                continue;
            };
            let book = Book {
                open: || Ok(text.as_bytes()),
                bytes: text.len() as u64,
                by: "bench",
                now: purfle::demo::end_of(Day::parse("2026-02-20").expect("a day")),
                keep_good: false,
                dry: false,
            };
            let begun = Instant::now();
            let brought = old_book::bring(&place.app.db, &book, |_| ())
                .await
                .expect("brought in");
            let ours = begun.elapsed().as_secs_f64();
            assert_eq!(
                (brought.taken, brought.amiss),
                (i64::try_from(lines).expect("not so many"), 0),
                "every line is taken"
            );
            let (rows, bare) = copy::copied(&place).await;
            println!(
                "| {} | {lines} | {ours:.1} | {rows} | {bare:.1} | **{:.2}** |",
                place.kind(),
                bare / ours
            );
            place.close().await;
        }
    });
}

/// A line for each visit: a third as many instruments as visits, of customers with two each, over twenty years.
fn invented(lines: usize) -> String {
    let mut text = String::from(
        "received_on,collected_on,customer,phone,instrument,family,size,year_made,year_certainty,complaint,answers,confirmed,repaired,minutes,charged\n",
    );
    let first = Day::parse("2005-01-03").expect("a day").0;
    let mut chance = Chance::of(1, "book", 0);
    let instruments = (lines / 3).max(1);
    let mut came: Vec<usize> = Vec::with_capacity(lines);
    for line in 0..lines {
        // One in ten comes again after some three weeks, the others after years; none twice on one day.
        let instrument = match line.checked_sub(300) {
            Some(before) if chance.below(10) == 0 => came[before],
            _ => line * 7919 % instruments,
        };
        came.push(instrument);
        let (family, size) = FAMILIES[instrument % FAMILIES.len()];
        let received = Day(first + i64::try_from(line * 7000 / lines).expect("small"));
        let home = Day(received.0 + 2 + i64::try_from(chance.below(12)).expect("small"));
        let made = 1850 + instrument % 150;
        let one = CAUSES[chance.below(CAUSES.len())];
        let (confirmed, repaired) = match chance.below(4) {
            0 => (String::new(), String::new()),
            1 => {
                let other = CAUSES[chance.below(CAUSES.len())];
                let both = if one == other {
                    one.to_owned()
                } else {
                    format!("{one};{other}")
                };
                (both.clone(), both)
            }
            _ => (one.to_owned(), one.to_owned()),
        };
        let customer = instrument / 2;
        writeln!(
            text,
            "{},{},Person {customer} of the book,01 555 {customer:06},Label {instrument},{family},{size},{made},exact,\
             \"It buzzes, visit {line}, since the heating is on\",onset=sudden;worse_loud=yes,{confirmed},{repaired},{},{}.50",
            received.iso(),
            home.iso(),
            10 + chance.below(80),
            20 + chance.below(200),
        )
        .expect("a line");
    }
    text
}
