//! The intake page: one flow down in four parts, who, which instrument, what is heard, what stays here.

use std::collections::BTreeMap;

use askama::Template;
use axum::extract::{Extension, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::catalogue::answer::Words;
use crate::catalogue::descriptor::Descriptor;
use crate::clock::Day;
use crate::diagnosis::question;
use crate::error::{Error, Result};
use crate::form::{Form, Problems, Typed};
use crate::money::{self, Currency};
use crate::once::{self, Key};
use crate::page::{Frame, html};
use crate::staff::Who;

use super::customer::{Customer, KINDS, NewCustomer};
use super::find;
use super::instrument::{FAMILIES, Instrument, NewInstrument};
use super::intake::{BuzzAt, Complaint, Intake, Which, take_in};

/// What usually comes along (common practice, no source). "The instrument itself" goes without saying.
const USUALLY_LEFT: [&str; 8] = [
    "Case",
    "Bow",
    "Shoulder rest",
    "Chin rest",
    "Mute",
    "Clip-on tuner",
    "Humidifier",
    "End pin stop",
];
/// So many questions stand open at once.
const AT_ONCE: usize = 3;
/// So many customers are shown while typing.
const SHOWN: usize = 6;

/// A customer who may be meant, with what they have brought before.
pub struct Match {
    pub customer: Customer,
    pub instruments: Vec<Instrument>,
}

/// A question with its answers in words.
pub struct Question {
    pub descriptor: Descriptor,
    pub answers: Vec<(String, String)>,
}

/// A few questions that are seen together.
pub struct Group {
    pub questions: Vec<Question>,
    pub answered: usize,
    pub open: bool,
}

impl Group {
    /// What it begins with, and how many follow: its heading while it is folded.
    fn first(&self) -> String {
        let question = self
            .questions
            .first()
            .map_or("", |question| &question.descriptor.question);
        match self.questions.len() {
            0 | 1 => question.to_owned(),
            more => format!("{question} And {} more.", more - 1),
        }
    }
}

#[derive(Template)]
#[template(path = "counter/intake.html")]
struct IntakePage {
    frame: Frame,
    typed: Typed,
    problems: Problems,
    once: String,
    customer: Option<Customer>,
    instruments: Vec<Instrument>,
    matches: Vec<Match>,
    groups: Vec<Group>,
    asked: usize,
    promises: Vec<(Day, &'static str)>,
    currency: Currency,
    bow: bool,
    /// A cello or a bass is drawn instead of a violin.
    large: bool,
}

impl IntakePage {
    fn families(&self) -> &'static [(&'static str, &'static str, &'static [&'static str])] {
        &FAMILIES
    }

    fn kinds(&self) -> &'static [(&'static str, &'static str)] {
        &KINDS
    }

    fn left(&self) -> &'static [&'static str] {
        &USUALLY_LEFT
    }

    /// All sizes of all families, each once, for the list beside the field.
    fn sizes(&self) -> Vec<&'static str> {
        let mut sizes: Vec<&str> = Vec::new();
        for size in FAMILIES.iter().flat_map(|family| family.2) {
            if !sizes.contains(size) {
                sizes.push(size);
            }
        }
        sizes
    }

    /// Which instrument is picked: one of theirs, or another one.
    fn picked(&self, id: &str) -> bool {
        match self.typed.at("instrument.id") {
            "" if self.customer.is_none() => id == "new",
            "" if self.instruments.len() == 1 => id == self.instruments[0].id.to_string(),
            "" if self.instruments.is_empty() => id == "new",
            picked => picked == id,
        }
    }

    /// Where the next thing is to be done, so that keyboard and screen reader land there: after a customer was chosen at
    /// the instrument, or at the words if there is but one.
    fn next(&self) -> &'static str {
        let named = !self.typed.at("customer.name").is_empty();
        match &self.customer {
            _ if !self.problems.is_empty() => "",
            None if named && self.typed.at("choose") != "nobody" => "",
            None => "name",
            Some(_)
                if self
                    .instruments
                    .iter()
                    .any(|own| self.picked(&own.id.to_string())) =>
            {
                "words"
            }
            Some(_) if self.instruments.is_empty() => "family",
            Some(_) => "which",
        }
    }

    fn who_said(&self) -> String {
        match &self.customer {
            Some(customer) if customer.phone.is_empty() => format!("{} · known here", customer.name),
            Some(customer) => format!("{}, {} · known here", customer.name, customer.phone),
            None => self.typed.at("customer.name").to_owned(),
        }
    }

    fn which_said(&self) -> String {
        let known = self
            .instruments
            .iter()
            .find(|instrument| self.picked(&instrument.id.to_string()));
        known.map_or(String::new(), Instrument::words)
    }

    fn answered(&self) -> usize {
        self.groups.iter().map(|group| group.answered).sum()
    }

    /// Whether a part has something to mend, so that it stands open.
    fn amiss(&self, prefix: &str) -> bool {
        self.problems
            .iter()
            .any(|problem| problem.field.starts_with(prefix))
    }
}

