//! The plant against the world outside: named checks of behaviour, each run the way an author would run it, with
//! `deadship trial` on a rig file, and compared with a reference that shares no code with the model.
//!
//! Tables stand in `drills/data/rigs/reference`, rigs in `drills/data/rigs`. `docs/physics.md` has a row for each
//! check, and these tests hold it to what they measure. `tests/references/recompute.py` works the tables out again.
//! Tolerances are those that the sources support: properties 1 %, steady flows and heat 2 %, transients 5 %.

mod air;
mod control;
mod document;
mod electric;
mod harness;
mod heat;
mod liquid;
mod room;
mod shaft;
mod steam;

use harness::{Check, run_all};

/// All nets with their checks.
const NETS: [(&str, &[Check]); 8] = [
    ("air", air::CHECKS),
    ("control", control::CHECKS),
    ("electric", electric::CHECKS),
    ("heat", heat::CHECKS),
    ("liquid", liquid::CHECKS),
    ("room", room::CHECKS),
    ("shaft", shaft::CHECKS),
    ("steam", steam::CHECKS),
];

#[test]
fn air_net() {
    document::hold(&run_all(air::CHECKS));
}

#[test]
fn control_net() {
    document::hold(&run_all(control::CHECKS));
}

#[test]
fn electric_net() {
    document::hold(&run_all(electric::CHECKS));
}

#[test]
fn heat_net() {
    document::hold(&run_all(heat::CHECKS));
}

#[test]
fn liquid_net() {
    document::hold(&run_all(liquid::CHECKS));
}

#[test]
fn rooms() {
    document::hold(&run_all(room::CHECKS));
}

#[test]
fn shafts() {
    document::hold(&run_all(shaft::CHECKS));
}

#[test]
fn steam() {
    document::hold(&run_all(steam::CHECKS));
}

#[test]
fn every_kind_says_what_it_computes_and_what_checks_it() {
    let said = deadship_tests::run(env!("CARGO_BIN_EXE_deadship-under-test"), &["kinds"]);
    // A kind begins its line; what is told of it goes on further right.
    let begins = |line: &&str| line.starts_with(|c: char| c.is_ascii_lowercase());
    let first = |line: &str| line.split_whitespace().next().map(str::to_owned);
    let kinds: Vec<String> = said.out.lines().filter(begins).filter_map(first).collect();
    assert!(kinds.len() > 40, "only {} kinds", kinds.len());
    let checks: Vec<&str> =
        NETS.iter().flat_map(|(_, checks)| checks.iter().map(|check| check.name)).collect();
    document::hold_kinds(&kinds, &checks);
}

#[test]
fn there_are_enough_checks_and_each_has_a_name_of_its_own() {
    let mut names = std::collections::BTreeSet::new();
    for (net, checks) in NETS {
        assert!(checks.len() >= 4, "{net} has only {} checks", checks.len());
        for check in checks {
            assert!(check.name.starts_with(&format!("{net}/")), "{} is not of {net}", check.name);
            assert!(names.insert(check.name), "{} twice", check.name);
            assert!(!check.source.is_empty(), "{} has no source", check.name);
            assert!(check.tolerance <= 0.05, "{} tolerates too much", check.name);
        }
    }
    assert!(names.len() >= 30, "only {} checks", names.len());
}
