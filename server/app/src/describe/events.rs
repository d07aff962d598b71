//! Every kind of event: what its data holds, from the type itself, and an example as the link sends it. Names and
//! numbers of the examples are invented.

use super::examples::{RUN, line_id};
use crate::convert;
use deadship_protocol::ServerMessage;
use deadship_run::asking::{Grasp, Offered};
use deadship_run::event::{Category, Event, Hidden, Reason};
use deadship_run::opening::{Opening, TextFile};
use deadship_run::{Envelope, Role, Who};
use schemars::SchemaGenerator;
use schemars::generate::SchemaSettings;
use serde_json::{Value, json};
use uuid::Uuid;

/// Kinds that are for replay only: nobody on the link is sent them.
const NOT_TOLD: [&str; 1] = ["digest"];

/// A generator whose schemas are whole in themselves: what they share with messages would bear their names there.
fn generator() -> SchemaGenerator {
    SchemaGenerator::new(SchemaSettings::draft2020_12().with(|settings| {
        settings.inline_subschemas = true;
        settings.meta_schema = None;
    }))
}

/// An event as it is kept in the log.
pub(super) fn logged() -> Value {
    generator().into_root_schema_for::<Envelope>().to_value()
}

/// A line of the log.
pub(super) fn logged_example() -> String {
    let order = of_orders().into_iter().next();
    order.map_or_else(String::new, |(who, event)| envelope(42, who, event).encode())
}

/// What the fields `kind` and `data` of an event can be together: one schema a kind.
pub(super) fn kinds() -> Vec<Value> {
    let schema = generator().into_root_schema_for::<Event>().to_value();
    let kinds = schema["oneOf"].as_array().map(Vec::as_slice).unwrap_or_default();
    let is_told = |kind: &&Value| !NOT_TOLD.iter().any(|name| kind["properties"]["name"]["const"] == *name);
    kinds.iter().filter(is_told).map(kind).collect()
}

fn kind(logged: &Value) -> Value {
    let name = &logged["properties"]["name"]["const"];
    let mut kind = json!({
        "title": name,
        "description": logged["description"],
        "properties": { "kind": { "const": name } },
    });
    let data = match name.as_str() {
        // The texts of ship and drill stay in the log: they tell what the drill has in store.
        Some("run-opened") => json!({
            "type": "object",
            "properties": { "drill": { "type": "string" }, "ship": { "type": "string" } },
            "required": ["drill", "ship"],
        }),
        _ => logged["properties"]["event"].clone(),
    };
    // What has no field is left out.
    if data["properties"].as_object().is_some_and(|fields| !fields.is_empty()) {
        kind["properties"]["data"] = data;
        kind["required"] = json!(["data"]);
    }
    kind
}

/// An example of every kind that somebody is told.
pub(super) fn examples() -> Vec<ServerMessage> {
    let mut events = of_people();
    events.extend(of_instructors());
    events.extend(of_orders());
    events.extend(of_asking());
    events.extend(of_alerts());
    events.extend(of_the_plant());
    events.extend(of_the_drill());
    events.sort_by_key(|(_, event)| event.kind());
    let told = |(seq, (who, event)): (u64, (Who, Event))| convert::event(&envelope(seq, who, event));
    (1..).zip(events).map(told).collect()
}

fn envelope(seq: u64, who: Who, event: Event) -> Envelope {
    Envelope {
        // The constant is an id.
        run: Uuid::try_parse(RUN).unwrap_or_default(),
        seq,
        tick: 4_000 + seq,
        kind: event.kind(),
        version: 1,
        event_id: line_id(61),
        command_id: None,
        cause: None,
        chain: line_id(62),
        who,
        at: "2026-11-27T09:41:00Z".to_owned(),
        event,
    }
}

fn engine() -> Who {
    Who::Person { name: "Ada".to_owned(), role: Role::Trainee, station: Some("engine".to_owned()) }
}

fn boards() -> Who {
    Who::Person { name: "Ben".to_owned(), role: Role::Trainee, station: Some("boards".to_owned()) }
}

fn iris() -> Who {
    Who::person("Iris", Role::Instructor)
}

fn word(text: &str) -> String {
    text.to_owned()
}

fn of_people() -> Vec<(Who, Event)> {
    let (place, component) = (word("floor-plates"), word("dg1.engine"));
    let act = |verb: &str, setting: &str, value, shown: &str| Event::ActDone {
        component: component.clone(),
        verb: word(verb),
        setting: word(setting),
        value,
        shown: word(shown),
        remote: false,
        busy_until_tick: 4_060,
    };
    let reasons = vec![Reason::new("not-here", "dg1.sump.drain is at floor-plates, you are at control-room")];
    let procedure = word("first-light");
    vec![
        (engine(), Event::StationTaken { station: word("engine"), place: Some(word("control-room")) }),
        (boards(), Event::StationLeft { station: word("boards") }),
        (engine(), Event::Moved { place, arrives_tick: 4_800 }),
        (engine(), act("start", "", 0.0, "")),
        (engine(), act("set", "speed", 94.247_779_607_693_8, "900 rpm")),
        (engine(), Event::ActRefused { command: word("close dg1.sump.drain"), reasons }),
        (engine(), Event::Said { to: Some(word("boards")), text: word("DG 1 runs"), step: None, from: None }),
        (engine(), Event::StepTicked { procedure, step: word("fuel-lined-up"), done: true }),
    ]
}

