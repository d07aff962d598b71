//! Which events begin, mark and end a span.

use deadship_run::{Envelope, Event};
use serde_json::{Value, json};

/// What a span is of, so that its end is found.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Key {
    /// The whole run.
    Run,
    /// An occurrence of an alert.
    Alert(u64),
    /// Component and need.
    Need(String, String),
    /// Component and fault.
    Fault(String, String),
    /// An order.
    Order(u64),
    /// A hold.
    Hold,
    /// A flood of alerts.
    Flood,
}

/// Something that lasts.
pub(super) struct Span {
    /// Index of the event that begins it.
    pub(super) index: usize,
    pub(super) name: String,
    /// `None`: it says itself when it ends.
    pub(super) key: Option<Key>,
    /// `None`: it had not ended when the log ends.
    pub(super) end_tick: Option<u64>,
    pub(super) attributes: Vec<(&'static str, Value)>,
    /// What happened to it on the way.
    pub(super) moments: Vec<(u64, &'static str)>,
}

impl Span {
    fn of(envelope: &Envelope, name: String, key: Key) -> Span {
        Span {
            // Numbers run from 1 without gaps.
            index: usize::try_from(envelope.seq.saturating_sub(1)).unwrap_or(0),
            name,
            key: Some(key),
            end_tick: None,
            attributes: Vec::new(),
            moments: Vec::new(),
        }
    }

    fn until(self, end_tick: u64) -> Span {
        Span { key: None, end_tick: Some(end_tick), ..self }
    }

    fn with(mut self, attributes: impl IntoIterator<Item = (&'static str, Value)>) -> Span {
        self.attributes.extend(attributes);
        self
    }
}

/// The span that an event begins.
pub(super) fn begun(envelope: &Envelope) -> Option<Span> {
    let span = |name: String, key: Key| Span::of(envelope, name, key);
    Some(match &envelope.event {
        Event::RunOpened(opening) => span(format!("run {}", opening.drill), Key::Run),
        Event::AlertRaised { alert, occurrence, priority, text, reading, measured, limit, .. } => {
            span(format!("alert {alert}"), Key::Alert(*occurrence)).with([
                ("deadship.alert", json!(alert)),
                ("deadship.occurrence", json!(occurrence)),
                ("deadship.priority", json!(priority)),
                ("deadship.text", json!(text)),
                ("deadship.reading", json!(reading)),
                ("deadship.measured", json!(measured)),
                ("deadship.limit", json!(limit)),
            ])
        }
        Event::NeedLost { component, need } => {
            span(format!("need {component} {need}"), Key::Need(component.clone(), need.clone()))
                .with([("deadship.component", json!(component)), ("deadship.need", json!(need))])
        }
        Event::FaultSet { component, fault, severity, ramp_s, .. } => {
            span(format!("fault {component}.{fault}"), Key::Fault(component.clone(), fault.clone())).with([
                ("deadship.component", json!(component)),
                ("deadship.fault", json!(fault)),
                ("deadship.severity", json!(severity)),
                ("deadship.ramp_s", json!(ramp_s)),
            ])
        }
        Event::OrderGiven { number, from, to, text, .. } => {
            span(format!("order {number}"), Key::Order(*number)).with([
                ("deadship.order", json!(number)),
                ("deadship.from", json!(from)),
                ("deadship.to", json!(to.as_deref().unwrap_or("all"))),
                ("deadship.text", json!(text)),
            ])
        }
        Event::Moved { place, arrives_tick } => span(format!("walk {place}"), Key::Run)
            .until(*arrives_tick)
            .with([("deadship.place", json!(place))]),
        Event::ActDone { component, verb, setting, shown, remote, busy_until_tick, .. } => {
            let words = [verb.as_str(), component, setting, shown];
            let words: Vec<&str> = words.into_iter().filter(|word| !word.is_empty()).collect();
            span(format!("act {}", words.join(" ")), Key::Run).until(*busy_until_tick).with([
                ("deadship.component", json!(component)),
                ("deadship.verb", json!(verb)),
                ("deadship.remote", json!(remote)),
            ])
        }
        Event::HoldSet { reason } => {
            span("hold".to_owned(), Key::Hold).with([("deadship.text", json!(reason))])
        }
        Event::FloodBegan { count } => {
            span("flood of alerts".to_owned(), Key::Flood).with([("deadship.count", json!(count))])
        }
        _ => return None,
    })
}

/// The span that an event ends.
pub(super) fn ended(event: &Event) -> Option<Key> {
    Some(match event {
        Event::RunEnded { .. } => Key::Run,
        Event::AlertCleared { occurrence, .. } => Key::Alert(*occurrence),
        Event::NeedMet { component, need, .. } => Key::Need(component.clone(), need.clone()),
        Event::FaultLifted { component, fault, .. } => Key::Fault(component.clone(), fault.clone()),
        Event::OrderReported { number, .. } => Key::Order(*number),
        Event::HoldLifted {} => Key::Hold,
        Event::FloodEnded { .. } => Key::Flood,
        _ => return None,
    })
}

/// What happens to a span on its way.
pub(super) fn moment(event: &Event) -> Option<(Key, &'static str)> {
    Some(match event {
        Event::Acknowledged { occurrence, .. } => (Key::Alert(*occurrence), "acknowledged"),
        Event::FirstOut { occurrence, .. } => (Key::Alert(*occurrence), "first-out"),
        Event::SuppressionBegan { occurrence, .. } => (Key::Alert(*occurrence), "suppression-began"),
        Event::SuppressionEnded { occurrence, .. } => (Key::Alert(*occurrence), "suppression-ended"),
        Event::OrderRepeated { number, .. } => (Key::Order(*number), "read-back"),
        Event::OrderOverdue { number, .. } => (Key::Order(*number), "overdue"),
        _ => return None,
    })
}
