//! What is next on an order: the one act that its stage asks for, and how it is said.

use crate::counter::instrument::Instrument;
use crate::counter::order::Order;
use crate::counter::stage::Stage;

use super::step::Step;

#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Next {
    /// Look for the noise, for the first time or on.
    Look,
    /// Say what is to be done; there is no noise to look for.
    Plan,
    /// Hear what the customer says to the estimate.
    Answer,
    /// Do this step.
    Do(Box<NextStep>),
    /// Play it again.
    Play,
    /// It waits to be handed back.
    HandBack,
    Nothing,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NextStep {
    pub id: uuid::Uuid,
    pub title: String,
    pub planned_minutes: i64,
    pub job: Option<String>,
}

/// Whether a noise is what it came for: somebody described one. Words alone may be any wish.
#[must_use]
pub fn has_noise(order: &Order, instrument: &Instrument) -> bool {
    let described = [&order.answers, &order.buzz_string, &order.buzz_note];
    !instrument.is_bow() && described.iter().any(|said| !said.is_empty())
}

impl Next {
    /// `undone` is the first step that is not done; `unmended` says that a cause is confirmed which no step mends yet.
    #[must_use]
    pub fn of(order: &Order, instrument: &Instrument, undone: Option<&Step>, unmended: bool) -> Next {
        let within = order.estimate <= order.agreed();
        match (order.stage, undone) {
            _ if order.is_handed_back() => Next::Nothing,
            (Stage::Approved | Stage::InRepair, Some(step)) => Next::Do(Box::new(step.into())),
            (Stage::Inspecting, Some(step)) if within => Next::Do(Box::new(step.into())),
            (Stage::Received, _) if has_noise(order, instrument) => Next::Look,
            (Stage::Received | Stage::Approved | Stage::InRepair, _) => Next::Plan,
            (Stage::Inspecting, _) if unmended || instrument.is_bow() => Next::Plan,
            (Stage::Inspecting, _) => Next::Look,
            (Stage::AwaitingApproval, _) => Next::Answer,
            (Stage::PlayTest, _) => Next::Play,
            (Stage::Ready | Stage::Returned, _) => Next::HandBack,
            (Stage::Collected, _) => Next::Nothing,
        }
    }

    /// As it is said at the bench, of a bow or of an instrument: "look at it for the first time".
    #[must_use]
    pub fn words(&self, order: &Order, bow: bool) -> String {
        match self {
            Next::Look if order.inspected_on.is_none() => "look at it for the first time".into(),
            Next::Look => match heard_at(order) {
                Some(heard) => format!("look on, heard at {heard}"),
                None => "look on for the noise".into(),
            },
            Next::Plan => "say what is to be done".into(),
            Next::Answer => "wait for the customer’s answer".into(),
            Next::Do(step) => step.title.clone(),
            Next::Play if bow => "try it".into(),
            Next::Play => match heard_at(order) {
                Some(heard) => format!("play {heard}, loud"),
                None => "play it again".into(),
            },
            Next::HandBack => "hand it back".into(),
            Next::Nothing => String::new(),
        }
    }
}

/// "B5 on the E string", as far as it was noted.
#[must_use]
pub fn heard_at(order: &Order) -> Option<String> {
    match (order.buzz_note.as_str(), order.buzz_string.as_str()) {
        ("", "") => None,
        (note, "") => Some(note.to_owned()),
        ("", string) => Some(format!("the {string} string")),
        (note, string) => Some(format!("{note} on the {string} string")),
    }
}

impl From<&Step> for NextStep {
    fn from(step: &Step) -> NextStep {
        NextStep {
            id: step.id,
            title: step.title.clone(),
            planned_minutes: step.planned_minutes,
            job: step.job.clone(),
        }
    }
}
