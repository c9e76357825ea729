//! The old book: every line is taken or told why not, once, and what is brought in is counted like all the rest.

#[path = "old_book/counted.rs"]
mod counted;
#[path = "old_book/handed_over.rs"]
mod handed_over;
#[path = "old_book/known.rs"]
mod known;
#[path = "old_book/told.rs"]
mod told;

use std::process::{Command, Output};

use purfle::old_book::{self, Book, Brought, News};

use crate::shop::{NOW, Shop, on_both, on_sqlite};

/// Three customers, four instruments, six visits.
pub const SAMPLE: &str = include_str!("data/old_book.csv");
/// The columns that most tests need.
pub const HEAD: &str = "received_on,collected_on,customer,phone,instrument,family,confirmed,repaired\n";

/// Brings a book in, and hears why lines were not taken.
pub async fn bring(shop: &Shop, text: impl AsRef<[u8]>, keep_good: bool) -> (Brought, Vec<String>) {
    let text = text.as_ref();
    let book = Book {
        open: || Ok(text),
        bytes: text.len() as u64,
        by: "purfle import",
        now: NOW,
        keep_good,
        dry: false,
    };
    let mut told = Vec::new();
    let brought = old_book::bring(&shop.app.db, &book, |news| {
        if let News::Amiss { line, column, words } = news {
            told.push(format!("{line} {column}: {words}"));
        }
    });
    let brought = brought.await.expect("the book");
    (brought, told)
}

/// Brings in what is all right.
pub async fn take(shop: &Shop, text: &str) -> Brought {
    let (brought, told) = bring(shop, text, false).await;
    assert_eq!((told, brought.amiss), (vec![], 0));
    brought
}

#[test]
fn a_book_becomes_customers_instruments_and_collected_orders() {
    on_both(async |shop| {
        let brought = take(&shop, SAMPLE).await;
        assert_eq!((brought.taken, brought.customers, brought.instruments), (6, 3, 4));
        for (table, rows) in [
            ("work_order", 6),
            ("finding", 5),
            ("repair_step", 5),
            ("payment", 4),
            ("story", 6),
        ] {
            assert_eq!(shop.count(table).await, rows, "{table}");
        }
        shop.is_well().await;
    });
}

#[test]
fn what_was_brought_in_is_found_and_shown_with_its_story() {
    on_both(async |shop| {
        take(&shop, SAMPLE).await;
        let owner = shop.sign_in("owner").await;
        let found = owner.post("/find", &[("q", "marbach")]).await;
        assert!(found.body.contains("Ilse Marbach"), "{}", found.body);
        let (instrument, tag): (uuid::Uuid, String) = shop
            .app
            .db
            .read("select instrument, tag from work_order where words like 'The same buzz%'")
            .one()
            .await
            .expect("the order");
        let page = owner.get(&format!("/instruments/{instrument}")).await.body;
        for words in ["Red-brown, label Harrow", "circa 1924", "20 Feb 2019"] {
            assert!(page.contains(words), "{words}: {page}");
        }
        let page = owner.get(&format!("/orders/{tag}")).await.body;
        assert!(!page.contains(" to ."), "nobody knows who took it home");
        for words in [old_book::STORY.replace('\'', "&#39;").as_str(), "Collected", "35"] {
            assert!(page.contains(words), "{words}: {page}");
        }
    });
}

#[test]
fn the_same_book_twice_stores_nothing_twice_however_it_is_written() {
    on_both(async |shop| {
        take(&shop, SAMPLE).await;
        let mut reader = csv::Reader::from_reader(SAMPLE.as_bytes());
        let mut turned = vec![reader.headers().expect("a header").clone()];
        turned.extend(reader.records().map(|row| row.expect("a row")));
        let mut to = csv::WriterBuilder::new()
            .delimiter(b';')
            .terminator(csv::Terminator::CRLF)
            .from_writer(b"\xef\xbb\xbf".to_vec());
        for row in turned {
            to.write_record(row.iter().rev()).expect("written");
        }
        let turned = String::from_utf8(to.into_inner().expect("whole")).expect("text");
        for text in [
            SAMPLE,
            &turned,
            &SAMPLE.replace("Ilse Marbach", "  ilse MARBACH "),
        ] {
            let brought = take(&shop, text).await;
            assert_eq!((brought.taken, brought.there), (0, 6));
        }
        assert_eq!(
            (shop.count("work_order").await, shop.count("customer").await),
            (6, 3)
        );
        shop.is_well().await;
    });
}

