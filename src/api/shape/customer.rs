//! Customers and their instruments as a program is told them.

use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::OrderInShort;

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
    /// What `If-Match` of the next change says.
    pub version: i64,
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
    /// What `If-Match` of the next change says.
    pub version: i64,
}

#[derive(Serialize, ToSchema)]
pub struct CustomerWithInstruments {
    #[serde(flatten)]
    pub customer: Customer,
    /// The newest sixty.
    pub instruments: Vec<Instrument>,
    pub owed: OwedByCustomer,
}

/// What a customer still owes for orders that went home.
#[derive(Serialize, ToSchema)]
pub struct OwedByCustomer {
    /// All of it, in minor units.
    pub total: i64,
    /// On so many orders.
    pub count: i64,
    /// Those owed longest, fifty at most.
    pub orders: Vec<OwedOn>,
}

#[derive(Serialize, ToSchema)]
pub struct OwedOn {
    pub id: Uuid,
    pub tag: String,
    #[schema(format = Date)]
    pub collected_on: String,
    pub owed: i64,
}

#[derive(Serialize, ToSchema)]
pub struct InstrumentWithOrders {
    #[serde(flatten)]
    pub instrument: Instrument,
    /// The newest first.
    pub orders: Vec<OrderInShort>,
    /// If it will not come again, as far as the shop knows.
    pub gone: Option<Gone>,
}

#[derive(Serialize, ToSchema)]
pub struct InstrumentGone {
    #[serde(flatten)]
    pub instrument: Instrument,
    /// If it will not come again, as far as the shop knows.
    pub gone: Option<Gone>,
}

/// That an instrument will not come again.
#[derive(Serialize, ToSchema)]
pub struct Gone {
    /// `sold`, `destroyed` or `moved_away`.
    pub why: String,
    /// Seen no longer from this day on.
    pub on: String,
}
