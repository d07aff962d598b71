//! How fast a plant is stepped: the default ship dead, at sea with two sets in parallel and all services, and at the
//! start of a set; the other ship at sea.
//!
//! Each measurement is one simulated second (20 ticks); simulated seconds per second are one over the time shown. The
//! ship is worked by the same hands as in the tests: what is not permitted stops the benchmark.
#![allow(missing_docs)]

#[allow(dead_code)]
#[path = "../tests/ship/hands.rs"]
mod hands;

use criterion::{Criterion, criterion_group, criterion_main};
use hands::Hands;

const SETS: &[&str] = &["dg1", "dg2"];

/// A ship found in this state, ten minutes on.
fn steady(ship: &str, state: &str) -> Hands {
    let mut ship = Hands::on_ship(ship, state, "");
    ship.run(600.0);
    ship
}

fn step(c: &mut Criterion) {
    let mut group = c.benchmark_group("a simulated second");
    let mut one = |name: &str, mut ship: Hands| {
        group.bench_function(name, |b| b.iter(|| ship.run(1.0)));
    };
    one("dead ship", Hands::on("dead ship"));
    one("at sea, two sets in parallel, all services", steady("quillmere", "at sea, two sets"));
    one("the second ship at sea", steady("tamberwick", "at sea"));
    let mut starting = Hands::lined_up(SETS);
    let before_start = starting.plant.clone();
    group.bench_function("start of a set (from the order to ten seconds on)", |b| {
        b.iter(|| {
            starting.plant.clone_from(&before_start);
            starting.act("start dg1.controls");
            starting.run(10.0);
        });
    });
    group.finish();
}

criterion_group!(benches, step);
criterion_main!(benches);
