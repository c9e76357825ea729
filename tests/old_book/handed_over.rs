//! The old book handed over on a page and by a call: tried first, brought in by somebody's word, in the background, once.

use std::fmt::Write;
use std::time::Duration;

use axum::body::Body;
use axum::http::{Method, Request, header};
use purfle::clock::Moment;
use purfle::old_book::book_file::{BookFile, Stage};
use purfle::old_book::desk;
use purfle::old_book::upload::LONGEST;
use serde_json::{Value, json};
use uuid::Uuid;

use super::{HEAD, SAMPLE};
use crate::shop::{Answer, Browser, NOW, Page, Program, Shop, on_both};

const CALL: &str = "/api/v1/old_book";
const CSV: (&str, &str) = ("content-type", "text/csv; charset=utf-8");

/// What the sample becomes with a line that is not right and one with markup in it.
fn with_slips() -> String {
    let columns = SAMPLE.lines().next().unwrap_or_default().split(',').count() - 1;
    let more = ",".repeat(columns);
    format!("{SAMPLE}28.3.2019{more}\n<script>alert(1)</script>{more}\n")
}

async fn hand_over(browser: &Browser, file: &[u8]) -> Page {
    let head = b"--x\r\nContent-Disposition: form-data; name=\"file\"; filename=\"../../etc/<b>.csv\"\r\nContent-Type: text/csv\r\n\r\n";
    let body = [&head[..], file, b"\r\n--x--\r\n"].concat();
    let request = Request::post("/old_book")
        .header(header::CONTENT_TYPE, "multipart/form-data; boundary=x")
        .header("sec-fetch-site", "same-origin");
    let request = request.body(Body::from(body)).expect("a request");
    browser.send(request).await
}

/// Waits until it is through, and says what the page shows then.
async fn through(browser: &Browser, path: &str) -> Page {
    for _ in 0..600 {
        let page = browser.get(path).await;
        assert_eq!(page.status.as_u16(), 200, "{path}: {}", page.body);
        if !page.body.contains("data-under-way") {
            return page;
        }
        assert!(page.body.contains("You may leave this page"));
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    panic!("it never came to an end");
}

async fn told(program: &Program, sent: &Answer) -> Value {
    let path = format!("{CALL}/{}", sent.json["id"].as_str().expect("an id"));
    for _ in 0..600 {
        let file = program.get(&path).await.json;
        if file["progress"].is_null() {
            return file;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    panic!("it never came to an end");
}

async fn send(program: &Program, query: &str, key: &str, text: &str) -> Answer {
    let headers = [CSV, ("idempotency-key", key)];
    let body = Some(text.as_bytes().to_vec());
    program
        .send(Method::POST, &format!("{CALL}{query}"), &headers, body)
        .await
}

/// What lies in the folder of the desk.
fn lying(shop: &Shop) -> Vec<String> {
    let folder = shop.app.desk.file(Uuid::nil());
    let folder = folder.parent().expect("a folder");
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    entries
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect()
}

#[test]
fn a_file_is_tried_first_and_brought_in_by_a_word() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let page = owner.get("/old_book").await;
        for column in purfle::old_book::COLUMNS {
            assert!(page.body.contains(column.0), "{} is explained", column.0);
        }
        let sent = hand_over(&owner, SAMPLE.as_bytes()).await;
        assert_eq!(sent.status.as_u16(), 303, "{}", sent.body);
        let path = sent.location().to_owned();
        let tried = through(&owner, &path).await;
        assert!(
            tried.body.contains("6 visits are right.") && tried.body.contains("Bring all 6 in"),
            "{}",
            tried.body
        );
        assert_eq!(shop.count("work_order").await, 0, "nothing is stored by a trial");
        let take = format!("{path}/take");
        for _ in 0..2 {
            let taken = owner.post(&take, &[]).await;
            assert_eq!((taken.status.as_u16(), taken.location()), (303, &*path));
        }
        let taken = through(&owner, &path).await;
        assert!(taken.body.contains("6 visits brought in."), "{}", taken.body);
        assert_eq!(shop.count("work_order").await, 6);
        assert!(
            !lying(&shop).iter().any(|name| !name.ends_with("-amiss.csv")),
            "the file is taken away"
        );
        // The same once more: told, and nothing stored.
        let again = hand_over(&owner, SAMPLE.as_bytes()).await;
        let again = through(&owner, again.location()).await;
        assert!(
            again.body.contains("6 lines were brought in before"),
            "{}",
            again.body
        );
        assert!(!again.body.contains("id=\"take\""));
        assert_eq!(shop.count("work_order").await, 6);
        shop.is_well().await;
    });
}

