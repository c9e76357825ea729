//! The API: what a program can do, and what it is told when it cannot.

mod bad_input;
mod changes;
mod changes_of_the_catalogue;
mod changes_of_the_house;
mod description;
mod health;
mod job;
mod late;
mod lists;
mod once;
mod pages;
mod questions;
mod refusals;
mod roles;

use serde_json::{Value, json};

use crate::shop::{Answer, Program};

pub const ORDERS: &str = "/api/v1/orders";

/// A violin that buzzes, as a program would send it.
pub fn violin() -> Value {
    json!({
        "customer": {"name": "Ada Fenwick", "phone": "01 555 0142", "email": "ada@fenwick.example"},
        "instrument": {"family": "violin", "size": "4/4", "maker": "Harrow & Pell", "year_made": 1920, "year_certainty": "circa"},
        "complaint": {"words": "It buzzes on the open G.", "answers": {"onset": "sudden"}, "buzz_at": {"string": "G", "note": "B4"}},
        "items_left": ["case", "bow"],
        "condition": "A scratch below the f-hole.",
        "declared_value": 850_000,
        "promised_on": "2026-02-20",
        "authorised_limit": 5_000
    })
}

/// Takes an instrument in under this key.
pub async fn take_in(program: &Program, key: &str, body: &Value) -> Answer {
    program.post(ORDERS, &[("idempotency-key", key)], body).await
}

/// An order that a program works on: it remembers the version it was last told.
pub struct Visit {
    pub path: String,
    pub etag: String,
}

impl Visit {
    pub async fn begin(counter: &Program) -> Visit {
        Visit::of(&take_in(counter, "a visit", &violin()).await)
    }

    pub fn of(taken: &Answer) -> Visit {
        assert_eq!(taken.status.as_u16(), 201, "{}", taken.json);
        Visit {
            path: format!("{ORDERS}/{}", taken.json["tag"].as_str().expect("a tag")),
            etag: taken.etag(),
        }
    }

    /// Tries an act on the version it knows.
    pub async fn tries(&self, program: &Program, what: &str, body: &Value) -> Answer {
        let path = format!("{}/{what}", self.path);
        program.post(&path, &[("if-match", &self.etag)], body).await
    }

    /// Does an act that must succeed.
    pub async fn does(&mut self, program: &Program, what: &str, body: Value) -> Value {
        let answer = self.tries(program, what, &body).await;
        assert!(
            answer.status.is_success(),
            "{what}: {} {}",
            answer.status,
            answer.json
        );
        self.etag = answer.etag();
        answer.json
    }
}

/// The fields a refusal names.
pub fn fields(answer: &Answer) -> Vec<&str> {
    let errors = answer.json["errors"].as_array();
    errors
        .into_iter()
        .flatten()
        .filter_map(|error| error["field"].as_str())
        .collect()
}
