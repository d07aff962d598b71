//! The envelope of an event, and the one JSON text that a store keeps of it.

use crate::event::{Event, KINDS};
use crate::who::Who;
use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::borrow::Cow;
use uuid::Uuid;

/// An event with all that is known about it.
#[derive(Clone, Debug, PartialEq)]
pub struct Envelope {
    /// Run.
    pub run: Uuid,
    /// Number in the run, from 1, without gaps.
    pub seq: u64,
    /// Ticks done when it happened: the only time there is.
    pub tick: u64,
    /// Number of the kind of event.
    pub kind: u16,
    /// Version of its payload.
    pub version: u16,
    /// Id.
    pub event_id: Uuid,
    /// The command that brought it, as named by whoever gave it.
    pub command_id: Option<Uuid>,
    /// The event that led here, where that is certain.
    pub cause: Option<u64>,
    /// What began it: a command or a step of the drill.
    pub chain: Uuid,
    /// Who.
    pub who: Who,
    /// When on the clock, RFC 3339 UTC. Nothing in a run depends on it.
    pub at: String,
    /// The event.
    pub event: Event,
}

/// As written.
#[derive(Serialize, Deserialize, JsonSchema)]
struct Written {
    /// Run.
    run: Uuid,
    /// Number in the run, from 1, without gaps.
    seq: u64,
    /// Ticks of 50 ms since the start: the only time that a run knows.
    tick: u64,
    /// Number of the kind; never used again for anything else.
    kind: u16,
    /// Version of what stands under `event`.
    version: u16,
    /// Id of the event.
    event_id: Uuid,
    /// The command that brought it, as named by whoever gave it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    command_id: Option<Uuid>,
    /// Number of the event that led here, where that is certain.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    cause: Option<u64>,
    /// What began it: a command or a step of the drill.
    chain: Uuid,
    /// Who.
    who: Who,
    /// When on the clock, RFC 3339 UTC. Nothing in a run depends on it.
    at: String,
    /// Name of the kind.
    name: String,
    /// Fields of the event; all physical numbers are SI.
    event: Value,
}

/// As [`Envelope::encode`] writes it: which fields the event has depends on its name.
impl JsonSchema for Envelope {
    fn schema_name() -> Cow<'static, str> {
        "LoggedEvent".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let mut schema = Written::json_schema(generator);
        if let Some(kinds) = Event::json_schema(generator).remove("oneOf") {
            schema.insert("oneOf".to_owned(), kinds);
        }
        schema.insert("description".to_owned(), "An event as it is kept in the log.".into());
        schema
    }
}

/// Why a text is not an event that this program reads.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DecodeError {
    /// Not the JSON of an envelope.
    #[error("not an event: {what}")]
    Malformed {
        /// What the reader said.
        what: String,
    },
    /// A kind that this program does not know.
    #[error("event {seq} is of kind {kind} ('{name}'), which this version of the program does not know")]
    UnknownKind {
        /// Which event.
        seq: u64,
        /// Number of the kind.
        kind: u16,
        /// Its name as written.
        name: String,
    },
    /// A version newer than this program.
    #[error(
        "event {seq} ('{name}') is of version {version}, this version of the program reads up to {newest}"
    )]
    NewerVersion {
        /// Which event.
        seq: u64,
        /// Name of the kind.
        name: String,
        /// Version found.
        version: u16,
        /// Newest version read.
        newest: u16,
    },
    /// The payload does not fit its kind.
    #[error("event {seq} ('{name}') does not fit its kind: {what}")]
    Payload {
        /// Which event.
        seq: u64,
        /// Name of the kind.
        name: String,
        /// What the reader said.
        what: String,
    },
}

impl Envelope {
    /// One line of JSON, without line break.
    pub fn encode(&self) -> String {
        // Plain data with text keys and finite numbers always serialises; an event without payload is `{}`.
        let mut event = serde_json::to_value(&self.event).unwrap_or(Value::Null);
        let written = Written {
            run: self.run,
            seq: self.seq,
            tick: self.tick,
            kind: self.kind,
            version: self.version,
            event_id: self.event_id,
            command_id: self.command_id,
            cause: self.cause,
            chain: self.chain,
            who: self.who.clone(),
            at: self.at.clone(),
            name: self.event.name().to_owned(),
            event: event.get_mut("event").map_or(Value::Null, Value::take),
        };
        serde_json::to_string(&written).unwrap_or_default()
    }

    /// Reads what [`Envelope::encode`] wrote, in this or an older version of the program.
    ///
    /// # Errors
    /// Kinds and versions that are not known are refused by name.
    pub fn decode(text: &str) -> Result<Envelope, DecodeError> {
        let written: Written =
            serde_json::from_str(text).map_err(|error| DecodeError::Malformed { what: error.to_string() })?;
        let Written { seq, kind, .. } = written;
        let Some(&(_, name, newest)) = KINDS.iter().find(|known| known.0 == kind && known.1 == written.name)
        else {
            return Err(DecodeError::UnknownKind { seq, kind, name: written.name });
        };
        let version = written.version;
        if version > newest {
            return Err(DecodeError::NewerVersion { seq, name: name.to_owned(), version, newest });
        }
        let payload_error = |what: String| DecodeError::Payload { seq, name: name.to_owned(), what };
        let payload = upcast(kind, version, written.event).map_err(payload_error)?;
        let tagged = serde_json::json!({ "name": name, "event": payload });
        let event: Event =
            serde_json::from_value(tagged).map_err(|error| payload_error(error.to_string()))?;
        Ok(Envelope {
            run: written.run,
            seq,
            tick: written.tick,
            kind,
            version: newest,
            event_id: written.event_id,
            command_id: written.command_id,
            cause: written.cause,
            chain: written.chain,
            who: written.who,
            at: written.at,
            event,
        })
    }
}

/// The one ladder for payloads of older versions: each rung takes a payload one version up, until the newest. What is
/// new since version 1 may be left out, so no rung changes anything yet; version 0 never was.
fn upcast(kind: u16, version: u16, payload: Value) -> Result<Value, String> {
    match (kind, version) {
        (_, 0) => Err("there is no version 0".to_owned()),
        // Version 2 of `fault-set` may say how the fault comes and goes; one of version 1 stays. Version 2 of `said`
        // may be in the name of a station, of `shelved` for a time, of `alert-raised` and `alert-cleared` hidden, of
        // `noted` a mark or a text to an earlier note.
        (_, _) => Ok(payload),
    }
}
