//! Looks for a fault: every probe in every state, beside the same without the fault.

use crate::failures::failures;
use crate::people::{Probe, Seenable, at, difference, neighbours, only_look, shown, untruth, whole_ship};
use crate::sequences::{of_the_ship, sequences};
use crate::ships::{run, warmed_up};
use crate::ways::{Ways, all_is_searched};
use deadship_plant::Plant;
use deadship_plant::kind::{Act, Verb};
use std::collections::BTreeMap;
use std::rc::Rc;

/// How long a fault may take to show while people only look, s: first quickly in every state, then patiently.
const LOOK_S: f64 = 5.0;
const PATIENT_S: f64 = 300.0;
/// Ways in which an excused pair is looked for.
const BRIEFLY: usize = 30;
/// How long after it was lifted is looked whether all is as if it had never been, s.
pub const LIFTED_S: usize = 2;
/// How long sets that have stood carry the ship before anything is tried, s.
const OTHERS_S: f64 = 1200.0;

/// One way to look at the ship: a state, a probe, and what it looks like without a fault, second by second, worked out
/// as far as it has been asked for.
struct Course {
    plant: Plant,
    /// The acts of the probe that were possible without the fault.
    done: Vec<bool>,
    seconds: Vec<Seenable>,
}

impl Course {
    fn new(state: &Plant, probe: &Probe) -> Course {
        let mut plant = state.clone();
        probe.beside.iter().for_each(|&(component, fault)| plant.set_fault(component, fault, 1.0, 0.0));
        Course { plant, done: vec![false; probe.acts.len()], seconds: Vec::new() }
    }

    /// Goes on to the end of this second, counted from 0; returns how many seconds that took.
    fn go_to(&mut self, probe: &Probe, second: usize, order: &Rc<Vec<(usize, usize, usize)>>) -> usize {
        let before = self.seconds.len();
        for at in before..=second {
            for (done, &(at_s, component, act)) in self.done.iter_mut().zip(&probe.acts) {
                if at_s as usize == at && self.plant.permit(component, act).is_empty() {
                    self.plant.act(component, act);
                    *done = true;
                }
            }
            run(&mut self.plant, 1.0);
            self.seconds.push(Seenable::of(&self.plant, order));
        }
        self.seconds.len() - before
    }
}

