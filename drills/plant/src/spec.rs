//! A ship or rig as decoded from its files: names resolved, quantities in SI, nothing compiled yet.

use crate::kind::{KindDef, Medium, Net};
use crate::unit::Dimension;
use serde::{Deserialize, Serialize};

/// A position in a text file, both counted from 1.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Pos {
    /// Index into [`ShipSpec::files`].
    pub file: u32,
    /// Line.
    pub line: u32,
    /// Column, in characters.
    pub column: u32,
}

/// A whole ship or rig.
#[derive(Clone, Debug)]
pub struct ShipSpec {
    /// Names of the files it was read from, for positions.
    pub files: Vec<String>,
    /// Name of the ship or rig for people.
    pub title: String,
    /// One paragraph about it (says that it is invented).
    pub about: String,
    /// Places.
    pub places: Vec<PlaceSpec>,
    /// Walking times between two places, s: `(place, place, seconds)`, both ways.
    pub walks: Vec<(usize, usize, f64)>,
    /// Surroundings.
    pub surroundings: Surroundings,
    /// Nodes in order of name.
    pub nodes: Vec<NodeSpec>,
    /// Components in order of name: reordering a file does not change results.
    pub components: Vec<ComponentSpec>,
    /// Alerts in order of name.
    pub alerts: Vec<AlertSpec>,
    /// Direct-current node that feeds the alarm system; `None`: it always has power.
    pub alarm_supply: Option<usize>,
    /// Start states by name.
    pub states: Vec<StateSpec>,
}

impl ShipSpec {
    /// Where what leaks at a place comes to rest: down from place to place. (The reader refuses a circle.)
    pub fn lowest(&self, place: usize) -> usize {
        let down = std::iter::successors(Some(place), |&at| self.places[at].drains_to);
        down.take(self.places.len()).last().unwrap_or(place)
    }
}

/// Outside conditions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surroundings {
    /// Air outside, K.
    pub air_temperature_k: f64,
    /// Sea water, K.
    pub sea_temperature_k: f64,
    /// Draught, m.
    pub draught_m: f64,
    /// Barometer, Pa.
    pub air_pressure_pa: f64,
}

/// A place where people can stand.
#[derive(Clone, Debug)]
pub struct PlaceSpec {
    /// Word typed in commands: `generator-flat`.
    pub name: String,
    /// For people.
    pub title: String,
    /// Place to which what leaks here runs down; `None`: it stays here.
    pub drains_to: Option<usize>,
    /// Where it was written.
    pub pos: Pos,
}

/// A node.
#[derive(Clone, Debug)]
pub struct NodeSpec {
    /// Name.
    pub name: String,
    /// Net.
    pub net: Net,
    /// Medium of a liquid node.
    pub medium: Option<Medium>,
    /// Liquid or air inside, m3 (liquid default 0.02, air default 0.005).
    pub volume_m3: f64,
    /// Share of heavy fuel in a node of fuel at the beginning (default 0: diesel oil).
    pub heavy_share: f64,
    /// Metal and anything else warmed with the liquid, J/K (default 0).
    pub metal_j_k: f64,
    /// Height above the ship's base, m (default 0: not said): by it sea water below sea level boils at a lower pressure.
    pub height_m: f64,
    /// Moment of inertia that a shaft node brings itself, kg m2 (default 0).
    pub inertia_kg_m2: f64,
    /// Nominal voltage of an electric node, V.
    pub voltage_v: f64,
    /// Nominal frequency of an AC node, Hz.
    pub frequency_hz: f64,
    /// Where it was written.
    pub pos: Pos,
}

/// A component.
#[derive(Clone, Debug)]
pub struct ComponentSpec {
    /// Name.
    pub name: String,
    /// For people; the name when the file is silent.
    pub title: String,
    /// Kind.
    pub kind: &'static KindDef,
    /// Index of the place it stands at; `None` on rigs without places.
    pub place: Option<usize>,
    /// Places from which [`crate::kind::Reach::Remote`] acts can be done and remote readings seen.
    pub remote: Vec<usize>,
    /// Node index for each port of the kind.
    pub ports: Vec<Option<usize>>,
    /// Value for each parameter of the kind, SI.
    pub params: Vec<f64>,
    /// Target for each link of the kind.
    pub links: Vec<Option<LinkTo>>,
    /// Where it was written.
    pub pos: Pos,
}

