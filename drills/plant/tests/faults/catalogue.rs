//! Every (component, fault) pair shows, and can be lifted.

use crate::people::{Probe, Seenable, at, difference, neighbours, only_look, shown, whole_ship};
use crate::ships::{run, warmed_up};
use deadship_plant::Plant;
use deadship_plant::kind::{Act, Verb};
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// How long a fault may take to show while people only look, s: first quickly in every state, then patiently.
const LOOK_S: f64 = 5.0;
const PATIENT_S: f64 = 300.0;
/// How long after it was lifted is looked whether all is as if it had never been, s.
const LIFTED_S: usize = 2;

/// What stays invisible, with the reason: the end of `component.fault`, or all of it, or its beginning before a `*`. What
/// shows in spite of its line here is counted as shown.
const INVISIBLE: &[(&str, &str)] = &[
    ("insulation-low", "nothing on this board measures its insulation"),
    ("breaker.does-not-trip", "needs a current beyond what all consumers behind it take"),
    ("interconnector.does-not-trip", "needs a current beyond what all consumers behind it take"),
    ("relief-stuck-shut", "never has to lift: nothing behind it can be shut"),
    ("level-gauge-frozen", "the level does not change enough in these states"),
    (
        "does-not-restart",
        "it does not run where the supply is lost and comes back, or its twin takes its place",
    ),
    ("load.bow-thruster.*", "it runs on request only"),
    ("fuel.gravity.blocked", "nothing flows past the feed pump while either pump makes pressure"),
    ("ht.warming.leaks-through", "the other valves of the warming line stand shut in all states"),
    ("ht.warming.spindle-broken", "the other valves of the warming line stand shut in all states"),
    ("static.blocked", "nothing flows in the static line of a full circuit"),
    ("compressor.2.switch.does-not-act", "the first compressor holds the pressure in all states"),
    ("priming.switch.setting-drifts", "its pressure stands far from the setting in all states"),
    ("dg3.ht-cooler.*", "the third set runs without load: its thermostats stay shut"),
    ("dg3.oil-cooler.*", "the third set runs without load: its thermostats stay shut"),
    ("dg3.ht.thermostat.*", "the third set runs without load: its thermostats stay shut"),
    ("dg3.lube.thermostat.*", "the third set runs without load: its thermostats stay shut"),
    ("me.control-air.vessel.safety-valve-lifts", "the reducing valve gives more than the safety valve blows"),
    (
        "me.engine.shutdown-does-not-act",
        "shows when a shutdown is due or ordered from afar; probes stand at the engine",
    ),
    (
        "me.engine.water-in-cylinder",
        "shows when the main engine is turned or started; where it stands it is not lined up",
    ),
    (
        "me.lt.thermostat.leaks-by",
        "it is open where the main engine runs: what leaks by is part of what it passes",
    ),
    ("me.lube.standby.switch.*", "the pump on the engine keeps the pressure in all states"),
    ("tg.lube.start.switch.*", "the pump on the turbine keeps the pressure in all states"),
    ("filling.leaks-through", "the filling valve stands open, or has no air before it, in all states"),
    ("me.ht.pump.1.end.non-return-leaks", "shows when its twin runs and it stands; no state has that"),
    ("msb.synchronising.*", "shows while a machine is brought in step; no probe selects one"),
    ("pair.*", "shows when the pump in use fails while its twin stands ready; no probe trips the twin"),
    ("preheat.heater.1.contactor-welded", "it is on in all states where its pump runs"),
    ("sea.chest.low.ice", "the sea carries no slush in these states: it is too warm"),
    ("sea.chest.high.ice", "the sea carries no slush in these states: it is too warm"),
    (
        "sea.chest.*",
        "the valve's gland lies at the pressure of the sea's surface in this ship's data: nothing drives a leak",
    ),
    (
        "tg.breaker.fails-to-close",
        "shows when the turbo set is connected; no state has it ready and off the board",
    ),
    (
        "tg.standby.does-not-start",
        "shows when the turbo set is ordered; no state has it ready and off the board",
    ),
];

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