/// The page as it stands with what was typed; nothing typed is a fresh one.
async fn show(app: &App, who: &Who, typed: Typed, problems: Problems) -> Result<Response> {
    let shop = Shop::get(&app.db).await?;
    let today = shop.today(app.clock.now());
    let customer = match typed.at("customer.id").parse::<Uuid>() {
        Ok(id) => Some(Customer::get(&app.db, id).await?),
        Err(_) => None,
    };
    let instruments = match &customer {
        Some(customer) => Instrument::of_customer(&app.db, customer.id).await?,
        None => Vec::new(),
    };
    let matches = if customer.is_none() {
        matches(app, typed.at("customer.name"), typed.at("customer.phone")).await?
    } else {
        Vec::new()
    };
    let family = family(&typed, &instruments);
    let groups = groups(&app.db, &family, &typed).await?;
    let once = if typed.at("once").is_empty() {
        once::fresh()?
    } else {
        typed.at("once").to_owned()
    };
    let status = if problems.is_empty() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let page = IntakePage {
        frame: Frame::new("Take in", &*shop.name, who, "today"),
        asked: groups.iter().map(|group| group.questions.len()).sum(),
        promises: promises(today),
        currency: shop.currency(),
        bow: family == "bow",
        large: matches!(family.as_str(), "cello" | "bass"),
        typed,
        problems,
        once,
        customer,
        instruments,
        matches,
        groups,
    };
    Ok((status, html(page)?).into_response())
}

/// The family that is asked about: of the instrument picked, or as typed for a new one.
fn family(typed: &Typed, instruments: &[Instrument]) -> String {
    let picked = typed.at("instrument.id");
    let known = instruments
        .iter()
        .find(|instrument| instrument.id.to_string() == picked);
    let only = if picked.is_empty() && instruments.len() == 1 {
        instruments.first()
    } else {
        None
    };
    known
        .or(only)
        .map_or(typed.at("instrument.family"), |instrument| &instrument.family)
        .to_owned()
}

async fn matches(app: &App, name: &str, phone: &str) -> Result<Vec<Match>> {
    let asked = if find::digits(phone).len() >= 3 {
        phone
    } else {
        name
    };
    let mut matches = Vec::new();
    if asked.trim().chars().count() >= 2 {
        for customer in Customer::search(&app.db, asked, SHOWN).await? {
            let instruments = Instrument::of_customer(&app.db, customer.id).await?;
            matches.push(Match {
                customer,
                instruments,
            });
        }
    }
    Ok(matches)
}

/// The questions in the order that tells most, a few at a time.
async fn groups(db: &crate::db::Db, family: &str, typed: &Typed) -> Result<Vec<Group>> {
    let mut descriptors = Descriptor::all(db).await?;
    let words = Words::all(db).await?;
    descriptors.retain(|descriptor| !descriptor.retired && (family.is_empty() || descriptor.fits(family)));
    question::sort(&mut descriptors, family);
    let mut groups: Vec<Group> = Vec::new();
    for few in descriptors.chunks(AT_ONCE) {
        let questions: Vec<Question> = few
            .iter()
            .map(|descriptor| Question {
                answers: descriptor
                    .choices()
                    .map(|code| (code.to_owned(), words.said(&descriptor.code, code)))
                    .collect(),
                descriptor: descriptor.clone(),
            })
            .collect();
        let said = |question: &&Question| {
            !typed
                .at(&format!("complaint.answers.{}", question.descriptor.code))
                .is_empty()
        };
        let answered = questions.iter().filter(said).count();
        groups.push(Group {
            questions,
            answered,
            open: false,
        });
    }
    // The first group with something unanswered stands open.
    if let Some(next) = groups
        .iter_mut()
        .find(|group| group.answered < group.questions.len())
    {
        next.open = true;
    }
    Ok(groups)
}

/// Days that are usually promised.
fn promises(today: Day) -> Vec<(Day, &'static str)> {
    vec![
        (today, "while they wait"),
        (today.plus(2), ""),
        (today.plus(3), ""),
        (today.plus(7), "in a week"),
        (today.plus(14), "in two weeks"),
    ]
}

#[derive(Deserialize, Default)]
#[serde(default)]
pub struct Begin {
    customer: String,
    instrument: String,
}

/// `GET /intake?customer=ID&instrument=ID`
pub async fn page(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    axum::extract::Query(begin): axum::extract::Query<Begin>,
) -> Result<Response> {
    let typed = Typed::default()
        .with("customer.id", begin.customer)
        .with("instrument.id", begin.instrument);
    show(&app, &who, typed, Problems::default()).await
}

/// A form whose fields are read by name: the answers' names are the catalogue's.
type AnyForm = Form<Vec<(String, String)>>;