/// A resolved link.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LinkTo {
    /// Index into [`ShipSpec::components`].
    Component(usize),
    /// A reading: component index and index into its kind's readings.
    Reading(usize, usize),
}

/// IMO's priorities of alerts (MSC.302(87)), the highest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Priority {
    /// Immediate attention and action.
    Alarm,
    /// Immediate attention for precaution.
    Warning,
    /// Attention out of the ordinary.
    Caution,
}

impl Priority {
    /// The word for people and on the wire.
    pub const fn word(self) -> &'static str {
        match self {
            Priority::Alarm => "alarm",
            Priority::Warning => "warning",
            Priority::Caution => "caution",
        }
    }
}

/// A limit on a reading.
#[derive(Clone, Debug)]
pub struct AlertSpec {
    /// Name.
    pub name: String,
    /// Text on the alert list.
    pub text: String,
    /// Priority.
    pub priority: Priority,
    /// Reading watched: component index and reading index.
    pub reading: (usize, usize),
    /// Below or above the limit?
    pub when: Beyond,
    /// Limit, SI.
    pub limit: f64,
    /// Dimension of the limit.
    pub dimension: Dimension,
    /// The alert clears when the reading is back inside the limit by this much, SI.
    pub hysteresis: f64,
    /// How long the limit must be passed, s.
    pub delay_s: f64,
    /// Only while this reading is above 0.5, and for `after_s` before.
    pub only_while: Option<(usize, usize)>,
    /// How long `only_while` must have held, s.
    pub after_s: f64,
    /// Component it belongs to for people, the one whose reading is watched unless said.
    pub about: usize,
    /// Does it stand in the way of automatic standby of the set it is about?
    pub blocks_standby: bool,
    /// When it is suppressed by design: a dead board need not say so through every gauge behind it.
    pub suppressed: Option<Suppression>,
    /// Group of alerts of which the first to come is marked: what came first is nearest to the cause.
    pub first_out: Option<String>,
    /// Is it hard-wired, with a battery of its own: does it come without the alarm system?
    pub own_supply: bool,
    /// Where it was written.
    pub pos: Pos,
}

/// When an alert is suppressed by design.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Suppression {
    /// Reading that decides: component index and reading index.
    pub reading: (usize, usize),
    /// Below or above the limit?
    pub when: Beyond,
    /// Limit, SI.
    pub limit: f64,
    /// How long it stays suppressed after that, s: pumps need time to come back.
    pub for_s: f64,
}

/// Side of a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beyond {
    /// Alert when the reading is below.
    Below,
    /// Alert when the reading is above.
    Above,
}

/// A named start state.
#[derive(Clone, Debug)]
pub struct StateSpec {
    /// Name: `dead ship`.
    pub name: String,
    /// For people.
    pub about: String,
    /// What it sets, in order; later lines win.
    pub sets: Vec<StateSet>,
}

/// One value of a start state.
#[derive(Clone, Copy, Debug)]
pub struct StateSet {
    /// What is set.
    pub target: StateTarget,
    /// Value, SI.
    pub value: f64,
}

/// What a start state can set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StateTarget {
    /// State of a component: component index, state index.
    Component(usize, usize),
    /// Temperature of a liquid node, K.
    NodeTemperature(usize),
    /// Absolute pressure of an air node, Pa.
    NodePressure(usize),
    /// Speed of a shaft node, rad/s; what drives or runs with it at the start has the last word.
    NodeSpeed(usize),
    /// Surroundings: 0 air temperature, 1 sea temperature, 2 draught.
    Surroundings(u8),
}

/// Something wrong with a file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Problem {
    /// File name.
    pub file: String,
    /// Line from 1.
    pub line: u32,
    /// Column from 1.
    pub column: u32,
    /// What is wrong.
    pub message: String,
    /// What to do, or the nearest known name.
    pub help: Option<String>,
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}:{}:{}: {}", self.file, self.line, self.column, self.message)?;
        match &self.help {
            Some(help) => write!(f, " ({help})"),
            None => Ok(()),
        }
    }
}