struct Ship {
    states: Vec<(&'static str, Plant)>,
    order: Rc<Vec<(usize, usize, usize)>>,
    /// Courses of probes that are tried for many components, by state and key.
    courses: BTreeMap<(usize, String), Course>,
    /// Seconds simulated to look for faults, and without any.
    simulated_s: (usize, usize),
    /// Where a fault of a kind showed before: state and key of the probe.
    worked: BTreeMap<(&'static str, &'static str), Vec<(usize, String)>>,
}

/// How a pair shows.
struct Sign {
    state: usize,
    probe: Probe,
    reading: String,
    after_s: usize,
    gone: bool,
}

impl Ship {
    /// The states as written, and two more: of the first with every engine started, of the second with every engine stopped.
    fn new(name: &str, written: &[&'static str]) -> Ship {
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
        Ship { states, order, courses: BTreeMap::new(), simulated_s: (0, 0), worked: BTreeMap::new() }
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
                let gone = lifts(&mut plant, pair, course.seconds.get(second + LIFTED_S));
                return Some(sign(reading, second + 1, gone));
            }
        }
        None
    }

    /// How a pair shows: as it did for another component of the kind, by looking in each state, then by probes at it,
    /// at the whole ship, and by patience.
    fn search(&mut self, pair: (usize, usize)) -> Option<Sign> {
        let kind = self.states[0].1.compiled.spec.components[pair.0].kind;
        let name = (kind.name, kind.faults[pair.1].name);
        let states = 0..self.states.len();
        let mut ways: Vec<(usize, Probe)> =
            states.clone().map(|state| (state, only_look("look", LOOK_S))).collect();
        let plant = &self.states[0].1;
        let mut probes = at(plant, &[pair.0]);
        probes.extend(whole_ship(plant));
        probes.extend(at(plant, &neighbours(plant, pair.0)));
        probes.push(only_look("wait", PATIENT_S));
        ways.extend(
            probes.into_iter().flat_map(|probe| states.clone().map(move |state| (state, probe.clone()))),
        );
        let worked = self.worked.get(&name).cloned().unwrap_or_default();
        let place =
            |state: usize, key: &str| worked.iter().position(|known| *known == (state, key.to_owned()));
        ways.sort_by_key(|(state, probe)| place(*state, &probe.key).unwrap_or(usize::MAX));
        let sign = ways.into_iter().find_map(|(state, probe)| self.shows(pair, state, &probe))?;
        let known = self.worked.entry(name).or_default();
        let way = (sign.state, sign.probe.key.clone());
        if !known.contains(&way) {
            known.push(way);
        }
        Some(sign)
    }
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

/// Why a pair may stay invisible.
fn reason(name: &str) -> Option<&'static str> {
    let fits = |of: &str| match of.strip_suffix('*') {
        Some(begin) => name.starts_with(begin),
        None => name == of || name.ends_with(&format!(".{of}")),
    };
    INVISIBLE.iter().find(|(of, _)| fits(of)).map(|(_, why)| *why)
}

/// Goes through all pairs of a ship; returns how many there are, and of how many differently named faults.
fn every_pair(ship: &str, states: &[&'static str]) -> (usize, usize) {
    let mut ship = Ship::new(ship, states);
    let compiled = ship.states[0].1.compiled.clone();
    let (mut pairs, mut words, mut kinds) = (0, BTreeSet::new(), BTreeSet::new());
    let (mut looked, mut gone, mut unseen) = (0, 0, Vec::new());
    for (component, spec) in compiled.spec.components.iter().enumerate() {
        for (fault, def) in spec.kind.faults.iter().enumerate().filter(|(_, def)| def.applies(&spec.params)) {
            pairs += 1;
            words.insert(def.name);
            kinds.insert((spec.kind.name, def.name));
            let name = format!("{}.{}", spec.name, def.name);
            if let (Some(why), "insulation-low") = (reason(&name), def.name)
                && !compiled.spec.components.iter().any(|c| c.kind.name == "insulation-monitor")
            {
                println!("{name}: stays invisible: {why}");
            } else if let Some(Sign { state, probe, reading, after_s, gone: no_trace }) =
                ship.search((component, fault))
            {
                looked += usize::from(probe.acts.is_empty());
                gone += usize::from(no_trace);
                println!("{name}: {reading} after {after_s} s ({}; {})", ship.states[state].0, probe.name);
            } else if let Some(why) = reason(&name) {
                println!("{name}: stays invisible: {why}");
            } else {
                println!("{name}: INVISIBLE");
                unseen.push(name);
            }
        }
    }
    println!("{pairs} pairs of {} faults of kinds, of {} names", kinds.len(), words.len());
    println!("{looked} show to who only looks; {gone} leave no trace {LIFTED_S} s after they were lifted");
    let (with, without) = ship.simulated_s;
    println!("simulated: {with} s with faults, {without} s without");
    assert!(unseen.is_empty(), "{} stay invisible without a reason: {unseen:#?}", unseen.len());
    (pairs, words.len())
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