#[test]
fn the_owner_of_a_new_shop_is_led_to_it() {
    on_both(async |shop| {
        let (owner, counter) = (shop.sign_in("owner").await, shop.sign_in("counter").await);
        let leads = "href=\"/old_book\"";
        assert!(
            owner.get("/").await.body.contains(leads) && owner.get("/settings").await.body.contains(leads)
        );
        assert!(!counter.get("/").await.body.contains(leads));
        let sent = hand_over(&owner, SAMPLE.as_bytes()).await;
        through(&owner, sent.location()).await;
        owner.post(&format!("{}/take", sent.location()), &[]).await;
        through(&owner, sent.location()).await;
        assert!(!owner.get("/").await.body.contains(leads));
    });
}

#[test]
fn what_is_not_right_is_told_with_its_line_and_the_right_ones_may_be_taken_alone() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let sent = hand_over(&owner, with_slips().as_bytes()).await;
        let path = sent.location().to_owned();
        let tried = through(&owner, &path).await;
        assert!(
            tried.body.contains("2 lines not right") && tried.body.contains("Write the day as 2019-03-28.")
        );
        assert!(
            !tried.body.contains("<script>alert") && tried.body.contains("&#60;script&#62;alert(1)"),
            "{}",
            tried.body
        );
        let list = owner.get(&format!("{path}/amiss.csv")).await;
        assert!(
            list.body
                .starts_with("line,column,what_to_do\r\n8,received_on,Write the day"),
            "{}",
            list.body
        );
        assert_eq!(
            list.header("content-disposition"),
            "attachment; filename=\"not-brought-in.csv\""
        );
        let refused = owner.post(&format!("{path}/take"), &[]).await;
        assert_eq!(refused.status.as_u16(), 409);
        assert!(
            refused.body.contains("2 lines are not right. Set them right"),
            "{}",
            refused.body
        );
        assert_eq!(shop.count("work_order").await, 0);
        owner.post(&format!("{path}/take"), &[("keep_good", "yes")]).await;
        let taken = through(&owner, &path).await;
        assert!(taken.body.contains("6 visits brought in.") && taken.body.contains("2 lines not right"));
        assert_eq!(shop.count("work_order").await, 6);
        shop.is_well().await;
    });
}

#[test]
fn what_is_no_table_of_visits_is_told_so() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let none = hand_over(&owner, b"").await;
        assert!(none.status.as_u16() == 422 && none.body.contains("Choose a file first."));
        for (file, said) in [
            (&b"a,b\n1,2\n"[..], "The column received_on is missing."),
            (b"\xff\xfea\0", "Save the table as CSV in UTF-8."),
            (b"\n\n", "There is nothing in this file."),
            (HEAD.as_bytes(), "There is nothing in it to bring in."),
        ] {
            let sent = hand_over(&owner, file).await;
            let page = through(&owner, sent.location()).await;
            assert!(page.body.contains(said), "{said}: {}", page.body);
            assert!(!page.body.contains("id=\"take\""));
        }
        // Only the last one lies there still; put away, it is gone.
        assert_eq!(lying(&shop).len(), 2, "{:?}", lying(&shop));
        let last = BookFile::latest(&shop.app.db, 1).await.expect("files").remove(0);
        owner.post(&format!("/old_book/{}/withdraw", last.id), &[]).await;
        assert_eq!(lying(&shop), Vec::<String>::new());
        let page = owner.get(&format!("/old_book/{}", last.id)).await;
        assert!(page.body.contains("This file was put away."));
    });
}

