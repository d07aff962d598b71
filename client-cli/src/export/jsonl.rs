//! One JSON object an event.

use super::{json_line, seconds};
use deadship_run::{Envelope, Event, Who};
use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::Serialize;
use serde_json::Value;
use std::borrow::Cow;
use uuid::Uuid;

/// Texts of files, which stand in the archive.
const TEXTS: [&str; 4] = ["drill_file", "ship_files", "procedures", "base"];

/// An event as it is exported.
#[derive(Serialize, JsonSchema)]
struct Fields<'a> {
    /// Run.
    run: Uuid,
    /// Number in the run, from 1, without gaps.
    seq: u64,
    /// Ticks of 50 ms since the start: the only time that a run knows.
    tick: u64,
    /// The same in seconds.
    time_s: f64,
    /// When on the clock, RFC 3339 UTC. Rehearsals know no clock and say 1970.
    at: &'a str,
    /// Id of the event.
    id: Uuid,
    /// Number of the event that led here, where that is certain.
    cause: Option<u64>,
    /// What began it: a command or a step of the drill.
    chain: Uuid,
    /// Who: a person by pseudonym or name, a robot by station, the drill, the plant.
    who: &'a Who,
    /// Name of the kind.
    name: &'a str,
    /// Fields of the event; all physical numbers are SI.
    event: Value,
}

fn fields(envelope: &Envelope) -> Fields<'_> {
    Fields {
        run: envelope.run,
        seq: envelope.seq,
        tick: envelope.tick,
        time_s: seconds(envelope.tick),
        at: &envelope.at,
        id: envelope.event_id,
        cause: envelope.cause,
        chain: envelope.chain,
        who: &envelope.who,
        name: envelope.event.name(),
        event: payload(&envelope.event),
    }
}

/// The event as a line.
pub(super) fn line(envelope: &Envelope) -> String {
    json_line(&fields(envelope))
}

/// The event as a value.
pub(super) fn value(envelope: &Envelope) -> Value {
    // As in `json_line`.
    serde_json::to_value(fields(envelope)).unwrap_or(Value::Null)
}

/// The fields of an event, without the texts of files.
pub(super) fn payload(event: &Event) -> Value {
    // An event is written as its name beside its fields.
    let mut written = serde_json::to_value(event).unwrap_or(Value::Null);
    let mut payload = written.get_mut("event").map_or(Value::Null, Value::take);
    if let (Event::RunOpened(_), Some(fields)) = (event, payload.as_object_mut()) {
        fields.retain(|name, _| !TEXTS.contains(&name.as_str()));
    }
    payload
}

/// As [`line`] writes it: which fields the event has depends on its name.
struct Line;

impl JsonSchema for Line {
    fn schema_name() -> Cow<'static, str> {
        "ExportedEvent".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let mut schema = Fields::json_schema(generator);
        if let Some(kinds) = Event::json_schema(generator).remove("oneOf") {
            schema.insert("oneOf".to_owned(), kinds);
        }
        schema.insert("description".to_owned(), "An event of a run, as `deadship export` writes it.".into());
        schema
    }
}

/// The schema of a line, JSON Schema 2020-12.
#[cfg_attr(not(test), expect(dead_code, reason = "written and compared by a test"))]
fn schema() -> Value {
    let mut schema = SchemaGenerator::default().into_root_schema_for::<Line>().to_value();
    // Texts of other files, to which only what is left out refers.
    if let Some(defs) = schema.pointer_mut("/$defs").and_then(Value::as_object_mut) {
        defs.remove("Base");
    }
    let opening = schema.pointer_mut("/$defs/Opening").and_then(Value::as_object_mut);
    if let Some(opening) = opening {
        let without = |name: &str| !TEXTS.contains(&name);
        if let Some(properties) = opening.get_mut("properties").and_then(Value::as_object_mut) {
            properties.retain(|name, _| without(name));
        }
        if let Some(required) = opening.get_mut("required").and_then(Value::as_array_mut) {
            required.retain(|name| name.as_str().is_some_and(without));
        }
    }
    schema
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    /// `WRITE_SCHEMAS=1` writes it anew.
    #[test]
    fn the_schema_is_documented_as_it_is() {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/schemas/export-jsonl.schema.json");
        let text = format!("{:#}\n", schema());
        if std::env::var_os("WRITE_SCHEMAS").is_some() {
            std::fs::write(&path, &text).unwrap();
        }
        let documented = std::fs::read_to_string(&path).unwrap_or_default();
        assert!(documented == text, "{} is not what is written: WRITE_SCHEMAS=1", path.display());
        assert!(!text.contains("drill_file") && text.contains("\"time_s\"") && text.contains("act-done"));
    }
}
