//! How fast a plant is stepped: the default ship dead, being brought back, and with two sets in service.
//!
//! Each measurement is one simulated second (20 ticks); simulated seconds per second are one over the time shown.
#![allow(missing_docs)]

use criterion::{Criterion, criterion_group, criterion_main};
use deadship_plant::kind::{Act, ParamType, Verb};
use deadship_plant::{Plant, file, kinds};
use std::path::Path;

const TICKS_A_SECOND: usize = 20;

fn default_ship() -> Plant {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../data/ships/quillmere");
    let mut files: Vec<(String, String)> = std::fs::read_dir(folder)
        .expect("the ship's folder")
        .map(|entry| entry.expect("an entry").path())
        .map(|path| (path.display().to_string(), std::fs::read_to_string(&path).expect("a text file")))
        .collect();
    files.sort();
    let spec = file::read_ship(kinds::REGISTRY, &files).expect("the default ship has no errors");
    Plant::new(spec, Some("dead ship")).expect("the default ship has this state")
}

/// Does one act by its words, as if nothing could be in the way.
fn force(plant: &mut Plant, words: &str) {
    let mut parts = words.split(' ');
    let verb = parts.next().expect("a verb");
    let component = plant.compiled.component(parts.next().expect("a component")).expect("a known component");
    let acts = plant.compiled.spec.components[component].kind.acts;
    let setting = if verb == "set" { parts.next().expect("a setting") } else { "" };
    let index = acts.iter().position(|a| a.verb.word() == verb && a.setting == setting).expect("a known act");
    let value = match (&acts[index].takes, acts[index].verb) {
        (Some(ParamType::Choice(known)), Verb::Set) => {
            let word = parts.collect::<Vec<_>>().join(" ");
            known.iter().position(|k| *k == word).expect("a known word") as f64
        }
        _ => 0.0,
    };
    plant.act(component, Act { index, value, remote: true });
}

fn run(plant: &mut Plant, seconds: usize) {
    for _ in 0..seconds * TICKS_A_SECOND {
        plant.step().expect("no failure");
    }
}

fn line_up(plant: &mut Plant, set: &str) {
    for act in [
        "open {}.sea.inlet",
        "open {}.sea.outlet",
        "open {}.ht.valve",
        "open {}.lt.valve",
        "open {}.fuel.valve",
    ] {
        force(plant, &act.replace("{}", set));
    }
    for act in ["open {}.fuel.standby", "open {}.air.valve", "start {}.priming", "reset {}.controls"] {
        force(plant, &act.replace("{}", set));
    }
    force(plant, &format!("set {set}.controls turning-gear out"));
}

fn lined_up() -> Plant {
    let mut plant = default_ship();
    for act in [
        "close air.receiver.emergency.drain",
        "open air.receiver.emergency.valve",
        "start air.compressor.emergency",
        "open sea.chest.low.valve",
        "open sea.overboard.valve",
        "close sea.me.valve",
        "start sea.pump.harbour",
        "reset fuel.diesel.quick-closing",
        "open fuel.diesel.quick-closing",
        "set fuel.changeover position diesel",
        "start fuel.pump.standby",
    ] {
        force(&mut plant, act);
    }
    line_up(&mut plant, "dg1");
    line_up(&mut plant, "dg2");
    run(&mut plant, 600);
    plant
}

fn in_service() -> Plant {
    let mut plant = lined_up();
    for set in ["dg1", "dg2"] {
        force(&mut plant, &format!("start {set}.controls"));
        run(&mut plant, 30);
        force(&mut plant, &format!("set {set}.generator excitation on"));
        run(&mut plant, 10);
        if set == "dg1" {
            force(&mut plant, "close dg1.breaker");
        }
    }
    for act in
        ["close panel.1.breaker", "close panel.2.breaker", "close board.1.breaker", "close board.2.breaker"]
    {
        force(&mut plant, act);
    }
    for act in
        ["start sea.pump.1", "close transformer.1", "start fan.engine-room.1", "start fan.engine-room.2"]
    {
        force(&mut plant, act);
    }
    run(&mut plant, 60);
    plant
}

fn step(c: &mut Criterion) {
    let mut group = c.benchmark_group("a simulated second");
    let mut one = |name: &str, plant: Plant| {
        let mut plant = plant;
        group.bench_function(name, |b| b.iter(|| run(&mut plant, 1)));
    };
    one("dead ship", default_ship());
    one("two sets running, one on the board", in_service());
    let before_start = lined_up();
    let mut starting = before_start.clone();
    group.bench_function("start of a set (from the order to ten seconds on)", |b| {
        b.iter(|| {
            starting.clone_from(&before_start);
            force(&mut starting, "start dg1.controls");
            run(&mut starting, 10);
        });
    });
    group.finish();
}

criterion_group!(benches, step);
criterion_main!(benches);
