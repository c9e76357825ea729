//! A caution is a hazard of the work: whom it can hurt, where it turns up, and what to say of it in a few words.

use std::sync::LazyLock;

use askama::Template;
use axum::extract::{Extension, State};
use axum::response::Response;
use serde::Deserialize;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::error::Result;
use crate::page::{Frame, html};
use crate::staff::Who;

use super::cause::Cause;
use super::job::Job;
use super::{seed, source};

/// Under every caution, guide and paper.
pub const STANDING: &str = "This note is a reminder, not training. Local law, the maker’s safety sheet and the shop’s own \
    rules come first. Work marked for a luthier is for somebody trained and allowed to do it.";
/// On every cause that is structural, however low it ranks.
pub const STRUCTURAL: &str = "Structural fault: slacken a little, do not play, do not post.";
/// How the shop speaks of what it cannot know.
pub const DEFERRING: [&str; 5] = [
    "Follow local safety law and the product’s safety sheet.",
    "For trained staff. If in doubt, stop and ask the senior luthier.",
    STRUCTURAL,
    "We write down what a material is thought to be. We do not certify species, age, maker or value.",
    "Times and costs are estimates. What else the bench finds is put to you before any further work.",
];

#[derive(Debug, Deserialize)]
pub struct Caution {
    pub code: String,
    pub hazard: String,
    /// Whom or what it can hurt.
    pub who: String,
    /// Where it turns up.
    #[serde(rename = "where")]
    pub place: String,
    /// `high`, `medium`, `low` or `legal`.
    pub level: String,
    pub say: String,
    pub source: String,
}

/// A fact behind a caution.
#[derive(Debug, Deserialize)]
pub struct Note {
    pub caution: String,
    pub note: String,
    pub source: String,
}

/// A material that the law may protect.
#[derive(Debug, Deserialize)]
pub struct Material {
    pub material: String,
    pub place: String,
    pub position: String,
    pub source: String,
}

/// Which cautions hold for a job, or for a cause beside those of its jobs, joined by `;`.
#[derive(Debug, Deserialize)]
pub struct Hazards {
    #[serde(alias = "job", alias = "cause")]
    pub of: String,
    pub hazards: String,
}

/// What to take care of while looking for a cause; what mending it wants is said by the cause and its jobs.
#[derive(Debug, Deserialize)]
pub struct Looking {
    pub cause: String,
    pub say: String,
}

macro_rules! table {
    ($name:ident, $row:ty, $file:literal) => {
        pub static $name: LazyLock<Vec<$row>> = LazyLock::new(|| {
            seed::rows(include_str!(concat!("data/", $file))).expect("a test reads every file of the program")
        });
    };
}
table!(CAUTIONS, Caution, "cautions.csv");
table!(NOTES, Note, "caution_notes.csv");
table!(MATERIALS, Material, "materials.csv");
table!(OF_JOBS, Hazards, "jobs_hazards.csv");
table!(OF_CAUSES, Hazards, "causes_hazards.csv");
table!(OF_LOOKS, Looking, "causes_look.csv");

impl Caution {
    /// How much harm it can do, and to whom.
    #[must_use]
    pub fn harm(&self) -> String {
        let who = &self.who;
        match self.level.as_str() {
            "high" => format!("Great harm to {who}."),
            "medium" => format!("Harm to {who}."),
            "legal" => format!("A matter of law, for {who}."),
            _ => format!("Some harm to {who}."),
        }
    }

    pub fn notes(&self) -> impl Iterator<Item = &'static Note> {
        NOTES.iter().filter(|note| note.caution == self.code)
    }

    #[must_use]
    pub fn source_words(&self) -> String {
        source::words(&self.source)
    }
}
impl Note {
    #[must_use]
    pub fn source_words(&self) -> String {
        source::words(&self.source)
    }
}
impl Material {
    #[must_use]
    pub fn source_words(&self) -> String {
        source::words(&self.source)
    }
}

fn named<'a>(in_table: &'a [Hazards], code: &str) -> impl Iterator<Item = &'a str> {
    let row = in_table.iter().find(|row| row.of == code);
    row.into_iter().flat_map(|row| row.hazards.split(';'))
}

