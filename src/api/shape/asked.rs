//! What a call sends to take an instrument in, or to ask for orders.

use std::collections::BTreeMap;

use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::bench::check::NewCheck;
use crate::counter::intake::Complaint;

/// An instrument is taken in.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewOrder {
    pub customer: WhichCustomer,
    pub instrument: WhichInstrument,
    #[serde(default)]
    pub complaint: Complaint,
    /// What stays here with it: case, bow, rosin.
    #[serde(default)]
    pub items_left: Vec<String>,
    #[serde(default)]
    pub condition: String,
    pub declared_value: Option<i64>,
    #[schema(format = Date)]
    pub promised_on: Option<String>,
    /// The shop may go ahead up to this, tax included.
    pub authorised_limit: Option<i64>,
    /// What was looked at while the customer stood there; what was found is confirmed, if it is looked for at the counter.
    #[serde(default)]
    pub checks: Vec<NewCheck>,
    /// The answers by descriptor that stood when the first check was made: the order is scored by them, and teaches them.
    /// Left out: all answers of the complaint stood by then.
    pub first_answers: Option<BTreeMap<String, String>>,
}

/// Somebody known by `id` alone; or else somebody described, who has a `name`.
///
/// Whoever is here under this very name with the same phone digits or the same e-mail address is taken, unless something
/// else that is said of them is otherwise (another e-mail, another phone, another kind); then somebody new is added. The
/// timeline says which of both was done. What was not known of them yet is kept. A phone alone tells nobody: families share one.
#[derive(Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct WhichCustomer {
    pub id: Option<Uuid>,
    pub name: Option<String>,
    /// `person`, `school` or `fleet`.
    pub kind: Option<String>,
    pub phone: Option<String>,
    pub email: Option<String>,
    pub note: Option<String>,
    /// `true`: somebody else all the same, though somebody of this name with this phone or e-mail is here.
    pub another: Option<bool>,
}

/// A customer is added.
#[derive(Clone, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct AddCustomer {
    /// `person`, `school` or `fleet`; empty is a person.
    pub kind: String,
    pub name: String,
    pub phone: String,
    pub email: String,
    pub note: String,
    /// `true`: somebody else all the same. Without it, whoever is here under the same name with the same phone digits or the
    /// same e-mail address is not added again: the answer is 409, and its `customers` are their ids.
    pub another: bool,
}

/// One known by `id` alone; or else a new one, which has a `family`.
#[derive(Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct WhichInstrument {
    pub id: Option<Uuid>,
    /// `violin`, `viola`, `cello`, `bass` or `bow`.
    pub family: Option<String>,
    pub size: Option<String>,
    pub maker: Option<String>,
    pub year_made: Option<i64>,
    /// `exact`, `circa` or `unknown`.
    pub year_certainty: Option<String>,
    pub serial: Option<String>,
    pub marks: Option<String>,
}

/// Which part of the orders is listed.
#[derive(Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields, default)]
pub struct OrdersAsked {
    /// `received`, `inspecting`, `awaiting_approval`, `approved`, `in_repair`, `play_test`, `ready`, `collected` or `returned`.
    pub stage: Option<String>,
    /// `yes`: only those that went home with something still owed.
    pub owed: Option<String>,
    /// A tag, words of a customer's name or of an instrument, or a run of a phone's digits.
    pub q: Option<String>,
    /// The `next` of the answer before.
    pub after: Option<String>,
    /// 1 to 200; 50 if left out.
    pub limit: Option<String>,
}
