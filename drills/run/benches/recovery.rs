//! How fast a whole recovery is stepped, its slowest second, and what a run holds in memory.
//!
//! `cargo bench -p deadship-run --bench recovery`. The robot crew works `first-light` from the dead ship to its aim,
//! with every command judged, every event made and every digest taken. It is done several times; each ship's second
//! counts with its quickest pass, so that what the machine did beside is left out. CPU is not pinned: read orders of size.
#![allow(missing_docs)]
// The core knows ticks only; a benchmark measures time.
#![allow(clippy::disallowed_types, clippy::disallowed_methods)]

use deadship_run::crew::Crew;
use deadship_run::ids::run_id;
use deadship_run::library::Library;
use deadship_run::{Recorder, Role, Who};
use std::time::Instant;

const AT: &str = "1970-01-01T00:00:00Z";
const DRILL: &str = "first-light";
const PASSES: usize = 5;

/// Runs opened at once to see what one holds.
const RUNS: usize = 40;

fn open() -> Recorder {
    let opening = Library::built_in().opening(DRILL, None).expect("the drill is built in");
    let id = run_id(&opening.drill, opening.seed);
    let who = Who::person("benchmark", Role::Instructor);
    Recorder::open(id, opening, &who, AT).expect("the drill opens").0
}

/// One rehearsal; adds to `quickest` the time of each ship's second, s.
fn pass(quickest: &mut Vec<f64>) {
    let mut recorder = open();
    let mut crew = Crew::new(&recorder.run().setup, Some(DRILL)).expect("its procedure is built in");
    let mut second = 0;
    while recorder.run().goes() {
        let begun = Instant::now();
        for _ in 0..20 {
            if recorder.run().goes() {
                drop(crew.act(&mut recorder, AT));
                drop(recorder.tick(AT));
            }
        }
        let took_s = begun.elapsed().as_secs_f64();
        match quickest.get_mut(second) {
            Some(best) => *best = best.min(took_s),
            None => quickest.push(took_s),
        }
        second += 1;
    }
}

/// Resident memory of this process, KiB; `None` where the system does not tell.
fn resident_kib() -> Option<usize> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// What one of many runs holds, each a minute old.
fn memory() {
    drop(open());
    let before = resident_kib();
    let mut runs: Vec<Recorder> = (0..RUNS).map(|_| open()).collect();
    for run in &mut runs {
        for _ in 0..1200 {
            drop(run.tick(AT));
        }
    }
    match (before, resident_kib()) {
        (Some(before), Some(after)) => {
            println!("memory of a run: {} KiB ({RUNS} opened, resident size)", (after - before) / RUNS)
        }
        _ => println!("memory of a run: this system does not tell"),
    }
}

fn main() {
    let mut quickest = Vec::new();
    memory();
    for _ in 0..PASSES {
        pass(&mut quickest);
    }
    let all_s: f64 = quickest.iter().sum();
    let (at, worst_s) =
        quickest.iter().copied().enumerate().fold((0, 0.0), |w, (i, s)| if s > w.1 { (i, s) } else { w });
    println!(
        "{DRILL}: {} s of ship's time in {all_s:.2} s: {:.0} simulated seconds a second",
        quickest.len(),
        quickest.len() as f64 / all_s
    );
    println!(
        "slowest second, {}:{:02} in: {:.2} ms: {:.0} simulated seconds a second",
        at / 60,
        at % 60,
        worst_s * 1e3,
        1.0 / worst_s
    );
}