#[test]
fn a_file_that_is_too_long_is_refused_in_words_and_leaves_nothing() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let long = vec![b'\n'; usize::try_from(LONGEST).expect("small") + 1];
        let page = hand_over(&owner, &long).await;
        assert!(page.status.as_u16() == 422 && page.body.contains("This file is larger than 64 MB."));
        let program = shop.program("owner").await;
        let refused = program.send(Method::POST, CALL, &[CSV], Some(long)).await;
        assert_eq!(
            (refused.status.as_u16(), refused.header("content-type")),
            (413, "application/problem+json")
        );
        assert_eq!(lying(&shop), Vec::<String>::new());
        assert!(BookFile::latest(&shop.app.db, 1).await.expect("files").is_empty());
    });
}

#[test]
fn a_program_sends_it_tries_it_and_takes_it_once() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        let sent = send(&owner, "?dry=true", "k", &with_slips()).await;
        assert_eq!(
            (sent.status.as_u16(), &sent.json["stage"]),
            (202, &json!("trying")),
            "{}",
            sent.json
        );
        let tried = told(&owner, &sent).await;
        assert_eq!(
            (
                &tried["stage"],
                &tried["lines"]["right"],
                &tried["lines"]["amiss"]
            ),
            (&json!("tried"), &json!(6), &json!(2))
        );
        assert_eq!(
            (&tried["amiss"][0]["line"], &tried["amiss"][0]["column"]),
            (&json!(8), &json!("received_on"))
        );
        let again = send(&owner, "?dry=true", "k", &with_slips()).await;
        assert_eq!(
            (again.header("idempotent-replay"), &again.json),
            ("true", &sent.json)
        );
        let other = send(&owner, "?dry=true", "k", SAMPLE).await;
        assert_eq!(
            (other.status.as_u16(), &other.json["errors"][0]["in"]),
            (422, &json!("header"))
        );
        let take = format!("{CALL}/{}/take", tried["id"].as_str().expect("an id"));
        let refused = owner.post(&take, &[], &json!({})).await;
        assert_eq!(
            (refused.status.as_u16(), shop.count("work_order").await),
            (409, 0)
        );
        let taken = owner
            .post(&take, &[("idempotency-key", "t")], &json!({"keep_good": true}))
            .await;
        assert_eq!(
            (taken.status.as_u16(), &taken.json["stage"]),
            (202, &json!("writing"))
        );
        assert_eq!(told(&owner, &sent).await["taken"], 6);
        let twice = owner
            .post(&take, &[("idempotency-key", "t")], &json!({"keep_good": true}))
            .await;
        assert_eq!(
            (twice.header("idempotent-replay"), &twice.json),
            ("true", &taken.json)
        );
        // All of it right, and brought in at once; once more, and nothing comes of it.
        let file = format!("{HEAD}2019-01-01,2019-01-02,Eve,,E,violin,,\n");
        let at_once = send(&owner, "", "l", &file).await;
        assert_eq!(told(&owner, &at_once).await["taken"], 1);
        let nothing = send(&owner, "", "m", &file).await;
        let nothing = told(&owner, &nothing).await;
        assert_eq!(
            (&nothing["stage"], &nothing["taken"], &nothing["lines"]["there"]),
            (&json!("taken"), &json!(0), &json!(1))
        );
        assert_eq!(
            (
                shop.count("work_order").await,
                owner.get(CALL).await.json["items"].as_array().map(Vec::len)
            ),
            (7, Some(3))
        );
        shop.is_well().await;
    });
}

#[test]
fn what_is_sent_amiss_is_refused_and_leaves_nothing() {
    on_both(async |shop| {
        let owner = shop.program("owner").await;
        for (query, headers, status) in [
            ("", [("content-type", "application/json")], 415),
            ("", [("content-type", "text/csv; charset=latin1")], 415),
            ("?dry=yes", [CSV], 422),
            ("?dryly=true", [CSV], 422),
        ] {
            let body = Some(SAMPLE.as_bytes().to_vec());
            let refused = owner
                .send(Method::POST, &format!("{CALL}{query}"), &headers, body)
                .await;
            assert_eq!(
                (refused.status.as_u16(), refused.header("content-type")),
                (status, "application/problem+json")
            );
        }
        assert_eq!(lying(&shop), Vec::<String>::new());
        let nobody = shop.program("bench").await;
        assert_eq!(send(&nobody, "", "k", SAMPLE).await.status.as_u16(), 403);
        assert_eq!(
            owner
                .get(&format!("{CALL}/{}", Uuid::nil()))
                .await
                .status
                .as_u16(),
            404
        );
    });
}

