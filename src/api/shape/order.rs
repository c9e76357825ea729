//! An order as a program is told it.

use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::counter::intake::Complaint;
use crate::counter::stage::Stage;

use super::{Approval, Check, Customer, Finding, Instrument, Payment, PlayTest, Step};

/// What was made on an order, with how the order stands now.
#[derive(Serialize, ToSchema)]
pub struct Made<T> {
    #[serde(flatten)]
    pub thing: T,
    pub order_version: i64,
    pub stage: Stage,
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
    /// What is still to be paid since it went home; 0 before that, and below 0 the shop has to give it back.
    pub owed: i64,
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
    /// What was noted then; where it is not worth the repair, it stands on the summary.
    pub returned_note: Option<String>,
    #[schema(format = Date)]
    pub inspected_on: Option<String>,
    #[schema(format = Date)]
    pub ready_on: Option<String>,
    pub collected: Option<Collected>,
    /// The newest first.
    pub timeline: Vec<StoryLine>,
}

/// What the steps as planned come to, but for those the customer did not want.
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
