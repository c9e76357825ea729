//! The evidence: what is known of one noise, put as the model takes it.

use std::collections::BTreeMap;

use uuid::Uuid;

use crate::bench::check::Check;
use crate::bench::finding::Finding;
use crate::bench::play_test::PlayTest;
use crate::clock::YearMonth;
use crate::counter::customer::Customer;
use crate::counter::instrument::Instrument;
use crate::counter::order::{Order, answers_of};
use crate::counter::size::SizeClass;
use crate::db::Read;
use crate::diagnosis::age::AgeBand;
use crate::error::Result;
use crate::reports::season::Seasons;

use super::rank::{Evidence, Looked, Model};

impl Evidence {
    /// What the instrument and the time of year say, before anything is asked.
    #[must_use]
    pub fn on(year_made: Option<i64>, month: YearMonth, seasons: &Seasons) -> Evidence {
        Evidence {
            band: Some(AgeBand::at(year_made, month.year())),
            season: seasons.of_month(month.month_number()),
            ..Evidence::default()
        }
    }

    /// Adds answers by code. What says nothing, and what the catalogue does not ask any more, is left out.
    #[must_use]
    pub fn with_answers(mut self, model: &Model, answers: &BTreeMap<String, String>) -> Evidence {
        for (code, answer) in answers {
            let known = model.question(code).and_then(|question| {
                let answers = &model.questions[question].answers;
                Some((question, answers.iter().position(|known| known == answer)?))
            });
            self.answers.extend(known);
        }
        self
    }

    /// Adds checks by code, in the order in which they were made. A second look at the same cause counts once.
    #[must_use]
    pub fn with_checks<'a>(
        mut self,
        model: &Model,
        checks: impl Iterator<Item = (&'a str, Looked)>,
    ) -> Evidence {
        for (code, looked) in checks {
            if let Some(cause) = model.cause(code).filter(|_| looked != Looked::Unclear) {
                self.checks.retain(|check| check.0 != cause);
                self.checks.push((cause, looked));
            }
        }
        self
    }
}

impl Looked {
    /// By the code of a check's result.
    #[must_use]
    pub fn of_code(code: &str) -> Option<Looked> {
        match code {
            "found" => Some(Looked::Found),
            "not_found" => Some(Looked::NotFound),
            "unclear" => Some(Looked::Unclear),
            _ => None,
        }
    }
}

/// Whether an instrument is a student's or rented: a fraction of the full size, or a school's or a fleet's (common
/// practice, no source).
#[must_use]
pub fn is_student(instrument: &Instrument, owner_kind: &str) -> bool {
    owner_kind != "person" || SizeClass::of(&instrument.family, &instrument.size) == SizeClass::Fractional
}

/// What happened on an order, as the ranking needs it.
pub struct Told<'a> {
    pub order: &'a Order,
    pub instrument: &'a Instrument,
    pub owner_kind: &'a str,
    pub checks: &'a [Check],
    pub findings: &'a [Finding],
    pub play_tests: &'a [PlayTest],
}

impl Told<'_> {
    /// What was known before anybody looked; `answers` are those of that time.
    #[must_use]
    pub fn at_first(&self, model: &Model, seasons: &Seasons, answers: &BTreeMap<String, String>) -> Evidence {
        let on = Evidence::on(self.instrument.year_made, self.order.received_on.month(), seasons);
        Evidence {
            student: Some(is_student(self.instrument, self.owner_kind)),
            ..on.with_answers(model, answers)
        }
    }

    /// What is known now. A finding counts as found; once it was mended and the play test still buzzed, it was not the
    /// one, or not the only one, and the ranking runs on with the rest.
    #[must_use]
    pub fn now(&self, model: &Model, seasons: &Seasons) -> Evidence {
        let buzzed = self
            .play_tests
            .iter()
            .rev()
            .find(|test| test.result != "quiet")
            .map(|test| test.at);
        let checks = self.checks.iter().filter_map(|check| {
            let looked = Looked::of_code(&check.result)?;
            Some((check.cause.as_str(), looked))
        });
        let findings = self
            .findings
            .iter()
            .filter(|finding| finding.is_confirmed())
            .map(|finding| {
                let mended = buzzed.is_some_and(|buzzed| finding.at < buzzed);
                (
                    finding.cause.as_str(),
                    if mended { Looked::Mended } else { Looked::Found },
                )
            });
        // A finding that was taken back takes the check that led to it along.
        let standing = |code: &str| {
            self.findings
                .iter()
                .any(|finding| finding.cause == code && finding.is_confirmed())
        };
        let withdrawn = |code: &str| {
            self.findings
                .iter()
                .any(|finding| finding.cause == code && finding.withdrawn)
        };
        let checks =
            checks.filter(|(code, looked)| *looked != Looked::Found || !withdrawn(code) || standing(code));
        self.at_first(model, seasons, &self.order.answers())
            .with_checks(model, checks.chain(findings))
    }
}

/// The answers that an order had before anybody looked at it: by them it is scored, and they are what it teaches.
///
/// # Errors
/// What the database says.
pub async fn first_answers(on: impl Read, order: &Order) -> Result<BTreeMap<String, String>> {
    Ok(answers_of(&first_answers_kept(on, order).await?))
}

/// The same as an order keeps them.
///
/// # Errors
/// What the database says.
pub async fn first_answers_kept(mut on: impl Read, order: &Order) -> Result<String> {
    let kept: Option<(String,)> = on
        .read("select answers from first_answers where work_order = $1")
        .bind(order.id)
        .optional()
        .await?;
    Ok(kept.map_or_else(|| order.answers.clone(), |kept| kept.0))
}

/// Whose it is: `person`, `school` or `fleet`.
///
/// # Errors
/// What the database says.
pub async fn owner_kind(on: impl Read, customer: Uuid) -> Result<String> {
    Ok(Customer::get(on, customer).await?.kind)
}