/// `POST /intake/look`: the page again with everything typed, after a customer or an instrument was chosen.
pub async fn look(State(app): State<App>, Extension(who): Extension<Who>, form: AnyForm) -> Result<Response> {
    let chosen = form.typed.at("choose").to_owned();
    let typed = match chosen.as_str() {
        "" => form.typed,
        "nobody" => form.typed.instead("customer.id", "").instead("instrument.id", ""),
        id => form.typed.instead("customer.id", id).instead("instrument.id", ""),
    };
    show(&app, &who, typed, Problems::default()).await
}

#[derive(Template)]
#[template(path = "counter/matches.html")]
struct Matches {
    matches: Vec<Match>,
}

/// `POST /intake/matches`: who may be meant, while somebody types. Posted, so that no name stands in an address.
pub async fn while_typing(State(app): State<App>, form: AnyForm) -> Result<Response> {
    let matches = matches(
        &app,
        form.typed.at("customer.name"),
        form.typed.at("customer.phone"),
    )
    .await?;
    html(Matches { matches })
}

/// `POST /intake`
pub async fn submit(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    form: AnyForm,
) -> Result<Response> {
    let typed = form.typed;
    let shop = Shop::get(&app.db).await?;
    let (intake, problems) = read(&typed, &shop);
    let key = Key::new(typed.at("once"), &[b"intake"]);
    let done = if problems.is_empty() {
        take_in(&app, &who, &intake, (!typed.at("once").is_empty()).then_some(key)).await
    } else {
        Err(Error::Problems(problems))
    };
    match done {
        Ok(taken) => {
            let location = format!("/orders/{}/papers", taken.order.tag);
            taken.commit(303, &location).await?;
            Ok(Redirect::to(&location).into_response())
        }
        Err(Error::Problems(problems)) => show(&app, &who, typed, problems).await,
        Err(other) => Err(other),
    }
}

/// What the form says, with what cannot be read of it.
fn read(typed: &Typed, shop: &Shop) -> (Intake, Problems) {
    let mut problems = Problems::default();
    let currency = shop.currency();
    let mut amount = |field: &str| match typed.at(field).trim() {
        "" => None,
        text => money::parse(text, &currency)
            .map_err(|problem| problems.add(field, problem.to_string()))
            .ok()
            .map(|money| money.0),
    };
    let (declared_value, authorised_limit) = (amount("declared_value"), amount("authorised_limit"));
    let promised = if typed.at("promised_on") == "other" {
        typed.at("promised_other")
    } else {
        typed.at("promised_on")
    };
    let promised_on = Day::parse(promised.trim());
    if promised_on.is_none() && !promised.trim().is_empty() {
        problems.add("promised_on", "Write the day as a date, such as 2026-03-09.");
    }
    let customer = match typed.at("customer.id").parse::<Uuid>() {
        Ok(id) => Which::Known(id),
        Err(_) => Which::New(new_customer(typed)),
    };
    let instrument = match typed.at("instrument.id").parse::<Uuid>() {
        Ok(id) => Which::Known(id),
        Err(_) => Which::New(new_instrument(typed, &mut problems)),
    };
    let answers: BTreeMap<String, String> = typed
        .under("complaint.answers.")
        .map(|(code, answer)| (code.to_owned(), answer.to_owned()))
        .collect();
    let buzz_at = BuzzAt {
        string: typed.at("complaint.buzz_at.string").into(),
        note: typed.at("complaint.buzz_at.note").into(),
    };
    let items = typed.under("items_left").map(|(_, thing)| thing.to_owned());
    let intake = Intake {
        customer,
        instrument,
        complaint: Complaint {
            words: typed.at("complaint.words").into(),
            answers,
            buzz_at: Some(buzz_at),
        },
        items_left: items
            .chain(
                typed
                    .at("also_left")
                    .split(',')
                    .map(|thing| thing.trim().to_owned()),
            )
            .collect(),
        condition: typed.at("condition").into(),
        declared_value,
        promised_on,
        authorised_limit,
    };
    (intake, problems)
}

fn new_customer(typed: &Typed) -> NewCustomer {
    let said = |field: &str| typed.at(&format!("customer.{field}")).to_owned();
    NewCustomer {
        kind: said("kind"),
        name: said("name"),
        phone: said("phone"),
        email: said("email"),
        note: String::new(),
    }
}

fn new_instrument(typed: &Typed, problems: &mut Problems) -> NewInstrument {
    let said = |field: &str| typed.at(&format!("instrument.{field}")).to_owned();
    let year_made = problems.number("instrument.year_made", &said("year_made"), 0..=9999);
    // A year that was written stands for itself unless somebody said that it is a guess.
    let certainty = match (said("year_certainty").as_str(), year_made) {
        ("unknown" | "", None) => "unknown".to_owned(),
        ("unknown", Some(_)) => "exact".to_owned(),
        (said, _) => said.to_owned(),
    };
    NewInstrument {
        family: said("family"),
        size: said("size"),
        maker: said("maker"),
        year_made,
        year_certainty: certainty,
        serial: said("serial"),
        marks: said("marks"),
    }
}
