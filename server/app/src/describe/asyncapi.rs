//! AsyncAPI 3.0 of the link. Actions are the server's: it receives what clients send.

use super::events;
use super::examples::{self, type_of};
use crate::run_task::lines::SERVER_WORDS;
use deadship_protocol::{ClientMessage, DEFAULT_PORT, LONGEST_FRAME, PATH, ServerMessage};
use deadship_run::view::{Chart, Situation};
use deadship_run::words::WORDS;
use serde_json::{Map, Value, json};

/// The answers that each message of a client can have.
const REPLIES: [(&str, &[&str]); 13] = [
    ("hello", &["welcome", "error", "bye"]),
    ("line", &["accepted", "refused", "answer", "busy", "error"]),
    ("open", &["opened", "error"]),
    ("use", &["state", "error"]),
    ("class-line", &["class-answer", "error"]),
    ("hand", &["handed", "error"]),
    ("board", &["board", "error"]),
    ("chart", &["chart", "error"]),
    ("screen", &["situation", "error"]),
    ("drills", &["drills", "error"]),
    ("runs", &["runs", "error"]),
    ("archive", &["archive", "error"]),
    ("ping", &["pong"]),
];

/// What comes without being asked for.
const UNTOLD: [&str; 8] = ["event", "gauges", "situation", "board", "state", "lagging", "error", "bye"];

/// The document.
pub(super) fn document() -> Value {
    let mut generator = super::generator();
    let client = generator.root_schema_for::<ClientMessage>().to_value();
    let server = generator.root_schema_for::<ServerMessage>().to_value();
    // Both schemas are asked for as parts, so that what they share stands under `components` once.
    generator.subschema_for::<ClientMessage>();
    generator.subschema_for::<ServerMessage>();
    // The protocol carries them as they are in the domain.
    let chart = generator.subschema_for::<Chart>().to_value();
    let situation = generator.subschema_for::<Situation>().to_value();
    let mut schemas = generator.take_definitions(true);
    if let Some(event) = schemas.get_mut("EventMessage") {
        event["oneOf"] = Value::Array(events::kinds());
    }
    let mut messages = Map::new();
    let of_client: Vec<Value> = examples::client().iter().map(|example| json!(example)).collect();
    add("client", &ClientMessage::TYPES, &client, &of_client, &mut messages);
    let of_server: Vec<Value> = examples::server().iter().map(|example| json!(example)).collect();
    add("server", &ServerMessage::TYPES, &server, &of_server, &mut messages);
    for (kind, schema) in [("chart", chart), ("situation", situation)] {
        if let Some(message) = messages.get_mut(&format!("server.{kind}")) {
            message["payload"]["properties"][kind] = schema;
        }
    }
    if let Some(line) = messages.get_mut("client.line") {
        line["x-words"] = words();
    }
    let in_channel: Map<String, Value> = messages
        .keys()
        .map(|key| (key.clone(), json!({ "$ref": format!("#/components/messages/{key}") })))
        .collect();
    json!({
        "asyncapi": "3.0.0",
        "info": {
            "title": "deadship, the link",
            "version": env!("CARGO_PKG_VERSION"),
            "description": "One WebSocket for each person. One text frame is one message: a JSON object whose `type` \
                            says which. The first message is `hello`.",
            "license": { "name": "Apache-2.0" },
        },
        "defaultContentType": "application/json",
        "servers": { "box": {
            "host": format!("localhost:{DEFAULT_PORT}"),
            "protocol": "ws",
            "description": "The box; with `--tls` the protocol is wss.",
        } },
        "channels": { "link": {
            "address": PATH,
            "description": format!("Frames from clients have at most {LONGEST_FRAME} bytes."),
            "messages": in_channel,
        } },
        "operations": operations(),
        "components": { "schemas": schemas, "messages": messages },
    })
}

/// What can be typed in a line: the words of a run, and those of the server.
fn words() -> Value {
    let all = WORDS.iter().chain(&SERVER_WORDS);
    all.map(|(word, form, about)| json!({ "word": word, "form": form, "about": about })).collect()
}

/// The messages of one side, each with its part of the schema and its examples.
fn add(side: &str, types: &[&str], schema: &Value, examples: &[Value], messages: &mut Map<String, Value>) {
    let parts = schema["oneOf"].as_array().map(Vec::as_slice).unwrap_or_default();
    for kind in types {
        let Some(part) = parts.iter().find(|part| part["properties"]["type"]["const"] == **kind) else {
            continue;
        };
        let mut part = part.clone();
        let about = part.as_object_mut().and_then(|part| part.remove("description"));
        let examples: Vec<Value> = examples
            .iter()
            .filter(|example| type_of(example) == **kind)
            .map(|example| json!({ "payload": example }))
            .collect();
        messages.insert(
            format!("{side}.{kind}"),
            json!({ "name": kind, "summary": about, "payload": part, "examples": examples }),
        );
    }
}

fn operations() -> Map<String, Value> {
    let channel = json!({ "$ref": "#/channels/link" });
    let refer = |key: String| json!({ "$ref": format!("#/channels/link/messages/{key}") });
    let mut operations = Map::new();
    for (kind, replies) in REPLIES {
        let replies: Vec<Value> = replies.iter().map(|reply| refer(format!("server.{reply}"))).collect();
        operations.insert(
            kind.to_owned(),
            json!({
                "action": "receive",
                "channel": channel,
                "messages": [refer(format!("client.{kind}"))],
                "reply": { "channel": channel, "messages": replies },
            }),
        );
    }
    let untold: Vec<Value> = UNTOLD.iter().map(|kind| refer(format!("server.{kind}"))).collect();
    operations.insert(
        "tell".to_owned(),
        json!({ "action": "send", "channel": channel, "messages": untold, "summary": "Comes without being asked for." }),
    );
    operations
}