/// The cautions with these codes, the gravest first, each once.
#[must_use]
pub fn gathered<C: AsRef<str>>(codes: &[C]) -> Vec<&'static Caution> {
    let known = CAUTIONS.iter();
    known
        .filter(|caution| codes.iter().any(|code| code.as_ref() == caution.code))
        .collect()
}

/// The codes of the cautions that hold for a job: as the shop says, or else as the program knows it.
#[must_use]
pub fn codes_of(job: &Job) -> Vec<&str> {
    match &job.hazards {
        Some(hazards) => hazards.split(';').filter(|code| !code.is_empty()).collect(),
        None => named(&OF_JOBS, &job.code).collect(),
    }
}

/// The cautions that hold for a job.
#[must_use]
pub fn of_job(job: &Job) -> Vec<&'static Caution> {
    gathered(&codes_of(job))
}

/// The cautions that hold for a cause: its own, those of the jobs that mend it, and always `top_under_load` if it is structural.
#[must_use]
pub fn of_cause(cause: &Cause, jobs: &[Job]) -> Vec<&'static Caution> {
    let mut codes: Vec<&str> = named(&OF_CAUSES, &cause.code).collect();
    let own = cause
        .jobs()
        .filter_map(|code| jobs.iter().find(|job| job.code == code));
    codes.extend(own.flat_map(codes_of));
    if cause.structural {
        codes.push("top_under_load");
    }
    gathered(&codes)
}

/// What to take care of while looking for a cause, in one line; nothing if a look can do no harm. What is structural is
/// always said. A cause of the shop's own has one caution for both.
#[must_use]
pub fn of_look(cause: &Cause) -> String {
    let known = OF_LOOKS.iter().find(|look| look.cause == cause.code);
    let own = match known {
        Some(look) => look.say.as_str(),
        None if cause.edition == 0 => cause.caution.as_str(),
        None => "",
    };
    let structural = if cause.structural { STRUCTURAL } else { "" };
    let stop = if own.is_empty() { "" } else { "." };
    format!("{structural} {own}{stop}").trim().to_owned()
}

#[derive(Template)]
#[template(path = "catalogue/caution.html")]
struct CautionsPage {
    frame: Frame,
    cautions: &'static [Caution],
    materials: &'static [Material],
}

/// `GET /catalogue/cautions`
///
/// # Errors
/// What the database says.
pub async fn page(State(app): State<App>, Extension(who): Extension<Who>) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    html(CautionsPage {
        frame: Frame::new("Cautions", shop.name, &who, "catalogue"),
        cautions: &CAUTIONS,
        materials: &MATERIALS,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::seed;

    fn cause(code: &str) -> Cause {
        let causes: Vec<Cause> = seed::rows(include_str!("data/causes.csv")).expect("the causes");
        let mut cause = causes
            .into_iter()
            .find(|cause| cause.code == code)
            .expect("the cause");
        cause.edition = 1;
        cause
    }

    #[test]
    fn a_look_is_warned_of_what_a_look_can_do_and_not_of_the_repair() {
        assert_eq!(of_look(&cause("board_grooves")), "");
        assert_eq!(of_look(&cause("technique_noise")), "Word it kindly.");
        let seam = of_look(&cause("seam_open_upper"));
        assert!(
            seam.starts_with(STRUCTURAL) && seam.ends_with("it opens the seam."),
            "{seam}"
        );
        let own = Cause {
            edition: 0,
            caution: "Mind the lamp".into(),
            ..cause("board_grooves")
        };
        assert_eq!(of_look(&own), "Mind the lamp.");
    }

    #[test]
    fn each_line_of_the_looks_is_of_a_cause_of_the_catalogue() {
        let causes: Vec<Cause> = seed::rows(include_str!("data/causes.csv")).expect("the causes");
        for look in OF_LOOKS.iter() {
            assert!(
                causes.iter().any(|cause| cause.code == look.cause),
                "{}",
                look.cause
            );
            assert!(!look.say.is_empty() && !look.say.ends_with('.'), "{}", look.cause);
        }
    }
}
