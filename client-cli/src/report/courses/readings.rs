//! Which readings are worth a look, and what is known of them.

use deadship_plant::kind::{Medium, Net, Seen};
use deadship_plant::spec::ComponentSpec;
use deadship_plant::unit::Dimension;
use deadship_run::debrief::Debrief;
use deadship_run::drill::AIM;
use deadship_run::{Envelope, Event, Run};
use std::collections::BTreeSet;

/// A reading that is looked at.
pub(super) struct Reading {
    pub(super) flat: usize,
    pub(super) name: String,
    pub(super) dimension: Dimension,
    pub(super) medium: &'static str,
    /// Does it belong to a source of power?
    pub(super) of_source: bool,
}

/// Something expected that was decided.
pub(super) struct Decision {
    pub(super) tick: u64,
    pub(super) name: String,
    /// Component and reading of what its condition names.
    pub(super) readings: Vec<(usize, usize)>,
}

/// Every reading that is a number and can be seen somewhere aboard.
pub(super) fn numbers(run: &Run) -> Vec<Reading> {
    let compiled = &run.setup.compiled;
    let mut found = Vec::new();
    for (owner, first) in compiled.spec.components.iter().zip(&compiled.reading_starts) {
        for (at, def) in owner.kind.readings.iter().enumerate() {
            if def.words.is_empty() && def.dimension != Dimension::None && def.seen != Seen::Hidden {
                found.push(Reading {
                    flat: first + at,
                    name: format!("{}.{}", owner.name, def.name),
                    dimension: def.dimension,
                    medium: medium(run, owner),
                    of_source: owner.kind.name == "generator",
                });
            }
        }
    }
    found
}

/// What flows through a component, if it is one thing.
fn medium(run: &Run, owner: &ComponentSpec) -> &'static str {
    let nodes = owner.ports.iter().flatten().map(|node| &run.setup.compiled.spec.nodes[*node]);
    let flows: BTreeSet<&'static str> = nodes
        .filter_map(|node| match (node.net, node.medium) {
            (Net::Liquid, Some(Medium::SeaWater)) => Some("sea-water"),
            (Net::Liquid, Some(Medium::Fuel)) => Some("fuel"),
            (Net::Liquid, Some(Medium::LubeOil)) => Some("lube-oil"),
            (Net::Liquid, _) => Some("fresh-water"),
            (Net::Air, _) => Some("air"),
            _ => None,
        })
        .collect();
    match flows.first() {
        Some(only) if flows.len() == 1 => only,
        _ => "",
    }
}

/// Flat indices of the readings that a condition of the drill names.
pub(super) fn conditions<'r>(run: &'r Run, name: &str) -> Box<dyn Iterator<Item = usize> + 'r> {
    let drill = &run.setup.drill;
    if name == AIM {
        return Box::new(drill.aim.iter().flat_map(|aim| aim.condition.readings()));
    }
    match drill.expects.iter().find(|expect| expect.name == name) {
        Some(expect) => Box::new(expect.when.readings()),
        None => Box::new(std::iter::empty()),
    }
}

/// Which readings decided, and when they are to be looked at.
pub(super) fn decisions(run: &Run, debrief: &Debrief) -> Vec<Decision> {
    let starts = &run.setup.compiled.reading_starts;
    let aim = debrief.aim.iter().map(|aim| (AIM, aim));
    let marks = debrief.marks.iter().map(|mark| (mark.name.as_str(), mark)).chain(aim);
    marks
        .filter_map(|(name, mark)| {
            let places = conditions(run, name).map(|flat| {
                let component = starts.partition_point(|start| *start <= flat) - 1;
                (component, flat - starts[component])
            });
            Some(Decision { tick: mark.tick?, name: name.to_owned(), readings: places.collect() })
        })
        .collect()
}

/// Readings that every run is looked at by: what the sources of power give.
pub(super) fn sources(readings: &[Reading]) -> impl Iterator<Item = usize> + '_ {
    let tells = |dimension| matches!(dimension, Dimension::Power | Dimension::Frequency | Dimension::Voltage);
    let of_source =
        readings.iter().enumerate().filter(move |(_, reading)| reading.of_source && tells(reading.dimension));
    of_source.map(|(at, _)| at)
}

/// Readings of what people worked, in the order in which they did.
pub(super) fn worked(log: &[Envelope], readings: &[Reading]) -> Vec<usize> {
    let mut owners: Vec<&str> = Vec::new();
    for envelope in log {
        if let Event::ActDone { component, .. } = &envelope.event
            && !owners.contains(&component.as_str())
        {
            owners.push(component);
        }
    }
    let of = |owner: &str| {
        let own = readings.iter().enumerate().filter(|(_, reading)| owner_of(&reading.name) == Some(owner));
        own.map(|(at, _)| at).collect::<Vec<_>>()
    };
    owners.into_iter().flat_map(of).collect()
}

/// The component of a reading.
pub(super) fn owner_of(reading: &str) -> Option<&str> {
    reading.rsplit_once('.').map(|(owner, _)| owner)
}
