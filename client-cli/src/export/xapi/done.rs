//! What of an event is a statement: verb, object, result.

use super::{Course, extension};
use crate::export::iri::iri;
use crate::export::seconds;
use deadship_run::{Envelope, Event};
use serde_json::{Map, Value, json};

/// What was done.
pub(super) struct Deed {
    pub(super) verb: Verb,
    /// `None`: the drill.
    pub(super) object: Option<Value>,
    pub(super) result: Map<String, Value>,
    /// Done by the team as a whole.
    pub(super) of_team: bool,
    /// The order that it answers.
    pub(super) order: Option<u64>,
}

/// A verb: one that ADL has published, where its meaning fits, or one of our own.
pub(super) enum Verb {
    /// Of <http://adlnet.gov/expapi/verbs>.
    Adl(&'static str),
    /// Ours.
    Own(&'static str),
}

impl Verb {
    pub(super) fn iri(&self) -> String {
        match self {
            Verb::Adl(word) => format!("http://adlnet.gov/expapi/verbs/{word}"),
            Verb::Own(word) => iri(&["verbs", word]),
        }
    }

    /// The word for people.
    pub(super) fn shown(&self) -> String {
        match self {
            Verb::Adl(word) | Verb::Own(word) => word.replace('-', " "),
        }
    }
}

impl Deed {
    fn new(verb: Verb, object: Option<Value>) -> Deed {
        Deed { verb, object, result: Map::new(), of_team: false, order: None }
    }

    /// With what was said; an empty text is none.
    fn saying(mut self, text: &str) -> Deed {
        if !text.is_empty() {
            self.result.insert("response".to_owned(), json!(text));
        }
        self
    }

    /// With a field of the result.
    fn with(mut self, field: &str, value: Value) -> Deed {
        self.result.insert(field.to_owned(), value);
        self
    }

    /// With extensions of the result.
    fn extended(self, values: &[(&str, Value)]) -> Deed {
        let extensions: Map<String, Value> =
            values.iter().map(|(name, value)| (extension(name), value.clone())).collect();
        self.with("extensions", Value::Object(extensions))
    }

    /// Of the team as a whole.
    fn of_team(mut self) -> Deed {
        self.of_team = true;
        self
    }

    /// An answer to an order.
    fn answering(mut self, number: u64) -> Deed {
        self.order = Some(number);
        self
    }
}

/// The statement that an event makes; `None`: nobody did it, or it is of no interest to a record of learning.
pub(super) fn deed(course: &Course, envelope: &Envelope) -> Option<Deed> {
    of_run(course, envelope)
        .or_else(|| of_hands(course, envelope))
        .or_else(|| of_talk(course, envelope))
        .or_else(|| of_instructor(course, envelope))
}

/// Begin, end, and what was expected on the way.
fn of_run(course: &Course, envelope: &Envelope) -> Option<Deed> {
    let lasted = |from_tick: u64| json!(duration(envelope.tick.saturating_sub(from_tick)));
    let expected = |name: &str, text: &str| Some(course.of_drill("expectations", "expectation", name, text));
    Some(match &envelope.event {
        Event::RunOpened(_) => Deed::new(Verb::Adl("initialized"), None),
        Event::RunEnded { reason } => {
            Deed::new(Verb::Adl("terminated"), None).saying(reason).with("duration", lasted(0))
        }
        Event::AimReached { .. } => Deed::new(Verb::Adl("completed"), None)
            .with("completion", json!(true))
            .with("success", json!(true))
            .with("duration", lasted(0))
            .of_team(),
        Event::ExpectationMet { name, text, from_tick } => {
            Deed::new(Verb::Adl("passed"), expected(name, text))
                .with("success", json!(true))
                .with("duration", lasted(*from_tick))
                .of_team()
        }
        Event::ExpectationMissed { name, text, from_tick } => {
            Deed::new(Verb::Adl("failed"), expected(name, text))
                .with("success", json!(false))
                .with("duration", lasted(*from_tick))
                .of_team()
        }
        _ => return None,
    })
}

/// What the team did with its hands and feet.
fn of_hands(course: &Course, envelope: &Envelope) -> Option<Deed> {
    let station = |name: &str| Some(course.of_drill("stations", "station", name, name));
    let alert = |name: &str| Some(course.of_ship("alerts", "alert", name));
    Some(match &envelope.event {
        Event::StationTaken { station: name, .. } => Deed::new(Verb::Own("took"), station(name)),
        Event::StationLeft { station: name } => Deed::new(Verb::Own("left"), station(name)),
        Event::Moved { place, arrives_tick } => {
            let takes = duration(arrives_tick.saturating_sub(envelope.tick));
            let place = course.of_ship("places", "place", place);
            Deed::new(Verb::Own("went-to"), Some(place)).with("duration", json!(takes))
        }
        Event::ActDone { component, verb, setting, value, shown, remote, busy_until_tick } => {
            let mut told = vec![("verb", json!(verb)), ("remote", json!(remote))];
            if !setting.is_empty() {
                told.extend([("setting", json!(setting)), ("value", json!(value))]);
            }
            let component = course.of_ship("components", "component", component);
            Deed::new(Verb::Adl("interacted"), Some(component))
                .saying([verb, setting.as_str(), shown.as_str()].join(" ").trim())
                .with("success", json!(true))
                .with("duration", json!(duration(busy_until_tick.saturating_sub(envelope.tick))))
                .extended(&told)
        }
        Event::ActRefused { command, reasons } => Deed::new(Verb::Adl("attempted"), None)
            .saying(command)
            .with("success", json!(false))
            .extended(&[("reasons", json!(reasons))]),
        Event::Acknowledged { alert: name, occurrence } => {
            Deed::new(Verb::Own("acknowledged"), alert(name)).extended(&[("occurrence", json!(occurrence))])
        }
        Event::Shelved { alert: name, .. } => Deed::new(Verb::Own("shelved"), alert(name)),
        Event::Unshelved { alert: name } => Deed::new(Verb::Own("unshelved"), alert(name)),
        Event::Silenced {} => Deed::new(Verb::Own("silenced"), None),
        Event::StepTicked { procedure, step, done } => {
            let name = format!("{procedure}: {step}");
            Deed::new(Verb::Own("ticked-off"), Some(course.of_drill("steps", "step", &name, &name)))
                .with("success", json!(done))
        }
        _ => return None,
    })
}

/// Words, orders, reports.
fn of_talk(course: &Course, envelope: &Envelope) -> Option<Deed> {
    let station = |name: &str| course.of_drill("stations", "station", name, name);
    Some(match &envelope.event {
        Event::Said { to, text, .. } => {
            Deed::new(Verb::Adl("commented"), to.as_deref().map(station)).saying(text)
        }
        Event::OrderGiven { number, from, to, text, due_tick, .. } => {
            let mut told = vec![("from", json!(from)), ("to", json!(to.as_deref().unwrap_or("all")))];
            told.extend(due_tick.map(|due| ("due_s", json!(seconds(due)))));
            Deed::new(Verb::Own("ordered"), Some(course.order(*number))).saying(text).extended(&told)
        }
        Event::OrderRepeated { number, from, text } => {
            Deed::new(Verb::Own("read-back"), Some(course.order(*number)))
                .saying(text)
                .extended(&[("from", json!(from))])
                .answering(*number)
        }
        Event::OrderReported { number, from, to, text } => {
            let deed = Deed::new(Verb::Own("reported"), Some(course.order(*number)))
                .saying(text)
                .with("completion", json!(true))
                .extended(&[("from", json!(from)), ("to", json!(to))])
                .answering(*number);
            match course.orders.get(number) {
                None => deed,
                Some(order) => in_time(deed, order, envelope.tick),
            }
        }
        Event::Answered { ask, choice, text, decides } => {
            let question = course.of_drill("questions", "question", ask, ask);
            Deed::new(Verb::Adl("answered"), Some(question))
                .saying(text)
                .extended(&[("choice", json!(choice)), ("decides", json!(decides))])
        }
        Event::Reported { from, to, text } => Deed::new(Verb::Own("reported"), Some(station(to)))
            .saying(text)
            .extended(&[("from", json!(from))]),
        Event::Noted { text, category, about_tick, .. } => {
            let mut told = Vec::new();
            told.extend(category.map(|category| ("category", json!(category))));
            told.extend(about_tick.map(|tick| ("about_s", json!(seconds(tick)))));
            let deed = Deed::new(Verb::Own("noted"), None).saying(text);
            if told.is_empty() { deed } else { deed.extended(&told) }
        }
        Event::Rated { objective, level, text, .. } => {
            let objective = course.of_drill("objectives", "objective", objective, objective);
            Deed::new(Verb::Own("rated"), Some(objective)).saying(text).extended(&[("level", json!(level))])
        }
        _ => return None,
    })
}

/// An order that was wanted in a time was carried out well if it was reported in it.
fn in_time(deed: Deed, order: &Envelope, tick: u64) -> Deed {
    let deed = deed.with("duration", json!(duration(tick.saturating_sub(order.tick))));
    match &order.event {
        Event::OrderGiven { due_tick: Some(due), .. } => deed.with("success", json!(tick <= *due)),
        _ => deed,
    }
}

/// What only the instructor, or the drill in the instructor's place, does.
fn of_instructor(course: &Course, envelope: &Envelope) -> Option<Deed> {
    let fault = |component: &str, fault: &str| {
        Some(course.of_ship("faults", "fault", &format!("{component}.{fault}")))
    };
    Some(match &envelope.event {
        Event::FaultSet { component, fault: name, severity, .. } => {
            Deed::new(Verb::Own("set"), fault(component, name)).extended(&[("severity", json!(severity))])
        }
        Event::FaultLifted { component, fault: name, .. } => {
            Deed::new(Verb::Own("lifted"), fault(component, name))
        }
        Event::HoldSet { reason } => Deed::new(Verb::Adl("suspended"), None).saying(reason),
        Event::HoldLifted {} => Deed::new(Verb::Adl("resumed"), None),
        _ => return None,
    })
}

/// Ticks as a duration of ISO 8601.
fn duration(ticks: u64) -> String {
    format!("PT{}S", seconds(ticks))
}
