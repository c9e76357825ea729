//! The second pair of ears for programs: `POST /api/v1/diagnosis` ranks the causes and stores nothing,
//! `GET /api/v1/diagnosis/score` says how good the ranking was.

use std::collections::BTreeMap;

use axum::extract::State;
use serde::{Deserialize, Serialize};

use crate::admin::shop::Shop;
use crate::app::App;
use crate::catalogue::cause::Cause;
use crate::catalogue::descriptor::{Descriptor, check_answers};
use crate::clock::{Day, YearMonth};
use crate::counter::instrument::FAMILIES;
use crate::db::Db;
use crate::diagnosis::checks::Place;
use crate::diagnosis::measure::Bin;
use crate::diagnosis::models::Stand;
use crate::diagnosis::opinion::{Likely, Opinion, Said};
use crate::diagnosis::rank::{Evidence, Looked};
use crate::diagnosis::score_report::{Did, Score};
use crate::error::Result;
use crate::form::Problems;
use crate::reports::span::Span;

use super::json::{Json, Query};

/// What is known of a noise.
#[derive(Debug, Default, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Noise {
    /// `violin`, `viola`, `cello`, `bass` or `bow`; a bow has no buzz causes.
    family: String,
    year_made: Option<i64>,
    /// Whether it is a student's or a rented one, which some causes come with more; left out: not known.
    student: Option<bool>,
    /// The day it was taken in, `2026-02-10`; left out: today.
    on: Option<String>,
    /// Answers by descriptor.
    answers: BTreeMap<String, String>,
    checks: Vec<Looks>,
    /// Where the instrument is: at the `counter`, what can be looked at there comes first. Left out: `counter`.
    place: Option<Place>,
    /// `catalogue` alone, or with what the `shop` has taught; left out: as the shop is set.
    prior: Option<Prior>,
}

