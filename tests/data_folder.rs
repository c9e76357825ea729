//! The data folder: one server at a time, and never quietly an empty shop where one was. Files, so SQLite alone.

use std::path::{Path, PathBuf};

use purfle::admin::data_folder::{self, DataFolder};
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
        assert!(words.contains("Put the newest copy that was kept"), "{words}");
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

/// What others may do with a file or a folder, and what the account itself may.
fn mode(path: &Path) -> u32 {
    use std::os::unix::fs::PermissionsExt;
    path.metadata().expect("it is there").permissions().mode() & 0o777
}

fn allow(path: &Path, mode: u32) {
    use std::os::unix::fs::PermissionsExt;
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).expect("set");
}

/// The folder and all that lies in it.
fn modes(folder: &Path) -> Vec<(String, u32)> {
    let mut all = vec![(".".to_owned(), mode(folder))];
    for entry in std::fs::read_dir(folder).expect("the folder").flatten() {
        all.push((
            entry.file_name().to_string_lossy().into_owned(),
            mode(&entry.path()),
        ));
    }
    all.sort();
    all
}

fn is_private(folder: &Path) -> bool {
    modes(folder)
        .iter()
        .all(|(name, mode)| *mode == if name == "." { 0o700 } else { 0o600 })
}

/// The program, wherever a new file would be for all to read.
fn careless(folder: &Path, words: &[&str]) -> std::process::Command {
    let folder = folder.display().to_string();
    let words = [words, &["--data", &folder]].concat();
    crate::fault::running::program(&["sh", "-c", "umask 000; exec \"$@\"", "sh"], &words)
}

#[test]
fn what_the_program_makes_is_for_its_own_account_alone() {
    let folder = std::env::temp_dir().join(format!("purfle-test-{}", uuid::Uuid::new_v4()));
    let filled = careless(&folder, &["demo", "--orders", "0", "--fill-only"])
        .output()
        .expect("the program");
    assert!(
        filled.status.success() && filled.stderr.is_empty(),
        "{}",
        String::from_utf8_lossy(&filled.stderr)
    );
    assert!(is_private(&folder), "{:?}", modes(&folder));
    let mut running =
        crate::fault::running::Running::from(careless(&folder, &["serve", "--listen", "127.0.0.1:0"]));
    let names: Vec<String> = modes(&folder).into_iter().map(|one| one.0).collect();
    assert!(names.contains(&"purfle.db-wal".to_owned()), "{names:?}");
    assert!(is_private(&folder), "{:?}", modes(&folder));
    running.stop();
    let _ = std::fs::remove_dir_all(&folder);
}

#[test]
fn what_others_could_read_is_closed_and_told_once() {
    on_sqlite(async |shop| {
        let path = lived_in(&shop).await;
        allow(&path, 0o755);
        for entry in std::fs::read_dir(&path).expect("the folder").flatten() {
            allow(&entry.path(), 0o664);
        }
        let told = data_folder::close(&path).join("\n");
        assert!(
            told.contains("could look into") && told.contains("purfle.db"),
            "{told}"
        );
        assert!(is_private(&path), "{:?}", modes(&path));
        assert!(data_folder::close(&path).is_empty());
    });
}

#[test]
fn a_folder_that_is_somebody_elses_too_is_left_and_told() {
    on_sqlite(async |shop| {
        let path = lived_in(&shop).await;
        let letter = path.join("letter.txt");
        std::fs::write(&letter, "Dear all").expect("written");
        allow(&letter, 0o644);
        allow(&path, 0o755);
        let told = data_folder::close(&path).join("\n");
        assert!(
            told.contains("it was left so") && told.contains("chmod 700"),
            "{told}"
        );
        assert_eq!(
            (mode(&path), mode(&letter), mode(&path.join("purfle.db"))),
            (0o755, 0o644, 0o600)
        );
    });
}

#[test]
fn a_database_that_was_named_is_closed_when_it_is_served() {
    on_sqlite(async |shop| {
        shop.app.db.close().await;
        let file = shop.folder().join("shop.db");
        allow(&file, 0o644);
        let mut running = crate::fault::running::Running::on(&shop.url);
        assert_eq!(mode(&file), 0o600);
        running.stop();
        assert!(
            running.said().contains("Others on this computer could read"),
            "{}",
            running.said()
        );
    });
}
