//! The opinion: a ranking in words, with its reasons and what to do next; what pages and calls show.

use super::age::AgeBand;
use crate::catalogue::answer::Words;
use crate::catalogue::cause::{Cause, REGIONS};
use crate::reports::season::Season;

use super::checks::{self, Place};
use super::models::Current;
use super::question;
use super::rank::{Evidence, Looked, Model, Ranking};
use super::reason::{Reason, Reasons, Says};

/// How likely in words, each from so much on: the one scale of lists, of the drawing's tints and of its legend.
pub const STEPS: [(f64, &str); 5] = [
    (0.0, "very unlikely"),
    (0.02, "unlikely"),
    (0.08, "possible"),
    (0.2, "well possible"),
    (0.4, "likely"),
];
/// From this step on it is worth a line without being asked for.
const POSSIBLE: usize = 2;
/// At the counter a check is worth making from here on: with less, two-minute checks take more than an hour of the
/// customer's time for each that finds something.
const WORTH_A_LOOK: f64 = 1.0 / 30.0;
/// From here on a weight is said in words: nobody takes so much for a figure.
const RULED_OUT: f64 = -99.0;
/// Reasons weaker than this are not worth a word, in decibans.
const FAINT: f64 = 0.5;

#[derive(Clone, Debug)]
pub struct Opinion {
    /// All causes of the family, the likeliest first.
    pub ranking: Vec<Likely>,
    pub none_of_these: f64,
    /// The questions still worth asking, the one that tells most a minute first.
    pub questions: Vec<Asked>,
    /// How likely it sits in each region, in the order of [`REGIONS`].
    pub regions: Vec<(&'static str, f64)>,
    /// The minutes to expect until it is found, looking in the order that is said here; none once it was found.
    pub minutes: f64,
    /// So many telling answers are behind it.
    pub answers: usize,
}

/// A cause, and how likely it is.
#[derive(Clone, Debug)]
pub struct Likely {
    pub cause: Cause,
    pub probability: f64,
    /// The weight of all that is known for it; its reasons sum up to it.
    pub decibans: f64,
    /// From 1: when to look for it; nothing if it was looked for.
    pub next: Option<usize>,
    pub looked: Option<Looked>,
    pub reasons: Vec<Said>,
    /// The codes of causes that no answer can part from it.
    pub alike: Vec<String>,
    /// How likely one look settles it: with those that are alike and were not looked for yet.
    pub together: f64,
}

/// A reason: what an answer, the instrument, the season or a check says of a cause.
#[derive(Clone, Debug, PartialEq)]
pub struct Said {
    /// `answer`, `age`, `season`, `student`, `check`, `other_checks` or `overlap`.
    pub kind: &'static str,
    /// Of an answer its question; else nothing.
    pub descriptor: String,
    /// The answer, the age band, the season, `yes` or `no`, or what came of the check.
    pub answer: String,
    pub decibans: f64,
}

/// A question worth asking, in bits a minute.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    pub code: String,
    pub bits_a_minute: f64,
}

impl Opinion {
    /// What is thought of a noise of this family; `model` is the one to go by, with what the
    /// shop has taught or without.
    #[must_use]
    pub fn of(current: &Current, model: &Model, family: &str, evidence: &Evidence, place: Place) -> Opinion {
        let ranking = model.rank(evidence);
        let looks = checks::looks(model, &ranking, evidence, place);
        let steps = looks.iter().map(|look| (look.finds, look.minutes));
        let minutes = checks::expected_minutes(&steps.collect::<Vec<_>>());
        let order: Vec<usize> = looks.into_iter().flat_map(|look| look.causes).collect();
        let why = Reasons::new(model, evidence);
        let likely = ranking.order.iter().filter_map(|at| {
            let next = order.iter().position(|next| next == at).map(|place| place + 1);
            let reasons = why.of(*at);
            let reasons = reasons.iter().map(|reason| said(model, reason));
            let reasons = reasons.filter(|said| said.kind == "answer" || said.decibans != 0.0);
            likely(
                current,
                model,
                family,
                evidence,
                &ranking,
                *at,
                (next, reasons.collect()),
            )
        });
        let likely: Vec<Likely> = likely.collect();
        Opinion {
            none_of_these: ranking.none_of_these,
            questions: questions(model, &ranking, evidence),
            regions: regions(&likely),
            minutes,
            answers: evidence.answers.len(),
            ranking: likely,
        }
    }

    /// The checks in the order to do them, at most so many.
    #[must_use]
    pub fn next(&self, at_most: usize) -> Vec<&Likely> {
        let mut next: Vec<&Likely> = self
            .ranking
            .iter()
            .filter(|likely| likely.next.is_some())
            .collect();
        next.sort_by_key(|likely| likely.next);
        next.truncate(at_most);
        next
    }

    /// The likeliest cause of a region, by its code.
    #[must_use]
    pub fn likeliest_in(&self, region: &str) -> String {
        let mut here = self.ranking.iter().filter(|likely| likely.cause.region == region);
        here.next()
            .map_or(String::new(), |likely| likely.cause.code.clone())
    }

