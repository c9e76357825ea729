//! The data folder: one server at a time, and never quietly an empty shop where one was. Files, so SQLite alone.

use std::path::{Path, PathBuf};

use purfle::admin::data_folder::DataFolder;
use purfle::db::Db;

use crate::shop::{Shop, on_sqlite};

/// A folder in which a shop lives, as a server that was stopped leaves it.
async fn lived_in(shop: &Shop) -> PathBuf {
    let path = shop.folder().join("data");
    let folder = DataFolder::take(&path).expect("the folder");
    shop.app.db.close().await;
    std::fs::copy(shop.folder().join("shop.db"), folder.database()).expect("a database");
    let db = Db::open(&folder.url()).await.expect("the database");
    folder.settle(&db).await.expect("a marker");
    db.close().await;
    path
}

/// All that lies in a folder, but for the lock.
fn contents(path: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<_> = std::fs::read_dir(path)
        .expect("the folder")
        .map(|entry| entry.expect("a file").path())
        .map(|file| {
            (
                file.display().to_string(),
                std::fs::read(&file).expect("its bytes"),
            )
        })
        .filter(|file| !file.0.ends_with("in-use"))
        .collect();
    files.sort();
    files
}

fn refused<T>(result: anyhow::Result<T>) -> String {
    format!("{:#}", result.err().expect("it was to be refused"))
}

#[test]
fn a_shop_is_known_again() {
    on_sqlite(async |shop| {
        let path = lived_in(&shop).await;
        let folder = DataFolder::take(&path).expect("the folder");
        folder.recognise().await.expect("the same shop");
    });
}

#[test]
fn a_second_server_is_refused_until_the_first_ends() {
    on_sqlite(async |shop| {
        let path = shop.folder().join("data");
        let first = DataFolder::take(&path).expect("the folder");
        let words = refused(DataFolder::take(&path));
        assert!(
            words.contains("Another Purfle is serving") && words.contains("--data"),
            "{words}"
        );
        drop(first);
        DataFolder::take(&path).expect("the folder is free");
    });
}

#[test]
fn a_database_that_is_gone_or_empty_is_refused_and_nothing_is_touched() {
    on_sqlite(async |shop| {
        let path = lived_in(&shop).await;
        let database = path.join("purfle.db");
        std::fs::remove_file(&database).expect("gone");
        let before = contents(&path);
        let words = refused(DataFolder::take(&path));
        assert!(
            words.contains("is gone or empty. Nothing was touched."),
            "{words}"
        );
        assert!(words.contains("restore the newest backup"), "{words}");
        assert_eq!(contents(&path), before);
        std::fs::write(&database, b"").expect("an empty file");
        refused(DataFolder::take(&path));
        assert_eq!(std::fs::read(&database).expect("the file"), b"");
    });
}

#[test]
fn another_shops_database_is_refused_and_nothing_is_touched() {
    on_sqlite(async |shop| {
        let path = lived_in(&shop).await;
        let db = Db::open(&format!("sqlite:{}", path.join("purfle.db").display()))
            .await
            .expect("the database");
        let other = "update shop set house = $1";
        db.write(other)
            .bind(uuid::Uuid::new_v4())
            .execute()
            .await
            .expect("another house");
        db.close().await;
        let before = std::fs::read(path.join("purfle.db")).expect("its bytes");
        let folder = DataFolder::take(&path).expect("the folder");
        let words = refused(folder.recognise().await);
        assert!(
            words.contains("holds another one. Nothing was touched."),
            "{words}"
        );
        assert_eq!(std::fs::read(path.join("purfle.db")).expect("its bytes"), before);
    });
}

#[test]
fn a_database_without_a_shop_and_a_file_that_is_none_are_refused() {
    on_sqlite(async |shop| {
        let path = lived_in(&shop).await;
        let database = path.join("purfle.db");
        std::fs::remove_file(&database).expect("gone");
        Db::open(&format!("sqlite:{}", database.display()))
            .await
            .expect("a new database")
            .close()
            .await;
        let words = refused(DataFolder::take(&path).expect("the folder").recognise().await);
        assert!(words.contains("holds none"), "{words}");
        std::fs::write(&database, b"This is a letter, not a database, and rather short.").expect("written");
        let words = refused(DataFolder::take(&path).expect("the folder").recognise().await);
        assert!(words.contains("nothing that can be read"), "{words}");
    });
}

#[test]
fn a_database_that_is_gone_is_missed_even_if_the_server_was_killed_after_the_set_up() {
    on_sqlite(async |shop| {
        let path = shop.folder().join("data");
        let folder = DataFolder::take(&path).expect("the folder");
        let db = Db::open(&folder.url()).await.expect("the database");
        folder.settle(&db).await.expect("a marker");
        db.close().await;
        drop(folder);
        std::fs::remove_file(path.join("purfle.db")).expect("gone");
        let words = refused(DataFolder::take(&path));
        assert!(words.contains("gone or empty"), "{words}");
    });
}
