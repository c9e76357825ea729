//! An answer as people say it; the code stays in the data.

use std::collections::HashMap;
use std::sync::LazyLock;

const WORDS: &str = include_str!("data/answers.csv");

static SAID: LazyLock<HashMap<(String, String), String>> = LazyLock::new(|| {
    let mut reader = csv::Reader::from_reader(WORDS.as_bytes());
    let rows = reader
        .deserialize::<(String, String, String)>()
        .filter_map(Result::ok);
    rows.map(|(descriptor, answer, words)| ((descriptor, answer), words))
        .collect()
});

/// "Fingered only" for `open_or_stopped` = `stopped_only`; an answer of the shop's own question is its code in words.
#[must_use]
pub fn said(descriptor: &str, answer: &str) -> String {
    let known = SAID.get(&(descriptor.to_owned(), answer.to_owned()));
    known
        .cloned()
        .unwrap_or_else(|| super::descriptor::Descriptor::answer_words(answer))
}

/// What a question is about, in a word or two: "open or fingered"; a question of the shop's own is its code in words.
#[must_use]
pub fn asked(descriptor: &str) -> String {
    let known = SAID.get(&(descriptor.to_owned(), String::new()));
    known.cloned().unwrap_or_else(|| descriptor.replace('_', " "))
}
