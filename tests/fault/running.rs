//! The real program, running on its own, with a way to talk to it over the network.

use std::io::{BufRead, BufReader, Read};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use serde_json::Value;

pub struct Running {
    child: Child,
    /// `http://127.0.0.1:PORT`
    pub address: String,
    said: Arc<Mutex<String>>,
}

/// What a call was answered.
#[derive(Clone, Debug)]
pub struct Reply {
    pub status: u16,
    pub etag: String,
    pub replay: bool,
    pub retry_after: bool,
    pub text: String,
}

impl Reply {
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.text).unwrap_or(Value::Null)
    }
}

/// The program with these words, nothing of the tests' own surroundings told to it.
pub fn program(wrapped_in: &[&str], words: &[&str]) -> Command {
    let mut all = wrapped_in.to_vec();
    all.push(env!("CARGO_BIN_EXE_purfle"));
    all.extend(words);
    let mut command = Command::new(all[0]);
    command
        .args(&all[1..])
        .env_remove("DATABASE_URL")
        .env_remove("PURFLE_ADDRESS")
        .env_remove("PURFLE_ALSO")
        .env_remove("PURFLE_LOG");
    command
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    command
}

impl Running {
    /// Serves a database, `sqlite:PATH` or `postgres://..`.
    pub fn on(url: &str) -> Running {
        Running::from(program(
            &[],
            &["serve", "--listen", "127.0.0.1:0", "--database", url],
        ))
    }

    pub fn from(mut command: Command) -> Running {
        let mut child = command.spawn().expect("the program");
        let said = Arc::new(Mutex::new(String::new()));
        let (open, opened) = channel();
        listen(child.stdout.take().expect("its words"), said.clone(), Some(open));
        listen(child.stderr.take().expect("its log"), said.clone(), None);
        let Ok(address) = opened.recv_timeout(Duration::from_secs(30)) else {
            let _ = child.kill();
            panic!("it did not open: {}", said.lock().expect("its words"));
        };
        Running { child, address, said }
    }

    /// All it said so far, to people and to the log.
    pub fn said(&self) -> String {
        self.said.lock().expect("its words").clone()
    }

    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// As a power cut looks to the program: no last word.
    pub fn kill(&mut self) {
        self.child.kill().expect("killed");
        self.child.wait().expect("its end");
    }

    /// Asks it to stop.
    pub fn ask_to_stop(&self) {
        let id = self.child.id().to_string();
        let asked = Command::new("kill").args(["-TERM", &id]).status();
        assert!(asked.expect("kill").success());
    }

    pub fn stop(&mut self) -> ExitStatus {
        self.ask_to_stop();
        self.child.wait().expect("its end")
    }

    /// Its end, if it comes within this time.
    pub fn ends_within(&mut self, time: Duration) -> Option<ExitStatus> {
        let start = Instant::now();
        while start.elapsed() < time {
            if let Some(status) = self.child.try_wait().expect("its state") {
                return Some(status);
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        None
    }

    /// A call with a token; none when no whole answer came back.
    pub async fn call(&self, token: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Option<Reply> {
        let client = reqwest::Client::new();
        let mut request = client
            .post(format!("{}{path}", self.address))
            .timeout(Duration::from_secs(20))
            .header("authorization", format!("Bearer {token}"))
            .header("content-type", "application/json");
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        reply(request.body(body.to_owned()).send().await.ok()?).await
    }

    pub async fn get(&self, path: &str, headers: &[(&str, &str)]) -> Option<Reply> {
        let mut request = reqwest::Client::new().get(format!("{}{path}", self.address));
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        reply(request.timeout(Duration::from_secs(20)).send().await.ok()?).await
    }
}

/// Whatever becomes of the test, the program does not outlive it.
impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

async fn reply(response: reqwest::Response) -> Option<Reply> {
    let said = |name: &str| {
        let value = response.headers().get(name);
        value
            .and_then(|value| value.to_str().ok())
            .unwrap_or_default()
            .to_owned()
    };
    let (etag, replay, retry_after) = (said("etag"), said("idempotent-replay"), said("retry-after"));
    Some(Reply {
        status: response.status().as_u16(),
        etag,
        replay: replay == "true",
        retry_after: !retry_after.is_empty(),
        text: response.text().await.ok()?,
    })
}

/// Writes down what comes, and tells where the shop is open.
fn listen(from: impl Read + Send + 'static, said: Arc<Mutex<String>>, open: Option<Sender<String>>) {
    std::thread::spawn(move || {
        for line in BufReader::new(from).lines().map_while(Result::ok) {
            let address = line.strip_prefix("The shop is open at ");
            let mut said = said.lock().expect("its words");
            said.push_str(&line);
            said.push('\n');
            drop(said);
            if let (Some(address), Some(open)) = (address, &open) {
                let _ = open.send(address.trim_end_matches('/').to_owned());
            }
        }
    });
}
