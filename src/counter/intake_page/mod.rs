//! The intake page: one flow down in four parts, who, which instrument, what is heard, what stays here.

mod ears;
mod reading;

use askama::Template;
use axum::extract::{Extension, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;
use uuid::Uuid;

use crate::admin::shop::Shop;
use crate::app::App;
use crate::clock::{Day, Moment};
use crate::diagnosis::evidence;
use crate::error::{Error, Result};
use crate::form::{Form, Problem, Problems, Typed};
use crate::money::Currency;
use crate::once::{self, Key};
use crate::page::{Frame, html};
use crate::reports::repaired;
use crate::reports::tally::SEASONAL;
use crate::staff::Who;
use crate::words;

use super::customer::{Customer, KINDS};
use super::find;
use super::instrument::{FAMILIES, Instrument};
use super::intake::take_in;
use super::put_right;
use ears::Ears;

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
/// So many customers are shown while typing.
const SHOWN: usize = 6;

/// A customer who may be meant, with what they have brought before.
pub struct Match {
    pub customer: Customer,
    pub instruments: Vec<Instrument>,
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
    /// What was repaired on them lately: which one, the cause, the day.
    repaired: Vec<(Uuid, String, Day)>,
    today: Day,
    matches: Vec<Match>,
    /// Those who are here under the same name, when it is to be said whether it is one of them.
    alike: Vec<Match>,
    ears: Ears,
    promises: Vec<(Day, &'static str)>,
    currency: Currency,
}

impl IntakePage {
    fn families(&self) -> &'static [(&'static str, &'static str, &'static [&'static str])] {
        &FAMILIES
    }

    fn kinds(&self) -> &'static [(&'static str, &'static str)] {
        &KINDS
    }

    /// What comes with a bow by itself.
    fn with_bow(&self, thing: &&str) -> bool {
        *thing == "Case"
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
            _ if !self.problems.is_empty() || !self.alike.is_empty() => "",
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

    /// "repaired here 41 days ago", of the last time.
    fn repaired_here(&self, instrument: &Uuid) -> Option<String> {
        let mut here = self.repaired.iter().filter(|repaired| repaired.0 == *instrument);
        here.next().map(|repaired| self.ago(repaired.2))
    }

    fn ago(&self, day: Day) -> String {
        match self.today.0 - day.0 {
            0 => "repaired here today".to_owned(),
            days => format!("repaired here {} ago", words::count(days, "day", "days")),
        }
    }

    /// What was repaired last on the one that is picked: the instrument, the cause, how long ago.
    fn lately(&self) -> Vec<(String, &str, String)> {
        let shown = self.repaired.iter();
        let shown = shown.filter(|repaired| self.picked(&repaired.0.to_string()));
        let told = shown.take(2).filter_map(|(id, cause, day)| {
            let own = self.instruments.iter().find(|own| own.id == *id)?;
            Some((own.short_words(), cause.as_str(), self.ago(*day)))
        });
        told.collect()
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

    /// What wants mending of the checks that are not shown: a cause nobody knows.
    fn unknown_checks(&self) -> Vec<&Problem> {
        let shown = |field: &str| {
            let mut looks = self.ears.looks.iter();
            looks.any(|look| field == look.field())
        };
        let problems = self.problems.iter();
        let of_checks = problems.filter(|problem| problem.field.starts_with("check"));
        of_checks.filter(|problem| !shown(&problem.field)).collect()
    }

    fn asked(&self) -> usize {
        self.ears.answered.len() + self.ears.next.len() + self.ears.more.len()
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
    show_with(app, who, typed, problems, &[]).await
}

/// The same, asking whether it is one of these who are here.
async fn show_with(
    app: &App,
    who: &Who,
    typed: Typed,
    problems: Problems,
    alike: &[Uuid],
) -> Result<Response> {
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
    let repaired = match &customer {
        Some(customer) => {
            let watched = shop.comeback_days.max(*SEASONAL.end());
            repaired::of_customer(&app.db, customer.id, today.plus(-watched)).await?
        }
        None => Vec::new(),
    };
    let alike = alike_of(app, alike).await?;
    let matches = if customer.is_none() && alike.is_empty() {
        matches(app, typed.at("customer.name"), typed.at("customer.phone")).await?
    } else {
        Vec::new()
    };
    let instrument = instrument(&typed, &instruments, today);
    let kind = customer
        .as_ref()
        .map_or(typed.at("customer.kind"), |customer| &customer.kind);
    let current = app.models.current(&app.db).await?;
    // What is asked of an instrument stands by, out of sight, while it is a bow: another may be picked yet.
    let heard = instrument.as_ref().filter(|instrument| !instrument.is_bow());
    let known = heard.map(|instrument| (instrument, kind));
    let ears = Ears::of(&current, &typed, known, today);
    let once = if typed.at("once").is_empty() {
        once::fresh()?
    } else {
        typed.at("once").to_owned()
    };
    let status = if !problems.is_empty() {
        StatusCode::UNPROCESSABLE_ENTITY
    } else if !alike.is_empty() {
        StatusCode::CONFLICT
    } else {
        StatusCode::OK
    };
    let page = IntakePage {
        frame: Frame::new("Take in", &*shop.name, who, "today"),
        promises: promises(today),
        currency: shop.currency(),
        typed,
        problems,
        once,
        customer,
        instruments,
        repaired,
        today,
        matches,
        alike,
        ears,
    };
    Ok((status, html(page)?).into_response())
}

/// The instrument that is asked about: the one picked, or a new one as far as it is described.
fn instrument(typed: &Typed, instruments: &[Instrument], today: Day) -> Option<Instrument> {
    let picked = typed.at("instrument.id");
    let known = instruments
        .iter()
        .find(|instrument| instrument.id.to_string() == picked);
    let only = if picked.is_empty() && instruments.len() == 1 {
        instruments.first()
    } else {
        None
    };
    if let Some(known) = known.or(only) {
        return Some(known.clone());
    }
    let mut unsaid = Problems::default(); // what wants mending is told when it is taken in
    let new = reading::new_instrument(typed, &mut unsaid);
    let described = !new.family.is_empty();
    described.then(|| new.check(&mut unsaid, "", Uuid::nil(), today.year(), Moment(0)))
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
            matches.push(Match::of(app, customer).await?);
        }
    }
    Ok(matches)
}

/// Those who are here already, as far as they fit on the page.
async fn alike_of(app: &App, ids: &[Uuid]) -> Result<Vec<Match>> {
    let mut alike = Vec::new();
    for id in ids.iter().take(SHOWN) {
        alike.push(Match::of(app, Customer::get(&app.db, *id).await?).await?);
    }
    Ok(alike)
}

impl Match {
    async fn of(app: &App, customer: Customer) -> Result<Match> {
        let instruments = Instrument::of_customer(&app.db, customer.id).await?;
        Ok(Match {
            customer,
            instruments,
        })
    }
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
        // What was described already stays described; it may be one of theirs, and may be another one.
        id if form.typed.at("instrument.family").is_empty() => {
            form.typed.instead("customer.id", id).instead("instrument.id", "")
        }
        id => form
            .typed
            .instead("customer.id", id)
            .instead("instrument.id", "new"),
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

#[derive(Template)]
#[template(path = "counter/intake_ears.html")]
struct Told {
    frame: Frame,
    ears: Ears,
}

/// `POST /intake/ears`: what to ask next, where the answers point and what to look at, after each answer.
pub async fn ears(State(app): State<App>, Extension(who): Extension<Who>, form: AnyForm) -> Result<Response> {
    let typed = form.typed;
    let current = app.models.current(&app.db).await?;
    let shop = Shop::get(&app.db).await?;
    let today = shop.today(app.clock.now());
    let chosen = match typed.at("instrument.id").parse::<Uuid>() {
        Ok(id) => vec![Instrument::get(&app.db, id).await?],
        Err(_) => Vec::new(),
    };
    let kind = match chosen.first() {
        Some(chosen) => evidence::owner_kind(&app.db, chosen.customer).await?,
        None => typed.at("customer.kind").to_owned(),
    };
    let instrument = instrument(&typed, &chosen, today);
    let known = instrument.as_ref().map(|instrument| (instrument, kind.as_str()));
    html(Told {
        ears: Ears::of(&current, &typed, known, today),
        frame: Frame::new("", "", &who, ""),
    })
}

/// `POST /intake`
pub async fn submit(
    State(app): State<App>,
    Extension(who): Extension<Who>,
    form: AnyForm,
) -> Result<Response> {
    let typed = form.typed;
    let shop = Shop::get(&app.db).await?;
    let (intake, problems) = reading::read(&typed, &shop);
    let key = Key::new(typed.at("once"), &[b"intake"]);
    let key = (!typed.at("once").is_empty()).then_some(key);
    match take_in(&app, &who, &intake, problems, key).await {
        Ok(mut taken) => {
            let next = if put_right::found_here(&mut taken.tx, &taken.order, who.roles)
                .await
                .is_ok()
            {
                "put_right"
            } else {
                "papers"
            };
            let location = format!("/orders/{}/{next}", taken.order.tag);
            taken.commit(303, &location).await?;
            Ok(Redirect::to(&location).into_response())
        }
        Err(Error::Problems(problems)) => {
            let problems = reading::on_page(&typed, &problems);
            show(&app, &who, typed, problems).await
        }
        Err(Error::Alike(alike)) => show_with(&app, &who, typed, Problems::default(), &alike).await,
        Err(other) => Err(other),
    }
}