    /// How likely it sits in a region.
    #[must_use]
    pub fn of_region(&self, region: &str) -> f64 {
        self.regions
            .iter()
            .find(|known| known.0 == region)
            .map_or(0.0, |known| known.1)
    }
}

fn likely(
    current: &Current,
    model: &Model,
    family: &str,
    evidence: &Evidence,
    ranking: &Ranking,
    at: usize,
    (next, reasons): (Option<usize>, Vec<Said>),
) -> Option<Likely> {
    let entry = &model.causes[at];
    let groups = current.alike(family);
    let is_alike = |other: usize| {
        other != at
            && groups
                .get(at)
                .is_some_and(|group| groups.get(other) == Some(group))
    };
    let alike: Vec<usize> = (0..model.causes.len()).filter(|other| is_alike(*other)).collect();
    let looked = |cause: usize| {
        let mut checks = evidence.checks.iter();
        checks.find(|check| check.0 == cause).map(|check| check.1)
    };
    let open = alike.iter().filter(|other| looked(**other).is_none());
    let others: f64 = open.map(|other| ranking.probability[*other]).sum();
    Some(Likely {
        cause: current.cause(&entry.code)?.clone(),
        probability: ranking.probability[at],
        decibans: rounded(ranking.decibans(at)),
        next,
        looked: looked(at),
        reasons,
        alike: alike
            .iter()
            .map(|other| model.causes[*other].code.clone())
            .collect(),
        together: ranking.probability[at] + others,
    })
}

fn said(model: &Model, reason: &Reason) -> Said {
    let (kind, answer) = match reason.says {
        Says::Age(band) => ("age", band.code()),
        Says::Season(season) => ("season", season.code()),
        Says::Student(true) => ("student", "yes"),
        Says::Student(false) => ("student", "no"),
        Says::Answer(question, answer) => ("answer", model.questions[question].answers[answer].as_str()),
        Says::Overlap => ("overlap", ""),
        Says::Check(Looked::Found) => ("check", "found"),
        Says::Check(Looked::Mended) => ("check", "mended"),
        Says::Check(_) => ("check", "not_found"),
        Says::Others => ("other_checks", ""),
    };
    Said {
        kind,
        descriptor: match reason.says {
            Says::Answer(question, _) => model.questions[question].code.clone(),
            _ => String::new(),
        },
        answer: answer.to_owned(),
        decibans: rounded(reason.decibans),
    }
}

/// To a millionth, so that what is nothing but rounding is nothing.
fn rounded(decibans: f64) -> f64 {
    (decibans * 1e6).round() / 1e6 + 0.0 // adding nought turns -0 into 0
}

fn questions(model: &Model, ranking: &Ranking, evidence: &Evidence) -> Vec<Asked> {
    question::in_order(model, ranking, evidence)
        .into_iter()
        .map(|(at, bits_a_minute)| Asked {
            code: model.questions[at].code.clone(),
            bits_a_minute,
        })
        .collect()
}

fn regions(ranking: &[Likely]) -> Vec<(&'static str, f64)> {
    let of = |region: &str| {
        let here = ranking.iter().filter(|likely| likely.cause.region == region);
        here.map(|likely| likely.probability).sum()
    };
    REGIONS.iter().map(|region| (region.0, of(region.0))).collect()
}

impl Asked {
    #[must_use]
    pub fn is_worth(&self) -> bool {
        question::is_worth(self.bits_a_minute)
    }
}

impl Likely {
    /// Its step in words, or what came of looking.
    #[must_use]
    pub fn words(&self) -> &'static str {
        match self.looked {
            Some(Looked::Found) => "found",
            Some(Looked::Mended) => "mended, and it still buzzed",
            _ => words(self.probability),
        }
    }

    /// Worth a line without being asked for.
    #[must_use]
    pub fn is_possible(&self) -> bool {
        is_possible(self.probability)
    }

    /// Likely enough to be looked for while the customer stands there.
    #[must_use]
    pub fn is_worth_a_look(&self) -> bool {
        is_worth_a_look(self.together)
    }

    /// "31 %"; "under 1 %" rather than nothing.
    #[must_use]
    pub fn percent(&self) -> String {
        percent(self.probability)
    }

    /// The length of its bar, in percent.
    #[must_use]
    pub fn bar(&self) -> i64 {
        super::temper::micro(self.probability) / 10_000
    }

    /// What speaks for it, and what against, the strongest first; faint ones left out.
    #[must_use]
    pub fn speaks_for(&self) -> Vec<&Said> {
        self.plain().filter(|said| said.decibans >= FAINT).collect()
    }

    #[must_use]
    pub fn speaks_against(&self) -> Vec<&Said> {
        self.plain().filter(|said| said.decibans <= -FAINT).collect()
    }

    fn plain(&self) -> impl Iterator<Item = &Said> {
        self.reasons.iter().filter(|said| said.kind != "overlap")
    }

    /// What the answers say twice, if it is worth a word.
    #[must_use]
    pub fn overlap(&self) -> Option<&Said> {
        let mut all = self.reasons.iter();
        all.find(|said| said.kind == "overlap" && said.decibans.abs() >= FAINT)
    }

    /// Whether anything was answered or looked for that tells.
    #[must_use]
    pub fn is_told(&self) -> bool {
        let told = |said: &Said| matches!(said.kind, "answer" | "check" | "other_checks");
        self.reasons.iter().any(told)
    }

    /// Its weight by all that is known.
    #[must_use]
    pub fn weight(&self) -> String {
        weight(self.decibans)
    }
}