#[test]
fn one_file_is_gone_through_at_a_time_and_a_second_tap_is_the_same_file() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let mut lines = HEAD.to_owned();
        for at in 0..3000 {
            let _ = writeln!(
                lines,
                "2019-01-01,2019-01-02,Person {at},,A,violin,nut_loose,nut_loose"
            );
        }
        let first = hand_over(&owner, lines.as_bytes()).await;
        let second = hand_over(&owner, lines.as_bytes()).await;
        assert_eq!(first.location(), second.location());
        let other = hand_over(&owner, SAMPLE.as_bytes()).await;
        assert_eq!(other.status.as_u16(), 409, "{}", other.body);
        assert!(
            other
                .body
                .contains("Another file of the old book is gone through just now.")
        );
        let tried = through(&owner, first.location()).await;
        assert!(tried.body.contains("3,000 visits are right."), "{}", tried.body);
        // Nobody waits for the answer, and it is brought in all the same.
        owner.post(&format!("{}/take", first.location()), &[]).await;
        drop(owner);
        let owner = shop.sign_in("owner").await;
        assert!(
            through(&owner, first.location())
                .await
                .body
                .contains("3,000 visits brought in.")
        );
        assert_eq!(shop.count("work_order").await, 3000);
    });
}

#[test]
fn what_was_under_way_when_the_program_stopped_is_told_and_can_be_brought_again() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let sent = hand_over(&owner, SAMPLE.as_bytes()).await;
        through(&owner, sent.location()).await;
        let mut file = BookFile::latest(&shop.app.db, 1).await.expect("files").remove(0);
        let mut tx = shop.app.db.begin().await.expect("begun");
        file.take(&mut tx, false).await.expect("taken up");
        tx.commit().await.expect("kept");
        // The program starts anew before it has come far.
        desk::tidy(&shop.app).await.expect("tidied");
        assert_eq!(lying(&shop), Vec::<String>::new());
        let page = owner.get(sent.location()).await;
        assert!(
            page.body.contains("The program was stopped meanwhile."),
            "{}",
            page.body
        );
        let again = hand_over(&owner, SAMPLE.as_bytes()).await;
        let page = through(&owner, again.location()).await;
        assert!(page.body.contains("6 visits are right."), "{}", page.body);
    });
}

#[test]
fn a_file_that_is_gone_from_the_desk_is_told_as_broken_off() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        let sent = hand_over(&owner, SAMPLE.as_bytes()).await;
        through(&owner, sent.location()).await;
        let file = BookFile::latest(&shop.app.db, 1).await.expect("files").remove(0);
        shop.app.desk.clear(file.id);
        owner.post(&format!("{}/take", sent.location()), &[]).await;
        let page = through(&owner, sent.location()).await;
        assert!(
            page.body.contains("It broke off, and nothing was stored."),
            "{}",
            page.body
        );
        let now = BookFile::get(&shop.app.db, file.id).await.expect("the file");
        assert_eq!((now.stage, now.ended_at), (Stage::Broken, Some(Moment(NOW.0))));
        assert_eq!(shop.count("work_order").await, 0);
    });
}

#[test]
fn pages_are_read_while_much_is_written() {
    on_both(async |shop| {
        let owner = shop.sign_in("owner").await;
        // As while the old book is written; it is time for a visit to be noted again.
        let mut writing = shop.app.db.begin().await.expect("begun");
        let sql = "update tag_counter set next = next + 1";
        writing.query(sql).execute().await.expect("written");
        shop.clock.set(NOW.plus_ms(3_600_000));
        let page = tokio::time::timeout(Duration::from_secs(5), owner.get("/")).await;
        assert_eq!(page.expect("soon").status.as_u16(), 200);
        writing.commit().await.expect("kept");
    });
}
