//! `purfle demo` as it is called: keys that are printed again, a file for nobody else, and a real shop left alone.

use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Command, Output};

use purfle::db::Db;
use purfle::staff::Staff;

use crate::shop::on_sqlite;

fn purfle(words: &[&str], data: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_purfle"))
        .args(words)
        .arg("--data")
        .arg(data)
        .env_remove("DATABASE_URL")
        .output()
        .expect("the program")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn a_demo_prints_its_keys_and_prints_them_again() {
    let data = std::env::temp_dir().join(format!("purfle-test-{}", uuid::Uuid::new_v4()));
    let words = [
        "demo",
        "--orders",
        "12",
        "--seed",
        "5",
        "--as-of",
        "2026-02-20",
        "--fill-only",
    ];
    let first = purfle(&words, &data);
    assert!(first.status.success(), "{}", text(&first.stderr));
    let said = text(&first.stdout);
    assert!(said.contains("12 orders up to Fri 20 Feb 2026"), "{said}");
    let keys = data.join("demo-sign-in.txt");
    assert_eq!(
        std::fs::metadata(&keys).expect("the keys").permissions().mode() & 0o777,
        0o600
    );
    let kept = std::fs::read_to_string(&keys).expect("the keys");
    for line in kept.lines() {
        let parts: Vec<&str> = line.split('\t').collect();
        assert_eq!(parts.len(), 3, "{line}");
        assert!(said.contains(parts[0]) && said.contains(parts[2]), "{line}");
    }
    let again = purfle(&words, &data);
    assert_eq!(text(&again.stdout), said);
    let other = purfle(&["demo", "--seed", "6", "--fill-only"], &data);
    assert!(
        text(&other.stdout).contains("served as it is"),
        "{}",
        text(&other.stdout)
    );
    assert_eq!(std::fs::read_to_string(&keys).expect("the keys"), kept);
    let _ = std::fs::remove_dir_all(data);
}

#[test]
fn a_real_shop_is_left_alone() {
    on_sqlite(async |shop| {
        let url = format!("sqlite:{}", shop.folder().join("shop.db").display());
        let refused = purfle(&["demo", "--fill-only", "--database", &url], shop.folder());
        assert_eq!(refused.status.code(), Some(1));
        assert!(
            text(&refused.stderr).contains("A real shop is in this database"),
            "{}",
            text(&refused.stderr)
        );
        assert!(!shop.folder().join("demo-sign-in.txt").exists());
        let db = Db::open(&url).await.expect("the shop");
        assert_eq!(Staff::all(&db).await.expect("staff").len(), 3);
    });
}

#[test]
fn what_was_half_filled_is_not_served() {
    on_sqlite(async |shop| {
        let db = &shop.app.db;
        super::empty(db).await;
        let (world, _) = super::invented(super::wish(0, 1));
        purfle::demo::write::begin(db, &world, &super::hashes())
            .await
            .expect("begun");
        let url = format!("sqlite:{}", shop.folder().join("shop.db").display());
        let refused = purfle(
            &["serve", "--listen", "127.0.0.1:0", "--database", &url],
            shop.folder(),
        );
        assert_eq!(refused.status.code(), Some(1));
        assert!(
            text(&refused.stderr).contains("begins it anew"),
            "{}",
            text(&refused.stderr)
        );
    });
}