fn of_instructors() -> Vec<(Who, Event)> {
    let opening = Opening::new(TextFile::new("library/first-light.toml", ""), "quillmere", vec![], vec![], 1);
    let (component, fault) = (word("dg1.engine"), word("governor-sticks"));
    let bridge = Some(word("bridge"));
    vec![
        (iris(), Event::RunOpened(Box::new(opening))),
        (iris(), Event::Said { to: None, text: word("how long will it take?"), step: None, from: bridge }),
        (
            iris(),
            Event::FaultSet {
                component: component.clone(),
                fault: fault.clone(),
                severity: 0.5,
                ramp_s: 120.0,
                intermittent: Some(deadship_plant::plant::Intermittent { period_s: 600.0, present_s: 30.0 }),
                step: None,
            },
        ),
        (
            iris(),
            Event::FaultPlanned {
                component: component.clone(),
                fault: fault.clone(),
                severity: 0.5,
                ramp_s: 0.0,
                intermittent: None,
                when: word("[dg1.engine.speed] > 850 rpm"),
            },
        ),
        (iris(), Event::FaultPlanDropped { component: component.clone(), fault: fault.clone() }),
        (Who::Drill, Event::FaultLifted { component, fault, step: Some(word("governor-again")) }),
        (iris(), Event::HoldSet { reason: word("the instructor talks") }),
        (iris(), Event::HoldLifted {}),
        (iris(), Event::SpeedSet { factor: 4.0 }),
        (iris(), noted("they look before they act", None, None, None)),
        (iris(), noted("", Some(Category::Slip), Some(3_800), None)),
        (iris(), noted("the valve was left open", None, None, Some(20))),
        (iris(), rated(false)),
        (iris(), Event::RunEnded { reason: word("Iris ended it") }),
        (Who::Drill, Event::PersonRemoved { pseudonym: word("anonymous-1"), events: 34 }),
    ]
}

fn noted(text: &str, category: Option<Category>, about_tick: Option<u64>, on: Option<u64>) -> Event {
    Event::Noted { text: word(text), by: word("Iris"), category, about_tick, on }
}

fn rated(team_sees: bool) -> Event {
    let (objective, level) = (word("restore-power"), word("secure"));
    Event::Rated {
        objective,
        level,
        text: word("the board was looked at first"),
        by: word("Iris"),
        team_sees,
    }
}

fn of_orders() -> Vec<(Who, Event)> {
    let (engine_room, bridge, switchboard) = (word("engine"), word("bridge"), word("boards"));
    let text = word("start DG 2");
    let given = Event::OrderGiven {
        number: 1,
        from: switchboard.clone(),
        to: Some(engine_room.clone()),
        text: text.clone(),
        due_tick: Some(10_000),
        step: None,
    };
    let (from, to) = (switchboard.clone(), Some(engine_room.clone()));
    let overdue = Event::OrderOverdue { number: 1, from, to, text: text.clone(), given_tick: 4_000 };
    let (from, done) = (engine_room.clone(), word("DG 2 runs"));
    let reported = Event::OrderReported { number: 1, from, to: switchboard, text: done };
    let standing_by = word("the engine room is standing by");
    vec![
        (boards(), given),
        (engine(), Event::OrderRepeated { number: 1, from: engine_room.clone(), text }),
        (engine(), reported),
        (engine(), Event::Reported { from: engine_room, to: bridge, text: standing_by }),
        (Who::Plant, overdue),
    ]
}

fn of_asking() -> Vec<(Who, Event)> {
    let (question, decision) = (word("look-round.1"), word("shed"));
    let text = word("What feeds the emergency switchboard?");
    let offered = |word_of: &str, text: &str| Offered { word: word(word_of), text: word(text) };
    let asked = Event::Asked {
        ask: question.clone(),
        to: Some(word("engine")),
        text: text.clone(),
        choices: vec![offered("a", "the main switchboard"), offered("b", "its own generator")],
        grasp: Some(Grasp::Now),
        holds: true,
        due_tick: None,
        step: word("look-round"),
    };
    let (choice, answer) = (word("b"), word("its own generator"));
    let answered = Event::Answered { ask: question.clone(), choice, text: answer, decides: false };
    let known = Event::AnswerKnown { ask: question, text, right: vec![word("b")] };
    let undecided = Event::Undecided { ask: decision, text: word("Shed the hotel load, or wait?") };
    vec![(Who::Drill, asked), (engine(), answered), (Who::Drill, known), (Who::Drill, undecided)]
}

