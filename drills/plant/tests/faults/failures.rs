//! What fails beside a fault, so that what is there for that failure is seen to fail: another fault of the same
//! component, the partner of a pair, what stands on the same line or shaft.

use crate::people::Probe;
use deadship_plant::Plant;

/// How long is looked when a neighbour fails, s; and when something else of the same component does.
const NEAR_S: f64 = 20.0;
const OWN_S: f64 = 60.0;

/// Every other fault of this component, then every fault of its neighbours, one at a time. Untrue sensors are no failures
/// of the plant, low insulation calls for nothing, and what is the same part cannot fail two ways at once.
pub fn failures(plant: &Plant, (component, fault): (usize, usize), near: &[usize]) -> Vec<Probe> {
    let components = &plant.compiled.spec.components;
    let of = |other: usize, seconds: f64| {
        let spec = &components[other];
        spec.kind.faults.iter().enumerate().filter_map(move |(index, def)| {
            let calls = def.applies(&spec.params) && !def.deceives && def.name != "insulation-low";
            let key = format!("{}.{} beside", spec.kind.name, def.name);
            let name = format!("{}.{} beside", spec.name, def.name);
            calls.then(|| Probe { beside: vec![(other, index)], ..Probe::look(name, &key, seconds) })
        })
    };
    let faults = components[component].kind.faults;
    let part = |index: usize| faults[index].name.split('-').next();
    let own = of(component, OWN_S).filter(|probe| part(probe.beside[0].1) != part(fault));
    own.chain(near.iter().flat_map(|&other| of(other, NEAR_S))).collect()
}
