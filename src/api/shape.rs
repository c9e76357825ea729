//! Every JSON shape that the API promises, on one page. Names here are fixed: add, don't rename.
//!
//! Money is in minor units of the shop's currency, times are RFC 3339 in UTC, dates are days of the shop's calendar.
//! What a call sends that is the same on a page (a check, a finding, a step) stands with the noun it makes.

use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::counter::intake::Complaint;
use crate::counter::order::Stage;

// ---- what is asked -----------------------------------------------------------------------------------------------------

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
}

/// Somebody known by `id` alone; or else somebody new, who has a `name`.
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

/// A step is done.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StepDone {
    pub actual_minutes: i64,
}

/// It is left alone until then, for glue to set or a part to come.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct HoldUntil {
    #[schema(format = DateTime)]
    pub until: String,
    #[serde(default)]
    pub why: String,
}

/// It goes back unrepaired.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct GoesBack {
    /// `nothing_found`, `beyond_repair` or `declined`.
    pub why: String,
    #[serde(default)]
    pub note: String,
}

/// Another day, or another limit; what is left out stays as it was.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PromisedAnew {
    #[schema(format = Date)]
    pub promised_on: Option<String>,
    /// 0 is to ask before any work.
    pub authorised_limit: Option<i64>,
}

/// Which part of the orders is listed.
#[derive(Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields, default)]
pub struct OrdersAsked {
    /// `received`, `inspecting`, `awaiting_approval`, `approved`, `in_repair`, `play_test`, `ready`, `collected` or `returned`.
    pub stage: Option<String>,
    /// A tag, words of a customer's name or of an instrument, or a run of a phone's digits.
    pub q: Option<String>,
    /// The `next` of the answer before.
    pub after: Option<String>,
    /// 1 to 200; 50 if left out.
    pub limit: Option<String>,
}

/// Which part of the customers is listed.
#[derive(Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields, default)]
pub struct CustomersAsked {
    /// Beginnings of words of the name, a run of the phone's digits, or the e-mail address.
    pub q: Option<String>,
    /// The `next` of the answer before.
    pub after: Option<String>,
    /// 1 to 200; 50 if left out.
    pub limit: Option<String>,
}

/// Which part of the catalogue is listed.
#[derive(Default, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields, default)]
pub struct CatalogueAsked {
    /// `violin`, `viola`, `cello`, `bass` or `bow`.
    pub family: Option<String>,
}

// ---- what is answered --------------------------------------------------------------------------------------------------

/// A part of a list; `next` is the `after` of the following part, and `null` at the end.
#[derive(Serialize, ToSchema)]
pub struct List<T> {
    pub items: Vec<T>,
    pub next: Option<Uuid>,
}

/// What was made on an order, with how the order stands now.
#[derive(Serialize, ToSchema)]
pub struct Made<T> {
    #[serde(flatten)]
    pub thing: T,
    pub order_version: i64,
    pub stage: Stage,
}

