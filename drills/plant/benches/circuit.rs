//! How fast one circuit is stepped: the high-temperature water of an engine from cold to rest, the rig whose equations
//! `tests/references/one_circuit.py` gives to SciPy.
//!
//! One measurement is two simulated hours, 144,000 ticks; both must come to the same temperatures, which is checked by
//! `heat/engine-warm-up` and `heat/engine-at-rest` (docs/physics.md). The plant steps more than the equations there: the
//! engine's governor and shaft every 5 ms, pressures, readings, and whatever a person might do in between.
#![allow(missing_docs)]

use criterion::{Criterion, criterion_group, criterion_main};
use deadship_plant::{Plant, TICK_S, file, kinds};

const RIG: &str = include_str!("../../data/rigs/heat-engine-circuit.toml");
const TWO_HOURS_S: f64 = 7200.0;

fn cold() -> Plant {
    let files = [("heat-engine-circuit.toml".to_owned(), RIG.to_owned())];
    let spec = file::read_ship(kinds::REGISTRY, &files).expect("the rig is well formed");
    Plant::new(spec, Some("started cold")).expect("the start state is there")
}

fn circuit(c: &mut Criterion) {
    let before = cold();
    let mut plant = before.clone();
    let mut group = c.benchmark_group("one circuit");
    group.sample_size(10);
    group.bench_function("two hours from cold", |b| {
        b.iter(|| {
            plant.clone_from(&before);
            for _ in 0..(TWO_HOURS_S / TICK_S) as u64 {
                plant.step().expect("the rig can be stepped");
            }
        });
    });
    group.finish();
}

criterion_group!(benches, circuit);
criterion_main!(benches);
