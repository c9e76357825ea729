//! Health is what a watcher asks of the service: whether it lives, whether it can serve, and how much it has answered.

use std::fmt::Write;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};

use crate::app::App;

/// The statuses that are counted one by one: 100 to 599.
const FIRST: u16 = 100;
const STATUSES: usize = 500;
/// Answers are sorted by how long they took, in microseconds: each of these and all below it.
const BOUNDS: [u64; 8] = [1_000, 2_500, 5_000, 10_000, 25_000, 100_000, 500_000, 2_500_000];

/// What was answered since the service started.
pub struct Answered {
    by_status: [AtomicU64; STATUSES],
    within: [AtomicU64; BOUNDS.len()],
    micros: AtomicU64,
}

impl Default for Answered {
    fn default() -> Self {
        Answered {
            by_status: [const { AtomicU64::new(0) }; STATUSES],
            within: [const { AtomicU64::new(0) }; BOUNDS.len()],
            micros: AtomicU64::new(0),
        }
    }
}

impl Answered {
    pub fn count(&self, status: StatusCode, took: Duration) {
        let micros = u64::try_from(took.as_micros()).unwrap_or(u64::MAX);
        self.micros.fetch_add(micros, Ordering::Relaxed);
        if let Some(count) = self
            .by_status
            .get(usize::from(status.as_u16().saturating_sub(FIRST)))
        {
            count.fetch_add(1, Ordering::Relaxed);
        }
        for (bound, count) in BOUNDS.iter().zip(&self.within) {
            if micros <= *bound {
                count.fetch_add(1, Ordering::Relaxed);
            }
        }
    }

    /// In Prometheus' text format, version 0.0.4.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::from(
            "# HELP purfle_answers_total Answers by HTTP status.\n# TYPE purfle_answers_total counter\n",
        );
        let mut all = 0;
        for (status, count) in (FIRST..).zip(&self.by_status) {
            let count = count.load(Ordering::Relaxed);
            all += count;
            if count > 0 {
                let _ = writeln!(text, "purfle_answers_total{{status=\"{status}\"}} {count}");
            }
        }
        text.push_str(
            "# HELP purfle_answer_seconds How long answers took.\n# TYPE purfle_answer_seconds histogram\n",
        );
        for (bound, count) in BOUNDS.iter().zip(&self.within) {
            let (seconds, count) = (seconds(*bound), count.load(Ordering::Relaxed));
            let _ = writeln!(text, "purfle_answer_seconds_bucket{{le=\"{seconds}\"}} {count}");
        }
        let _ = writeln!(text, "purfle_answer_seconds_bucket{{le=\"+Inf\"}} {all}");
        let _ = writeln!(
            text,
            "purfle_answer_seconds_sum {}",
            seconds(self.micros.load(Ordering::Relaxed))
        );
        let _ = writeln!(text, "purfle_answer_seconds_count {all}");
        text.push_str("# HELP purfle_build_info The program that answers.\n# TYPE purfle_build_info gauge\n");
        let _ = writeln!(
            text,
            "purfle_build_info{{version=\"{}\"}} 1",
            env!("CARGO_PKG_VERSION")
        );
        text
    }
}

#[expect(
    clippy::cast_precision_loss,
    reason = "a sum of seconds is read to a few digits"
)]
fn seconds(micros: u64) -> f64 {
    micros as f64 / 1e6
}

/// `GET /healthz`: the service lives.
pub async fn alive() -> &'static str {
    "alive\n"
}

/// `GET /readyz`: the database answers, and its tables are those of this program.
pub async fn ready(State(app): State<App>) -> Response {
    let (status, words) = match app.db.is_current().await {
        Ok(true) => (StatusCode::OK, "ready\n"),
        Ok(false) => (
            StatusCode::SERVICE_UNAVAILABLE,
            "the database is of another edition of the program\n",
        ),
        Err(problem) => {
            tracing::warn!(%problem, "not ready");
            (
                StatusCode::SERVICE_UNAVAILABLE,
                "the database cannot be reached\n",
            )
        }
    };
    (status, words).into_response()
}

/// `GET /metrics`: counts for Prometheus; nothing of anybody's.
pub async fn counts(State(app): State<App>) -> Response {
    let kind = "text/plain; version=0.0.4; charset=utf-8";
    ([(CONTENT_TYPE, kind)], app.answered.text()).into_response()
}
