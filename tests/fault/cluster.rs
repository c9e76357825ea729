//! A PostgreSQL server of a test's own, which it may stop and start.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

pub struct Cluster {
    bin: PathBuf,
    folder: PathBuf,
    port: u16,
}

impl Cluster {
    /// Makes one and starts it; none where PostgreSQL's own programs are not installed.
    pub fn begin() -> Option<Cluster> {
        let bin = programs().or_else(|| {
            assert!(
                std::env::var("PURFLE_TEST_REQUIRE_POSTGRES").is_err(),
                "initdb must be in the PATH or in /usr/lib/postgresql for the tests"
            );
            println!("left out: no PostgreSQL is installed here");
            None
        })?;
        let folder = std::env::temp_dir().join(format!("purfle-test-{}", uuid::Uuid::new_v4()));
        std::fs::create_dir_all(&folder).expect("a folder");
        let taken = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
        let port = taken.local_addr().expect("its number").port();
        drop(taken);
        let cluster = Cluster { bin, folder, port };
        if let Some(user) = cluster.user() {
            run(Command::new("chown").arg(user).arg(&cluster.folder));
        }
        let data = cluster.data();
        let words = [
            "--username=purfle",
            "--auth=trust",
            "--encoding=UTF8",
            "--locale=C",
            "--no-sync",
        ];
        run(cluster.command("initdb").arg("--pgdata").arg(&data).args(words));
        cluster.start();
        Some(cluster)
    }

    pub fn url(&self) -> String {
        format!("postgres://purfle@127.0.0.1:{}/postgres", self.port)
    }

    pub fn start(&self) {
        let options = format!(
            "-c listen_addresses=127.0.0.1 -p {} -c unix_socket_directories={} -c fsync=off",
            self.port,
            self.folder.display()
        );
        let log = self.folder.join("log");
        run(self
            .control("start")
            .args(["--wait", "--options", &options, "--log"])
            .arg(log));
    }

    /// Without a word to those who are connected.
    pub fn stop(&self) {
        run(self.control("stop").args(["--wait", "--mode=immediate"]));
    }

    fn data(&self) -> PathBuf {
        self.folder.join("data")
    }

    fn control(&self, what: &str) -> Command {
        let mut command = self.command("pg_ctl");
        command.args([what, "--silent", "--pgdata"]).arg(self.data());
        command
    }

    /// PostgreSQL refuses to run as root: then it is a system user's.
    fn user(&self) -> Option<&'static str> {
        let id = Command::new("id").arg("-u").output().expect("id");
        let known = |user: &str| {
            let known = Command::new("id").arg(user).output();
            known.is_ok_and(|known| known.status.success())
        };
        let root = id.stdout.trim_ascii() == b"0";
        root.then(|| if known("postgres") { "postgres" } else { "nobody" })
    }

    fn command(&self, program: &str) -> Command {
        let path = self.bin.join(program);
        let mut command = match self.user() {
            None => Command::new(path),
            Some(user) => {
                let mut command = Command::new("setpriv");
                command
                    .args([&format!("--reuid={user}"), "--clear-groups"])
                    .arg(path);
                command
            }
        };
        command.current_dir(&self.folder);
        command
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        let _ = self.control("stop").args(["--mode=immediate"]).output();
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

fn run(command: &mut Command) {
    // Nothing is read from it: a server that goes on would keep a pipe open.
    let done = command
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    assert!(done.is_ok_and(|status| status.success()), "{command:?}");
}

/// The folder that holds initdb: of the PATH, or Debian's newest.
fn programs() -> Option<PathBuf> {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let real = |folder: PathBuf| std::fs::canonicalize(folder.join("initdb")).ok();
    let linked = std::env::split_paths(&path).find_map(real);
    let mut debian: Vec<PathBuf> = std::fs::read_dir("/usr/lib/postgresql")
        .into_iter()
        .flatten()
        .filter_map(|version| real(version.ok()?.path().join("bin")))
        .collect();
    debian.sort();
    let initdb = linked.or(debian.pop())?;
    initdb.parent().map(Path::to_owned)
}