#[test]
fn one_line_that_is_not_right_keeps_all_out_unless_the_good_are_wanted() {
    on_both(async |shop| {
        let text = format!("{HEAD}2019-01-01,2019-01-02,Ann,,A,violin,,\n2019-01-01,,Bob,,B,violin,,\n");
        let (brought, told) = bring(&shop, &text, false).await;
        assert_eq!((brought.taken, brought.right, brought.amiss), (0, 1, 1));
        assert!(told[0].starts_with("3 collected_on: "), "{told:?}");
        assert_eq!(shop.count("customer").await, 0);
        let (brought, _) = bring(&shop, &text, true).await;
        assert_eq!((brought.taken, brought.amiss), (1, 1));
        assert_eq!(shop.count("work_order").await, 1);
        // Set right, the rest follows.
        let brought = take(
            &shop,
            &text.replace("2019-01-01,,Bob", "2019-01-01,2019-01-01,Bob"),
        )
        .await;
        assert_eq!((brought.taken, brought.there), (1, 1));
        shop.is_well().await;
    });
}

#[test]
fn the_numbers_of_orders_go_on_behind_what_was_brought_in() {
    on_both(async |shop| {
        take(&shop, SAMPLE).await;
        let counter = shop.program("counter").await;
        let body = serde_json::json!({"customer": {"name": "Ann"}, "instrument": {"family": "violin"}});
        let answer = counter
            .post("/api/v1/orders", &[("idempotency-key", "k")], &body)
            .await;
        assert_eq!(answer.status, 201, "{}", answer.json);
        assert_eq!(shop.count("work_order").await, 7);
    });
}

fn program(shop: &Shop, words: &[&str]) -> Output {
    let mut program = Command::new(env!("CARGO_BIN_EXE_purfle"));
    program
        .args(["import", "history"])
        .args(words)
        .args(["--database", &shop.url]);
    program.output().expect("the program")
}

#[test]
fn the_program_says_what_it_took_and_what_not_by_its_exit_code_too() {
    on_sqlite(async |shop| {
        let path = shop.folder().join("book.csv");
        let file = path.to_str().expect("a path");
        std::fs::write(&path, SAMPLE).expect("a file");
        let tried = program(&shop, &[file, "--dry"]);
        let said = String::from_utf8_lossy(&tried.stdout).into_owned();
        assert_eq!(
            (tried.status.code(), said.as_str(), shop.count("work_order").await),
            (Some(0), "6 lines are right. Nothing was stored.\n", 0)
        );
        let done = program(&shop, &[file]);
        let said = String::from_utf8_lossy(&done.stdout).into_owned();
        assert_eq!(
            (done.status.code(), said.as_str()),
            (
                Some(0),
                "Brought in: 6 visits, 3 customers and 4 instruments new.\n"
            )
        );
        assert!(
            done.stderr.is_empty(),
            "quiet in a pipe: {}",
            String::from_utf8_lossy(&done.stderr)
        );
        std::fs::write(
            &path,
            SAMPLE.replace("2019-03-04,2019-03-04", "4.3.2019,2019-03-04"),
        )
        .expect("a file");
        let done = program(&shop, &[file, "--keep-good"]);
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        assert_eq!(done.status.code(), Some(1));
        assert!(
            said.starts_with(
                "line 4, received_on: Write the day as 2019-03-04.\npurfle: 1 line is not right"
            ),
            "{said}"
        );
        assert_eq!(program(&shop, &["nowhere.csv"]).status.code(), Some(1));
        assert_eq!(program(&shop, &[]).status.code(), Some(2));
    });
}
