//! The ears at intake: what to ask next, where the answers point, and what to look at while the customer stands there.
//!
//! Everything is worked out from the models at hand; nothing of the catalogue is read for it.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::bench::check::RESULTS;
use crate::catalogue::answer::Words;
use crate::catalogue::cause::{Cause, REGIONS};
use crate::catalogue::caution;
use crate::catalogue::descriptor::Descriptor;
use crate::clock::Day;
use crate::counter::instrument::Instrument;
use crate::diagnosis::checks::Place;
use crate::diagnosis::evidence::is_student;
use crate::diagnosis::learn::Figures;
use crate::diagnosis::line::Line;
use crate::diagnosis::models::Current;
use crate::diagnosis::opinion::{self, Likely, Opinion};
use crate::diagnosis::rank::{Evidence, Looked, Model};
use crate::form::Typed;
use crate::page::Markup;
use crate::printing::drawing::{self, Spot};

use super::reading;

/// So many questions stand open at once, so many causes are named, so many checks are shown.
const AT_ONCE: usize = 3;

pub struct Ears {
    /// How answers are said.
    pub figures: Arc<Figures>,
    /// The answers that stood before the first check, as an order keeps them: see [`stood`].
    pub stood: String,
    /// Those that were answered, in the order of the form.
    pub answered: Vec<Question>,
    /// The next to ask; none once something was found.
    pub next: Vec<Question>,
    /// The rest, those that tell most first.
    pub more: Vec<Question>,
    /// The likeliest, those that are alike as one; none before anything was said.
    pub points: Vec<Line>,
    pub looks: Vec<Look>,
    /// What the bench looks at, where the likeliest is for the bench or fewer checks than usual are worth making here:
    /// "the nut (Nut loose)".
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

/// A check that can be made while the customer stands there, of one cause or of several that one look settles.
pub struct Look {
    pub causes: Vec<Cause>,
    /// `found`, `not_found`, `unclear`, or nothing yet; of several `found:CAUSE`.
    pub result: String,
    /// Hardly worth the customer's time.
    pub faint: bool,
}

impl Ears {
    /// What is known is the instrument, if one was chosen or described, whose it is, and what was typed.
    pub fn of(current: &Current, typed: &Typed, known: Option<(&Instrument, &str)>, today: Day) -> Ears {
        let family = known.map_or("", |known| known.0.family.as_str());
        // Before anybody said what it is, what is asked of a violin is asked.
        let Some(model) = current.model(if family.is_empty() { "violin" } else { family }) else {
            return Ears::deaf(current);
        };
        let evidence = evidence(current, model, typed, known, today);
        let opinion = Opinion::of(current, model, family, &evidence, Place::Counter);
        let heard = !family.is_empty()
            && !model.causes.is_empty()
            && (!evidence.answers.is_empty() || !evidence.checks.is_empty());
        let (answered, open) = questions(current, &opinion, typed, family);
        let mut open = open.into_iter();
        let points = if heard { points(&opinion) } else { Vec::new() };
        let looks = if family.is_empty() {
            Vec::new()
        } else {
            looks(current, &opinion, typed)
        };
        let worth = looks.iter().filter(|look| look.result.is_empty() && !look.faint);
        let enough = worth.count() >= AT_ONCE;
        let found = looks.iter().any(|look| look.found().is_some());
        let here = |line: &Line| line.all().iter().any(|likely| likely.cause.is_at_counter());
        let at_bench = points.first().is_some_and(|likeliest| !here(likeliest));
        let may_be: Vec<Likely> = points.iter().flat_map(Line::all).cloned().collect();
        Ears {
            figures: current.figures.clone(),
            stood: stood(typed),
            answered,
            // Once it is found, no answer is needed any more: all can still be given.
            next: open.by_ref().take(if found { 0 } else { AT_ONCE }).collect(),
            more: open.collect(),
            bench: if found || (enough && !at_bench) {
                String::new()
            } else {
                opinion::at_the_bench(&may_be)
            },
            points,
            looks,
            heard,
            drawing: drawn(family, heard.then_some(&opinion)),
        }
    }

    /// Of a bow: it does not buzz.
    fn deaf(current: &Current) -> Ears {
        Ears {
            figures: current.figures.clone(),
            stood: String::new(),
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
        self.looks.iter().find_map(Look::found)
    }

    /// So many questions are asked at once.
    pub fn at_once(&self) -> usize {
        if self.found().is_some() { 0 } else { AT_ONCE }
    }

    /// Of the looks that are open, none is likely to tell.
    pub fn hardly_worth(&self) -> bool {
        let mut open = self.looks.iter().filter(|look| look.result.is_empty());
        open.all(|look| look.faint)
    }
}

impl Look {
    /// The codes of its causes, as its field says them.
    pub fn key(&self) -> String {
        let codes: Vec<&str> = self.causes.iter().map(|cause| cause.code.as_str()).collect();
        codes.join(";")
    }

    pub fn field(&self) -> String {
        format!("check.{}", self.key())
    }

    pub fn is_group(&self) -> bool {
        self.causes.len() > 1
    }

    /// "Tailpiece: one of 2", or the cause's name.
    pub fn name(&self) -> String {
        match self.causes.as_slice() {
            [one] => one.name.clone(),
            all => format!(
                "{}: one of {}",
                all.first().map_or("", Cause::region_words),
                all.len()
            ),
        }
    }

