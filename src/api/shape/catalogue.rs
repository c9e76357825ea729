//! The catalogue as a program is told it.

use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

/// Which part of the catalogue is listed.
#[derive(Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields, default)]
pub struct CatalogueAsked {
    /// `violin`, `viola`, `cello`, `bass` or `bow`.
    pub family: Option<String>,
    /// The `next` of the answer before.
    pub after: Option<String>,
    /// 1 to 200; all of it if left out.
    pub limit: Option<String>,
}

/// A cause of the catalogue. One that is retired stands on orders of the past and is taken for none that is new.
#[derive(Serialize, ToSchema)]
pub struct Cause {
    pub code: String,
    pub name: String,
    pub region: String,
    pub families: Vec<String>,
    pub how_it_sounds: String,
    /// Of all confirmed causes, before anything is known of the order.
    pub prior_share: f64,
    /// The band in which that lies: `very_common`, `common`, `occasional` or `rare`.
    pub common: String,
    /// How to check for it.
    pub look: String,
    pub check_minutes: i64,
    /// `counter` or `bench`.
    pub check_place: String,
    /// Of a hundred looks at one that is there, so many miss it; null: as usual for where it is looked for.
    pub check_misses: Option<i64>,
    pub needs_luthier: bool,
    pub remedy: String,
    /// The jobs that mend it, needed together.
    pub remedy_jobs: Vec<String>,
    /// Other ways to mend it, each one job or several together.
    pub other_ways: Vec<Vec<String>>,
    pub parts: String,
    pub caution: String,
    pub season_tie: String,
    pub age_tie: String,
    pub structural: bool,
    pub retired: bool,
    /// What `If-Match` of the next change says.
    pub version: i64,
}

/// A plain question about the noise.
#[derive(Serialize, ToSchema)]
pub struct Descriptor {
    pub code: String,
    pub question: String,
    pub hint: String,
    /// What it is about in a word or two, as an order shows it.
    pub about: String,
    /// `customer`, `counter` or `bench`.
    pub asked_of: String,
    pub minutes: f64,
    /// The codes of all answers, as an order keeps them.
    pub answers: Vec<String>,
    /// The answers that say something, with their words.
    pub choices: Vec<Answer>,
    /// The answer that says nothing: `not_sure` or `not_tried`.
    pub says_nothing: Option<String>,
    pub retired: bool,
    /// What `If-Match` of the next change says.
    pub version: i64,
}

#[derive(Serialize, ToSchema)]
pub struct Answer {
    /// What an order keeps.
    pub code: String,
    pub words: String,
    /// How often it is said in a hundred, whatever the cause.
    pub percent: f64,
}

/// What the answers to one question tell of a cause.
#[derive(Serialize, ToSchema)]
pub struct Telling {
    pub descriptor: String,
    pub answers: Vec<TellingAnswer>,
    /// What `If-Match` of the next change says; 0 as long as these are the program's figures.
    pub version: i64,
}

#[derive(Serialize, ToSchema)]
pub struct TellingAnswer {
    pub code: String,
    /// How often it is said in a hundred with this cause; null: as often as in general, beside what is said here.
    pub percent: Option<f64>,
    /// How often it is said in a hundred, whatever the cause.
    pub in_general: f64,
}

#[derive(Serialize, ToSchema)]
pub struct Job {
    pub code: String,
    pub name: String,
    /// `counter`, `bench_technician` or `senior_luthier`.
    pub who: String,
    /// The usual minutes: on the family asked for, or else on a violin.
    pub minutes: i64,
    pub minutes_low: i64,
    pub minutes_high: i64,
    /// For glue or varnish; not labour.
    pub wait_hours: f64,
    /// So many times the minutes on a cello.
    pub factor_cello: f64,
    /// So many times the minutes on a bass.
    pub factor_bass: f64,
    /// `none`, `low`, `medium` or `high`.
    pub materials: String,
    /// The codes of the cautions that hold for it.
    pub hazards: Vec<String>,
    /// For which families it is.
    pub families: Vec<String>,
    pub steps: Vec<JobStep>,
    pub retired: bool,
    /// What `If-Match` of the next change says.
    pub version: i64,
}

#[derive(Serialize, ToSchema)]
pub struct JobStep {
    pub step: String,
    pub minutes: i64,
    pub wait_hours: f64,
    pub caution: String,
    pub materials: String,
}

/// Whether an entry is taken for anything new.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Retire {
    /// `false` brings it back.
    pub retired: bool,
}
