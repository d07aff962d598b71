//! What the box says of its interface is what it does: the documents are up to date, leave nothing out, and their
//! examples work.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

mod common;
#[path = "common/described.rs"]
mod described;

use common::Bench;
use deadship_protocol::{ClientMessage, ServerMessage, decode_client, decode_server};
use deadship_run::library::Library;
use deadship_server::Document;
use described::{Described, Operation, part};
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;

#[test]
fn the_written_documents_are_up_to_date() {
    let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs");
    for (document, name) in [(Document::Openapi, "openapi"), (Document::Asyncapi, "asyncapi")] {
        let written = std::fs::read_to_string(docs.join(format!("{name}.json"))).unwrap_or_default();
        assert!(
            written == document.text(),
            "docs/{name}.json is not what the server does: deadship-server describe {name} > docs/{name}.json"
        );
    }
}

#[test]
fn every_route_is_described_and_nothing_else() {
    let (rest, server) = (include_str!("../src/rest.rs"), include_str!("../src/server.rs"));
    let mut routes = BTreeSet::new();
    for (source, scope) in [(rest, "/api"), (server, "")] {
        for part in source.split(".route(\"").skip(1) {
            let (path, rest) = part.split_once("\", web::").unwrap();
            routes.insert(format!("{} {scope}{path}", rest.split('(').next().unwrap()));
        }
    }
    // The page is for people.
    assert!(routes.remove("get /") && routes.len() > 12, "the routes were not found: {routes:?}");
    let described = Described::of(Document::Openapi);
    let operations: BTreeSet<String> =
        described.operations().iter().map(|one| format!("{} {}", one.method, one.path)).collect();
    let missing: Vec<_> = routes.difference(&operations).collect();
    assert!(missing.is_empty(), "not described in src/describe/operations.rs: {missing:?}");
    let invented: Vec<_> = operations.difference(&routes).collect();
    assert!(invented.is_empty(), "described, and no route: {invented:?}");
}

#[test]
fn every_message_is_described_with_an_example_that_is_read() {
    let described = Described::of(Document::Asyncapi);
    let sides = [("client", ClientMessage::TYPES.as_slice()), ("server", ServerMessage::TYPES.as_slice())];
    for (side, kind) in sides.iter().flat_map(|(side, kinds)| kinds.iter().map(move |kind| (*side, *kind))) {
        let place = format!("/components/messages/{side}.{kind}");
        let message = described.document.pointer(&place);
        let message = message.unwrap_or_else(|| panic!("`{kind}` from the {side} is not described"));
        let examples = message["examples"].as_array().unwrap();
        assert!(!examples.is_empty(), "`{kind}` from the {side} has no example in src/describe/examples.rs");
        for example in examples.iter().map(|example| &example["payload"]) {
            described.check(&format!("{place}/payload"), example).unwrap();
            let frame = example.to_string();
            let back = match side {
                "client" => serde_json::to_value(decode_client(&frame).unwrap()).unwrap(),
                _ => serde_json::to_value(decode_server(&frame).unwrap()).unwrap(),
            };
            assert_eq!(back, *example);
        }
        let in_operations = described.document["operations"].to_string();
        assert!(in_operations.contains(&format!("messages/{side}.{kind}\"")), "`{kind}` is in no operation");
    }
}

#[test]
fn every_reference_leads_somewhere() {
    fn walk(value: &Value, document: &Value) {
        match value {
            Value::Object(fields) => {
                if let Some(to) = fields.get("$ref").and_then(Value::as_str) {
                    let pointer = to.strip_prefix('#').unwrap_or_else(|| panic!("{to} leads away"));
                    assert!(document.pointer(pointer).is_some(), "{to} leads nowhere");
                }
                fields.values().for_each(|value| walk(value, document));
            }
            Value::Array(values) => values.iter().for_each(|value| walk(value, document)),
            _ => {}
        }
    }
    for document in [Document::Openapi, Document::Asyncapi] {
        let document = Described::of(document).document;
        walk(&document, &document);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_examples_of_every_operation_work() {
    let bench = Bench::with(Library::built_in()).await;
    let described = Described::of(Document::Openapi);
    let mut operations = described.operations();
    // The class is opened before anything is done with it, and handed over after.
    operations.sort_by_key(|one| match one.item["operationId"].as_str().unwrap() {
        "open" => 0,
        "hand" => 2,
        _ => 1,
    });
    let (mut class, mut run) = (String::new(), String::new());
    for operation in &operations {
        let path = filled(operation, &class, &run);
        let needs_key = operation.item["security"].to_string().contains("key");
        let example = &operation.item["requestBody"]["content"]["application/json"]["example"];
        let body = if example.is_null() { String::new() } else { example.to_string() };
        let method = operation.method.to_uppercase();
        let key = needs_key.then_some(bench.key.as_str());
        let (status, answer) = bench.http(&method, &path, key, &body).await;
        assert!((200..300).contains(&status), "{method} {path}: {status} {answer}");
        let answer = fits(&described, operation, status, &answer);
        if operation.item["operationId"] == "open" {
            class = answer["class"].as_str().unwrap().to_owned();
            run = answer["runs"][0]["run"].as_str().unwrap().to_owned();
        }
        if needs_key {
            let (status, answer) = bench.http(&method, &path, Some("AAAA"), &body).await;
            assert_eq!(status, 401, "{method} {path} with a wrong key: {answer}");
            fits(&described, operation, status, &answer);
        }
    }
    bench.server.stop().await;
}

/// The path with the ids of the class of this test, and the example's query.
fn filled(operation: &Operation<'_>, class: &str, run: &str) -> String {
    let path = operation.path.replace("{class}", class).replace("{run}", run);
    let parameters = operation.item["parameters"].as_array().map(Vec::as_slice).unwrap_or_default();
    let query: Vec<String> = parameters
        .iter()
        .filter(|parameter| parameter["in"] == "query")
        .map(|parameter| format!("{}={}", parameter["name"].as_str().unwrap(), parameter["example"]))
        .collect();
    if query.is_empty() { path } else { format!("{path}?{}", query.join("&")) }
}

/// The answer, which is of a status that is described and fits its schema, as does the example.
fn fits(described: &Described, operation: &Operation<'_>, status: u16, answer: &str) -> Value {
    let Operation { path, method, item } = operation;
    let answers = &item["responses"][status.to_string()]["content"];
    let answers = answers.as_object().unwrap_or_else(|| panic!("{method} {path}: {status} is not described"));
    let (content, about) = answers.iter().next().unwrap();
    let content = part(content);
    let schema = format!("/paths/{}/{method}/responses/{status}/content/{content}/schema", part(path));
    let answer = match content.as_str() {
        "application~1json" => serde_json::from_str(answer).unwrap(),
        _ => Value::from(answer),
    };
    for value in [&answer, &about["example"]] {
        described.check(&schema, value).unwrap_or_else(|error| panic!("{method} {path}: {error}"));
        let Some(line_schema) = about["schema"]["x-line"]["$ref"].as_str() else { continue };
        for line in value.as_str().unwrap().lines() {
            let event: Value = serde_json::from_str(line).unwrap();
            described.check(line_schema.trim_start_matches('#'), &event).unwrap_or_else(|error| {
                panic!("{method} {path}: {error}: {}", line.chars().take(300).collect::<String>())
            });
        }
    }
    answer
}
