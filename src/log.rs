//! The log is what the program tells whoever looks after it: one line an event, for people or for programs.

use std::fmt::Display;

use tracing::Subscriber;
use tracing_subscriber::EnvFilter;
use tracing_subscriber::fmt::MakeWriter;

/// A log of this kind, `text` or `json`; painted only for a terminal, so that a file holds plain lines.
#[must_use]
pub fn to<W>(kind: &str, filter: EnvFilter, painted: bool, writer: W) -> Box<dyn Subscriber + Send + Sync>
where
    W: for<'w> MakeWriter<'w> + Send + Sync + 'static,
{
    let log = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_ansi(painted)
        .with_writer(writer);
    if kind == "json" {
        Box::new(log.json().finish())
    } else {
        Box::new(log.compact().finish())
    }
}

/// What somebody else said, as it may stand in a log: what neither kind of log escapes, and a terminal or a reader of
/// lines may follow, is escaped here.
#[must_use]
pub fn quoted(said: impl Display) -> String {
    let followed = |c: char| matches!(c, '\u{7f}'..='\u{9f}' | '\u{2028}' | '\u{2029}');
    let mut quoted = String::new();
    for c in said.to_string().chars() {
        if followed(c) {
            quoted.extend(c.escape_unicode());
        } else {
            quoted.push(c);
        }
    }
    quoted
}
