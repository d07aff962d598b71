//! How fast a plant is stepped: the default ship dead, being brought back, and with two sets in service.
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

fn in_service() -> Hands {
    let mut ship = Hands::lined_up(SETS);
    for set in SETS {
        ship.act(&format!("start {set}.controls"));
        ship.run(30.0);
        ship.act(&format!("set {set}.generator excitation on"));
        ship.run(10.0);
        if *set == "dg1" {
            ship.act("close dg1.breaker");
        }
    }
    for act in [
        "close panel.1.breaker",
        "close panel.2.breaker",
        "close board.1.breaker",
        "close board.2.breaker",
        "start sea.pump.1",
        "close transformer.1",
        "start fan.engine-room.1",
        "start fan.engine-room.2",
    ] {
        ship.run(1.0);
        ship.act(act);
    }
    ship.run(60.0);
    ship
}

fn step(c: &mut Criterion) {
    let mut group = c.benchmark_group("a simulated second");
    let mut one = |name: &str, mut ship: Hands| {
        group.bench_function(name, |b| b.iter(|| ship.run(1.0)));
    };
    one("dead ship", Hands::on("dead ship"));
    one("two sets running, one on the board", in_service());
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