impl Said {
    /// "Pegs or scroll held: it stops", "Dry months", "Looked, not found".
    #[must_use]
    pub fn words(&self, words: &Words) -> String {
        match (self.kind, self.answer.as_str()) {
            ("age", code) => age_words(AgeBand::of_code(code)),
            ("season", code) => {
                Season::of_code(code).map_or(String::new(), |season| season.words().to_owned())
            }
            ("student", "yes") => "a student's or rental instrument".to_owned(),
            ("student", _) => "not a student's or rental instrument".to_owned(),
            ("check", "found") => "looked, and found".to_owned(),
            ("check", "mended") => "mended, and it still buzzed".to_owned(),
            ("check", _) => "looked, not found".to_owned(),
            ("other_checks", _) => "what was looked for elsewhere".to_owned(),
            ("overlap", _) => "what the answers say twice".to_owned(),
            _ => {
                let asked = words.asked(&self.descriptor);
                let said = words.said(&self.descriptor, &self.answer);
                format!("{asked}: {}", lower_first(&said))
            }
        }
    }

    /// "+4.0 dB, odds × 2.5": its decibans, and what the odds of the cause are multiplied by.
    #[must_use]
    pub fn weight(&self) -> String {
        weight(self.decibans)
    }

    /// How strongly it speaks: "strongly", "clearly" or "a little".
    #[must_use]
    pub fn strength(&self) -> &'static str {
        match self.decibans.abs() {
            6.0.. => "strongly",
            2.5.. => "clearly",
            _ => "a little",
        }
    }
}

fn age_words(band: Option<AgeBand>) -> String {
    match band {
        Some(AgeBand::From100) => "100 years old or more".to_owned(),
        Some(AgeBand::Unknown) | None => "age not known".to_owned(),
        Some(band) => format!("{} old", band.words()),
    }
}

/// Decibans, and what the odds are multiplied or divided by: "+4.0 dB, odds × 2.5", "−10.8 dB, odds ÷ 12".
#[must_use]
pub fn weight(decibans: f64) -> String {
    if decibans <= RULED_OUT {
        return "ruled out".to_owned();
    }
    format!("{} dB, odds {}", signed(decibans), times(decibans))
}

fn signed(decibans: f64) -> String {
    let sign = if decibans < 0.0 { '−' } else { '+' };
    format!("{sign}{:.1}", decibans.abs())
}

fn times(decibans: f64) -> String {
    let sign = if decibans < 0.0 { '÷' } else { '×' };
    let times = 10_f64.powf(decibans.abs() / 10.0);
    if times < 9.95 {
        format!("{sign} {times:.1}")
    } else {
        format!("{sign} {times:.0}")
    }
}

/// The step of [`STEPS`] that a probability is on, from 0 to 4.
#[must_use]
pub fn step(p: f64) -> usize {
    STEPS[1..].iter().filter(|step| p >= step.0).count()
}

/// Likely enough for a look while the customer stands there.
#[must_use]
pub fn is_worth_a_look(p: f64) -> bool {
    p >= WORTH_A_LOOK
}

/// Worth a line without being asked for.
#[must_use]
pub fn is_possible(p: f64) -> bool {
    step(p) >= POSSIBLE
}

/// From "very unlikely" to "likely".
#[must_use]
pub fn words(p: f64) -> &'static str {
    STEPS[step(p)].1
}

/// Of these the ones that only the bench looks at, place by place: "the nut (Nut loose, Worn slot) and the bridge (..)".
#[must_use]
pub fn at_the_bench(points: &[Likely]) -> String {
    let mut places: Vec<(&str, Vec<&str>)> = Vec::new();
    for cause in points.iter().map(|likely| &likely.cause) {
        if cause.is_at_counter() {
            continue;
        }
        match places.iter_mut().find(|place| place.0 == cause.region_words()) {
            Some(place) => place.1.push(&cause.name),
            None => places.push((cause.region_words(), vec![&cause.name])),
        }
    }
    let said = places.iter().map(|(place, names)| {
        let names: Vec<String> = names.iter().map(|name| lower_first(name)).collect();
        format!("the {} ({})", lower_first(place), names.join("; "))
    });
    said.collect::<Vec<_>>().join(" and ")
}

/// "31 %"; "under 1 %" rather than nothing, "over 99 %" rather than all.
#[must_use]
pub fn percent(p: f64) -> String {
    match p {
        ..0.01 => "under 1 %".to_owned(),
        0.99.. => "over 99 %".to_owned(),
        _ => format!("{:.0} %", p * 100.0),
    }
}

fn lower_first(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_lowercase().collect::<String>() + letters.as_str()
    })
}
