//! What many answers have in common: the part of a list, and the refusal.

use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

/// A part of a list; `next` is the `after` of the following part, and `null` at the end.
#[derive(Serialize, ToSchema)]
pub struct List<T> {
    pub items: Vec<T>,
    pub next: Option<String>,
}

/// RFC 9457: why a call was not done. `errors` says what wants mending, field by field.
#[derive(Serialize, ToSchema)]
pub struct Problem {
    pub r#type: String,
    pub title: String,
    pub status: i64,
    pub detail: String,
    /// Where something broke on our side: the number under which the log says what.
    pub instance: Option<String>,
    pub errors: Option<Vec<ProblemAt>>,
    /// The ids of those who are here already, when somebody of the same name with the same phone or e-mail is.
    pub customers: Option<Vec<Uuid>>,
    /// With 412: what stands now, as reading it would tell; its version is the ETag of the refusal.
    #[schema(value_type = Option<Object>)]
    pub present: Option<serde_json::Value>,
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
