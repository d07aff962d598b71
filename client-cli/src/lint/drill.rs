//! Rules about what a drill must bring with it.

use super::Subject;
use super::places::Place;
use deadship_plant::file::toml_reader::Problems;
use deadship_plant::kind::Net;
use deadship_plant::spec::ShipSpec;
use deadship_run::Command;
use deadship_run::procedure::Step;
use deadship_run::words::Line;
use std::collections::{BTreeMap, BTreeSet};

/// Below so many volts of alternating current nobody is hurt in the dry (extra-low voltage, IEC 61140, from memory).
const LIVE_V: f64 = 50.0;

pub(super) fn no_error_procedure(subject: &Subject) -> Vec<(Place, String)> {
    let has = subject.setup.procedures.iter().any(|procedure| procedure.error.is_some());
    head(subject, !has, "no procedure of this drill shows an error")
}

pub(super) fn no_questions(subject: &Subject) -> Vec<(Place, String)> {
    head(
        subject,
        subject.setup.drill.about.questions.is_empty(),
        "it has no questions for the talk afterwards",
    )
}

pub(super) fn no_sources(subject: &Subject) -> Vec<(Place, String)> {
    head(subject, subject.setup.drill.about.sources.is_empty(), "it does not say what it is drawn from")
}

fn head(subject: &Subject, found: bool, message: &str) -> Vec<(Place, String)> {
    if !found {
        return Vec::new();
    }
    vec![(subject.place("drill", "", "title"), message.to_owned())]
}

pub(super) fn no_safety_words(subject: &Subject) -> Vec<(Place, String)> {
    let setup = &subject.setup;
    if !setup.drill.safety.trim().is_empty() {
        return Vec::new();
    }
    let mut dangers: BTreeMap<&str, String> = BTreeMap::new();
    for step in setup.procedures.iter().flat_map(|procedure| &procedure.steps) {
        for component in worked(step) {
            if let Some(danger) = danger(&setup.compiled.spec, component) {
                let text = format!("`{}` works on {danger} (`{component}`)", step.station);
                dangers.entry(danger).or_insert(text);
            }
        }
    }
    if dangers.is_empty() {
        return Vec::new();
    }
    let texts: Vec<String> = dangers.into_values().collect();
    let message = format!("no safety words of its own, though {}", texts.join(", and "));
    vec![(subject.place("drill", "", "safety"), message)]
}

fn worked(step: &Step) -> impl Iterator<Item = &str> {
    step.acts.iter().filter_map(|(_, line)| match line {
        Line::Command(Command::Act { component, .. }) => Some(component.as_str()),
        _ => None,
    })
}

/// What can hurt people who work a component.
fn danger(spec: &ShipSpec, component: &str) -> Option<&'static str> {
    let owner = spec.components.iter().find(|owner| owner.name == component)?;
    let nodes = |net: Net| {
        let ports = owner.kind.ports.iter().zip(&owner.ports).filter(move |(port, _)| port.net == net);
        ports.filter_map(|(_, node)| *node)
    };
    if nodes(Net::Air).next().is_some() {
        return Some("stored air");
    }
    let switches = !owner.kind.ac_branches.is_empty() || !owner.kind.joints.sources.is_empty();
    let live = nodes(Net::Ac).any(|node| spec.nodes[node].voltage_v >= LIVE_V);
    (switches && live).then_some("live boards")
}

pub(super) fn unused_start_state(subject: &Subject) -> Vec<(Place, String)> {
    let states = states(subject);
    let mut used: BTreeSet<&str> = BTreeSet::new();
    let mut next = subject.setup.drill.start.as_deref();
    while let Some(name) = next.filter(|name| used.insert(name)) {
        let own = states.iter().find(|(known, _)| known == name);
        next = own.and_then(|(_, based_on)| based_on.as_deref());
    }
    let unused = states.iter().filter(|(name, _)| !used.contains(name.as_str()));
    let told = unused.map(|(name, _)| {
        (subject.place("state", name, "name"), format!("the drill does not use its start state `{name}`"))
    });
    told.collect()
}

/// Name of each start state in the drill's file, and of the one that it is based on.
fn states(subject: &Subject) -> Vec<(String, Option<String>)> {
    let file = (subject.drill_file.name.clone(), subject.drill_file.text.clone());
    let problems = Problems::new(&[file]);
    let documents = problems.parse();
    let Some(root) = documents.first().and_then(|document| Some(document.as_ref()?.root(&problems))) else {
        return Vec::new();
    };
    let tables = root.tables("state", "a start state");
    let text =
        |key, table: &deadship_plant::file::toml_reader::Reader<'_>| Some(table.get(key)?.text()?.value);
    tables.iter().map(|table| (text("name", table).unwrap_or_default(), text("based-on", table))).collect()
}