/// A check that was made.
#[derive(Debug, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Looks {
    cause: String,
    /// `found`, `not_found` or `unclear`.
    result: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, Serialize, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Prior {
    Catalogue,
    Shop,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct Diagnosis {
    /// All causes of the family, the likeliest first.
    ranking: Vec<Ranked>,
    /// The probability that it is none of them; with those of the ranking it sums to 1.
    none_of_these: f64,
    /// The questions not answered yet, the one that tells most a minute first.
    questions: Vec<Worth>,
    /// The minutes to expect until it is found, looking in the order of `next`, if these looks find it; 0 once something was
    /// found, for that ends the search and nothing has a `next`.
    expected_minutes: f64,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct Ranked {
    cause: String,
    probability: f64,
    /// The weight of all that is known for it: ten times the decimal logarithm of its odds now over the odds that its share
    /// of the family gives it. Its reasons sum up to it, but for rounding to a millionth.
    decibans: f64,
    check_minutes: i64,
    /// `counter` or `bench`.
    check_place: String,
    /// From 1: when to look for it; null once it was looked for. Causes that no answer can part follow each other: one look
    /// settles them, and counts once in `expected_minutes`.
    next: Option<usize>,
    /// What speaks for it and against it, the strongest first, `overlap` last.
    reasons: Vec<Reason>,
    /// Causes that no answer can part from it; one look at the bench does.
    alike: Vec<String>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct Reason {
    /// `answer`: an answer on its own. `age`, `season`, `student`: the instrument, the time of year, whose it is.
    /// `overlap`: what the answers say twice, for together they weigh less than each on its own. `check`: what came of looking
    /// for this cause. `other_checks`: what came of looking for others.
    kind: &'static str,
    /// Of an answer its question; else empty.
    descriptor: String,
    /// The answer; of `age` the band (`under_2`, `2_to_19`, `20_to_79`, `80_to_99`, `100_plus`, `unknown`), of `season` `dry`,
    /// `humid` or `change`, of `student` `yes` or `no`, of `check` `found` or `not_found`; else empty.
    answer: String,
    /// Above 0 it speaks for the cause.
    decibans: f64,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct Worth {
    descriptor: String,
    /// Expected information.
    bits_a_minute: f64,
}

impl From<&Likely> for Ranked {
    fn from(likely: &Likely) -> Ranked {
        Ranked {
            cause: likely.cause.code.clone(),
            probability: likely.probability,
            decibans: likely.decibans,
            check_minutes: likely.cause.check_minutes,
            check_place: likely.cause.check_place.clone(),
            next: likely.next,
            reasons: likely.reasons.iter().map(Reason::from).collect(),
            alike: likely.alike.clone(),
        }
    }
}

impl From<&Said> for Reason {
    fn from(said: &Said) -> Reason {
        Reason {
            kind: said.kind,
            descriptor: said.descriptor.clone(),
            answer: said.answer.clone(),
            decibans: said.decibans,
        }
    }
}

impl Diagnosis {
    fn of(opinion: &Opinion) -> Diagnosis {
        let worth = |asked: &crate::diagnosis::opinion::Asked| Worth {
            descriptor: asked.code.clone(),
            bits_a_minute: asked.bits_a_minute,
        };
        Diagnosis {
            ranking: opinion.ranking.iter().map(Ranked::from).collect(),
            none_of_these: opinion.none_of_these,
            questions: opinion.questions.iter().map(worth).collect(),
            expected_minutes: opinion.minutes,
        }
    }

    /// Of a bow, and of a family whose causes were all retired.
    fn nothing_known() -> Diagnosis {
        Diagnosis {
            ranking: Vec::new(),
            none_of_these: 1.0,
            questions: Vec::new(),
            expected_minutes: 0.0,
        }
    }
}

/// A noise whose words were understood.
struct Understood {
    month: YearMonth,
    answers: BTreeMap<String, String>,
    checks: Vec<(String, Looked)>,
}

impl Noise {
    async fn understand(&self, db: &Db, today: Day) -> Result<Understood> {
        let mut problems = Problems::default();
        if !FAMILIES.iter().any(|family| family.0 == self.family) {
            problems.add("family", "Say violin, viola, cello, bass or bow.");
        }
        let on = match self.on.as_deref() {
            None => today,
            Some(on) => Day::parse(on).unwrap_or_else(|| {
                problems.add("on", "Write a day as 2026-02-10.");
                today
            }),
        };
        match self.year_made {
            Some(..1400) => problems.add("year_made", "No instrument of this family is that old."),
            Some(year) if year > on.year() => {
                problems.add("year_made", format!("It cannot be made after {}.", on.year()));
            }
            _ => {}
        }
        check_answers(
            &mut problems,
            "answers.",
            &self.answers,
            &Descriptor::all(db).await?,
        );
        let checks = self.checks(db, &mut problems).await?;
        problems.settle()?;
        Ok(Understood {
            month: on.month(),
            answers: self.answers.clone(),
            checks,
        })
    }

    async fn checks(&self, db: &Db, problems: &mut Problems) -> Result<Vec<(String, Looked)>> {
        if self.checks.is_empty() {
            return Ok(Vec::new());
        }
        let known = Cause::all(db).await?;
        let mut checks = Vec::new();
        for (at, check) in self.checks.iter().enumerate() {
            if let Some(words) = self.cannot_be(&known, check) {
                problems.add(format!("checks.{at}.cause"), words);
            }
            match Looked::of_code(&check.result) {
                Some(looked) => checks.push((check.cause.clone(), looked)),
                None => problems.add(format!("checks.{at}.result"), "Say found, not_found or unclear."),
            }
        }
        Ok(checks)
    }
}

impl Noise {
    /// Why such a check cannot be of this instrument. That a cause was not found may be said though it was retired since.
    fn cannot_be(&self, known: &[Cause], check: &Looks) -> Option<String> {
        let Some(cause) = known.iter().find(|cause| cause.code == check.cause) else {
            return Some("This cause is not in the catalogue.".to_owned());
        };
        let family = &self.family;
        if FAMILIES.iter().any(|known| known.0 == family) && !cause.in_family(family) {
            return Some(format!("“{}” does not happen on a {family}.", cause.name));
        }
        let gone = cause.retired && check.result == "found";
        gone.then(|| format!("“{}” was retired from the catalogue.", cause.name))
    }
}

/// Ranks the causes of a noise, says what to look at next and what to ask; stores nothing.
#[utoipa::path(post, path = "/api/v1/diagnosis", tag = "diagnosis", request_body = Noise, responses((status = 200, body = Diagnosis)))]
pub async fn diagnosis(State(app): State<App>, call: Json<Noise>) -> Result<axum::Json<Diagnosis>> {
    let noise = &call.of;
    let today = Shop::get(&app.db).await?.today(app.clock.now());
    let understood = noise.understand(&app.db, today).await?;
    let current = app.models.current(&app.db).await?;
    let model = match noise.prior {
        None => current.model(&noise.family),
        Some(Prior::Shop) => current.of_shop(&noise.family),
        Some(Prior::Catalogue) => current.of_catalogue(&noise.family),
    };
    let Some(model) = model.filter(|model| !model.causes.is_empty()) else {
        return Ok(axum::Json(Diagnosis::nothing_known()));
    };
    let checks = understood
        .checks
        .iter()
        .map(|(code, looked)| (code.as_str(), *looked));
    let evidence = Evidence {
        student: noise.student,
        ..Evidence::on(noise.year_made, understood.month, &current.seasons)
    }
    .with_answers(model, &understood.answers)
    .with_checks(model, checks);
    let place = noise.place.unwrap_or(Place::Counter);
    let opinion = Opinion::of(&current, model, &noise.family, &evidence, place);
    Ok(axum::Json(Diagnosis::of(&opinion)))
}

/// The months of the findings, both included.
#[derive(Debug, Default, Deserialize, utoipa::IntoParams)]
#[serde(deny_unknown_fields, default)]
#[into_params(parameter_in = Query)]
pub struct ScoreAsked {
    /// `2025-12`
    #[param(required = true)]
    from: String,
    /// `2026-02`
    #[param(required = true)]
    to: String,
}

/// How good the ranking was on the orders in which a cause was confirmed in these months, ranked by what was known
/// before anybody looked.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct ScoreAnswer {
    /// Whose figures these are, since people see that ranking now: `shop` or `catalogue`.
    follows: &'static str,
    #[serde(flatten)]
    of: RankingScore,
    median_checks: Option<i64>,
    median_minutes: Option<i64>,
    /// The checks until it was found, all orders together.
    checks: i64,
    /// Those whose minutes were written down; the others count with the minutes their cause usually takes.
    checks_timed: i64,
    /// Beside it on the same orders.
    baselines: Baselines,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct Baselines {
    /// With what the shop had taught by the time the cause was found.
    shop: RankingScore,
    /// Without what the shop has taught.
    catalogue: RankingScore,
    /// The shares alone, no answers.
    shares: RankingScore,
    /// The order in which the bench really looked; it says no probabilities.
    bench: RankingScore,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct RankingScore {
    orders: i64,
    /// How often the confirmed cause stood first.
    hit_at_1: Option<f64>,
    /// How often it stood among the first three.
    hit_at_3: Option<f64>,
    /// The mean of Brier's score over all causes, 0 to 2.
    brier: Option<f64>,
    /// The mean of minus the natural logarithm of the probability of the confirmed cause.
    log_loss: Option<f64>,
    /// The expected calibration error of the first.
    calibration_error: Option<f64>,
    /// How sure the first was, and how often it was the one, tenth by tenth.
    calibration: Vec<CalibrationBin>,
}

#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct CalibrationBin {
    low: f64,
    high: f64,
    orders: i64,
    /// The mean of what was said, and how often it was so.
    said: Option<f64>,
    was: Option<f64>,
}

impl From<&Did> for RankingScore {
    fn from(did: &Did) -> RankingScore {
        let bins = did.bins.iter().zip(0_u8..).filter(|bin| bin.0.predictions > 0);
        RankingScore {
            orders: did.orders,
            hit_at_1: did.hit_at_1(),
            hit_at_3: did.hit_at_3(),
            brier: did.brier,
            log_loss: did.log_loss,
            calibration_error: did.calibration_error(),
            calibration: bins.map(|(bin, at)| CalibrationBin::of(bin, at)).collect(),
        }
    }
}

impl CalibrationBin {
    fn of(bin: &Bin, at: u8) -> CalibrationBin {
        CalibrationBin {
            low: f64::from(at) / 10.0,
            high: f64::from(at + 1) / 10.0,
            orders: bin.predictions,
            said: bin.said(),
            was: bin.was(),
        }
    }
}

/// How good the ranking was.
#[utoipa::path(get, path = "/api/v1/diagnosis/score", tag = "diagnosis", params(ScoreAsked), responses((status = 200, body = ScoreAnswer)))]
pub async fn score(
    State(app): State<App>,
    Query(asked): Query<ScoreAsked>,
) -> Result<axum::Json<ScoreAnswer>> {
    let span = Span::parse(&asked.from, &asked.to).map_err(|(field, words)| {
        let mut problems = Problems::default();
        problems.add(format!("?{field}"), words.to_string());
        problems
    })?;
    let score = Score::read(&app.db, span).await?;
    let stand = Stand::get(&app.db).await?;
    Ok(axum::Json(ScoreAnswer {
        follows: if stand.follows_shop() { "shop" } else { "catalogue" },
        of: score.followed(&stand).into(),
        median_checks: score.median_checks,
        median_minutes: score.median_minutes,
        checks: score.checks,
        checks_timed: score.timed,
        baselines: Baselines {
            shop: (&score.shop).into(),
            catalogue: (&score.catalogue).into(),
            shares: (&score.shares).into(),
            bench: (&score.bench).into(),
        },
    }))
}