    pub fn minutes(&self) -> String {
        let minutes = self.causes.iter().map(|cause| cause.check_minutes).max();
        crate::words::minutes(minutes.unwrap_or_default())
    }

    /// What can be said of it, with its words: of several which one it is, or none of them.
    pub fn results(&self) -> Vec<(String, String)> {
        if !self.is_group() {
            let all = RESULTS.iter();
            return all
                .map(|(code, words)| ((*code).to_owned(), (*words).to_owned()))
                .collect();
        }
        let found = self.causes.iter().map(|cause| {
            (
                format!("found:{}", cause.code),
                format!("Found it: {}", cause.name),
            )
        });
        let rest = [("not_found", "None of these"), ("unclear", "Unclear")];
        let rest = rest.map(|(code, words)| (code.to_owned(), words.to_owned()));
        found.chain(rest).collect()
    }

    pub fn found(&self) -> Option<&Cause> {
        match self.result.split_once(':') {
            Some(("found", which)) => self.causes.iter().find(|cause| cause.code == which),
            _ => self.causes.first().filter(|_| self.result == "found"),
        }
    }

    /// What to take care of while looking, each once.
    pub fn cautions(&self) -> Vec<String> {
        let mut all: Vec<String> = Vec::new();
        for care in self.causes.iter().map(caution::of_look) {
            if !care.is_empty() && !all.contains(&care) {
                all.push(care);
            }
        }
        all
    }
}

/// The answers that stood before anybody looked, as an order keeps them: those of now, until the first check is made. Where
/// no script follows each tap, those with which the page was laid on which it was made.
fn stood(typed: &Typed) -> String {
    match typed.under("stood").find(|(rest, _)| rest.is_empty()) {
        Some((_, stood)) if !reading::said(typed).is_empty() => stood.to_owned(),
        _ => {
            let answers = typed
                .under("complaint.answers.")
                .filter(|(_, answer)| !answer.is_empty());
            let answers = answers.map(|(code, answer)| format!("{code}={answer}"));
            answers.collect::<Vec<_>>().join(";")
        }
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
    let checks = reading::said(typed).into_iter();
    let checks = checks.filter_map(|said| Some((said.cause, Looked::of_code(said.result)?)));
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

/// What was looked for and not found is not pointed to, whatever the chance that the look missed it.
fn points(opinion: &Opinion) -> Vec<Line> {
    let lines = opinion.lines().into_iter();
    let points = lines.filter(|line| line.is_possible() && !line.is_out());
    points.take(AT_ONCE).collect()
}

/// The checks that stand already stay where they are (`kept`, then what was said of others); below them come the best of
/// the rest, so that three are open. Once it is found, there is no more to look for.
fn looks(current: &Current, opinion: &Opinion, typed: &Typed) -> Vec<Look> {
    let at_counter = |code: &str| current.cause(code).filter(|cause| cause.is_at_counter());
    let look = |key: &str| {
        let causes: Vec<Cause> = key.split(';').filter_map(at_counter).cloned().collect();
        let of = |likely: &&Likely| causes.iter().any(|cause| cause.code == likely.cause.code);
        let chance = opinion.ranking.iter().filter(of).map(|likely| likely.probability);
        let look = Look {
            faint: !opinion::is_worth_a_look(chance.sum()),
            result: typed.at(&format!("check.{key}")).to_owned(),
            causes,
        };
        // A key that holds a cause nobody knows is nobody's look.
        (look.key() == key).then_some(look)
    };
    let standing = typed.under("kept").filter(|(rest, _)| rest.is_empty());
    let said = typed.under("check.").filter(|(_, result)| !result.is_empty());
    let mut looks: Vec<Look> = Vec::new();
    for key in standing.map(|kept| kept.1).chain(said.map(|said| said.0)) {
        if let Some(look) = look(key).filter(|look| looks.iter().all(|other| other.key() != look.key())) {
            looks.push(look);
        }
    }
    if looks.iter().any(|look| look.found().is_some()) {
        return looks;
    }
    let mut open = looks.iter().filter(|look| look.result.is_empty()).count();
    let next: Vec<&Likely> = opinion.next(usize::MAX);
    let next: Vec<&Likely> = next
        .into_iter()
        .filter(|likely| likely.cause.is_at_counter())
        .collect();
    for first in &next {
        let shown = |code: &str| {
            looks
                .iter()
                .any(|look| look.causes.iter().any(|cause| cause.code == code))
        };
        if open >= AT_ONCE || shown(&first.cause.code) {
            continue;
        }
        let with = |likely: &&&Likely| {
            let code = &likely.cause.code;
            *code == first.cause.code || (first.alike.contains(code) && !shown(code))
        };
        let mut codes: Vec<&str> = next
            .iter()
            .filter(with)
            .map(|likely| likely.cause.code.as_str())
            .collect();
        codes.sort_unstable();
        looks.extend(look(&codes.join(";")));
        open += 1;
    }
    looks
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
            cause: opinion.map_or(String::new(), |opinion| opinion.likeliest_in(region)),
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
    drawing::instrument(family, &name, if opinion.is_some() { &spots } else { &[] }, &[])
}
