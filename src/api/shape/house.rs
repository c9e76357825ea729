//! The shop and its people as a program is told them: never a password, nor who is signed in where.

use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::reports::rules::Rules;

/// The shop and what holds for the whole house.
#[derive(Serialize, ToSchema)]
pub struct Shop {
    pub name: String,
    pub address: String,
    pub phone: String,
    pub zone: String,
    /// `northern`, `southern` or `none`.
    pub hemisphere: String,
    /// Twelve letters, January to December: d dry, h humid, c change.
    pub seasons: String,
    /// ISO 4217; fixed once the shop is set up.
    pub currency: String,
    /// An hour, before tax.
    pub labour_rate: i64,
    pub tax_name: String,
    /// Parts per million: 200000 is 20 %.
    pub tax_labour: i64,
    /// Parts per million.
    pub tax_parts: i64,
    pub comeback_days: i64,
    /// While what came back is counted anew by it.
    pub comeback_recount: Option<ComebackRecount>,
    /// The years under which each band of age of the reports ends and from which the next counts, as the owner wants them.
    pub age_bounds: Vec<i64>,
    /// While the history is counted anew by them.
    pub age_recount: Option<AgeRecount>,
    /// What a fix at the counter costs, before tax.
    pub counter_fee: i64,
    pub stub_terms: String,
    /// What `If-Match` of the next change says.
    pub version: i64,
}

/// How far it is with new bands of age; until then the reports tell by the bands before.
#[derive(Debug, Serialize, ToSchema)]
pub struct AgeRecount {
    /// Of the bands that the reports tell by meanwhile.
    pub bounds_before: Vec<i64>,
    /// So many months of the history are counted by the new ones.
    pub months_done: i64,
    pub months_all: i64,
}

impl AgeRecount {
    /// Nothing while no bands are to come.
    #[must_use]
    pub fn of(rules: &Rules) -> Option<AgeRecount> {
        rules.progress().map(|progress| AgeRecount {
            bounds_before: rules.bands().into(),
            months_done: progress.done,
            months_all: progress.all,
        })
    }
}

/// Another comeback window is to come: until it is there the reports count by the one before.
#[derive(Debug, Serialize, ToSchema)]
pub struct ComebackRecount {
    pub days_before: i64,
}

impl ComebackRecount {
    /// Nothing while no window is to come.
    #[must_use]
    pub fn of(rules: &Rules) -> Option<ComebackRecount> {
        rules.next_window().map(|_| ComebackRecount {
            days_before: rules.window(),
        })
    }
}

/// Somebody of the shop, now or once.
#[derive(Serialize, ToSchema)]
pub struct Person {
    pub id: Uuid,
    pub name: String,
    pub counter: bool,
    pub bench: bool,
    pub owner: bool,
    /// Whether they may sign in.
    pub active: bool,
    /// Whether they still have the password that somebody else gave them; when they sign in they choose their own first.
    pub first_password: bool,
    #[schema(format = DateTime)]
    pub created_at: String,
    /// What `If-Match` of the next change says.
    pub version: i64,
}
