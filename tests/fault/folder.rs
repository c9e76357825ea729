//! The data folder cannot be written, or its database is damaged: said at the start, and never an empty shop instead.

use std::path::{Path, PathBuf};
use std::process::Command;

use purfle::admin::data_folder::DataFolder;
use purfle::db::Db;

use super::room::SmallDisk;
use super::running::program;
use crate::shop::{Shop, on_sqlite};

/// A folder in which a shop with some orders lives, as a server that was stopped leaves it.
async fn lived_in(shop: &Shop, path: &Path) -> PathBuf {
    for _ in 0..20 {
        shop.order(|_| {}).await;
    }
    shop.app.db.close().await;
    let folder = DataFolder::take(path).expect("the folder");
    let database = folder.database();
    std::fs::copy(shop.folder().join("shop.db"), &database).expect("a database");
    let db = Db::open(&folder.url()).await.expect("the database");
    folder.settle(&db).await.expect("a marker");
    db.close().await;
    database
}

/// Starts a server in the folder, which must end at once with words.
fn refused(folder: &Path) -> String {
    let folder = folder.display().to_string();
    let ended = program(
        &["timeout", "20"],
        &["serve", "--listen", "127.0.0.1:0", "--data", &folder],
    )
    .output()
    .expect("the program");
    let words = String::from_utf8_lossy(&ended.stderr).into_owned();
    assert_eq!(ended.status.code(), Some(1), "{words}");
    assert!(
        ended.stdout.is_empty() && words.starts_with("purfle: "),
        "{words}"
    );
    words
}

#[test]
fn a_folder_that_can_only_be_read_is_told() {
    on_sqlite(async |shop| {
        let path = shop.folder().join("data");
        let Some(disk) = SmallDisk::new(&path, "16m") else {
            return;
        };
        lived_in(&shop, &path).await;
        disk.only_to_read();
        let words = refused(&path);
        assert!(words.contains("cannot be written to"), "{words}");
    });
}

#[test]
fn a_folder_of_somebody_else_is_told() {
    let id = Command::new("id").arg("-u").output().expect("id");
    if id.stdout.trim_ascii() == b"0" {
        println!("left out: root may write everywhere");
        return;
    }
    on_sqlite(async |shop| {
        use std::os::unix::fs::PermissionsExt;
        let path = shop.folder().join("data");
        lived_in(&shop, &path).await;
        std::fs::remove_file(path.join("in-use")).expect("the lock");
        let allow =
            |mode| std::fs::set_permissions(&path, std::fs::Permissions::from_mode(mode)).expect("set");
        allow(0o500);
        let words = refused(&path);
        allow(0o700);
        assert!(words.contains("cannot be written to"), "{words}");
    });
}

/// Changes a file in one of the ways disks and people do.
fn damage(whole: &[u8], way: usize) -> Vec<u8> {
    let mut bytes = whole.to_vec();
    let pages = bytes.len() / 4096;
    // Spread over the file, never the first page: that it is no database at all is told elsewhere.
    let page = 1 + (way * 37) % (pages - 2);
    match way % 3 {
        0 => {
            let mut sign = u32::try_from(way).expect("few") | 1;
            for byte in &mut bytes[page * 4096..(page + 1) * 4096] {
                sign = sign.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                *byte = sign.to_be_bytes()[0];
            }
        }
        1 => bytes[page * 4096..(page + 1) * 4096].fill(0),
        _ => bytes.truncate(page * 4096),
    }
    bytes
}

#[test]
fn a_damaged_database_is_told_and_not_touched() {
    on_sqlite(async |shop| {
        let path = shop.folder().join("data");
        let database = lived_in(&shop, &path).await;
        let whole = std::fs::read(&database).expect("the database");
        for way in 0..24 {
            let damaged = damage(&whole, way);
            std::fs::write(&database, &damaged).expect("damaged");
            let folder = DataFolder::take(&path).expect("the folder");
            let words = match folder.recognise().await {
                Err(problem) => format!("{problem:#}"),
                Ok(()) => panic!("way {way}: it was not noticed"),
            };
            assert!(words.contains("its database is damaged"), "way {way}: {words}");
            assert!(
                words.contains("Nothing was touched.") && words.contains("put back the newest copy"),
                "{words}"
            );
            drop(folder);
            if way < 3 {
                assert!(refused(&path).contains("its database is damaged"));
            }
            assert!(
                std::fs::read(&database).expect("the database") == damaged,
                "way {way}: touched"
            );
        }
        std::fs::write(&database, &whole).expect("put back");
        let folder = DataFolder::take(&path).expect("the folder");
        folder.recognise().await.expect("the same shop");
    });
}
