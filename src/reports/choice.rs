//! A choice is a span that a page offers beside the one it shows.

use crate::clock::Day;

use super::span::Span;

pub struct Choice {
    pub words: String,
    pub address: String,
    /// It is the one that is shown.
    pub chosen: bool,
}

/// Up to the same month, and all that was counted; `at` is the address up to the span.
#[must_use]
pub fn offered(at: &str, shown: Span, all: Option<Span>, today: Day) -> Vec<Choice> {
    let to = shown.to;
    let mut spans = vec![
        (to.to_string(), Span::month(to)),
        ("twelve months".to_owned(), Span::up_to(to, 12)),
        (format!("the year {}", to.year()), Span::year(to.year())),
    ];
    if let Some(all) = all {
        let to = today.month();
        let words = format!("all since {}", all.from);
        spans.push((words, Span { from: all.from, to }));
    }
    let choice = |(words, span): (String, Span)| Choice {
        words,
        address: format!("{at}{}", span.query()),
        chosen: span == shown,
    };
    spans.into_iter().map(choice).collect()
}
