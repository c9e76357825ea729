//! The ears at intake: what to ask next, where the answers point, and what to look at while the customer stands there.
//!
//! Everything is worked out from the models at hand; nothing of the catalogue is read for it.

use std::collections::BTreeMap;

use crate::catalogue::answer::Words;
use crate::catalogue::cause::{Cause, REGIONS};
use crate::catalogue::caution;
use crate::catalogue::descriptor::Descriptor;
use crate::clock::Day;
use crate::counter::instrument::Instrument;
use crate::diagnosis::checks::Place;
use crate::diagnosis::evidence::is_student;
use crate::diagnosis::models::Current;
use crate::diagnosis::opinion::{self, Likely, Opinion};
use crate::diagnosis::rank::{Evidence, Looked, Model};
use crate::form::Typed;
use crate::page::Markup;
use crate::printing::drawing::{self, Spot};

/// So many questions stand open at once, so many causes are named, so many checks are shown.
const AT_ONCE: usize = 3;

pub struct Ears {
    /// Those that were answered, in the order of the form.
    pub answered: Vec<Question>,
    /// The next to ask.
    pub next: Vec<Question>,
    /// The rest, those that tell most first.
    pub more: Vec<Question>,
    /// The likeliest causes; none before anything was said.
    pub points: Vec<Likely>,
    pub looks: Vec<Look>,
    /// What the bench looks at, where fewer checks than usual are worth making here: "the nut (Nut loose)".
    pub bench: String,
    /// Something was said or looked at, so that the checks are worth seeing.
    pub heard: bool,
    /// Where it may sit; none of a bow.
    pub drawing: Option<Markup>,
}

/// A question with its answers in words.
pub struct Question {
    pub descriptor: Descriptor,
    pub answers: Vec<(String, String)>,
    /// What was answered, in words.
    pub said: String,
}

/// A check that can be made while the customer stands there.
pub struct Look {
    pub cause: Cause,
    /// `found`, `not_found`, `unclear`, or nothing yet.
    pub result: String,
}

impl Ears {
    /// What is known is the instrument, if one was chosen or described, whose it is, and what was typed.
    pub fn of(current: &Current, typed: &Typed, known: Option<(&Instrument, &str)>, today: Day) -> Ears {
        let family = known.map_or("", |known| known.0.family.as_str());
        // Before anybody said what it is, what is asked of a violin is asked.
        let Some(model) = current.model(if family.is_empty() { "violin" } else { family }) else {
            return Ears::deaf();
        };
        let evidence = evidence(current, model, typed, known, today);
        let opinion = Opinion::of(current, model, family, &evidence, Place::Counter);
        let heard = !family.is_empty() && (!evidence.answers.is_empty() || !evidence.checks.is_empty());
        let (answered, open) = questions(current, &opinion, typed, family);
        let mut open = open.into_iter();
        let points = if heard { points(&opinion) } else { Vec::new() };
        let looks = if family.is_empty() {
            Vec::new()
        } else {
            looks(current, &opinion, typed)
        };
        let unanswered = looks.iter().filter(|look| look.result.is_empty()).count();
        let found = looks.iter().any(|look| look.result == "found");
        Ears {
            answered,
            next: open.by_ref().take(AT_ONCE).collect(),
            more: open.collect(),
            bench: if found || unanswered >= AT_ONCE {
                String::new()
            } else {
                opinion::at_the_bench(&points)
            },
            points,
            looks,
            heard,
            drawing: drawn(family, heard.then_some(&opinion)),
        }
    }

    /// Of a bow: it does not buzz.
    fn deaf() -> Ears {
        Ears {
            answered: Vec::new(),
            next: Vec::new(),
            more: Vec::new(),
            points: Vec::new(),
            looks: Vec::new(),
            bench: String::new(),
            heard: false,
            drawing: None,
        }
    }

    /// The questions still to ask, by code, the one that tells most first.
    pub fn order(&self) -> String {
        let open = self.next.iter().chain(&self.more);
        let codes: Vec<&str> = open.map(|question| question.descriptor.code.as_str()).collect();
        codes.join(" ")
    }

    /// What was found, if something was.
    pub fn found(&self) -> Option<&Cause> {
        let found = self.looks.iter().find(|look| look.result == "found");
        found.map(|look| &look.cause)
    }
}

impl Look {
    pub fn minutes(&self) -> String {
        crate::words::minutes(self.cause.check_minutes)
    }

    /// What to take care of while looking.
    pub fn caution(&self) -> String {
        caution::of_look(&self.cause)
    }
}

