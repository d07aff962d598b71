//! Damaged text against everything that reads text from outside. Each execution must end in a value or an error that is
//! told: no panic, no hang, no growth. The normal test does a few thousand; ten million of ships, drills, lines and frames,
//! and one and a half of archives and events, are done by
//!
//! `cargo test --release -p deadship-tests --test fuzz -- --ignored --nocapture`
//!
//! `FUZZ_EXECUTIONS` asks for another number, `FUZZ_FROM` for other damage. A finding is told with its number, from
//! which its text is made again.

#![allow(clippy::disallowed_types, reason = "how long it takes is what is asked")]

mod mutate;
mod targets;

use std::cell::RefCell;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};
use targets::{Target, all};

/// No text takes so long, on a busy machine and without optimisation, unless its reader hangs.
const PATIENCE: Duration = Duration::from_secs(20);

/// Memory that the process may grow by while it reads, bytes: what allocators keep.
const GROWTH: u64 = 256 << 20;

/// What a target came to.
struct Figures {
    executions: u64,
    taken: u64,
    took: Duration,
    slowest: (Duration, u64),
    findings: Vec<String>,
}

fn try_all(target: &Target, executions: u64, from: u64) -> Figures {
    let mut figures = Figures {
        executions,
        taken: 0,
        took: Duration::ZERO,
        slowest: (Duration::ZERO, 0),
        findings: vec![],
    };
    let began = Instant::now();
    for number in from..from + executions {
        let text = target.text(number);
        let started = Instant::now();
        match catch_unwind(AssertUnwindSafe(|| target.read(&text))) {
            Ok(taken) => figures.taken += u64::from(taken),
            Err(_) => {
                let said = PANIC.with(|said| said.borrow_mut().take()).unwrap_or_default();
                figures.findings.push(format!("{} {number} panics: {said}\n{text}", target.name));
            }
        }
        figures.slowest = figures.slowest.max((started.elapsed(), number));
    }
    figures.took = began.elapsed();
    let (slowest, number) = figures.slowest;
    if slowest > PATIENCE {
        figures.findings.push(format!("{} {number} takes {slowest:?}\n{}", target.name, target.text(number)));
    }
    figures
}

thread_local! {
    static PANIC: RefCell<Option<String>> = const { RefCell::new(None) };
}

/// Resident memory of this process, bytes; 0 where it cannot be found out.
fn resident() -> u64 {
    let statm = std::fs::read_to_string("/proc/self/statm").unwrap_or_default();
    statm.split(' ').nth(1).and_then(|pages| pages.parse::<u64>().ok()).unwrap_or(0) * 4096
}

fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}

/// Tries every target for its share.
fn fuzz(executions: u64) {
    let from = number("FUZZ_FROM", 1);
    let targets = all();
    targets.iter().for_each(Target::check_seeds);
    // What a panic says is kept for the finding instead of being printed.
    std::panic::set_hook(Box::new(|panic| PANIC.with(|said| *said.borrow_mut() = Some(panic.to_string()))));
    let shares: u64 = targets.iter().map(|target| target.share).sum();
    let mut findings = Vec::new();
    println!(
        "| reader | executions | taken | findings | a second | slowest |\n| --- | --- | --- | --- | --- | --- |"
    );
    for target in &targets {
        // The first texts warm the allocator up.
        let share = (executions * target.share).div_ceil(shares);
        let mut figures = try_all(target, share / 10, from);
        let before = resident();
        let rest = try_all(target, share - share / 10, from + share / 10);
        let grown = resident().saturating_sub(before);
        if grown > GROWTH {
            findings.push(format!("{} grows by {grown} bytes", target.name));
        }
        figures.executions += rest.executions;
        figures.taken += rest.taken;
        figures.took += rest.took;
        figures.slowest = figures.slowest.max(rest.slowest);
        figures.findings.extend(rest.findings);
        println!(
            "| {} | {} | {} | {} | {:.0} | {:.1} ms |",
            target.name,
            figures.executions,
            figures.taken,
            figures.findings.len(),
            figures.executions as f64 / figures.took.as_secs_f64(),
            figures.slowest.0.as_secs_f64() * 1e3,
        );
        findings.append(&mut figures.findings);
    }
    let _ = std::panic::take_hook();
    let told: Vec<&str> = findings.iter().take(10).map(String::as_str).collect();
    assert!(findings.is_empty(), "{} findings:\n{}", findings.len(), told.join("\n\n"));
}

#[test]
fn damaged_text_ends_in_a_value_or_an_error() {
    fuzz(number("FUZZ_EXECUTIONS", 6_000));
}

#[test]
#[ignore = "a quarter of an hour: ten million executions"]
fn ten_million_damaged_texts() {
    fuzz(number("FUZZ_EXECUTIONS", 11_500_000));
}
