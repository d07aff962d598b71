//! CloudEvents 1.0.2 in the JSON event format, structured mode, one a line.

use super::iri::iri;
use super::{instant, json_line, jsonl};
use deadship_run::{Envelope, Event};
use serde_json::{Value, json};

/// The event as a line.
pub(super) fn line(envelope: &Envelope) -> String {
    json_line(&event(envelope))
}

fn event(envelope: &Envelope) -> Value {
    let run = envelope.run.to_string();
    let mut event = json!({
        "specversion": "1.0",
        "id": envelope.event_id,
        "source": iri(&["runs", &run]),
        "type": format!("invalid.deadship.{}.v{}", envelope.event.name(), envelope.version),
        "datacontenttype": "application/json",
        "dataschema": iri(&["schemas", "export-jsonl.schema.json"]),
        // The extension `sequence`: a text that sorts as the numbers do.
        "sequence": format!("{:010}", envelope.seq),
        "data": jsonl::value(envelope),
    });
    if instant(&envelope.at).is_some() {
        event["time"] = json!(envelope.at);
    }
    if let Some(subject) = subject(&envelope.event) {
        event["subject"] = json!(subject);
    }
    event
}

/// What it is about, within its run.
pub(super) fn subject(event: &Event) -> Option<String> {
    let named = match event {
        Event::ActDone { component, .. }
        | Event::FaultSet { component, .. }
        | Event::FaultLifted { component, .. }
        | Event::FaultPlanned { component, .. }
        | Event::FaultPlanDropped { component, .. }
        | Event::NeedLost { component, .. }
        | Event::NeedMet { component, .. }
        | Event::Found { component, .. } => component,
        Event::AlertRaised { alert, .. }
        | Event::AlertCleared { alert, .. }
        | Event::Acknowledged { alert, .. }
        | Event::Shelved { alert, .. }
        | Event::Unshelved { alert }
        | Event::SuppressionBegan { alert, .. }
        | Event::SuppressionEnded { alert, .. }
        | Event::ShelvingEnded { alert, .. }
        | Event::FirstOut { alert, .. } => alert,
        Event::StationTaken { station, .. } | Event::StationLeft { station } => station,
        Event::Moved { place, .. } => place,
        Event::ExpectationMet { name, .. } | Event::ExpectationMissed { name, .. } => name,
        Event::StepTicked { step, .. } => step,
        Event::Rated { objective, .. } => objective,
        Event::Asked { ask, .. }
        | Event::Answered { ask, .. }
        | Event::AnswerKnown { ask, .. }
        | Event::Undecided { ask, .. } => ask,
        Event::OrderGiven { number, .. }
        | Event::OrderRepeated { number, .. }
        | Event::OrderReported { number, .. }
        | Event::OrderOverdue { number, .. } => return Some(format!("order-{number}")),
        _ => return None,
    };
    Some(named.clone()).filter(|named| !named.is_empty())
}
