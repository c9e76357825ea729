//! The power goes: what was acknowledged had reached the disk before, and a torn end of the log is left out.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use purfle::db::Db;

use super::judge;
use super::kill::intake;
use super::running::{Running, program};
use crate::shop::{Shop, on_sqlite};

const CALLS: &str = "trace=fdatasync,fsync,pwrite64,write,writev,sendto,sendmsg";

/// Whether system calls can be watched here; without, what needs it is left out and says so.
fn strace() -> bool {
    let found = Command::new("strace")
        .arg("-V")
        .output()
        .is_ok_and(|out| out.status.success());
    if !found {
        println!("left out: strace is not installed here");
    }
    found
}

/// Goes through the calls in their order: an acknowledgement must come after a finished sync of the log, with nothing
/// written to the log since. Gives back how many there were.
fn acknowledged_after_sync(calls: &str) -> Result<usize, String> {
    let (mut unsynced, mut synced, mut acknowledged) = (false, false, 0);
    let mut syncing = std::collections::HashSet::new();
    for line in calls.lines() {
        let Some((process, call)) = line.split_once(' ') else {
            continue;
        };
        let call = call.trim_start();
        let sync = call.starts_with("fdatasync(") || call.starts_with("fsync(");
        let finished = call.trim_end().ends_with("= 0");
        if call.starts_with("pwrite64(") && call.contains("-wal>") {
            (unsynced, synced) = (true, false);
        } else if sync && call.contains("-wal>") && !finished {
            syncing.insert(process.to_owned());
        } else if (sync && call.contains("-wal>") && finished)
            || (call.contains("sync resumed>") && syncing.remove(process) && finished)
        {
            (unsynced, synced) = (false, true);
        } else if call.contains("HTTP/1.1 201") {
            if unsynced || !synced {
                return Err(format!("acknowledged before it was on the disk: {line}"));
            }
            (synced, acknowledged) = (false, acknowledged + 1);
        }
    }
    Ok(acknowledged)
}

#[test]
fn an_answer_before_its_sync_would_be_noticed() {
    let written = "7 pwrite64(9</x/shop.db-wal>, \"\", 24, 0) = 24\n";
    let synced = "7 fdatasync(9</x/shop.db-wal>) = 0\n";
    let parted = "7 fdatasync(9</x/shop.db-wal> <unfinished ...>\n7 <... fdatasync resumed>) = 0\n";
    let failed = "7 fdatasync(9</x/shop.db-wal>) = -1 EIO (Input/output error)\n";
    let answered = "8 sendto(11<socket:[5]>, \"HTTP/1.1 201 Created\", 20, 0, NULL, 0) = 20\n";
    let judged = |lines: &[&str]| acknowledged_after_sync(&lines.concat());
    assert_eq!(judged(&[written, synced, answered]), Ok(1));
    assert_eq!(judged(&[written, parted, answered]), Ok(1));
    for early in [
        &[written, answered][..],
        &[written, failed, answered],
        &[written, synced, written, answered],
        &[written, synced, answered, answered],
        &[answered, written, synced],
    ] {
        assert!(judged(early).is_err(), "{early:?}");
    }
}

#[test]
fn an_intake_is_on_the_disk_before_it_is_acknowledged() {
    if !strace() {
        return;
    }
    on_sqlite(async |shop| {
        let token = token(&shop).await;
        let log = shop.folder().join("calls");
        let said = log.display().to_string();
        // -D: the program stays the child here, strace looks on from beside it.
        let watched = ["strace", "-D", "-f", "-y", "-s", "40", "-e", CALLS, "-o", &said];
        let words = ["serve", "--listen", "127.0.0.1:0", "--database", &shop.url];
        let mut server = Running::from(program(&watched, &words));
        for n in 0..12 {
            let key = format!("watched {n}");
            let reply = server
                .call(
                    &token,
                    "/api/v1/orders",
                    &[("idempotency-key", &key)],
                    &intake(&key).to_string(),
                )
                .await;
            assert_eq!(reply.expect("an answer").status, 201);
        }
        server.stop();
        let calls = whole_log(&log);
        assert_eq!(acknowledged_after_sync(&calls), Ok(12));
    });
}

