//! Why, over the whole catalogue of faults of both ships: each fault is set together with a decoy that has nothing to do with
//! it. Where the fault leads to an alert or a trip, it must be in the answer and the decoy must not.
//!
//! `cargo test --release -p deadship-run --test catalogue -- --ignored --nocapture` goes through all of them (many minutes)
//! and prints what is missed; `CATALOGUE=dg1.,thermostat` keeps those whose name contains one of these words, `EVERY=4` each
//! fourth. Every test run goes through a few.

use deadship_plant::TICK_S;
use deadship_plant::plant::Compiled;
use deadship_run::debrief::is_trip;
use deadship_run::ids::run_id;
use deadship_run::library::Library;
use deadship_run::opening::Opening;
use deadship_run::setup::Prepared;
use deadship_run::whatif::{Effect, WhatIf};
use deadship_run::why::{Cause, explain_without_moments, side_by_side};
use deadship_run::{Command, Envelope, Event, Recorder, Role, Who};
use std::collections::BTreeSet;

/// When the fault is set, and its decoy, s.
const SET_S: f64 = 10.0;
const DECOY_S: f64 = 12.0;
/// How long is looked, s.
const LENGTH_S: f64 = 300.0;
/// How many decoys are tried until one neither brings the effect itself nor prevents it.
const DECOYS: usize = 8;