fn evidence(
    current: &Current,
    model: &Model,
    typed: &Typed,
    known: Option<(&Instrument, &str)>,
    today: Day,
) -> Evidence {
    let year = known.and_then(|(instrument, _)| instrument.year_made);
    let answers: BTreeMap<String, String> = typed
        .under("complaint.answers.")
        .map(|(code, answer)| (code.to_owned(), answer.to_owned()))
        .collect();
    let checks = typed
        .under("check.")
        .filter_map(|(cause, result)| Some((cause, Looked::of_code(result)?)));
    let evidence = Evidence {
        student: known.map(|(instrument, kind)| is_student(instrument, kind)),
        ..Evidence::on(year, today.month(), &current.seasons)
    };
    evidence.with_answers(model, &answers).with_checks(model, checks)
}

/// The questions that were answered, and the others in the order that tells most; what no figures are known of is last.
fn questions(
    current: &Current,
    opinion: &Opinion,
    typed: &Typed,
    family: &str,
) -> (Vec<Question>, Vec<Question>) {
    let fits = |asked: &&Descriptor| !asked.retired && (family.is_empty() || asked.fits(family));
    let picked = |code: &str| typed.at(&format!("complaint.answers.{code}")).to_owned();
    let mut open: Vec<&Descriptor> = current.figures.descriptors.iter().filter(fits).collect();
    let place = |code: &str| {
        let asked = opinion.questions.iter().position(|asked| asked.code == code);
        asked.unwrap_or(usize::MAX)
    };
    open.sort_by_key(|asked| place(&asked.code));
    let answered = typed
        .under("complaint.answers.")
        .filter(|(_, answer)| !answer.is_empty())
        .filter_map(|(code, _)| open.iter().find(|asked| asked.code == code));
    let answered = answered
        .map(|asked| Question::new(asked, &current.figures.words, &picked(&asked.code)))
        .collect();
    let open = open.iter().filter(|asked| picked(&asked.code).is_empty());
    (
        answered,
        open.map(|asked| Question::new(asked, &current.figures.words, ""))
            .collect(),
    )
}

impl Question {
    fn new(asked: &Descriptor, words: &Words, picked: &str) -> Question {
        Question {
            answers: asked
                .choices()
                .map(|code| (code.to_owned(), words.said(&asked.code, code)))
                .collect(),
            said: match picked {
                "" => String::new(),
                picked => words.said(&asked.code, picked),
            },
            descriptor: asked.clone(),
        }
    }
}

fn points(opinion: &Opinion) -> Vec<Likely> {
    let likely = opinion.ranking.iter().filter(|likely| likely.is_possible());
    likely.take(AT_ONCE).cloned().collect()
}

/// The checks that stand already stay where they are (`kept`, then what was said of others); below them come the best of
/// the rest, so that three are open. Once it is found, there is no more to look for.
fn looks(current: &Current, opinion: &Opinion, typed: &Typed) -> Vec<Look> {
    let standing = typed.under("kept").filter(|(rest, _)| rest.is_empty());
    let said = typed.under("check.").filter(|(_, result)| !result.is_empty());
    let mut codes: Vec<&str> = Vec::new();
    for code in standing.map(|kept| kept.1).chain(said.map(|said| said.0)) {
        if !codes.contains(&code) {
            codes.push(code);
        }
    }
    let result = |code: &str| typed.at(&format!("check.{code}")).to_owned();
    let at_counter = |code: &&str| current.cause(code).is_some_and(Cause::is_at_counter);
    codes.retain(at_counter);
    if !codes.iter().any(|code| result(code) == "found") {
        let open = codes.iter().filter(|code| result(code).is_empty()).count();
        let next = opinion.next(usize::MAX).into_iter();
        let next = next.filter(|likely| likely.is_worth_a_look());
        let next = next.map(|likely| likely.cause.code.as_str()).filter(at_counter);
        let next: Vec<&str> = next.filter(|code| !codes.contains(code)).collect();
        codes.extend(next.into_iter().take(AT_ONCE.saturating_sub(open)));
    }
    let look = |code: &str| {
        Some(Look {
            cause: current.cause(code)?.clone(),
            result: result(code),
        })
    };
    codes.into_iter().filter_map(look).collect()
}

/// The instrument, tinted by what was heard; a violin before anybody said what it is.
fn drawn(family: &str, opinion: Option<&Opinion>) -> Option<Markup> {
    let of_region = |region| opinion.map_or(0.0, |opinion| opinion.of_region(region));
    let spots: Vec<Spot> = REGIONS
        .iter()
        .map(|(region, name)| Spot {
            region,
            href: String::new(),
            words: format!("{name}: {}", opinion::words(of_region(region))),
            p: of_region(region),
        })
        .collect();
    let family = if family.is_empty() { "violin" } else { family };
    let likely = spots.iter().filter(|spot| opinion::step(spot.p) > 1);
    let likely: Vec<&str> = likely.map(|spot| spot.words.as_str()).collect();
    let name = if likely.is_empty() {
        "The instrument".to_owned()
    } else {
        format!("Where it may sit. {}", likely.join("; "))
    };
    drawing::instrument(family, &name, if opinion.is_some() { &spots } else { &[] })
}