pub struct Ship {
    pub states: Vec<(&'static str, Plant)>,
    order: Rc<Vec<(usize, usize, usize)>>,
    /// Courses of probes that are tried for many components, by state and key.
    courses: BTreeMap<(usize, String), Course>,
    /// Seconds simulated to look for faults, and without any.
    pub simulated_s: (usize, usize),
    /// Where each pair showed when all was last searched: state and name of the probe.
    known: Ways,
    /// Where a fault of a kind showed before: state and key of the probe.
    worked: BTreeMap<(&'static str, &'static str), Vec<(usize, String)>>,
}

/// How a pair shows.
pub struct Sign {
    pub state: usize,
    pub probe: Probe,
    pub reading: String,
    pub after_s: usize,
    pub gone: bool,
}

impl Ship {
    /// The states as written, and three more: of the first with every engine started, of the second with every engine
    /// stopped, and with the other sets on the board, warm.
    pub fn new(name: &str, written: &[&'static str]) -> Ship {
        let mut states: Vec<_> = written.iter().map(|&state| (state, warmed_up(name, state))).collect();
        let order = Rc::new(shown(&states[0].1));
        let mut all_running = states[0].1.clone();
        all(&mut all_running, "engine-controls", Verb::Start);
        run(&mut all_running, 240.0);
        let mut all_stopped = states[1].1.clone();
        all(&mut all_stopped, "generator-breaker", Verb::Open);
        all(&mut all_stopped, "engine-controls", Verb::Stop);
        run(&mut all_stopped, 180.0);
        states.push(("every engine started", all_running));
        states.push(("every engine stopped", all_stopped));
        let mut others = states[1].1.clone();
        let carried = closed_breakers(&others);
        all(&mut others, "standby-control", Verb::Start);
        run(&mut others, 120.0);
        for breaker in carried {
            if let Some((component, act)) = opens(&others, breaker) {
                others.act(component, act);
            }
        }
        run(&mut others, OTHERS_S);
        states.push(("the other sets on the board", others));
        let (courses, worked) = (BTreeMap::new(), BTreeMap::new());
        Ship { states, order, courses, simulated_s: (0, 0), known: Ways::of(name), worked }
    }

    /// Does this fault show on this course? Lifts it when it does.
    fn shows(&mut self, pair: (usize, usize), state: usize, probe: &Probe) -> Option<Sign> {
        let key = (state, probe.key.clone());
        let known = if probe.shared { self.courses.remove(&key) } else { None };
        let mut course = known.unwrap_or_else(|| Course::new(&self.states[state].1, probe));
        let sign = self.along(&mut course, pair, state, probe);
        if probe.shared {
            self.courses.insert(key, course);
        }
        sign
    }

    /// The same along a course, which is worked out side by side.
    fn along(
        &mut self,
        course: &mut Course,
        pair: (usize, usize),
        state: usize,
        probe: &Probe,
    ) -> Option<Sign> {
        let mut plant = self.states[state].1.clone();
        let usual = plant.compiled.spec.components[pair.0].kind.faults[pair.1].usual;
        let sign = |reading: String, after_s: usize, gone: bool| Sign {
            state,
            probe: probe.clone(),
            reading,
            after_s,
            gone,
        };
        let last_act_s = probe.acts.iter().map(|act| act.0 as usize).max().unwrap_or(0);
        probe.beside.iter().for_each(|&(component, fault)| plant.set_fault(component, fault, 1.0, 0.0));
        for second in 0..probe.seconds as usize {
            self.simulated_s.1 += course.go_to(probe, second, &self.order);
            if second > last_act_s && !probe.acts.is_empty() && !course.done.contains(&true) {
                return None;
            }
            if second == probe.fault_s {
                plant.set_fault(pair.0, pair.1, usual, 0.0);
            }
            let due =
                probe.acts.iter().zip(&course.done).filter(|(act, done)| **done && act.0 as usize == second);
            for (&(_, component, act), _) in due {
                if let Some(block) = plant.permit(component, act).first() {
                    let reading = format!("refused: {}", block.code);
                    let gone = lifts(&mut plant, pair, None);
                    return Some(sign(reading, second, gone));
                }
                plant.act(component, act);
            }
            run(&mut plant, 1.0);
            self.simulated_s.0 += 1;
            if let Some(reading) = difference(&plant, &course.seconds[second]) {
                self.simulated_s.1 += course.go_to(probe, second + LIFTED_S, &self.order);
                let without = &course.seconds[second + LIFTED_S];
                let gone = lifts(&mut plant, pair, Some(without));
                let quiet = probe.acts.iter().all(|act| (act.0 as usize) <= second);
                if quiet && plant.compiled.spec.components[pair.0].kind.faults[pair.1].deceives {
                    assert_eq!(untruth(&plant, pair.0, without), None, "lifted, the sensor still deceives");
                }
                return Some(sign(reading, second + 1, gone));
            }
        }
        None
    }

    /// State and probe of every way to look for a pair: by looking in each state, by what fails beside it, by probes at it,
    /// at the whole ship and at its neighbours, by sequences, at last by patience. What worked for another component of
    /// the kind comes first, then three states in which nearly everything shows.
    fn ways(&self, pair: (usize, usize), worked: &[(usize, String)]) -> Vec<(usize, Probe)> {
        let (others, states) = (self.states.len() - 1, 0..self.states.len() - 1);
        let few = [0, 1, others - 2];
        let plant = &self.states[0].1;
        let near = neighbours(plant, pair.0);
        let every = |probe: Probe| states.clone().map(move |state| (state, probe.clone()));
        let in_few = |probe: Probe| few.map(|state| (state, probe.clone()));
        let look = only_look("look", LOOK_S);
        let wait = only_look("wait", PATIENT_S);
        let mut ways: Vec<_> = every(look.clone()).chain([(others, look)]).collect();
        let mut probes = at(plant, &[pair.0]);
        ways.extend(failures(plant, pair, &near).into_iter().flat_map(in_few));
        ways.extend(sequences(plant, pair.0, &near).into_iter().flat_map(in_few));
        ways.extend(probes.iter().map(|probe| (others, probe.clone())));
        probes.extend(whole_ship(plant));
        probes.extend(at(plant, &near));
        probes.extend(of_the_ship(plant, pair.0));
        ways.extend(probes.into_iter().flat_map(every));
        ways.extend(every(wait.clone()).chain([(others, wait)]));
        let rank = |state: usize, probe: &Probe| match probe.key.as_str() {
            "look" => 0,
            "wait" => 3,
            _ if few.contains(&state) || state == others => 1,
            _ => 2,
        };
        let place =
            |state: usize, key: &str| worked.iter().position(|known| *known == (state, key.to_owned()));
        ways.sort_by_key(|(state, probe)| {
            (place(*state, &probe.key).unwrap_or(usize::MAX), rank(*state, probe))
        });
        ways
    }

    /// How a pair shows, if it does. One that is excused is looked for briefly, unless all is searched.
    pub fn search(&mut self, pair: (usize, usize), excused: bool) -> Option<Sign> {
        let spec = &self.states[0].1.compiled.spec.components[pair.0];
        let (kind, fault) = (spec.kind.name, spec.kind.faults[pair.1].name);
        let mut ways = self.ways(pair, self.worked.get(&(kind, fault)).map_or(&[], Vec::as_slice));
        if let Some((state, probe)) = self.known.of_pair(&format!("{}.{fault}", spec.name)) {
            // The sort is stable: the others stay in their order, for when it does not show there any more.
            ways.sort_by_key(|way| self.states[way.0].0 != state || way.1.name != probe);
        } else if excused && !all_is_searched() {
            ways.truncate(BRIEFLY);
        }
        let sign = ways.into_iter().find_map(|(state, probe)| self.shows(pair, state, &probe))?;
        let worked = self.worked.entry((kind, fault)).or_default();
        let way = (sign.state, sign.probe.key.clone());
        if !worked.contains(&way) {
            worked.push(way);
        }
        Some(sign)
    }
}

/// Breakers of generators that are closed.
fn closed_breakers(plant: &Plant) -> Vec<usize> {
    let components = plant.compiled.spec.components.iter().enumerate();
    let breakers = components.filter(|(_, c)| c.kind.name == "generator-breaker").map(|(i, _)| i);
    breakers.filter(|&breaker| opens(plant, breaker).is_some()).collect()
}

/// The act that opens it, if it can be opened.
fn opens(plant: &Plant, breaker: usize) -> Option<(usize, Act)> {
    let acts = plant.compiled.spec.components[breaker].kind.acts;
    let index = acts.iter().position(|act| act.verb == Verb::Open)?;
    let act = Act { index, value: 0.0, remote: false };
    plant.permit(breaker, act).is_empty().then_some((breaker, act))
}

/// Does this act at every component of a kind where it is possible.
fn all(plant: &mut Plant, kind: &str, verb: Verb) {
    let compiled = plant.compiled.clone();
    for (component, spec) in compiled.spec.components.iter().enumerate().filter(|(_, c)| c.kind.name == kind)
    {
        let index = spec.kind.acts.iter().position(|act| act.verb == verb).expect("the kind can");
        for remote in [false, true] {
            let act = Act { index, value: 0.0, remote };
            if plant.permit(component, act).is_empty() {
                plant.act(component, act);
            }
        }
    }
}

/// Lifts the fault; true when [`LIFTED_S`] later everything looks as if it had never been.
fn lifts(plant: &mut Plant, (component, fault): (usize, usize), without: Option<&Seenable>) -> bool {
    plant.set_fault(component, fault, 0.0, 0.0);
    run(plant, LIFTED_S as f64);
    assert_eq!(plant.fault(component, fault), 0.0);
    assert!(plant.readings().iter().all(|reading| reading.is_finite()));
    without.is_some_and(|without| difference(plant, without).is_none())
}
