//! A drill as read from its file and checked against its ship.

use crate::asking::{Ask, Asking, RESERVED};
use crate::condition::Condition;
use crate::dials::{Dials, Positions};
use crate::objective::Objective;
use deadship_plant::plant::Intermittent;

/// What stands in every brief and every report.
pub const SAFETY: &str = "A training aid, not a procedure. On board, follow the ship's safety management system, the \
makers' instructions, local codes and licensed engineers; lock out, test dead, beware of stored air, hot surfaces, \
live boards.";

/// A drill.
#[derive(Clone, Debug)]
pub struct Drill {
    /// Name: its file's, without folder and ending.
    pub name: String,
    /// Title.
    pub title: String,
    /// Name of the ship.
    pub ship: String,
    /// Start state of the ship.
    pub start: Option<String>,
    /// How long the plant is stepped before the run begins, s.
    pub settle_s: f64,
    /// How long the run may take, s.
    pub limit_s: Option<f64>,
    /// Seed, unless the opening gives another.
    pub seed: u64,
    /// What the team is told.
    pub brief: String,
    /// Safety words of this drill, besides [`SAFETY`].
    pub safety: String,
    /// Stations, in the order written.
    pub stations: Vec<Station>,
    /// Faults on a schedule or a condition.
    pub faults: Vec<FaultStep>,
    /// Messages on a schedule or a condition.
    pub messages: Vec<Message>,
    /// What people are asked on the way.
    pub askings: Vec<Asking>,
    /// What it is about.
    pub aim: Option<Aim>,
    /// What is expected on the way.
    pub expects: Vec<Expect>,
    /// What it is to teach.
    pub objectives: Vec<Objective>,
    /// Is the team shown ratings that are given when the run is over?
    pub team_sees_ratings: bool,
    /// What its author says of it: for briefs, lists and `prove`.
    pub about: About,
    /// What it can turn out to be.
    pub variants: Vec<Variant>,
    /// Which of them this run is: its seed chooses.
    pub variant: Option<usize>,
    /// Where its dials stand in this run.
    pub dials: Dials,
    /// What it brings or expects only with some positions of them, in this run or not.
    pub dialled: Vec<Dialled>,
}

/// A part of a drill that depends on the dials.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Dialled {
    /// `fault`, `message`, `probe`, `decision`, `expect`.
    pub sort: &'static str,
    /// Name.
    pub name: String,
    /// With which positions it is there.
    pub there: Positions,
}

/// One of the things that a drill can turn out to be, so that who has met it once does not know it all.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Variant {
    /// Name.
    pub name: String,
    /// For whoever leads it.
    pub about: String,
}

/// What the author of a drill says of it. Nothing in a run depends on it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct About {
    /// How long an expert crew takes, s.
    pub length_s: Option<f64>,
    /// From 1, for a first lesson, to [`HARDEST`].
    pub difficulty: Option<u32>,
    /// For the talk afterwards.
    pub questions: Vec<String>,
    /// What it is drawn from: authority and number, or `common practice, no source`.
    pub sources: Vec<String>,
    /// Are more alerts meant than people can attend to?
    pub flood: bool,
}

/// The hardest that a drill can be said to be.
pub const HARDEST: u32 = 5;

impl Drill {
    /// The brief with all safety words.
    pub fn full_brief(&self) -> String {
        let parts = [self.brief.trim(), self.safety.trim(), SAFETY];
        parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join("\n\n")
    }

    /// What `done("…")` knows, in the order of [`crate::watch::Watch::done`].
    pub(crate) fn dones(&self) -> Vec<String> {
        self.expects.iter().map(|expect| expect.name.clone()).chain([AIM.to_owned()]).collect()
    }

    /// Its decisions, in the order written.
    pub fn decisions(&self) -> impl Iterator<Item = &Ask> {
        self.askings.iter().filter(|asking| asking.decides()).flat_map(|asking| &asking.asks)
    }

