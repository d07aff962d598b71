//! When something was so: looked at once a tick while a record is replayed.

use super::parts::{Parts, reading};
use crate::run::Run;
use deadship_plant::plant::Compiled;

/// What is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// A main switchboard has voltage.
    MainBoard,
    /// An emergency switchboard has voltage.
    EmergencyBoard,
    /// A board behind a feeder of the main switchboard has voltage.
    Feeder,
    /// A board behind a transformer has voltage.
    LowBoard,
    /// A receiver holds enough to start on.
    StartAir,
    /// Sea water flows through a cooler.
    SeaWater,
    /// A fan moves air.
    Fan,
    /// A set stands in automatic standby and nothing is in the way.
    Standby,
    /// Priming counts, at the controls of an engine.
    Primed,
}

/// Share of nominal voltage from which a board has voltage: the lower end of 85 to 95 % at which loads go back to a
/// supply (46 CFR 112.30-10)…
const LIVE_SHARE: f64 = 0.85;
/// …and below which it has lost it: within the 60 to 85 % at which an emergency source is started (46 CFR 112.25-5).
const LOST_SHARE: f64 = 0.70;
/// Share of its rated flow from which a cooler counts as having sea water: common practice, no source.
const SEA_SHARE: f64 = 0.25;
/// Share of its rated flow from which a fan counts as running: common practice, no source.
const FAN_SHARE: f64 = 0.5;
/// Shorter interruptions are dips, s: after so long a transfer counts a supply as lost (common practice, no source).
const DIP_TICKS: u64 = 20;

/// Whether something was so, over time.
#[derive(Clone, Debug)]
pub(super) struct Course {
    /// What is looked at.
    pub role: Role,
    /// Component or node.
    pub index: usize,
    levels: Levels,
    holds: bool,
    /// From and to which tick it was so, to excluded; the last may reach the end.
    pub spans: Vec<(u64, u64)>,
}

#[derive(Clone, Debug)]
struct Levels {
    what: What,
    /// So from here…
    on: f64,
    /// …and no more below this.
    off: f64,
}

#[derive(Clone, Debug)]
enum What {
    /// Voltage of a node of the AC net.
    Volts(usize),
    /// Flat readings, of which the least counts.
    Readings(Vec<usize>),
}

impl Course {
    fn looks(&mut self, run: &Run) {
        let value = match &self.levels.what {
            What::Volts(node) => run.plant.nets().ac.volts[*node],
            What::Readings(flat) => {
                flat.iter().map(|&flat| run.plant.readings()[flat]).fold(f64::INFINITY, f64::min)
            }
        };
        let tick = run.tick();
        let level = if self.holds { self.levels.off } else { self.levels.on };
        let holds = value >= level;
        match self.spans.last_mut() {
            Some(span) if self.holds => span.1 = tick + u64::from(holds),
            _ if holds => self.spans.push((tick, tick + 1)),
            _ => {}
        }
        self.holds = holds;
    }
}

/// All courses of a ship.
pub(super) fn of_ship(compiled: &Compiled, parts: &Parts) -> Vec<Course> {
    let course = |role, index, what, on: f64, off: f64| Course {
        role,
        index,
        levels: Levels { what, on, off },
        holds: false,
        spans: Vec::new(),
    };
    let board = |role, node: usize| {
        let nominal_v = compiled.spec.nodes[node].voltage_v;
        let what = What::Volts(compiled.node_index[node]);
        course(role, node, what, LIVE_SHARE * nominal_v, LOST_SHARE * nominal_v)
    };
    let one = |role, (component, reading, level): (usize, usize, f64)| {
        let what = What::Readings(vec![compiled.flat_reading((component, reading))]);
        course(role, component, what, level, level)
    };
    let words = |role, component: usize, names: &[&str]| {
        let owner = &compiled.spec.components[component];
        let flat = |name: &&str| Some(compiled.flat_reading((component, reading(owner, name)?)));
        let flat: Vec<usize> = names.iter().filter_map(flat).collect();
        (flat.len() == names.len()).then(|| course(role, component, What::Readings(flat), 0.5, 0.5))
    };
    let scaled = |share: f64| {
        move |&(component, reading, rated): &(usize, usize, f64)| (component, reading, share * rated)
    };
    let mut courses: Vec<Course> = Vec::new();
    courses.extend(parts.main_boards.iter().map(|&node| board(Role::MainBoard, node)));
    courses.extend(parts.emergency_boards.iter().map(|&node| board(Role::EmergencyBoard, node)));
    courses.extend(parts.feeders.iter().map(|&node| board(Role::Feeder, node)));
    courses.extend(parts.low_boards.iter().map(|&node| board(Role::LowBoard, node)));
    courses.extend(parts.receivers.iter().map(|&receiver| one(Role::StartAir, receiver)));
    courses.extend(parts.sea_coolers.iter().map(scaled(SEA_SHARE)).map(|cooler| one(Role::SeaWater, cooler)));
    courses.extend(parts.fans.iter().map(scaled(FAN_SHARE)).map(|fan| one(Role::Fan, fan)));
    courses.extend(parts.standbys.iter().filter_map(|&set| words(Role::Standby, set, &["mode", "ready"])));
    courses.extend(parts.controls.iter().filter_map(|&set| words(Role::Primed, set, &["primed"])));
    courses
}

/// Looks at a run at the end of a tick.
pub(super) fn look(courses: &mut [Course], run: &Run) {
    courses.iter_mut().for_each(|course| course.looks(run));
}

/// Over all courses of a role: when any of them was so, dips bridged.
pub(super) fn any(courses: &[Course], role: Role) -> Vec<(u64, u64)> {
    let mut all: Vec<(u64, u64)> =
        courses.iter().filter(|course| course.role == role).flat_map(|course| course.spans.clone()).collect();
    all.sort_unstable();
    let mut joined: Vec<(u64, u64)> = Vec::new();
    for (from, to) in all {
        match joined.last_mut() {
            Some(last) if from < last.1 + DIP_TICKS => last.1 = last.1.max(to),
            _ => joined.push((from, to)),
        }
    }
    joined
}

/// The gaps between spans from the start to `end`.
pub(super) fn gaps(spans: &[(u64, u64)], end: u64) -> Vec<(u64, u64)> {
    let mut gaps = Vec::new();
    let mut from = 0;
    for span in spans {
        if span.0 > from {
            gaps.push((from, span.0));
        }
        from = span.1;
    }
    // A dip at the very end is no loss yet.
    if from + DIP_TICKS < end {
        gaps.push((from, end));
    }
    gaps
}
