//! How long it takes to go to any instant of a run of four hours, and how quickly the whole of it is verified.
//!
//! `cargo bench -p deadship-run --bench seek`. A ship at sea on two sets, with something started or stopped every half minute
//! and a fault set and lifted every ten. Seeking goes to instants drawn by a fixed rule, forth and back; each takes the
//! time that the facilitator waits. CPU is not pinned: read orders of size.
#![allow(missing_docs)]
// The core knows ticks only; a benchmark measures time.
#![allow(clippy::disallowed_types, clippy::disallowed_methods)]

use deadship_run::ids::run_id;
use deadship_run::library::Library;
use deadship_run::replay::{Reel, verify};
use deadship_run::whatif::KEPT_TICKS;
use deadship_run::words::{Line, Vocabulary, parse};
use deadship_run::{Envelope, Recorder, Role, Who};
use std::time::Instant;

const AT: &str = "1970-01-01T00:00:00Z";
const DRILL: &str = r#"
format = 1
[drill]
title = "Four hours"
ship = "quillmere"
start = "at sea, two sets"
settle = "60 s"
limit = "5 h"
seed = 1
brief = "Invented, for a benchmark."
[[station]]
name = "watch"
title = "Watch"
start = "control-room"
"#;
const LENGTH_S: u64 = 4 * 3600;
const SEEKS: u64 = 400;

/// What is done, by the second.
fn line_at(second: u64) -> Option<&'static str> {
    match (second % 600, second % 60) {
        (45, _) => Some("fault sea.strainer.high.clogs 40 % over 60 s"),
        (500, _) => Some("lift sea.strainer.high.clogs"),
        (_, 10) => Some("stop load.reefer.1"),
        (_, 40) => Some("start load.reefer.1"),
        _ => None,
    }
}

fn four_hours() -> Vec<Envelope> {
    let library = Library::built_in().with([("library/four-hours.toml".to_owned(), DRILL.to_owned())]);
    let opening = library.opening("four-hours", None).expect("ship and drill are there");
    let who = Who::person("benchmark", Role::Instructor);
    let (mut recorder, mut log) =
        Recorder::open(run_id("four-hours", 1), opening, &who, AT).expect("the drill opens");
    let mut refused = 0;
    while recorder.run().tick() < LENGTH_S * 20 {
        log.extend(recorder.tick(AT));
        let tick = recorder.run().tick();
        let Some(line) = line_at(tick / 20).filter(|_| tick.is_multiple_of(20)) else { continue };
        let parsed = parse(line, &Vocabulary::from(recorder.run().setup.as_ref()));
        let Ok(Line::Command(command)) = parsed else { panic!("{line}: {parsed:?}") };
        let outcome = recorder.command(&command, &who, None, AT);
        refused += usize::from(outcome.refusal.is_some());
        log.extend(outcome.envelopes);
    }
    println!("{} events, {refused} refusals", log.len());
    log
}

/// Resident memory of this process, MiB; `None` where the system does not tell.
fn resident_mib() -> Option<usize> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    line.split_whitespace().nth(1)?.parse::<usize>().ok().map(|kib| kib / 1024)
}

fn main() {
    let log = four_hours();
    let begun = Instant::now();
    let verified = verify(&log).expect("the run is whole");
    let took_s = begun.elapsed().as_secs_f64();
    println!(
        "verified {} ticks in {took_s:.1} s: {:.0} times real time",
        verified.ticks,
        LENGTH_S as f64 / took_s
    );
    let before = resident_mib();
    let mut reel = Reel::open(log, KEPT_TICKS).expect("the run opens");
    let begun = Instant::now();
    while reel.load() {}
    println!("loaded in {:.1} s", begun.elapsed().as_secs_f64());
    if let (Some(before), Some(after)) = (before, resident_mib()) {
        println!("instants kept: {} MiB", after.saturating_sub(before));
    }
    let mut took: Vec<f64> = Vec::new();
    for turn in 0..SEEKS {
        // A prime stride visits instants all over the run, in no order of time.
        let tick = turn * 104_729 % (LENGTH_S * 20);
        let begun = Instant::now();
        let there = reel.seek(tick).tick();
        took.push(begun.elapsed().as_secs_f64() * 1e3);
        assert_eq!(there, tick);
    }
    took.sort_by(f64::total_cmp);
    let at = |share: f64| took[((took.len() - 1) as f64 * share) as usize];
    println!("seek: median {:.1} ms, 99 % {:.1} ms, longest {:.1} ms", at(0.5), at(0.99), at(1.0));
}
