//! A line is one cause, or several that no answer can part, as it stands in a list: one look settles it.

use super::opinion::{self, Likely, Opinion};
use super::rank::Looked;

#[derive(Clone, Debug)]
pub struct Line {
    /// The likeliest of them.
    pub likely: Likely,
    /// All of them, if there are several.
    pub group: Vec<Likely>,
    /// How likely it is one of them.
    pub probability: f64,
}

impl Opinion {
    /// All that it may be, the likeliest line first; what was mended, and it still buzzed, is left out.
    #[must_use]
    pub fn lines(&self) -> Vec<Line> {
        let could_be = |likely: &&Likely| likely.looked != Some(Looked::Mended);
        let mut all: Vec<Line> = Vec::new();
        for likely in self.ranking.iter().filter(could_be) {
            let code = &likely.cause.code;
            if all.iter().any(|line| line.likely.alike.contains(code)) {
                continue;
            }
            let with =
                |other: &&Likely| other.cause.code == *code || likely.alike.contains(&other.cause.code);
            let together = self.ranking.iter().filter(could_be).filter(with);
            let together: Vec<Likely> = together.cloned().collect();
            all.push(Line {
                likely: likely.clone(),
                probability: together.iter().map(|likely| likely.probability).sum(),
                group: if together.len() > 1 { together } else { Vec::new() },
            });
        }
        all.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        all
    }
}

impl Line {
    #[must_use]
    pub fn causes(&self) -> usize {
        self.group.len().max(1)
    }

    /// One after the other, the likeliest first.
    #[must_use]
    pub fn all(&self) -> &[Likely] {
        if self.group.is_empty() {
            std::slice::from_ref(&self.likely)
        } else {
            &self.group
        }
    }

    #[must_use]
    pub fn is_out(&self) -> bool {
        let out = |likely: &Likely| likely.looked == Some(Looked::NotFound);
        self.all().iter().all(out)
    }

    /// Worth a line without being asked for.
    #[must_use]
    pub fn is_possible(&self) -> bool {
        opinion::is_possible(self.probability)
    }

    /// "Edge and seams: one of 3", or the cause's name.
    #[must_use]
    pub fn name(&self) -> String {
        if self.group.is_empty() {
            return self.likely.cause.name.clone();
        }
        format!("{}: one of {}", self.likely.cause.region_words(), self.causes())
    }

    #[must_use]
    pub fn words(&self) -> &'static str {
        let found = |likely: &&Likely| likely.looked == Some(Looked::Found);
        let found = self.all().iter().find(found);
        found.map_or(opinion::words(self.probability), Likely::words)
    }

    #[must_use]
    pub fn percent(&self) -> String {
        opinion::percent(self.probability)
    }

    /// The length of its bar, in percent.
    #[must_use]
    pub fn bar(&self) -> i64 {
        super::temper::micro(self.probability) / 10_000
    }

    /// Those of the group that were not looked for yet, as the form sends them.
    #[must_use]
    pub fn open(&self) -> String {
        let open = self.group.iter().filter(|likely| likely.looked.is_none());
        let codes: Vec<&str> = open.map(|likely| likely.cause.code.as_str()).collect();
        codes.join(";")
    }
}
