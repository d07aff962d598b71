//! Statements of the Experience API, version 1.0.3 (IEEE 9274.1.1 goes on from it): what people and robots did, and what
//! the team achieved. A statement has the id of its event, so that a record store takes it once however often it is sent.

mod done;

use super::iri::iri;
use super::{instant, json_line, seconds};
use deadship_run::names::Names;
use deadship_run::opening::Opening;
use deadship_run::{Envelope, Event, Who};
use done::{Deed, deed};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// Language of all texts for people.
const LANGUAGE: &str = "en";

/// What is known of the run while its events are gone through.
struct Course<'a> {
    run: String,
    drill: &'a str,
    ship: &'a str,
    names: &'a Names,
    /// Orders given: their events and ticks.
    orders: BTreeMap<u64, &'a Envelope>,
}

/// The statements, one a line.
pub(super) fn statements(log: &[Envelope], names: &Names) -> Vec<String> {
    let Some(Event::RunOpened(opening)) = log.first().map(|first| &first.event) else { return Vec::new() };
    let mut course = Course::new(&log[0], opening, names);
    let mut lines = Vec::new();
    for envelope in log {
        if let Event::OrderGiven { number, .. } = &envelope.event {
            course.orders.insert(*number, envelope);
        }
        if let Some(deed) = deed(&course, envelope) {
            lines.push(json_line(&course.statement(envelope, deed)));
        }
    }
    lines
}

impl<'a> Course<'a> {
    fn new(first: &Envelope, opening: &'a Opening, names: &'a Names) -> Course<'a> {
        let (drill, ship) = (opening.drill.as_str(), opening.ship.as_str());
        Course { run: first.run.to_string(), drill, ship, names, orders: BTreeMap::new() }
    }

    fn statement(&self, envelope: &Envelope, deed: Deed) -> Value {
        let drill = self.drill_activity();
        let mut context = json!({
            "registration": envelope.run,
            "platform": "deadship",
            "language": LANGUAGE,
            "contextActivities": { "grouping": [drill, self.ship_activity()] },
            "extensions": self.extensions(envelope),
        });
        if let Some(order) = deed.order.and_then(|number| self.orders.get(&number)) {
            context["statement"] = json!({ "objectType": "StatementRef", "id": order.event_id });
        }
        let mut statement = json!({
            "id": envelope.event_id,
            "actor": self.actor(envelope, &deed),
            "verb": { "id": deed.verb.iri(), "display": { LANGUAGE: deed.verb.shown() } },
            "object": deed.object.unwrap_or(drill),
            "context": context,
            "version": "1.0.3",
        });
        if !deed.result.is_empty() {
            statement["result"] = Value::Object(deed.result);
        }
        if instant(&envelope.at).is_some() {
            statement["timestamp"] = json!(envelope.at);
        }
        statement
    }

    /// Whoever did it, or the team as a whole. A pseudonym means someone within one run only, so the run is part of the
    /// account's home.
    fn actor(&self, envelope: &Envelope, deed: &Deed) -> Value {
        let account =
            |home: &str, name: &str| json!({ "homePage": iri(&["runs", &self.run, home]), "name": name });
        if deed.of_team {
            return json!({ "objectType": "Group", "account": account("teams", "team") });
        }
        match &envelope.who {
            Who::Person { name, .. } if self.names.are_shown() => json!({
                "objectType": "Agent",
                "name": name,
                "account": { "homePage": iri(&["people"]), "name": name },
            }),
            Who::Person { name, .. } => json!({ "objectType": "Agent", "account": account("people", name) }),
            Who::Robot { station } => json!({ "objectType": "Agent", "account": account("robots", station) }),
            Who::Drill | Who::Plant => {
                json!({ "objectType": "Agent", "account": account("program", "drill") })
            }
        }
    }

    fn extensions(&self, envelope: &Envelope) -> Value {
        let mut extensions = Map::new();
        let mut add = |name: &str, value: Value| extensions.insert(extension(name), value);
        add("seq", json!(envelope.seq));
        add("tick", json!(envelope.tick));
        add("time_s", json!(seconds(envelope.tick)));
        if let Some(cause) = envelope.cause {
            add("cause", json!(cause));
        }
        match &envelope.who {
            Who::Person { role, station, .. } => {
                add("role", json!(role.word()));
                if let Some(station) = station {
                    add("station", json!(station));
                }
            }
            Who::Robot { station } => {
                add("role", json!("robot"));
                add("station", json!(station));
            }
            Who::Drill | Who::Plant => {}
        }
        Value::Object(extensions)
    }

    fn drill_activity(&self) -> Value {
        // ADL's published activity type for an attempt to imitate something real.
        let kind = "http://adlnet.gov/expapi/activities/simulation";
        activity(&["drills", self.drill], kind, self.drill)
    }

    fn ship_activity(&self) -> Value {
        activity(&["ships", self.ship], &kind("ship"), self.ship)
    }

    /// Something that belongs to the ship.
    fn of_ship(&self, folder: &str, what: &str, name: &str) -> Value {
        activity(&["ships", self.ship, folder, name], &kind(what), name)
    }

    /// Something that belongs to the drill.
    fn of_drill(&self, folder: &str, what: &str, name: &str, shown: &str) -> Value {
        activity(&["drills", self.drill, folder, name], &kind(what), shown)
    }

    /// An order of this run.
    fn order(&self, number: u64) -> Value {
        let number = number.to_string();
        let shown = format!("order {number}");
        activity(&["runs", &self.run, "orders", &number], &kind("order"), &shown)
    }
}

/// An activity; names for people are never empty.
fn activity(path: &[&str], kind: &str, shown: &str) -> Value {
    let id = iri(path);
    let shown = if shown.is_empty() { id.as_str() } else { shown };
    json!({
        "objectType": "Activity",
        "id": id,
        "definition": { "type": kind, "name": { LANGUAGE: shown } },
    })
}

/// A type of activity of our own.
fn kind(what: &str) -> String {
    iri(&["activity-types", what])
}

/// The key of an extension of our own.
fn extension(name: &str) -> String {
    iri(&["extensions", name])
}