/// A fault by component and name.
type Fault = (String, &'static str);

/// A ship in one of her states, under way without a crew.
struct Ship {
    prepared: Prepared,
    faults: Vec<Fault>,
    /// What comes without any fault.
    quiet: BTreeSet<String>,
}

fn at(seconds: f64) -> u64 {
    (seconds / TICK_S) as u64
}

fn drill(ship: &str, state: &str) -> String {
    format!(
        "format = 1\n[drill]\ntitle = \"Catalogue\"\nship = \"{ship}\"\nstart = \"{state}\"\nsettle = \"60 s\"\n\
         limit = \"1 h\"\nseed = 1\nbrief = \"Invented: a ship without a crew, for a test.\"\n\
         [[station]]\nname = \"watch\"\ntitle = \"Watch\"\nstart = \"control-room\"\n"
    )
}

impl Ship {
    fn new(ship: &str, state: &str, every: usize) -> Ship {
        let library = Library::built_in().with([("library/catalogue.toml".to_owned(), drill(ship, state))]);
        let opening: Opening = library.opening("catalogue", None).expect("ship and drill are there");
        let prepared = Prepared::new(opening).expect("the drill can be opened");
        let mut found = Ship { prepared, faults: Vec::new(), quiet: BTreeSet::new() };
        let log = found.run(&[]);
        found.quiet = log.iter().filter_map(effect_name).collect();
        let recorder = Recorder::open_prepared(run_id("x", 1), &found.prepared, &teacher(), "").0;
        found.faults = faults_of(&recorder.run().setup.compiled);
        let mut index = 0;
        found.faults.retain(|_| {
            index += 1;
            index % every == every / 2
        });
        found
    }

    /// The run with these faults.
    fn run(&self, faults: &[(f64, &Fault)]) -> Vec<Envelope> {
        let (mut recorder, mut log) =
            Recorder::open_prepared(run_id("catalogue", 1), &self.prepared, &teacher(), "");
        let mut due: Vec<_> = faults.to_vec();
        while recorder.run().tick() < at(LENGTH_S) && recorder.run().goes() {
            log.extend(recorder.tick(""));
            while due.first().is_some_and(|(time_s, _)| at(*time_s) <= recorder.run().tick()) {
                let (_, (component, fault)) = due.remove(0);
                let command = Command::SetFault {
                    component: component.clone(),
                    fault: (*fault).to_owned(),
                    severity: None,
                    ramp_s: 0.0,
                    intermittent: None,
                    when: None,
                };
                log.extend(recorder.command(&command, &teacher(), None, "").envelopes);
            }
        }
        log
    }

    /// What a fault brings that would not come without it, the first first.
    fn brings(&self, fault: &Fault) -> Vec<String> {
        let log = self.run(&[(SET_S, fault)]);
        let mut names = Vec::new();
        for name in log.iter().filter(|e| e.tick >= at(SET_S)).filter_map(effect_name) {
            if !self.quiet.contains(&name) && !names.contains(&name) {
                names.push(name);
            }
        }
        names
    }
}

fn teacher() -> Who {
    Who::person("teacher", Role::Instructor)
}

fn faults_of(compiled: &Compiled) -> Vec<Fault> {
    let words = std::env::var("CATALOGUE").unwrap_or_default();
    let mut faults = Vec::new();
    for spec in &compiled.spec.components {
        for def in spec.kind.faults.iter().filter(|def| def.applies(&spec.params)) {
            let name = format!("{}.{}", spec.name, def.name);
            if words.split(',').any(|word| name.contains(word)) {
                faults.push((spec.name.clone(), def.name));
            }
        }
    }
    faults
}

/// The name of an alert or a trip; `None` for other events.
fn effect_name(envelope: &Envelope) -> Option<String> {
    match &envelope.event {
        Event::AlertRaised { alert, .. } => Some(format!("alert {alert}")),
        Event::Found { component, code, .. } if is_trip(code) => Some(format!("trip {component} {code}")),
        _ => None,
    }
}

/// What became of one fault.
enum Verdict {
    /// It leads to nothing.
    Nothing,
    /// No decoy could be found.
    Alone,
    /// Is it in the answer, is there a way, is the decoy in it?
    Asked { guilty: bool, way: bool, decoy: bool, told: String },
}

fn has(causes: &[Cause], seq: u64) -> bool {
    causes.iter().any(|cause| cause.seq == Some(seq) || has(&cause.because, seq))
}

/// Asks why, for the first that a fault brings, beside a decoy.
fn ask(ship: &Ship, index: usize, brought: &[Vec<String>]) -> Verdict {
    let fault = &ship.faults[index];
    let Some(effect) = brought[index].first() else { return Verdict::Nothing };
    // Far from each other in the list and different every time, but always the same.
    let others = (1..=DECOYS).map(|turn| (index * 31 + turn * 7919) % ship.faults.len());
    for other in others {
        let decoy = &ship.faults[other];
        // What leaks from the same engine is no decoy.
        let system = |fault: &Fault| fault.0.split('.').next().map(str::to_owned);
        if system(decoy) == system(fault) || brought[other].contains(effect) {
            continue;
        }
        let log = ship.run(&[(SET_S, fault), (DECOY_S, decoy)]);
        let came = log.iter().find(|e| e.tick >= at(SET_S) && effect_name(e).as_ref() == Some(effect));
        let Some(seq) = came.map(|envelope| envelope.seq) else { continue };
        let set = |wanted: &Fault| {
            let is = |e: &&Envelope| matches!(&e.event, Event::FaultSet { component, fault, .. } if *component == wanted.0 && fault == wanted.1);
            log.iter().find(is).map_or(0, |envelope| envelope.seq)
        };
        let (guilty, innocent) = (set(fault), set(decoy));
        let until = log.iter().find(|e| e.seq == seq).map_or(0, |e| e.tick);
        let (cause, seq) = Effect::of(&log, seq).expect("an effect");
        let runs = WhatIf::open(log, until).expect("the run can be computed again");
        let why = explain_without_moments(&runs, &cause, seq);
        let way = why.causes.iter().any(|cause| cause.seq == Some(guilty) && !cause.way.is_empty());
        let told = format!("{}.{} beside {}.{}: {effect}", fault.0, fault.1, decoy.0, decoy.1);
        return Verdict::Asked {
            guilty: has(&why.causes, guilty),
            way,
            decoy: innocent < seq && has(&why.causes, innocent),
            told,
        };
    }
    Verdict::Alone
}

#[derive(Debug, Default)]
struct Tally {
    asked: usize,
    nothing: usize,
    alone: usize,
    missed: Vec<String>,
    without_way: Vec<String>,
    decoys: Vec<String>,
}

/// Goes through every `every`-th fault of a ship.
fn go_through(name: &str, state: &str, every: usize) -> Tally {
    let ship = Ship::new(name, state, every);
    let all: Vec<usize> = (0..ship.faults.len()).collect();
    let brought = side_by_side(&all, |&index| ship.brings(&ship.faults[index]));
    let verdicts = side_by_side(&all, |&index| ask(&ship, index, &brought));
    let mut tally = Tally::default();
    for verdict in verdicts {
        match verdict {
            Verdict::Nothing => tally.nothing += 1,
            Verdict::Alone => tally.alone += 1,
            Verdict::Asked { guilty, way, decoy, told } => {
                tally.asked += 1;
                if !guilty {
                    tally.missed.push(told.clone());
                } else if !way {
                    tally.without_way.push(told.clone());
                }
                if decoy {
                    tally.decoys.push(told);
                }
            }
        }
    }
    println!(
        "{name}, {state}: {} asked, {} lead to nothing in {LENGTH_S} s, {} found no decoy",
        tally.asked, tally.nothing, tally.alone
    );
    println!("guilty and not named: {}: {:#?}", tally.missed.len(), tally.missed);
    println!("named without a way: {}: {:#?}", tally.without_way.len(), tally.without_way);
    println!("decoy named: {}: {:#?}", tally.decoys.len(), tally.decoys);
    tally
}

fn judge(tally: &Tally, at_least: usize) {
    assert!(tally.asked >= at_least, "{} asked", tally.asked);
    assert!(tally.missed.len() * 20 <= tally.asked, "more than 5 % missed: {tally:#?}");
    assert!(tally.decoys.len() * 20 <= tally.asked, "more than 5 % of the decoys named: {tally:#?}");
}

/// Every how many-th fault is looked at; all of them where nothing is said.
fn every() -> usize {
    std::env::var("EVERY").ok().and_then(|text| text.parse().ok()).unwrap_or(1)
}

#[test]
#[ignore = "many minutes"]
fn the_whole_catalogue_of_the_default_ship() {
    judge(&go_through("quillmere", "at sea, two sets", every()), 100 / every());
}

#[test]
#[ignore = "many minutes"]
fn the_whole_catalogue_of_the_second_ship() {
    judge(&go_through("tamberwick", "at sea", every()), 100 / every());
}

#[test]
fn a_few_of_each_ship() {
    judge(&go_through("quillmere", "at sea, two sets", 23), 3);
    judge(&go_through("tamberwick", "at sea", 23), 3);
}
