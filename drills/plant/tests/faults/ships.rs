//! Ships in named states, read once and warmed up once, then cloned.

use deadship_plant::{Plant, TICK_S, file, kinds};
use std::path::Path;

/// A ship of `drills/data/ships`, in one of her states, after a minute of settling.
pub fn warmed_up(ship: &str, state: &str) -> Plant {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../data/ships").join(ship);
    let mut files: Vec<(String, String)> = std::fs::read_dir(folder)
        .expect("the ship's folder")
        .map(|entry| entry.expect("an entry").path())
        .map(|path| (path.display().to_string(), std::fs::read_to_string(&path).expect("a text")))
        .collect();
    files.sort();
    let spec = file::read_ship(kinds::REGISTRY, &files).unwrap_or_else(|problems| panic!("{problems:?}"));
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
