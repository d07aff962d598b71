//! Every (component, fault) pair shows, and can be lifted.

use crate::people::{Probe, Seenable, at, difference, only_look, shown, whole_ship};
use crate::ships::{run, warmed_up};
use deadship_plant::Plant;
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// How long a fault may take to show while people only look, s: first quickly in every state, then patiently.
const LOOK_S: f64 = 8.0;
const PATIENT_S: f64 = 300.0;
/// How long it may take with a probe, whose acts come after 1 s and 12 s.
const PROBE_S: f64 = 30.0;

/// What stays invisible on a ship, kind and fault, with the reason.
const INVISIBLE: &[(&str, &str, &str)] = &[];

/// One way to look at the ship: a state, a probe, and what it looks like without a fault, second by second.
struct Course {
    state: usize,
    probe: Probe,
    /// The acts of the probe that are possible without the fault.
    done: Vec<bool>,
    seconds: Vec<Seenable>,
}

struct Ship {
    states: Vec<(&'static str, Plant)>,
    order: Rc<Vec<(usize, usize, usize)>>,
    courses: Vec<Course>,
}

/// How a pair shows.
struct Sign {
    state: &'static str,
    probe: String,
    reading: String,
    after_s: usize,
    gone: bool,
}

impl Ship {
    fn new(name: &str, states: &[&'static str]) -> Ship {
        let states: Vec<_> = states.iter().map(|&state| (state, warmed_up(name, state))).collect();
        let order = Rc::new(shown(&states[0].1));
        Ship { states, order, courses: Vec::new() }
    }

    /// The course without a fault, made when first asked for and lengthened when need be.
    fn course(&mut self, state: usize, probe: &Probe, seconds: f64) -> usize {
        let known = self.courses.iter().position(|course| course.state == state && course.probe == *probe);
        let enough = known.is_some_and(|i| self.courses[i].seconds.len() as f64 >= seconds);
        if let (Some(i), true) = (known, enough) {
            return i;
        }
        let mut plant = self.states[state].1.clone();
        let mut done = vec![false; probe.acts.len()];
        let mut course = Vec::new();
        for second in 0..seconds as usize {
            for (i, &(at_s, component, act)) in probe.acts.iter().enumerate() {
                if at_s as usize == second && plant.permit(component, act).is_empty() {
                    plant.act(component, act);
                    done[i] = true;
                }
            }
            run(&mut plant, 1.0);
            course.push(Seenable::of(&plant, &self.order));
        }
        let course = Course { state, probe: probe.clone(), done, seconds: course };
        match known {
            Some(i) => {
                self.courses[i] = course;
                i
            }
            None => {
                self.courses.push(course);
                self.courses.len() - 1
            }
        }
    }

    /// Does this fault show on this course? Lifts it when it does.
    fn shows(&mut self, pair: (usize, usize), state: usize, probe: &Probe, seconds: f64) -> Option<Sign> {
        let at = self.course(state, probe, seconds);
        let course = &self.courses[at];
        if !probe.acts.is_empty() && !course.done.contains(&true) {
            return None;
        }
        let (name, from) = (self.states[state].0, &self.states[state].1);
        let mut plant = from.clone();
        let usual = plant.compiled.spec.components[pair.0].kind.faults[pair.1].usual;
        plant.set_fault(pair.0, pair.1, usual, 0.0);
        for second in 0..seconds as usize {
            for (i, &(at_s, component, act)) in probe.acts.iter().enumerate() {
                if at_s as usize != second || !course.done[i] {
                    continue;
                }
                if let Some(block) = plant.permit(component, act).first() {
                    let reading = format!("refused: {}", block.code);
                    let gone = lifts(&mut plant, pair, None);
                    return Some(Sign {
                        state: name,
                        probe: probe.name.clone(),
                        reading,
                        after_s: second,
                        gone,
                    });
                }
                plant.act(component, act);
            }
            run(&mut plant, 1.0);
            if let Some(reading) = difference(&plant, &course.seconds[second]) {
                let after = course.seconds.get(second + 3);
                let gone = lifts(&mut plant, pair, after);
                return Some(Sign {
                    state: name,
                    probe: probe.name.clone(),
                    reading,
                    after_s: second + 1,
                    gone,
                });
            }
        }
        None
    }

    /// How a pair shows: by looking in each state, then by probes at it, at the whole ship, and by patience.
    fn search(&mut self, pair: (usize, usize)) -> Option<Sign> {
        let states = 0..self.states.len();
        for state in states.clone() {
            if let Some(sign) = self.shows(pair, state, &only_look(), LOOK_S) {
                return Some(sign);
            }
        }
        let near = at(&self.states[0].1, pair.0);
        for probe in near.iter().chain(&whole_ship(&self.states[0].1)) {
            for state in states.clone() {
                if let Some(sign) = self.shows(pair, state, probe, PROBE_S) {
                    return Some(sign);
                }
            }
        }
        states.clone().find_map(|state| self.shows(pair, state, &only_look(), PATIENT_S))
    }
}

/// Lifts the fault; true when three seconds later everything looks as if it had never been.
fn lifts(plant: &mut Plant, (component, fault): (usize, usize), without: Option<&Seenable>) -> bool {
    plant.set_fault(component, fault, 0.0, 0.0);
    run(plant, 3.0);
    assert_eq!(plant.fault(component, fault), 0.0);
    assert!(plant.readings().iter().all(|reading| reading.is_finite()));
    without.is_some_and(|without| difference(plant, without).is_none())
}

/// Goes through all pairs of a ship; returns how many there are, and of how many differently named faults.
fn every_pair(ship: &str, states: &[&'static str]) -> (usize, usize) {
    let mut ship = Ship::new(ship, states);
    let compiled = ship.states[0].1.compiled.clone();
    let (mut pairs, mut faults, mut probes) = (0, BTreeSet::new(), BTreeMap::new());
    let mut unseen = Vec::new();
    let mut gone = 0;
    for (component, spec) in compiled.spec.components.iter().enumerate() {
        for (fault, def) in spec.kind.faults.iter().enumerate() {
            pairs += 1;
            faults.insert((spec.kind.name, def.name));
            let name = format!("{}.{}", spec.name, def.name);
            match ship.search((component, fault)) {
                Some(sign) => {
                    gone += usize::from(sign.gone);
                    *probes.entry((sign.state, sign.probe == "look")).or_insert(0) += 1;
                    let Sign { state, probe, reading, after_s, .. } = sign;
                    println!("{name}: {reading} after {after_s} s ({state}; {probe})");
                }
                None => {
                    let known =
                        INVISIBLE.iter().find(|known| (known.0, known.1) == (spec.kind.name, def.name));
                    let why = known.map_or("NO REASON KNOWN", |known| known.2);
                    println!("{name}: INVISIBLE: {why}");
                    if known.is_none() {
                        unseen.push(name);
                    }
                }
            }
        }
    }
    let words: BTreeSet<&str> = faults.iter().map(|(_, fault)| *fault).collect();
    println!(
        "{pairs} pairs of {} faults of kinds, {} words; {gone} leave no trace 3 s after",
        faults.len(),
        words.len()
    );
    println!("seen in: {probes:?}");
    println!("simulated without a fault: {} courses", ship.courses.len());
    assert!(unseen.is_empty(), "{} stay invisible: {unseen:#?}", unseen.len());
    (pairs, words.len())
}

#[test]
fn every_fault_of_the_default_ship_shows() {
    let (pairs, words) = every_pair("quillmere", &["at sea, two sets", "at anchor", "dead ship"]);
    assert!(pairs >= 150 && words >= 30, "{pairs} pairs of {words} faults");
}

#[test]
fn every_fault_of_the_second_ship_shows() {
    let (pairs, words) = every_pair("tamberwick", &["in port", "at anchor", "dead ship"]);
    assert!(pairs >= 150 && words >= 30, "{pairs} pairs of {words} faults");
}
