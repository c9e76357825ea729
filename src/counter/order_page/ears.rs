//! The second pair of ears on an order's page: what it may be and why, where to look next, and what to ask.

use std::collections::BTreeMap;

use crate::catalogue::answer::Words;
use crate::catalogue::cause::{Cause, REGIONS};
use crate::catalogue::descriptor::Descriptor;
use crate::counter::order_sheet::Sheet;
use crate::diagnosis::checks::Place;
use crate::diagnosis::line::Line;
use crate::diagnosis::opinion::{self, Likely, Opinion};
use crate::diagnosis::rank::Looked;
use crate::printing::drawing::Spot;
use crate::words;

/// So many causes have a line of their own at least; no more follow after so many, and those alike to the last.
const AT_LEAST: usize = 3;
const AT_MOST: usize = 6;
/// So many questions are asked at a time.
const ASKED: usize = 3;

pub(super) struct Ears {
    opinion: Opinion,
    /// Worth a line of their own, the likeliest first, those that are alike together.
    pub(super) lines: Vec<Line>,
    /// Worth asking now.
    pub(super) asked: Vec<Question>,
    /// Asked already, or hardly worth it.
    pub(super) others: Vec<Question>,
}

pub(super) struct Question {
    pub(super) code: String,
    pub(super) words: String,
    pub(super) hint: String,
    pub(super) answers: Vec<Choice>,
}

pub(super) struct Choice {
    pub(super) code: String,
    pub(super) words: String,
    pub(super) given: bool,
}

impl Ears {
    pub(super) fn new(sheet: &Sheet, opinion: Opinion) -> Ears {
        let given = sheet.order.answers();
        let family = &sheet.instrument.family;
        let worth: Vec<&str> = opinion
            .questions
            .iter()
            .filter(|asked| asked.is_worth() && !given.contains_key(&asked.code))
            .map(|asked| asked.code.as_str())
            .take(ASKED)
            .collect();
        let words = &sheet.current.figures.words;
        let question = |code: &str| {
            sheet
                .current
                .question(code)
                .map(|it| Question::of(it, words, &given))
        };
        let asked: Vec<Question> = worth.iter().filter_map(|code| question(code)).collect();
        let others = sheet.current.figures.descriptors.iter();
        let others = others.filter(|it| it.fits(family) && !worth.contains(&it.code.as_str()));
        Ears {
            lines: lines(&opinion),
            others: others.map(|it| Question::of(it, words, &given)).collect(),
            asked,
            opinion,
        }
    }

    /// The check to do next, as far as this person can look. While the customer is there, it is one that is worth their
    /// while, or else one for the bench.
    pub(super) fn next(&self, bench: bool, place: Place) -> Option<&Cause> {
        let here = |likely: &Likely| likely.cause.is_at_counter() && likely.is_worth_a_look();
        let fits = |likely: &&Likely| match place {
            Place::Counter => here(likely) || (bench && !likely.cause.is_at_counter()),
            Place::Bench => bench || here(likely),
        };
        let order = self.opinion.next(usize::MAX);
        order.into_iter().find(fits).map(|likely| &likely.cause)
    }

    /// What only the bench looks at, of the likeliest.
    pub(super) fn at_the_bench(&self) -> String {
        let could_be = |likely: &&Likely| likely.is_possible() && likely.looked.is_none();
        let points: Vec<Likely> = self.opinion.ranking.iter().filter(could_be).cloned().collect();
        opinion::at_the_bench(&points)
    }

    /// How much an answer tells, for or against, of the causes that stand on the page.
    pub(super) fn telling(&self, question: &str) -> f64 {
        let said = self.lines.iter().flat_map(|line| &line.likely.reasons);
        let said = said.filter(|said| said.descriptor == question);
        said.map(|said| said.decibans.abs()).fold(0.0, f64::max)
    }

    /// "About 9 min until it is found".
    pub(super) fn expected(&self) -> String {
        let minutes = crate::diagnosis::temper::micro(self.opinion.minutes) / 1_000_000;
        words::minutes(minutes.max(1))
    }

    pub(super) fn none_of_these(&self) -> &'static str {
        opinion::words(self.opinion.none_of_these)
    }

    pub(super) fn none_percent(&self) -> String {
        opinion::percent(self.opinion.none_of_these)
    }

    /// How many have no line of their own.
    pub(super) fn more(&self) -> usize {
        self.opinion.ranking.len() - self.lines.iter().map(Line::causes).sum::<usize>()
    }

    /// Whether something was found.
    pub(super) fn is_found(&self) -> bool {
        let found = |likely: &Likely| likely.looked == Some(Looked::Found);
        self.opinion.ranking.iter().any(found)
    }

    /// All causes, region by region, the likeliest first.
    pub(super) fn regions(&self) -> Vec<(&'static str, &'static str, &'static str, Vec<&Likely>)> {
        let regions = REGIONS.iter().map(|(region, name)| {
            let here = self
                .opinion
                .ranking
                .iter()
                .filter(|likely| likely.cause.region == *region);
            let words = opinion::words(self.opinion.of_region(region));
            (*region, *name, words, here.collect::<Vec<_>>())
        });
        regions.filter(|region| !region.3.is_empty()).collect()
    }

    /// The regions as the drawing shows them; it says the same as the list.
    pub(super) fn spots(&self) -> Vec<Spot> {
        let regions = self.regions().into_iter();
        regions
            .map(|(region, name, likely, causes)| {
                let many = i64::try_from(causes.len()).unwrap_or(i64::MAX);
                Spot {
                    region,
                    href: format!("#region-{region}"),
                    words: format!("{name}: {likely}, {}", words::count(many, "cause", "causes")),
                    p: self.opinion.of_region(region),
                    cause: causes
                        .first()
                        .map_or(String::new(), |likely| likely.cause.code.clone()),
                }
            })
            .collect()
    }
}

/// The likeliest, as far as they are worth a line; what no answer can part stands together, as likely as all of it.
fn lines(opinion: &Opinion) -> Vec<Line> {
    let mut all = opinion.lines();
    let mut rows = 0;
    let worth = |line: &Line| {
        let room = rows < AT_LEAST || (rows < AT_MOST && line.is_possible());
        rows += line.causes();
        room
    };
    let many = all.iter().map(worth).take_while(|worth| *worth).count();
    all.truncate(many);
    all
}

impl Question {
    fn of(descriptor: &Descriptor, words: &Words, given: &BTreeMap<String, String>) -> Question {
        let given = given.get(&descriptor.code);
        let choices = descriptor.choices().map(|choice| Choice {
            code: choice.to_owned(),
            words: words.said(&descriptor.code, choice),
            given: given.is_some_and(|given| given == choice),
        });
        Question {
            code: descriptor.code.clone(),
            words: descriptor.question.clone(),
            hint: descriptor.hint.clone(),
            answers: choices.collect(),
        }
    }
}
