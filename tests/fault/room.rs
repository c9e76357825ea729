//! The disk is full: said in words, nothing half kept, reading goes on, and writing too once there is room again.

use std::path::{Path, PathBuf};
use std::process::Command;

use purfle::db::Db;

use super::judge;
use super::kill::intake;
use super::running::{Reply, Running};
use crate::shop::on_sqlite;

/// More than fits into the room that is left below.
const MANY: usize = 400;

/// Takes in until it is refused; gives back how many were taken, and the refusal of the last key.
async fn until_refused(server: &Running, token: &str) -> (usize, Reply) {
    for n in 0..MANY {
        let reply = send(server, token, n).await;
        if reply.status != 201 {
            return (n, reply);
        }
    }
    panic!("{MANY} orders fit");
}

async fn send(server: &Running, token: &str, n: usize) -> Reply {
    let words = format!("order {n} {}", "of a long letter, ".repeat(100));
    let body = intake(&words).to_string();
    let key = format!("order {n}");
    let reply = server
        .call(token, "/api/v1/orders", &[("idempotency-key", &key)], &body)
        .await;
    reply.expect("an answer")
}

/// Fills the room, is refused, makes room, and goes on.
async fn fills_up(server: &mut Running, token: &str, make_room: impl FnOnce(&Running)) -> usize {
    let (taken, refused) = until_refused(server, token).await;
    assert_eq!(refused.status, 503, "{}", refused.text);
    assert!(
        refused.retry_after && refused.text.contains("Nothing was kept"),
        "{}",
        refused.text
    );
    assert!(refused.text.contains("The disk"), "{}", refused.text);
    let bearer = format!("Bearer {token}");
    let list = server
        .get("/api/v1/orders?limit=200", &[("authorization", &bearer)])
        .await;
    let list = list.expect("reading goes on");
    let listed = list.json()["items"].as_array().map_or(0, Vec::len);
    assert_eq!((list.status, listed), (200, taken.min(200)), "{}", list.text);
    assert_eq!(send(server, token, taken).await.status, 503, "still full");
    make_room(server);
    for n in taken..taken + 3 {
        let reply = send(server, token, n).await;
        assert_eq!((reply.status, reply.replay), (201, false), "{}", reply.text);
    }
    assert_eq!(server.stop().code(), Some(0));
    taken + 3
}

#[test]
fn a_full_database_is_told_with_what_was_typed_and_goes_on_when_there_is_room() {
    on_sqlite(async |shop| {
        let counter = shop.sign_in("counter").await;
        let allow = async |pages: &'static str| {
            shop.app.db.write(pages).execute().await.expect("a limit");
        };
        // Never below what it has: from now on it cannot grow.
        allow("pragma max_page_count = 1").await;
        let long = "It buzzes. ".repeat(300);
        let post = async |n: usize| {
            let once = format!("key {n}");
            let fields = [
                ("customer.name", "Marta Ellingworth"),
                ("instrument.family", "violin"),
                ("instrument.size", "4/4"),
                ("complaint.words", &long),
                ("once", &once),
            ];
            counter.post("/intake", &fields).await
        };
        let mut taken = 0;
        let refused = loop {
            let page = post(taken).await;
            if page.status.as_u16() != 303 {
                break page;
            }
            taken += 1;
            assert!(taken < MANY, "{MANY} orders fit");
        };
        assert_eq!(refused.status.as_u16(), 503, "{}", refused.body);
        assert!(
            refused.body.contains("The disk is full. Nothing was kept;"),
            "{}",
            refused.body
        );
        assert_eq!(refused.field("complaint.words"), long);
        assert_eq!(
            judge::whole(&shop.app.db).await,
            i64::try_from(taken).expect("few")
        );
        assert_eq!(counter.get("/").await.status.as_u16(), 200);
        allow("pragma max_page_count = 1000000").await;
        for n in taken..taken + 3 {
            let page = post(n).await;
            assert_eq!(page.status.as_u16(), 303, "{}", page.body);
        }
        assert_eq!(
            judge::whole(&shop.app.db).await,
            i64::try_from(taken + 3).expect("few")
        );
    });
}

#[test]
fn a_limit_on_the_size_of_files_does_not_end_the_program() {
    if !Command::new("prlimit")
        .arg("--version")
        .output()
        .is_ok_and(|out| out.status.success())
    {
        println!("left out: prlimit is not installed here");
        return;
    }
    on_sqlite(async |shop| {
        let token = purfle::api::token::add(&shop.app.db, "load", "owner", None, shop.clock.now()).await;
        let token = token.expect("a token");
        shop.app.db.close().await;
        let size = std::fs::metadata(shop.folder().join("shop.db"))
            .expect("the database")
            .len();
        let allow = |server: &Running, size: &str| {
            let size = format!("--fsize={size}:unlimited");
            let done = Command::new("prlimit")
                .args(["--pid", &server.id().to_string(), &size])
                .status();
            assert!(done.expect("prlimit").success());
        };
        let mut server = Running::on(&shop.url);
        allow(&server, &(size + 200_000).to_string());
        let kept = fills_up(&mut server, &token, |server| allow(server, "unlimited")).await;
        let db = judge::anew(&shop).await;
        assert_eq!(judge::whole(&db).await, i64::try_from(kept).expect("few"));
        db.close().await;
    });
}

/// A small disk in memory; only root may make one.
pub struct SmallDisk(pub PathBuf);

impl SmallDisk {
    pub fn new(at: &Path, size: &str) -> Option<SmallDisk> {
        std::fs::create_dir_all(at).expect("a folder");
        let size = format!("size={size}");
        let made = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &size, "tmpfs"])
            .arg(at)
            .output();
        if made.is_ok_and(|made| made.status.success()) {
            return Some(SmallDisk(at.to_owned()));
        }
        println!("left out: a disk cannot be made here");
        None
    }

    pub fn only_to_read(&self) {
        let done = Command::new("mount")
            .args(["-o", "remount,ro"])
            .arg(&self.0)
            .status();
        assert!(done.expect("mount").success());
    }
}
impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("--lazy").arg(&self.0).status();
    }
}

#[test]
fn a_full_disk_is_told_and_the_shop_goes_on_when_there_is_room() {
    on_sqlite(async |shop| {
        let token = purfle::api::token::add(&shop.app.db, "load", "owner", None, shop.clock.now()).await;
        let token = token.expect("a token");
        shop.app.db.close().await;
        let Some(disk) = SmallDisk::new(&shop.folder().join("disk"), "16m") else {
            return;
        };
        let database = disk.0.join("shop.db");
        std::fs::copy(shop.folder().join("shop.db"), &database).expect("the database");
        let url = format!("sqlite:{}", database.display());
        let mut server = Running::on(&url);
        // Somebody else's file takes all but a little.
        let filler = disk.0.join("films");
        let rest = 16 * 1024 * 1024 - usize::try_from(used(&disk.0)).expect("small") - 400_000;
        std::fs::write(&filler, vec![0; rest]).expect("it fits");
        let kept = fills_up(&mut server, &token, |_| {
            std::fs::remove_file(&filler).expect("gone");
        })
        .await;
        let db = Db::open(&url).await.expect("it opens");
        assert_eq!(judge::whole(&db).await, i64::try_from(kept).expect("few"));
        db.close().await;
    });
}

fn used(folder: &Path) -> u64 {
    let files = std::fs::read_dir(folder).expect("the folder");
    files
        .map(|file| file.and_then(|file| file.metadata()).map_or(0, |file| file.len()))
        .sum()
}
