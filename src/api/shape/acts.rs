//! What a call sends to act on an order, where it is not the same as on a page.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

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

/// Another day, or another limit: what is left out stays as it was, and `null` clears it.
#[derive(Default, Deserialize, Serialize, ToSchema)]
#[serde(deny_unknown_fields, default)]
pub struct PromisedAnew {
    #[schema(format = Date)]
    pub promised_on: Option<String>,
    /// 0 is to ask before any work.
    pub authorised_limit: Option<i64>,
}
