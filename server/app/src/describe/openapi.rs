//! OpenAPI 3.1 of the REST interface.

use super::events;
use super::operations::{Answer, Key, LOGGED_EVENT, Operation, operations};
use crate::fault::Fault;
use actix_web::ResponseError as _;
use deadship_protocol::{ErrorBody, ErrorCode};
use schemars::SchemaGenerator;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// The document.
pub(super) fn document() -> Value {
    let mut generator = super::generator();
    let mut paths = Map::new();
    for operation in operations() {
        let item = paths.entry(operation.path).or_insert_with(|| json!({}));
        item[operation.method] = described(&operation, &mut generator);
    }
    let mut schemas = generator.take_definitions(true);
    schemas.insert(LOGGED_EVENT.to_owned(), events::logged());
    json!({
        "openapi": "3.1.0",
        "info": {
            "title": "deadship, REST",
            "version": env!("CARGO_PKG_VERSION"),
            "description": "For scripts and for those who fetch what was recorded. Teams and instructors work over \
                            the link, which asyncapi.json describes.",
            "license": { "name": "Apache-2.0", "identifier": "Apache-2.0" },
        },
        "servers": [{ "url": "/", "description": "The box that serves this document." }],
        "paths": paths,
        "components": {
            "schemas": schemas,
            "securitySchemes": { "key": {
                "type": "http",
                "scheme": "bearer",
                "description": "The instructor's key, as the first start prints it.",
            } },
        },
    })
}

fn described(operation: &Operation, generator: &mut SchemaGenerator) -> Value {
    let mut item = json!({
        "operationId": operation.id,
        "summary": operation.summary,
        "security": match operation.key {
            Key::Needed => json!([{ "key": [] }]),
            Key::Optional => json!([{}, { "key": [] }]),
            Key::No => json!([]),
        },
    });
    let parameters = parameters(operation, generator);
    if !parameters.is_empty() {
        item["parameters"] = Value::Array(parameters);
    }
    if let Some((schema, example)) = &operation.body {
        item["requestBody"] = json!({
            "required": true,
            "content": { "application/json": { "schema": schema(generator), "example": example } },
        });
    }
    item["responses"] = responses(operation, generator);
    item
}

fn parameters(operation: &Operation, generator: &mut SchemaGenerator) -> Vec<Value> {
    let mut list: Vec<Value> = operation
        .in_path
        .iter()
        .map(|(name, example)| {
            json!({
                "name": name, "in": "path", "required": true, "example": example,
                "schema": { "type": "string", "format": "uuid" },
            })
        })
        .collect();
    for (name, example) in operation.in_query {
        // The query's type gives what each of its fields may be.
        let whole = generator.root_schema_for::<deadship_protocol::EventsQuery>().to_value();
        let mut schema = whole["properties"][*name].clone();
        let about = schema.as_object_mut().and_then(|schema| schema.remove("description"));
        list.push(json!({
            "name": name, "in": "query", "required": false, "example": example,
            "schema": schema, "description": about,
        }));
    }
    list
}

fn responses(operation: &Operation, generator: &mut SchemaGenerator) -> Value {
    let mut responses = Map::new();
    for Answer { status, about, content, schema, example } in &operation.answers {
        let schema = schema(generator);
        responses.insert(
            status.to_string(),
            json!({ "description": about, "content": { *content: { "schema": schema, "example": example } } }),
        );
    }
    let mut refusals: BTreeMap<u16, Vec<ErrorCode>> = BTreeMap::new();
    for code in operation.refusals() {
        refusals.entry(Fault::new(code, "", "").status_code().as_u16()).or_default().push(code);
    }
    for (status, codes) in refusals {
        let words: Vec<String> = codes.iter().map(|code| format!("`{code}`")).collect();
        let example = json!({ "code": codes[0], "text": "what is wrong", "remedy": "what to do" });
        let refusal = json!({
            "description": format!("Refused: {}.", words.join(", ")),
            "content": { "application/json": {
                "schema": generator.subschema_for::<ErrorBody>(), "example": example,
            } },
        });
        // A status that is an answer as well keeps the answer's schema.
        responses.entry(status.to_string()).or_insert(refusal);
    }
    Value::Object(responses)
}