/// A customer. To the bench the name is the first name, and how to reach them is left out.
#[derive(Serialize, ToSchema)]
pub struct Customer {
    pub id: Uuid,
    pub kind: String,
    pub name: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub phone: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub email: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

#[derive(Serialize, ToSchema)]
pub struct Instrument {
    pub id: Uuid,
    pub customer: Uuid,
    pub family: String,
    pub size: String,
    pub maker: String,
    pub year_made: Option<i64>,
    pub year_certainty: String,
    pub serial: String,
    pub marks: String,
}

#[derive(Serialize, ToSchema)]
pub struct CustomerWithInstruments {
    #[serde(flatten)]
    pub customer: Customer,
    /// The newest sixty.
    pub instruments: Vec<Instrument>,
}

#[derive(Serialize, ToSchema)]
pub struct InstrumentWithOrders {
    #[serde(flatten)]
    pub instrument: Instrument,
    /// The newest first.
    pub orders: Vec<OrderInShort>,
}

#[derive(Serialize, ToSchema)]
pub struct OrderInShort {
    pub id: Uuid,
    pub tag: String,
    pub stage: Stage,
    pub version: i64,
    #[schema(format = DateTime)]
    pub received_at: String,
    #[schema(format = Date)]
    pub received_on: String,
    #[schema(format = Date)]
    pub promised_on: Option<String>,
    pub customer: CustomerInShort,
    pub instrument: InstrumentInShort,
    /// The complaint, as said.
    pub words: String,
    /// Of the steps as planned, tax included.
    pub estimate: i64,
    #[schema(format = DateTime)]
    pub hold_until: Option<String>,
    #[schema(format = DateTime)]
    pub collected_at: Option<String>,
}

#[derive(Serialize, ToSchema)]
pub struct CustomerInShort {
    pub id: Uuid,
    pub name: String,
}

#[derive(Serialize, ToSchema)]
pub struct InstrumentInShort {
    pub id: Uuid,
    pub family: String,
    pub size: String,
    pub maker: String,
}

/// An order with all that belongs to it.
#[derive(Serialize, ToSchema)]
pub struct Order {
    pub id: Uuid,
    pub tag: String,
    pub stage: Stage,
    /// What `If-Match` of the next change says.
    pub version: i64,
    #[schema(format = DateTime)]
    pub received_at: String,
    #[schema(format = Date)]
    pub received_on: String,
    #[schema(format = Date)]
    pub promised_on: Option<String>,
    pub customer: Customer,
    pub instrument: Instrument,
    pub complaint: Complaint,
    pub items_left: Vec<String>,
    pub condition: String,
    pub declared_value: Option<i64>,
    pub authorised_limit: Option<i64>,
    /// ISO 4217; all money is in its minor units.
    pub currency: String,
    pub estimate: Estimate,
    pub checks: Vec<Check>,
    pub findings: Vec<Finding>,
    pub steps: Vec<Step>,
    pub approvals: Vec<Approval>,
    pub play_tests: Vec<PlayTest>,
    pub payments: Vec<Payment>,
    pub money: Money,
    pub hold: Option<Hold>,
    /// `declined`, `nothing_found` or `beyond_repair`, when it goes back unrepaired.
    pub returned_why: Option<String>,
    #[schema(format = Date)]
    pub inspected_on: Option<String>,
    #[schema(format = Date)]
    pub ready_on: Option<String>,
    pub collected: Option<Collected>,
    /// The newest first.
    pub timeline: Vec<StoryLine>,
}

/// What the steps as planned come to.
#[derive(Serialize, ToSchema)]
pub struct Estimate {
    pub labour: i64,
    pub parts: i64,
    pub tax: i64,
    pub total: i64,
    pub lines: Vec<EstimateLine>,
}

/// The price of one step, before tax.
#[derive(Serialize, ToSchema)]
pub struct EstimateLine {
    pub step: Uuid,
    pub title: String,
    pub labour: i64,
    pub parts: i64,
    pub sum: i64,
}

#[derive(Serialize, ToSchema)]
pub struct Check {
    pub id: Uuid,
    pub cause: String,
    pub result: String,
    pub minutes: Option<i64>,
    pub note: String,
    #[schema(format = DateTime)]
    pub at: String,
}

#[derive(Serialize, ToSchema)]
pub struct Finding {
    pub id: Uuid,
    pub cause: String,
    pub certainty: String,
    pub place: String,
    pub note: String,
    /// The earlier order in which the same cause was repaired on this instrument.
    pub comeback_of: Option<Uuid>,
    /// Days from that pickup to this intake.
    pub comeback_days: Option<i64>,
    /// It was a mistake, and counts no more.
    pub withdrawn: bool,
    #[schema(format = DateTime)]
    pub at: String,
}

#[derive(Serialize, ToSchema)]
pub struct Step {
    pub id: Uuid,
    pub job: Option<String>,
    pub title: String,
    pub finding: Option<Uuid>,
    pub planned_minutes: i64,
    pub actual_minutes: Option<i64>,
    pub free: bool,
    pub parts: Vec<Part>,
    #[schema(format = DateTime)]
    pub done_at: Option<String>,
}

#[derive(Serialize, ToSchema)]
pub struct Part {
    pub id: Uuid,
    pub name: String,
    pub quantity: i64,
    pub unit_price: i64,
}

#[derive(Serialize, ToSchema)]
pub struct Approval {
    pub id: Uuid,
    pub decision: String,
    pub by: String,
    pub channel: String,
    /// What they were told it would cost.
    pub estimate: i64,
    pub limit: Option<i64>,
    #[schema(format = DateTime)]
    pub at: String,
}

#[derive(Serialize, ToSchema)]
pub struct PlayTest {
    pub id: Uuid,
    pub result: String,
    pub note: String,
    #[schema(format = DateTime)]
    pub at: String,
}

#[derive(Serialize, ToSchema)]
pub struct Payment {
    pub id: Uuid,
    pub amount: i64,
    pub method: String,
    #[schema(format = DateTime)]
    pub at: String,
    #[schema(format = Date)]
    pub paid_on: String,
}

/// What is charged is that of the steps that were done, tax included.
#[derive(Serialize, ToSchema)]
pub struct Money {
    pub charged: i64,
    pub paid: i64,
    pub owed: i64,
}

#[derive(Serialize, ToSchema)]
pub struct Hold {
    #[schema(format = DateTime)]
    pub until: String,
    pub why: String,
}

#[derive(Serialize, ToSchema)]
pub struct Collected {
    #[schema(format = DateTime)]
    pub at: String,
    #[schema(format = Date)]
    pub on: Option<String>,
    pub by: String,
}

#[derive(Serialize, ToSchema)]
pub struct StoryLine {
    #[schema(format = DateTime)]
    pub at: String,
    pub by: String,
    pub words: String,
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
    /// How to check for it.
    pub look: String,
    pub check_minutes: i64,
    /// `counter` or `bench`.
    pub check_place: String,
    pub needs_luthier: bool,
    pub remedy: String,
    /// The jobs that mend it, needed together.
    pub remedy_jobs: Vec<String>,
    pub caution: String,
    pub season_tie: String,
    pub age_tie: String,
    pub structural: bool,
    pub retired: bool,
}

/// A plain question about the noise.
#[derive(Serialize, ToSchema)]
pub struct Descriptor {
    pub code: String,
    pub question: String,
    pub answers: Vec<String>,
    /// `customer`, `counter` or `bench`.
    pub asked_of: String,
    pub hint: String,
    pub retired: bool,
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
    pub steps: Vec<JobStep>,
    pub retired: bool,
}

#[derive(Serialize, ToSchema)]
pub struct JobStep {
    pub step: String,
    pub minutes: i64,
    pub wait_hours: f64,
    pub caution: String,
}

/// RFC 9457: why a call was not done. `errors` says what wants mending, field by field.
#[derive(Serialize, ToSchema)]
pub struct Problem {
    pub r#type: String,
    pub title: String,
    pub status: i64,
    pub detail: String,
    pub errors: Option<Vec<ProblemAt>>,
}

#[derive(Serialize, ToSchema)]
pub struct ProblemAt {
    pub field: String,
    /// JSON pointer into the body (RFC 6901).
    pub pointer: Option<String>,
    /// `query` or `header`, when it is not in the body.
    pub r#in: Option<String>,
    pub message: String,
}
