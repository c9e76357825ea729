//! The API's description in OpenAPI 3.1, made from the code that answers the calls.

use axum::Json;
use utoipa::openapi::header::HeaderBuilder;
use utoipa::openapi::path::{HttpMethod, Operation, Parameter, ParameterBuilder, ParameterIn};
use utoipa::openapi::schema::{ObjectBuilder, Type};
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::openapi::{ContentBuilder, Ref, RefOr, Required, ResponseBuilder};
use utoipa::{Modify, OpenApi};

use crate::once;

use super::{
    acts, beside, catalogue, change_shape, climate, comebacks, customers, diagnosis, ears, entries, old_book,
    orders, plate, recurrence, reported, shape, shop, staff, tellings, work,
};

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Purfle",
        description = "The work-order service of a violin-family repair shop. Money is in minor units, times are RFC 3339 in UTC, \
                       dates are days of the shop's calendar. A member that is null is as if left out, and clears in a PATCH; one that is not known is refused."
    ),
    paths(
        document,
        orders::create, orders::list, orders::read,
        acts::days,
        acts::check, acts::finding, acts::withdraw, acts::step, acts::done, acts::drop_step,
        acts::approval, acts::play_test, acts::hold, acts::hold_off, acts::give_back, acts::reopen, acts::promise,
        acts::answers,
        acts::payment, acts::put_right, acts::pickup,
        customers::list, customers::create, customers::read, customers::change,
        customers::instrument, customers::change_instrument, customers::gone, customers::gone_off,
        catalogue::causes, catalogue::descriptors, catalogue::jobs,
        entries::cause, entries::add_cause, entries::change_cause, entries::retire_cause,
        entries::job, entries::add_job, entries::change_job, entries::retire_job,
        entries::descriptor, entries::add_descriptor, entries::change_descriptor, entries::retire_descriptor,
        tellings::tellings, tellings::telling, tellings::say,
        shop::read, shop::change,
        staff::list, staff::create, staff::read, staff::change,
        diagnosis::diagnosis, diagnosis::score,
        ears::read, ears::change,
        recurrence::recurrence,
        beside::beside,
        comebacks::comebacks,
        reported::list,
        reported::keep,
        work::work,
        old_book::list, old_book::lay, old_book::read, old_book::amiss, old_book::take, old_book::withdraw,
        climate::read, climate::send, climate::withdraw,
        plate::plate,
    ),
    components(schemas(shape::Problem, shape::ProblemAt)),
    security(("token" = [])),
    modifiers(&Common)
)]
struct Api;

/// This description.
#[utoipa::path(get, path = "/api/openapi.json", tag = "description", security(()), responses((status = 200, description = "OpenAPI 3.1")))]
pub async fn document() -> Json<utoipa::openapi::OpenApi> {
    Json(Api::openapi())
}

/// What all calls have in common, said once: the token, the headers, the parts of an address, the refusals.
struct Common;

impl Modify for Common {
    fn modify(&self, api: &mut utoipa::openapi::OpenApi) {
        let bearer = HttpBuilder::new()
            .scheme(HttpAuthScheme::Bearer)
            .description(Some("A token made with `purfle token add`; it has one role."));
        let parts = api.components.get_or_insert_default();
        parts.add_security_scheme("token", SecurityScheme::Http(bearer.build()));
        change_shape::describe(api, |path, method| {
            *method == HttpMethod::Patch || path.ends_with("/promise")
        });
        for (path, calls) in &mut api.paths.paths {
            if let Some(call) = &mut calls.get {
                describe(path, call, &[401, 403, 422]);
            }
            if let Some(call) = &mut calls.post {
                describe(path, call, &[400, 401, 403, 413, 415, 422]);
                let key = header(
                    once::HEADER,
                    "A word of the caller's own, so that a second sending is not a second act.",
                );
                let needed = path == "/api/v1/orders";
                add(
                    call,
                    key.required(if needed { Required::True } else { Required::False })
                        .build(),
                );
                if path.starts_with("/api/v1/orders/") {
                    changes(call, "The ETag of the order's last answer.");
                    refuse(call, &[409]);
                } else if path.starts_with("/api/v1/old_book") || path == "/api/v1/customers" {
                    refuse(call, &[409]);
                } else if path.ends_with("/retired") {
                    changes(call, THEIR_ETAG);
                } else if path.contains("/gone") {
                    changes(call, THEIR_ETAG);
                    refuse(call, &[409]);
                }
            }
            if let Some(call) = &mut calls.put {
                describe(path, call, &[400, 401, 403, 413, 415, 422]);
                changes(call, THEIR_ETAG);
            }
            if let Some(call) = &mut calls.patch {
                describe(path, call, &[400, 401, 403, 413, 415, 422]);
                changes(call, THEIR_ETAG);
            }
        }
    }
}

