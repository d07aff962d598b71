//! Ships in named states, read once and warmed up once, then cloned.

#[path = "../common/ship_files.rs"]
mod ship_files;

use deadship_plant::{Plant, TICK_S};

/// A ship of `drills/data/ships`, in one of her states, after a minute of settling.
pub fn warmed_up(ship: &str, state: &str) -> Plant {
    let spec = ship_files::read(&ship_files::files(ship));
    let mut plant = Plant::new(spec, Some(state)).expect("a known state");
    run(&mut plant, 60.0);
    plant
}

/// Steps so long.
pub fn run(plant: &mut Plant, seconds: f64) {
    for _ in 0..(seconds / TICK_S) as u64 {
        plant.step().expect("no failure");
    }
}

/// Component and fault by `component.fault`.
pub fn fault(plant: &Plant, name: &str) -> (usize, usize) {
    let (component, fault) = name.rsplit_once('.').expect("component.fault");
    let component = plant.compiled.component(component).unwrap_or_else(|| panic!("no {component}"));
    let kind = plant.compiled.spec.components[component].kind;
    let index = kind.faults.iter().position(|known| known.name == fault);
    (component, index.unwrap_or_else(|| panic!("no fault {name}")))
}

/// A reading, SI.
pub fn value(plant: &Plant, name: &str) -> f64 {
    let (component, reading) = plant.compiled.reading(name).unwrap_or_else(|| panic!("no reading {name}"));
    plant.reading(component, reading)
}
