//! Every (component, fault) pair shows, and can be lifted.

use crate::reasons::{of_nobody, reason};
use crate::search::{LIFTED_S, Ship, Sign};
use crate::ships::warmed_up;
use crate::ways::{all_is_searched, write};
use deadship_plant::Plant;
use std::collections::{BTreeMap, BTreeSet};

/// Threads for a ship.
const THREADS: usize = 2;

/// Component, fault, and what both are called.
struct Pair {
    component: usize,
    fault: usize,
    kind: &'static str,
    name: String,
}

/// All pairs of a ship; `FAULTS` in the environment keeps those that contain one of its words.
fn pairs_of(plant: &Plant) -> Vec<Pair> {
    let only = std::env::var("FAULTS").unwrap_or_default();
    let mut pairs = Vec::new();
    for (component, spec) in plant.compiled.spec.components.iter().enumerate() {
        for (fault, def) in spec.kind.faults.iter().enumerate().filter(|(_, def)| def.applies(&spec.params)) {
            let name = format!("{}.{}", spec.name, def.name);
            if only.split(',').any(|word| name.contains(word)) {
                pairs.push(Pair { component, fault, kind: spec.kind.name, name });
            }
        }
    }
    pairs
}

/// The kinds in as many groups as there are threads, alike in their number of pairs: what one component of a kind taught
/// helps the next.
fn groups(pairs: &[Pair]) -> Vec<BTreeSet<&'static str>> {
    let mut sizes = BTreeMap::new();
    pairs.iter().for_each(|pair| *sizes.entry(pair.kind).or_insert(0) += 1);
    let mut sizes: Vec<_> = sizes.into_iter().collect();
    sizes.sort_by_key(|&(kind, size)| (std::cmp::Reverse(size), kind));
    let mut groups = vec![(0, BTreeSet::new()); THREADS];
    for (kind, size) in sizes {
        let least = groups.iter_mut().min_by_key(|group| group.0).expect("there are threads");
        least.0 += size;
        least.1.insert(kind);
    }
    groups.into_iter().map(|group| group.1).collect()
}

/// Goes through all pairs of a ship; returns how many there are, and of how many differently named faults.
fn every_pair(name: &str, states: &[&'static str]) -> (usize, usize) {
    let plant = warmed_up(name, states[0]);
    let pairs = pairs_of(&plant);
    let tally = std::thread::scope(|scope| {
        let pairs = &pairs;
        let threads: Vec<_> = groups(pairs)
            .into_iter()
            .map(|kinds| {
                let mine = pairs.iter().filter(move |pair| kinds.contains(pair.kind));
                scope.spawn(move || search_all(name, Ship::new(name, states), mine))
            })
            .collect();
        let tallies = threads.into_iter().map(|thread| thread.join().expect("its own panic says why"));
        tallies.fold(Tally::default(), Tally::with)
    });
    let faults = plant.compiled.spec.components.iter().flat_map(|c| c.kind.faults);
    let words: BTreeSet<_> = faults.map(|def| def.name).collect();
    println!("{} pairs of faults of {} names", pairs.len(), words.len());
    if all_is_searched() && std::env::var("FAULTS").is_err() {
        write(name, tally.ways.clone());
    }
    tally.judge();
    let names: Vec<_> = pairs.iter().map(|pair| pair.name.as_str()).collect();
    if std::env::var("FAULTS").is_err() {
        assert_eq!(of_nobody(name, &names), Vec::<&str>::new(), "reasons without a pair");
    }
    (pairs.len(), words.len())
}

fn search_all<'a>(name: &str, mut ship: Ship, pairs: impl Iterator<Item = &'a Pair>) -> Tally {
    let mut tally = Tally::default();
    for pair in pairs {
        let why = reason(name, &ship.states[0].1, pair.component, pair.fault);
        let sign = ship.search((pair.component, pair.fault), why.is_some());
        tally.take(name, &pair.name, sign.map(|sign| (ship.states[sign.state].0, sign)), why);
    }
    tally.simulated_s = ship.simulated_s;
    tally
}

/// What became of the pairs of a ship.
#[derive(Default)]
struct Tally {
    looked: usize,
    gone: usize,
    excused: usize,
    unseen: Vec<String>,
    stale: Vec<String>,
    /// Where each pair showed.
    ways: Vec<String>,
    simulated_s: (usize, usize),
}

impl Tally {
    fn with(mut self, other: Tally) -> Tally {
        self.looked += other.looked;
        self.gone += other.gone;
        self.excused += other.excused;
        self.unseen.extend(other.unseen);
        self.stale.extend(other.stale);
        self.ways.extend(other.ways);
        self.simulated_s.0 += other.simulated_s.0;
        self.simulated_s.1 += other.simulated_s.1;
        self
    }

    fn take(&mut self, ship: &str, pair: &str, sign: Option<(&str, Sign)>, why: Option<&'static str>) {
        match (sign, why) {
            (Some((state, Sign { probe, reading, after_s, gone, .. })), _) => {
                self.looked += usize::from(probe.acts.is_empty() && probe.beside.is_empty());
                self.gone += usize::from(gone);
                self.ways.push(format!("{pair}: {state}; {}", probe.name));
                println!("{ship}: {pair}: {reading} after {after_s} s ({state}; {})", probe.name);
                if why.is_some() {
                    self.stale.push(pair.to_owned());
                }
            }
            (None, Some(why)) => {
                self.excused += 1;
                println!("{ship}: {pair}: stays invisible: {why}");
            }
            (None, None) => {
                println!("{ship}: {pair}: INVISIBLE");
                self.unseen.push(pair.to_owned());
            }
        }
    }

    fn judge(&self) {
        let Tally { looked, gone, excused, unseen, stale, simulated_s: (with, without), .. } = self;
        println!("{looked} show to who only looks; {excused} stay invisible");
        println!("simulated: {with} s with faults, {without} s without");
        println!("{gone} leave no trace {LIFTED_S} s after they were lifted");
        assert!(unseen.is_empty(), "{} stay invisible without a reason: {unseen:#?}", unseen.len());
        assert!(stale.is_empty(), "{} show though a reason says they do not: {stale:#?}", stale.len());
    }
}

#[test]
#[ignore = "minutes on a busy machine"]
fn every_fault_of_the_default_ship_shows() {
    let (pairs, words) = every_pair(
        "quillmere",
        &["at sea, two sets", "at anchor", "at sea, shaft generator", "dead ship", "ready to sail"],
    );
    assert!(pairs >= 150 && words >= 30, "{pairs} pairs of {words} faults");
}

#[test]
#[ignore = "minutes on a busy machine"]
fn every_fault_of_the_second_ship_shows() {
    let (pairs, words) = every_pair("tamberwick", &["at sea", "at anchor", "in port", "dead ship"]);
    assert!(pairs >= 150 && words >= 30, "{pairs} pairs of {words} faults");
}