/// What strace wrote, once it is done writing.
fn whole_log(path: &Path) -> String {
    let start = Instant::now();
    loop {
        let log = std::fs::read(path).unwrap_or_default();
        let log = String::from_utf8_lossy(&log).into_owned();
        if log.trim_end().ends_with("+++ exited with 0 +++") || start.elapsed() > Duration::from_secs(5) {
            return log;
        }
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn a_disk_that_does_not_sync_is_told_and_never_taken_for_kept() {
    if !strace() {
        return;
    }
    on_sqlite(async |shop| {
        let token = token(&shop).await;
        let mut server = Running::on(&shop.url);
        let take_in = async |server: &Running, key: &str| {
            let body = intake(key).to_string();
            let reply = server
                .call(&token, "/api/v1/orders", &[("idempotency-key", key)], &body)
                .await;
            reply.expect("an answer")
        };
        assert_eq!(take_in(&server, "before").await.status, 201);
        let Some(mut failing) = fail_syncs(server.id()) else {
            return;
        };
        let refused = take_in(&server, "in between").await;
        assert_eq!(refused.status, 503, "{}", refused.text);
        assert!(
            refused.text.contains("before it said whether this was kept"),
            "{}",
            refused.text
        );
        failing.kill().expect("the disk works again");
        failing.wait().expect("its end");
        // Killed at once: what comes up is what the disk has.
        assert_eq!(take_in(&server, "in between").await.status, 201);
        assert_eq!(take_in(&server, "after").await.status, 201);
        server.kill();
        let db = judge::anew(&shop).await;
        assert_eq!(judge::whole(&db).await, 3);
        for words in ["before", "in between", "after"] {
            assert_eq!(judge::saying(&db, words).await, 1, "{words}");
        }
        db.close().await;
    });
}

/// From now on no sync of this program succeeds, until what is given back ends.
fn fail_syncs(id: u32) -> Option<std::process::Child> {
    let id = id.to_string();
    let mut failing = Command::new("strace")
        .args([
            "-f",
            "-p",
            &id,
            "-e",
            "trace=fdatasync,fsync",
            "-e",
            "inject=fdatasync,fsync:error=EIO",
        ])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("strace");
    let traced = || {
        let status = std::fs::read_to_string(format!("/proc/{id}/status")).unwrap_or_default();
        status
            .lines()
            .any(|line| line.starts_with("TracerPid:") && !line.ends_with("\t0"))
    };
    let start = Instant::now();
    while !traced() {
        if failing.try_wait().expect("its state").is_some() || start.elapsed() > Duration::from_secs(5) {
            println!("left out: one program may not watch another here");
            let _ = failing.kill();
            return None;
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    // The threads follow the first.
    std::thread::sleep(Duration::from_millis(200));
    Some(failing)
}

async fn token(shop: &Shop) -> String {
    let token = purfle::api::token::add(&shop.app.db, "load", "owner", None, shop.clock.now()).await;
    shop.app.db.close().await;
    token.expect("a token")
}

/// The same cuts each time (xorshift, from memory).
struct Cuts(u64);
impl Cuts {
    fn below(&mut self, end: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % (end as u64).max(1)).expect("small")
    }
}

#[test]
fn a_log_torn_at_any_byte_opens_with_all_that_was_synced_before() {
    const ORDERS: usize = 10;
    on_sqlite(async |shop| {
        let wal = shop.folder().join("shop.db-wal");
        let mut synced = Vec::new();
        for n in 0..=ORDERS {
            let length = std::fs::metadata(&wal).map_or(0, |file| file.len());
            synced.push(usize::try_from(length).expect("small"));
            if n < ORDERS {
                shop.order(|new| new.complaint.words = format!("order {n}")).await;
            }
        }
        let file = std::fs::read(shop.folder().join("shop.db")).expect("the database");
        let log = std::fs::read(&wal).expect("its log");
        assert!(
            synced.is_sorted() && log.len() == synced[ORDERS],
            "the log was begun anew: {synced:?}"
        );
        let mut cuts = Cuts(0x5eed);
        for cut in 0..40 {
            let kept = cuts.below(ORDERS);
            let at = synced[kept] + cuts.below(synced[kept + 1] - synced[kept]);
            let mut torn = log[..at].to_vec();
            // What was on its way is missing, or other bytes stand in its place.
            if cut % 2 == 1 {
                torn.extend((0..8192).map(|_| u8::try_from(cuts.below(256)).expect("a byte")));
            }
            let copy = shop.folder().join(format!("cut-{cut}.db"));
            std::fs::write(&copy, &file).expect("a copy");
            std::fs::write(shop.folder().join(format!("cut-{cut}.db-wal")), &torn).expect("a copy");
            let db = Db::open(&format!("sqlite:{}", copy.display()))
                .await
                .expect("it opens");
            assert_eq!(
                judge::whole(&db).await,
                i64::try_from(kept).expect("few"),
                "cut {cut} at {at}"
            );
            for n in 0..kept {
                assert_eq!(judge::saying(&db, &format!("order {n}")).await, 1);
            }
            db.close().await;
        }
    });
}
