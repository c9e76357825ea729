//! The command line: what is off in its words ends with 2 and makes nothing, what fails ends with 1, and all of it explains itself.

use std::path::{Path, PathBuf};
use std::process::Output;

use purfle::clock::{Clock, Day};
use purfle::db::Db;

use crate::fault::running::program;
use crate::shop::{Shop, on_both, on_sqlite};

/// Every level of it.
const LEVELS: [&[&str]; 12] = [
    &[],
    &["serve"],
    &["demo"],
    &["check"],
    &["import"],
    &["import", "history"],
    &["staff"],
    &["staff", "add"],
    &["staff", "list"],
    &["staff", "password"],
    &["token"],
    &["token", "add"],
];

/// A folder in which nothing lies yet, and what is run there.
struct Ground(PathBuf);

impl Ground {
    fn new() -> Ground {
        let path = std::env::temp_dir().join(format!("purfle-test-{}", uuid::Uuid::new_v4()));
        std::fs::create_dir(&path).expect("a folder");
        Ground(path)
    }

    fn run(&self, words: &[&str]) -> Output {
        let mut command = program(&["timeout", "20"], words);
        command.current_dir(&self.0).output().expect("the program")
    }

    /// It ends with this code and says why on the one way, nothing on the other, and nothing is left behind.
    fn ends(&self, words: &[&str], code: i32) -> String {
        let ended = self.run(words);
        let said = String::from_utf8_lossy(&ended.stderr).into_owned();
        assert_eq!(ended.status.code(), Some(code), "{words:?}: {said}");
        assert!(ended.stdout.is_empty() && said.len() > 20, "{words:?}: {said}");
        let left: Vec<_> = std::fs::read_dir(&self.0)
            .expect("the folder")
            .flatten()
            .collect();
        assert!(left.is_empty(), "{words:?} left {left:?}");
        said
    }
}
impl Drop for Ground {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

#[test]
fn words_that_are_off_end_with_two_and_leave_nothing() {
    let ground = Ground::new();
    let cases: [(&[&str], &str); 28] = [
        (&["srve"], "srve"),
        (&["serve", "--port", "80"], "--port"),
        (&["serve", "now"], "now"),
        (&["--data", "shop", "check"], "check"),
        (&["serve", "--listen", "nonsense"], "127.0.0.1:8080"),
        (&["serve", "--listen", "127.0.0.1:99999"], "127.0.0.1:8080"),
        (&["--listen", ""], "127.0.0.1:8080"),
        (&["serve", "--address", "shop.example"], "https://shop.example"),
        (&["serve", "--log", "loud"], "loud"),
        (&["serve", "--data", ""], "--data"),
        (&["serve", "--also", "Harbour Street"], "NAME=SHOP"),
        (
            &["--also", "postgres://a:secret@b/c?d=e"],
            "letters, digits and spaces",
        ),
        (&["demo", "--also", "A=mysql://a:secret@b/c"], "sqlite:PATH"),
        (&["serve", "--database", "shop.db"], "sqlite:PATH"),
        (&["serve", "--database", "sqlite:"], "sqlite:PATH"),
        (&["serve", "--database", "mysql://a:secret@b/c"], "sqlite:PATH"),
        (
            &["check", "--database", "postgres://a:secret@b:port/c"],
            "sqlite:PATH",
        ),
        (&["demo", "--orders", "many"], "many"),
        (&["demo", "--as-of", "yesterday"], "2026-02-20"),
        (&["demo", "--listen", "here"], "127.0.0.1:8080"),
        (&["import"], "history"),
        (&["import", "history"], "FILE"),
        (
            &["import", "history", "a.csv", "--dry", "--keep-good"],
            "--keep-good",
        ),
        (&["staff", "add", "--name", "Ada"], "--role"),
        (
            &[
                "staff",
                "add",
                "--name",
                "Ada",
                "--role",
                "boss",
                "--password",
                "long enough it is",
            ],
            "counter, bench or owner",
        ),
        (
            &[
                "staff",
                "add",
                "--name",
                "Ada",
                "--role",
                "bench",
                "--password",
                "short",
            ],
            "--password",
        ),
        (&["token", "add", "--name", "till", "--role", "boss"], "boss"),
        (
            &[
                "token",
                "add",
                "--name",
                "till",
                "--role",
                "counter",
                "--expires",
                "soon",
            ],
            "2027-12-31",
        ),
    ];
    for (words, names) in cases {
        let said = ground.ends(words, 2);
        assert!(said.contains(names), "{words:?}: {said}");
        assert!(!said.contains("secret"), "{words:?} tells a password: {said}");
    }
}

#[test]
fn what_fails_ends_with_one_and_leaves_nothing() {
    let taken = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
    let taken = taken.local_addr().expect("its address").to_string();
    let ground = Ground::new();
    let cases: [(&[&str], &str); 10] = [
        (&["serve", "--listen", &taken], "--listen"),
        (&["demo", "--listen", &taken], "--listen"),
        (&["check"], "no shop in purfle-data"),
        (&["check", "--database", "sqlite:shop.db"], "no database shop.db"),
        (&["staff", "list"], "no shop in purfle-data"),
        (
            &["staff", "list", "--database", "sqlite:shop.db"],
            "no database shop.db",
        ),
        (
            &[
                "staff",
                "password",
                "--name",
                "Ada",
                "--password",
                "long enough it is",
            ],
            "no shop",
        ),
        (
            &["token", "add", "--name", "till", "--role", "counter"],
            "no shop",
        ),
        (&["import", "history", "book.csv"], "book.csv cannot be opened"),
        (
            &["serve", "--database", "postgres://nobody@127.0.0.1:1/none"],
            "PostgreSQL database cannot be opened",
        ),
    ];
    for (words, names) in cases {
        let said = ground.ends(words, 1);
        assert!(
            said.starts_with("purfle: ") && said.contains(names),
            "{words:?}: {said}"
        );
    }
}

#[test]
fn every_level_explains_itself_and_all_its_options() {
    let ground = Ground::new();
    for level in LEVELS {
        for help in ["--help", "-h"] {
            let told = ground.run(&[level, &[help]].concat());
            assert_eq!(told.status.code(), Some(0), "{level:?}");
            let told = String::from_utf8_lossy(&told.stdout).into_owned();
            assert!(told.contains("Usage: purfle"), "{told}");
            let options: Vec<&str> = told
                .lines()
                .filter(|line| line.trim_start().starts_with("--"))
                .collect();
            let bare = |line: &&&str| line.trim().split_once("  ").is_none();
            assert!(
                help == "--help" || options.iter().find(bare).is_none(),
                "{level:?}: {options:?}"
            );
        }
    }
    let version = ground.run(&["--version"]);
    assert_eq!(
        String::from_utf8_lossy(&version.stdout).trim(),
        format!("purfle {}", env!("CARGO_PKG_VERSION"))
    );
}

/// What is promised to those who write scripts.
#[test]
fn the_options_and_their_defaults_are_those_that_were_promised() {
    let ground = Ground::new();
    let place: &[&str] = &[
        "--database <URL>",
        "DATABASE_URL",
        "--data <DIR>",
        "[default: purfle-data]",
    ];
    let serve: &[&str] = &[
        "--listen <ADDR>",
        "[default: 127.0.0.1:8080]",
        "--also <NAME=SHOP>",
        "PURFLE_ALSO",
    ];
    let demo: &[&str] = &["--orders <N>", "--seed <S>", "--as-of <DATE>", "--fill-only"];
    let promised: [(&[&str], &[&[&str]]); 8] = [
        (&[], &[place, serve]),
        (&["serve"], &[place, serve]),
        (&["demo"], &[place, serve, demo]),
        (&["check"], &[place]),
        (&["import", "history"], &[place, &["--keep-good", "<FILE.csv>"]]),
        (&["staff", "add"], &[place, &["--name", "--role", "--password"]]),
        (&["staff", "password"], &[place, &["--name", "--password"]]),
        (
            &["token", "add"],
            &[
                place,
                &["--name", "--role", "--expires <DATE>", "counter, bench, owner"],
            ],
        ),
    ];
    for (level, options) in promised {
        let told = ground.run(&[level, &["-h"]].concat());
        let told = String::from_utf8_lossy(&told.stdout).into_owned();
        for option in options.iter().copied().flatten() {
            assert!(told.contains(option), "{level:?} lacks {option}: {told}");
        }
    }
}

#[test]
fn a_token_that_would_open_nothing_is_refused_and_one_for_today_is_not() {
    on_both(async |shop| {
        let today = purfle::admin::shop::Shop::get(&shop.app.db)
            .await
            .expect("the shop")
            .today(Clock::default().now());
        let ground = Ground::new();
        let add = |day: Day| {
            let day = day.iso();
            ground.run(&[
                "token",
                "add",
                "--name",
                "till",
                "--role",
                "counter",
                "--expires",
                &day,
                "--database",
                &shop.url,
            ])
        };
        for past in [today.plus(-1), today.plus(-4000)] {
            let refused = add(past);
            let said = String::from_utf8_lossy(&refused.stderr).into_owned();
            assert_eq!(refused.status.code(), Some(2), "{said}");
            assert!(
                refused.stdout.is_empty() && said.contains(&today.with_year()),
                "{said}"
            );
        }
        let tokens = async |db: &Db| -> i64 {
            db.read("select count(*) from token")
                .one::<(i64,)>()
                .await
                .expect("a count")
                .0
        };
        assert_eq!(tokens(&shop.app.db).await, 0);
        let made = add(today);
        assert_eq!(
            made.status.code(),
            Some(0),
            "{}",
            String::from_utf8_lossy(&made.stderr)
        );
        assert!(made.stdout.starts_with(b"purfle_"));
        assert_eq!(tokens(&shop.app.db).await, 1);
    });
}

/// All of our own text that people read.
fn texts(at: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(at).expect("a folder").flatten() {
        let path = entry.path();
        if path.is_dir() {
            texts(&path, found);
        } else if path
            .extension()
            .is_some_and(|end| end == "rs" || end == "html" || end == "md")
        {
            found.push(path);
        }
    }
}

#[test]
fn no_words_name_a_command_that_there_is_not() {
    let house = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = vec![house.join("README.md"), house.join("DEVELOPERS.md")];
    texts(&house.join("src"), &mut found);
    texts(&house.join("templates"), &mut found);
    let known: Vec<&str> = LEVELS.iter().filter_map(|level| level.first().copied()).collect();
    let mut named = 0;
    for path in found {
        let text = std::fs::read_to_string(&path).expect("its text");
        for (at, _) in text.match_indices("`purfle ") {
            let words = &text[at + "`purfle ".len()..];
            let word = words.split([' ', '`', '\n']).next().unwrap_or_default();
            let line = words.lines().next().unwrap_or_default();
            assert!(
                known.contains(&word) || word == "help" || word.starts_with('-'),
                "{}: {line}",
                path.display()
            );
            named += 1;
        }
    }
    assert!(named > 10, "only {named} were found");
}

/// What is said of a database that is gone, damaged or another's is to be done without a program that there is not.
#[test]
fn what_ails_a_database_is_said_without_a_tool_that_there_is_not() {
    on_sqlite(async |shop: Shop| {
        let said = [
            purfle::db::Trouble::Away,
            purfle::db::Trouble::Busy,
            purfle::db::Trouble::Unheard,
            purfle::db::Trouble::Full,
            purfle::db::Trouble::ReadOnly,
            purfle::db::Trouble::Disk,
            purfle::db::Trouble::Damaged,
        ];
        for trouble in said {
            let words = trouble.words();
            assert!(!words.contains("backup") && !words.contains("restore"), "{words}");
        }
        let folder = shop.folder().join("gone");
        std::fs::create_dir(&folder).expect("a folder");
        std::fs::write(folder.join("shop-lives-here"), "a house").expect("a marker");
        let problem = purfle::admin::data_folder::DataFolder::take(&folder)
            .err()
            .expect("refused");
        let words = format!("{problem:#}");
        assert!(
            words.contains("copy") && !words.contains("backup") && !words.contains("restore"),
            "{words}"
        );
    });
}