    /// The words that `decided("…")` can give for each decision.
    pub(crate) fn options(&self) -> Vec<(String, Vec<String>)> {
        let words = |ask: &Ask| {
            let own = ask.choices.iter().map(|choice| choice.word.clone());
            own.chain(RESERVED.map(str::to_owned)).collect()
        };
        self.decisions().map(|ask| (ask.name.clone(), words(ask))).collect()
    }

    /// A question by name.
    pub fn ask(&self, name: &str) -> Option<&Ask> {
        self.askings.iter().flat_map(|asking| &asking.asks).find(|ask| ask.name == name)
    }

    /// Can this station be spoken to? The bridge always can.
    pub fn hears(&self, station: &str) -> bool {
        station == BRIDGE || self.station(station).is_some()
    }

    /// The stations that can be spoken to, for people.
    pub fn hearers(&self) -> Vec<&str> {
        let stations = self.stations.iter().map(|station| station.name.as_str());
        let bridge = (self.station(BRIDGE).is_none()).then_some(BRIDGE);
        stations.chain(bridge).collect()
    }

    /// A station by name.
    pub fn station(&self, name: &str) -> Option<&Station> {
        self.stations.iter().find(|station| station.name == name)
    }
}

/// What one or more of the crew hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Station {
    /// Name: one word.
    pub name: String,
    /// For people.
    pub title: String,
    /// Index of the place where it begins; `None` on ships without places.
    pub start: Option<usize>,
    /// Indices of the places it covers, for people: nobody is kept from walking elsewhere.
    pub covers: Vec<usize>,
    /// How many may hold it at a time.
    pub seats: u32,
    /// What stands on its card, besides what can be worked out; may be empty.
    pub card: String,
}

/// When a step of the drill happens.
#[derive(Clone, Debug)]
pub enum Trigger {
    /// So many seconds after the start.
    At(f64),
    /// Once this is true.
    When(Condition),
}

/// A fault that the drill brings.
#[derive(Clone, Debug)]
pub struct FaultStep {
    /// Name.
    pub name: String,
    /// Component.
    pub component: usize,
    /// Fault of its kind.
    pub fault: usize,
    /// Severity, 0 to 1.
    pub severity: f64,
    /// Time it takes to come, s.
    pub ramp_s: f64,
    /// How it comes and goes; `None`: it stays.
    pub intermittent: Option<Intermittent>,
    /// When it comes.
    pub comes: Trigger,
    /// When it goes, if the drill takes it away.
    pub goes: Option<Trigger>,
}

/// The station that is always there: the instructor or the drill speaks for it.
pub const BRIDGE: &str = "bridge";

/// A message that the drill brings.
#[derive(Clone, Debug)]
pub struct Message {
    /// Name.
    pub name: String,
    /// Station; `None`: all.
    pub to: Option<String>,
    /// Text.
    pub text: String,
    /// When.
    pub comes: Trigger,
    /// Is it an order of the bridge, to be reported?
    pub order: bool,
    /// In how long, s; `None`: whenever.
    pub within_s: Option<f64>,
}

/// What the drill is about.
#[derive(Clone, Debug)]
pub struct Aim {
    /// For people.
    pub text: String,
    /// Condition.
    pub condition: Condition,
    /// How long it must hold, s.
    pub hold_s: f64,
    /// Does the run end then?
    pub ends: bool,
}

/// Something expected.
#[derive(Clone, Debug)]
pub struct Expect {
    /// Name.
    pub name: String,
    /// For people.
    pub text: String,
    /// What must come true.
    pub when: Condition,
    /// Its time begins to run once this is true; `None`: at the start.
    pub from: Option<Condition>,
    /// In how long, s; `None`: before the run ends.
    pub within_s: Option<f64>,
    /// Objective that it belongs to.
    pub objective: Option<String>,
}

/// Name under which `done("…")` knows the aim.
pub const AIM: &str = "aim";
