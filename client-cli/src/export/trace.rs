//! One trace a run in OpenTelemetry's OTLP as JSON: a span for whatever lasted from one event to another.
//!
//! Spans lie on the run's own time, begun at the instant at which the run was opened: holds and speed do not stretch
//! them. Ids are made from those of run and events, so that two exports are one.

mod span;

use super::{instant, json_line, opening};
use deadship_plant::TICK_S;
use deadship_run::{Envelope, Who};
use serde_json::{Value, json};
use span::{Key, Span, begun, ended, moment};
use std::collections::BTreeMap;

/// Nanoseconds of a tick.
const TICK_NS: u64 = (TICK_S * 1e9) as u64;

/// A trace on its way through a log.
struct Trace<'a> {
    log: &'a [Envelope],
    begin_ns: u64,
    spans: Vec<Span>,
    /// Where in `spans` those are that have not ended.
    open: BTreeMap<Key, usize>,
}

/// The trace as one JSON object.
pub(super) fn trace(log: &[Envelope]) -> String {
    let begin = log.first().and_then(|first| instant(&first.at)?.timestamp_nanos_opt());
    let begin_ns = begin.and_then(|begin| u64::try_from(begin).ok()).unwrap_or(0);
    // Rehearsals know no clock and begin in 1970; zero would mean that the time is not known.
    let begin_ns = begin_ns.max(1);
    let mut trace = Trace { log, begin_ns, spans: Vec::new(), open: BTreeMap::new() };
    log.iter().for_each(|envelope| trace.take(envelope));
    json_line(&trace.written())
}

impl Trace<'_> {
    fn take(&mut self, envelope: &Envelope) {
        if let Some(key) = ended(&envelope.event)
            && let Some(index) = self.open.remove(&key)
        {
            self.spans[index].end_tick = Some(envelope.tick);
        }
        if let Some((key, name)) = moment(&envelope.event)
            && let Some(index) = self.open.get(&key)
        {
            self.spans[*index].moments.push((envelope.tick, name));
        }
        let Some(span) = begun(envelope) else { return };
        if let Some(key) = span.key.clone() {
            // One that begins again without having ended has changed: the earlier part ends here.
            if let Some(before) = self.open.insert(key, self.spans.len()) {
                self.spans[before].end_tick = Some(envelope.tick);
            }
        }
        self.spans.push(span);
    }

    fn written(&self) -> Value {
        let spans: Vec<Value> = self.spans.iter().map(|span| self.span(span)).collect();
        let mut resource = vec![
            attribute("service.name", json!("deadship")),
            attribute("service.version", json!(env!("CARGO_PKG_VERSION"))),
        ];
        if let (Some(first), Ok(opening)) = (self.log.first(), opening(self.log)) {
            resource.push(attribute("deadship.run", json!(first.run)));
            resource.push(attribute("deadship.drill", json!(opening.drill)));
            resource.push(attribute("deadship.ship", json!(opening.ship)));
            resource.push(attribute("deadship.model", json!(opening.model)));
        }
        json!({ "resourceSpans": [{
            "resource": { "attributes": resource },
            "scopeSpans": [{
                "scope": { "name": "deadship.export", "version": env!("CARGO_PKG_VERSION") },
                "spans": spans,
            }],
        }] })
    }

    fn span(&self, span: &Span) -> Value {
        let envelope = &self.log[span.index];
        let last_tick = self.log.last().map_or(0, |last| last.tick);
        let end_tick = span.end_tick.filter(|end_tick| *end_tick <= last_tick);
        let mut attributes = vec![
            attribute("deadship.seq", json!(envelope.seq)),
            attribute("deadship.tick", json!(envelope.tick)),
            attribute("deadship.event", json!(envelope.event.name())),
        ];
        attributes.extend(who(&envelope.who));
        attributes.extend(span.attributes.iter().map(|(name, value)| attribute(name, value.clone())));
        if end_tick.is_none() {
            attributes.push(attribute("deadship.open", json!(true)));
        }
        let mut written = json!({
            "traceId": trace_id(envelope),
            "spanId": span_id(envelope),
            "name": span.name,
            // SPAN_KIND_INTERNAL
            "kind": 1,
            "startTimeUnixNano": self.time(envelope.tick),
            "endTimeUnixNano": self.time(end_tick.unwrap_or(last_tick).max(envelope.tick)),
            "attributes": attributes,
        });
        if let Some(root) = self.log.first().filter(|first| first.seq != envelope.seq) {
            written["parentSpanId"] = json!(span_id(root));
        }
        let moments: Vec<Value> = span
            .moments
            .iter()
            .map(|(tick, name)| json!({ "timeUnixNano": self.time(*tick), "name": name }))
            .collect();
        if !moments.is_empty() {
            written["events"] = Value::Array(moments);
        }
        if let Some(link) = self.link(envelope) {
            written["links"] = json!([link]);
        }
        written
    }

    /// To the span of the event that led here, where that has one.
    fn link(&self, envelope: &Envelope) -> Option<Value> {
        let cause = envelope.cause?;
        let span = self.spans.iter().find(|span| self.log[span.index].seq == cause)?;
        let cause = &self.log[span.index];
        let attributes = [attribute("deadship.link", json!("cause"))];
        Some(json!({ "traceId": trace_id(cause), "spanId": span_id(cause), "attributes": attributes }))
    }

    /// An instant as OTLP's JSON has it: 64 bits as a text.
    fn time(&self, tick: u64) -> String {
        self.begin_ns.saturating_add(tick.saturating_mul(TICK_NS)).to_string()
    }
}

fn who(who: &Who) -> Vec<Value> {
    let text = |name: &str, value: &str| attribute(name, json!(value));
    match who {
        Who::Person { name, role, station } => {
            let mut told = vec![text("deadship.who", name), text("deadship.role", role.word())];
            told.extend(station.iter().map(|station| text("deadship.station", station)));
            told
        }
        Who::Robot { station } => vec![text("deadship.who", "robot"), text("deadship.station", station)],
        Who::Drill => vec![text("deadship.who", "drill")],
        Who::Plant => vec![text("deadship.who", "plant")],
    }
}

/// An attribute with its kind of value; 64 bits are a text.
fn attribute(name: &str, value: Value) -> Value {
    let value = match value {
        Value::Bool(value) => json!({ "boolValue": value }),
        Value::Number(value) if value.is_f64() => json!({ "doubleValue": value }),
        Value::Number(value) => json!({ "intValue": value.to_string() }),
        Value::String(value) => json!({ "stringValue": value }),
        other => json!({ "stringValue": other.to_string() }),
    };
    json!({ "key": name, "value": value })
}

/// The run: 16 bytes.
fn trace_id(envelope: &Envelope) -> String {
    envelope.run.simple().to_string()
}

/// The event: both halves of its id laid over each other. All zero would mean none.
fn span_id(envelope: &Envelope) -> String {
    let (high, low) = envelope.event_id.as_u64_pair();
    format!("{:016x}", (high ^ low).max(1))
}
