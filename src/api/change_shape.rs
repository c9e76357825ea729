//! The shape of a change in the description: nothing is taken for what is left out, and what is not a yes or no takes `null`.

use std::collections::BTreeSet;

use utoipa::openapi::path::{HttpMethod, Operation};
use utoipa::openapi::schema::{SchemaType, Type};
use utoipa::openapi::{OpenApi, Ref, RefOr, Schema};

const SCHEMAS: &str = "#/components/schemas/";

/// The body of a call, if it has one that is named.
fn body(call: &mut Operation) -> Option<&mut Ref> {
    let RefOr::T(body) = call.request_body.as_mut()? else {
        return None;
    };
    let RefOr::T(content) = body.content.values_mut().next()? else {
        return None;
    };
    match content.schema.as_mut()? {
        RefOr::Ref(named) => Some(named),
        RefOr::T(_) => None,
    }
}

fn name_of(named: &Ref) -> String {
    named.ref_location.trim_start_matches(SCHEMAS).to_owned()
}

/// Gives every call that changes what stands the shape of a change. Where the same is also made anew, that of the
/// change has a name of its own.
pub fn describe(api: &mut OpenApi, changes: impl Fn(&str, &HttpMethod) -> bool) {
    let (mut made, mut changing) = (BTreeSet::new(), Vec::new());
    for (path, calls) in &mut api.paths.paths {
        let all = [
            (HttpMethod::Post, &mut calls.post),
            (HttpMethod::Patch, &mut calls.patch),
        ];
        for (method, call) in all {
            let Some(named) = call.as_mut().and_then(body) else {
                continue;
            };
            if changes(path, &method) {
                changing.push(named);
            } else {
                made.insert(name_of(named));
            }
        }
    }
    let schemas = &mut api.components.get_or_insert_default().schemas;
    for named in changing {
        let name = name_of(named);
        let Some(RefOr::T(schema)) = schemas.get(&name) else {
            continue;
        };
        let mut schema = schema.clone();
        loosen(&mut schema);
        let name = if made.contains(&name) {
            format!("{}Change", name.trim_start_matches("New"))
        } else {
            name
        };
        named.ref_location = format!("{SCHEMAS}{name}");
        schemas.insert(name, RefOr::T(schema));
    }
}

fn loosen(schema: &mut Schema) {
    let Schema::Object(object) = schema else { return };
    for member in object.properties.values_mut() {
        let (default, kind) = match member {
            RefOr::T(Schema::Object(member)) => (&mut member.default, &mut member.schema_type),
            RefOr::T(Schema::Array(member)) => (&mut member.default, &mut member.schema_type),
            _ => continue,
        };
        *default = None;
        if let SchemaType::Type(one) = kind
            && *one != Type::Boolean
        {
            *kind = SchemaType::from_iter([one.clone(), Type::Null]);
        }
    }
}