const THEIR_ETAG: &str = "The ETag of the last answer that told it.";

/// A change says which version it changes.
fn changes(call: &mut Operation, words: &str) {
    let version = header("If-Match", words);
    add(call, version.required(Required::True).build());
    refuse(call, &[412, 428]);
}

/// Whether an answer tells one thing that has a version: all calls at its own address do, and those that make it.
fn has_version(path: &str, status: &str) -> bool {
    path.contains('{') || path == "/api/v1/shop" || status == "201"
}

fn describe(path: &str, call: &mut Operation, refusals: &[u16]) {
    let place = call.tags.iter().flatten().next().cloned().unwrap_or_default();
    let name = call.operation_id.take().unwrap_or_default();
    call.operation_id = Some(format!("{place}_{name}"));
    for (status, response) in &mut call.responses.responses {
        let RefOr::T(response) = response else { continue };
        if response.description.is_empty() {
            reason(status.parse().unwrap_or_default()).clone_into(&mut response.description);
        }
        if has_version(path, status) {
            let version = HeaderBuilder::new().description(Some("The version, for If-Match."));
            response.headers.insert("ETag".into(), RefOr::T(version.build()));
        }
    }
    if call.security.is_some() {
        return; // open to anyone
    }
    for part in path.split('/') {
        if let Some(name) = part.strip_prefix('{').and_then(|part| part.strip_suffix('}')) {
            let words = match name {
                "order" => "The order's id or its tag.",
                "cause" | "job" | "descriptor" => "The code.",
                _ => "The id.",
            };
            add(
                call,
                parameter(name, ParameterIn::Path, words)
                    .required(Required::True)
                    .build(),
            );
            refuse(call, &[404]);
        }
    }
    refuse(call, refusals);
}

fn header(name: &str, words: &str) -> ParameterBuilder {
    parameter(name, ParameterIn::Header, words)
}

fn parameter(name: &str, place: ParameterIn, words: &str) -> ParameterBuilder {
    ParameterBuilder::new()
        .name(name)
        .parameter_in(place)
        .description(Some(words))
        .schema(Some(ObjectBuilder::new().schema_type(Type::String)))
}

fn add(call: &mut Operation, parameter: Parameter) {
    call.parameters.get_or_insert_default().push(RefOr::T(parameter));
}

fn reason(status: u16) -> &'static str {
    let status = axum::http::StatusCode::from_u16(status).ok();
    status
        .and_then(|status| status.canonical_reason())
        .unwrap_or("Answered")
}

fn refuse(call: &mut Operation, with: &[u16]) {
    for status in with {
        let problem = ContentBuilder::new().schema(Some(Ref::from_schema_name("Problem")));
        let mut response = ResponseBuilder::new()
            .description(reason(*status))
            .content("application/problem+json", problem.build());
        if *status == 412 {
            let version =
                HeaderBuilder::new().description(Some("The version of what stands now, told as `present`."));
            response = response.header("ETag", version.build());
        }
        call.responses
            .responses
            .insert(status.to_string(), RefOr::T(response.build()));
    }
}