fn of_alerts() -> Vec<(Who, Event)> {
    let (alert, text, occurrence) = (word("dg1.sump.low"), word("DG 1 lube oil sump level low"), 3);
    let raised = |hidden| Event::AlertRaised {
        alert: alert.clone(),
        occurrence,
        priority: deadship_plant::spec::Priority::Warning,
        text: text.clone(),
        reading: word("dg1.sump.level"),
        measured: 0.39,
        limit: 0.4,
        shown: word("39 % below 40 %"),
        since_tick: 3_900,
        hidden,
    };
    let ended = Event::SuppressionEnded {
        alert: alert.clone(),
        occurrence,
        priority: deadship_plant::spec::Priority::Warning,
        text: text.clone(),
        raised: true,
    };
    let cleared =
        Event::AlertCleared { alert: alert.clone(), occurrence, measured: 0.41, limit: 0.4, hidden: None };
    let came_back =
        Event::ShelvingEnded { alert: alert.clone(), occurrence, raised: true, text: text.clone() };
    let group = word("dg1.trips");
    vec![
        (engine(), Event::Acknowledged { alert: alert.clone(), occurrence }),
        (engine(), Event::Silenced {}),
        (engine(), Event::Shelved { alert: alert.clone(), until_tick: Some(40_000) }),
        (engine(), Event::Unshelved { alert: alert.clone() }),
        (Who::Plant, raised(None)),
        (Who::Plant, raised(Some(Hidden::Shelved))),
        (Who::Plant, raised(Some(Hidden::Suppressed))),
        (Who::Plant, cleared),
        (Who::Plant, Event::SuppressionBegan { alert: alert.clone(), occurrence }),
        (Who::Plant, ended),
        (Who::Plant, came_back),
        (Who::Plant, Event::FirstOut { alert, occurrence, group, text }),
        (Who::Plant, Event::FloodBegan { count: 11 }),
        (Who::Plant, Event::FloodEnded { began_tick: 4_000 }),
    ]
}

fn of_the_plant() -> Vec<(Who, Event)> {
    let (component, need) = (word("dg1.priming"), word("supply"));
    let found = Event::Found {
        component: word("dg1.engine"),
        code: word("overspeed"),
        text: word("trips on overspeed: 1036 rpm, limit 1035 rpm"),
        measured: 108.5,
        limit: 108.4,
        since_tick: 4_000,
    };
    let failed =
        Event::StepFailed { net: word("liquid"), node: word("sea.header"), what: word("does not converge") };
    vec![
        (Who::Plant, Event::NeedLost { component: component.clone(), need: need.clone() }),
        (Who::Plant, Event::NeedMet { component, need, since_tick: 4_000 }),
        (Who::Plant, found),
        (Who::Plant, failed),
    ]
}

fn of_the_drill() -> Vec<(Who, Event)> {
    let (name, text) = (word("sea-water-first"), word("Sea water runs before the engine is started"));
    let (met, missed) = ((name.clone(), text.clone()), (name, text));
    vec![
        (Who::Plant, Event::AimReached { since_tick: 4_000 }),
        (Who::Plant, Event::ExpectationMet { name: met.0, text: met.1, from_tick: 0 }),
        (Who::Plant, Event::ExpectationMissed { name: missed.0, text: missed.1, from_tick: 0 }),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::convert::Audience;
    use deadship_run::event::KINDS;
    use std::collections::BTreeSet;

    #[test]
    fn every_kind_that_is_told_is_described_with_an_example() {
        let of_schema = |kind: Value| kind["title"].as_str().unwrap().to_owned();
        let described: BTreeSet<String> = kinds().into_iter().map(of_schema).collect();
        let of_example = |message: ServerMessage| match message {
            ServerMessage::Event(event) => event.kind,
            other => panic!("{other:?}"),
        };
        let shown: BTreeSet<String> = examples().into_iter().map(of_example).collect();
        let all = KINDS.iter().map(|kind| kind.1.to_owned());
        let told: BTreeSet<String> = all.filter(|name| !NOT_TOLD.contains(&name.as_str())).collect();
        assert_eq!(described, told);
        assert_eq!(shown, told);
        let digest = envelope(1, Who::Plant, Event::Digest { digest: String::new() });
        assert_eq!(convert::audience(&digest, |_| true), Audience::Nobody);
    }

    #[test]
    fn what_is_in_store_and_what_is_noted_is_for_those_who_run_the_class() {
        let secret = ["fault-set", "fault-lifted", "fault-planned", "fault-plan-dropped", "noted", "rated"];
        let (mut seen, all) = (BTreeSet::new(), of_instructors());
        for (who, event) in all.into_iter().filter(|(_, event)| secret.contains(&event.name())) {
            let envelope = envelope(1, who, event);
            assert_eq!(convert::audience(&envelope, |_| true), Audience::Staff, "{:?}", envelope.event);
            seen.insert(envelope.event.name());
        }
        assert_eq!(seen, BTreeSet::from(secret));
        let shown = envelope(1, iris(), rated(true));
        assert_eq!(convert::audience(&shown, |_| true), Audience::All);
        let step = "strip".to_owned();
        let ticked = Event::StepTicked { procedure: "pump-forgotten".to_owned(), step, done: true };
        let ticked = envelope(1, engine(), ticked);
        assert_eq!(convert::audience(&ticked, |_| true), Audience::All);
        assert_eq!(convert::audience(&ticked, |_| false), Audience::Staff);
    }
}
