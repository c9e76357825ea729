//! What was done on an order, each as a program is told it: checks, findings, steps, what was said and paid.

use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

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
    /// When the customer said no to it: it is not done, and in no sum.
    #[schema(format = DateTime)]
    pub declined_at: Option<String>,
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
