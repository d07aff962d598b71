//! What stays invisible to the probes, and why. A reason stands for one component of one ship, or for a kind's fault under
//! a condition that is looked up in the plant, so that a new component is not excused by its fault's name. A reason whose
//! pair does show is stale, and the test says so.

use deadship_plant::Plant;

/// Ship, component and fault, reason.
const OF_ONE: &[(&str, &str, &str)] = &[
    ("quillmere", "air.receiver.1.filling.leaks-through", "it stands open, or has no air before it"),
    ("quillmere", "air.receiver.2.filling.leaks-through", "it stands open, or has no air before it"),
    ("tamberwick", "dg2.fuel.gravity.blocked", "the feed pumps of its line do not fail together"),
];

/// Is this so for a component?
type Condition = fn(&Plant, usize) -> bool;

/// Kind, fault, condition, reason.
const OF_KIND: &[(&str, &str, Condition, &str)] = &[];

/// Why a pair may stay invisible.
pub fn reason(ship: &str, plant: &Plant, component: usize, fault: usize) -> Option<&'static str> {
    let spec = &plant.compiled.spec.components[component];
    let fault = spec.kind.faults[fault].name;
    let name = format!("{}.{fault}", spec.name);
    let one = OF_ONE.iter().find(|(of, pair, _)| *of == ship && *pair == name).map(|known| known.2);
    let kind = OF_KIND
        .iter()
        .find(|(kind, of, holds, _)| *kind == spec.kind.name && *of == fault && holds(plant, component));
    one.or(kind.map(|known| known.3))
}

/// Reasons that name no pair of their ship.
pub fn of_nobody(ship: &str, pairs: &[&str]) -> Vec<&'static str> {
    let own = OF_ONE.iter().filter(|(of, _, _)| *of == ship).map(|known| known.1);
    own.filter(|pair| !pairs.contains(pair)).collect()
}
