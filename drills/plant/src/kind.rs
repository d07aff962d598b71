//! What a kind of component declares about itself.
//!
//! A kind is one file under [`crate::kinds`] and one line in [`crate::kinds::REGISTRY`]. Everything that anyone
//! else needs to know of it (the parser of ship files, start states, the words a person may type, faults, alerts,
//! the written reference) is read from the [`KindDef`] here, so that nothing drifts.

use crate::ctx::{Ctx, View};
use crate::unit::Dimension;

/// The net a port belongs to. A port and the node it names must be of the same net.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Net {
    /// Liquid with pressure, flow and temperature.
    Liquid,
    /// Compressed air with pressure and mass.
    Air,
    /// A rotating shaft with one speed.
    Shaft,
    /// Three-phase alternating current.
    Ac,
    /// Direct current for control.
    Dc,
    /// The air of a room, with temperature and ventilation.
    Space,
}

/// What a liquid node is filled with. Nets other than liquid have no medium.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Medium {
    /// Sea water, 3.5 % salt.
    SeaWater,
    /// Treated fresh water of an engine's cooling circuits.
    FreshWater,
    /// Diesel or heavy fuel.
    Fuel,
    /// Lubricating oil, SAE 40.
    LubeOil,
}

/// A port: where a component meets a node.
#[derive(Debug)]
pub struct PortDef {
    /// Key in the ship file.
    pub name: &'static str,
    /// Net of the node it takes.
    pub net: Net,
    /// Must the ship file name a node for it?
    pub required: bool,
    /// Ports of one group must be of one medium (a cooler has two groups). Only for liquid ports.
    pub group: u8,
    /// True when the component itself sets the pressure of the node (a tank, a sea chest, an opening).
    /// One node has one such port at most.
    pub sets_node: bool,
    /// One sentence for people.
    pub doc: &'static str,
}

/// What values a parameter takes.
#[derive(Debug)]
pub enum ParamType {
    /// A quantity with a unit, e.g. `"120 m3/h"`; limits in SI.
    Quantity {
        /// Dimension that the unit must have.
        dimension: Dimension,
        /// Lowest value allowed, SI.
        min: f64,
        /// Highest value allowed, SI.
        max: f64,
    },
    /// One of these words; stored as its index.
    Choice(&'static [&'static str]),
    /// `true` or `false`; stored as 1 or 0.
    Flag,
    /// A whole number, e.g. a number of poles.
    Whole {
        /// Lowest value allowed.
        min: i64,
        /// Highest value allowed.
        max: i64,
    },
}

/// A parameter: what does not change while the plant runs.
#[derive(Debug)]
pub struct ParamDef {
    /// Key in the ship file.
    pub name: &'static str,
    /// Values it takes.
    pub takes: ParamType,
    /// Value (SI, index or 0/1) when the ship file is silent; `None` means the ship file must give it.
    pub default: Option<f64>,
    /// One sentence for people, with the source of the default where it has one.
    pub doc: &'static str,
}

/// What a link may point to.
#[derive(Debug)]
pub enum LinkTarget {
    /// A component of one of these kinds.
    Component(&'static [&'static str]),
    /// Any reading, e.g. `"dg1.engine.speed"`.
    Reading,
}

/// A link: how a component knows another without a pipe, shaft or cable between them.
#[derive(Debug)]
pub struct LinkDef {
    /// Key in the ship file.
    pub name: &'static str,
    /// What it points to.
    pub target: LinkTarget,
    /// Must the ship file give it?
    pub required: bool,
    /// One sentence for people.
    pub doc: &'static str,
}

/// One number of a component's state.
#[derive(Debug)]
pub struct StateDef {
    /// Name; `component.name` addresses it in start states when `settable`.
    pub name: &'static str,
    /// Values it takes.
    pub takes: ParamType,
    /// Value (SI) when nothing sets it.
    pub start: f64,
    /// May a start state set it?
    pub settable: bool,
    /// Index of the parameter without which there is nothing to set: a selector, a clutch.
    pub only_with: Option<usize>,
    /// One sentence for people.
    pub doc: &'static str,
}

impl StateDef {
    /// The same state, only for components that have what this parameter says (a flag, or more than nothing).
    pub const fn only_with(mut self, param: usize) -> StateDef {
        self.only_with = Some(param);
        self
    }

    /// Has a component with these parameters got it?
    pub fn applies(&self, params: &[f64]) -> bool {
        is_fitted(self.only_with, params)
    }
}

/// Does a component with these parameters have what this one says, if any is named?
fn is_fitted(only_with: Option<usize>, params: &[f64]) -> bool {
    only_with.is_none_or(|param| params[param] > 0.5)
}

/// The verbs that people know.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verb {
    /// Open a valve, a breaker, a damper.
    Open,
    /// Close a valve, a breaker, a damper.
    Close,
    /// Start a machine.
    Start,
    /// Stop a machine.
    Stop,
    /// Put back what latched.
    Reset,
    /// Blow a sea chest clear with steam or air.
    BlowClear,
    /// Let air out at a vent cock.
    Vent,
    /// Give a setting a value: `set dg1.controls remote`.
    Set,
}

impl Verb {
    /// The word typed by people and written in events.
    pub const fn word(self) -> &'static str {
        match self {
            Verb::Open => "open",
            Verb::Close => "close",
            Verb::Start => "start",
            Verb::Stop => "stop",
            Verb::Reset => "reset",
            Verb::BlowClear => "blow-clear",
            Verb::Vent => "vent",
            Verb::Set => "set",
        }
    }

    /// All verbs, in the order in which help lists them.
    pub const ALL: [Verb; 8] = [
        Verb::Open,
        Verb::Close,
        Verb::Start,
        Verb::Stop,
        Verb::Reset,
        Verb::BlowClear,
        Verb::Vent,
        Verb::Set,
    ];
}

/// From where an act can be done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reach {
    /// Someone stands at the component's place.
    Local,
    /// From the component's remote station (`remote = "control room"` in the ship file), or at its place.
    Remote,
}

/// One thing that a person can do to a component.
#[derive(Debug)]
pub struct ActDef {
    /// The verb.
    pub verb: Verb,
    /// Name of the setting for [`Verb::Set`], otherwise empty.
    pub setting: &'static str,
    /// What the setting takes; `None` for verbs without a value.
    pub takes: Option<ParamType>,
    /// From where.
    pub reach: Reach,
    /// How long the hand is busy, s.
    pub seconds: f64,
    /// Index of the parameter without which there is nothing to work: a selector, a clutch.
    pub only_with: Option<usize>,
    /// One sentence for people.
    pub doc: &'static str,
}

impl ActDef {
    /// The same act, only for components that have what this parameter says (a flag, or more than nothing).
    pub const fn only_with(mut self, param: usize) -> ActDef {
        self.only_with = Some(param);
        self
    }

    /// Can it be done to a component with these parameters?
    pub fn applies(&self, params: &[f64]) -> bool {
        is_fitted(self.only_with, params)
    }
}

/// How a fault's severity works on the component.
#[derive(Debug)]
pub struct FaultDef {
    /// Name; `component.name` addresses it.
    pub name: &'static str,
    /// What it does and how it shows; severity runs from 0 (healthy) to 1 (all of it).
    pub doc: &'static str,
    /// Severity that an injection without a number takes.
    pub usual: f64,
    /// Does it only change what a sensor shows? It deceives people, alerts and what acts by them, never the plant.
    pub deceives: bool,
    /// Index of the parameter without which there is nothing to fail: a non-return valve, a turning gear.
    pub only_with: Option<usize>,
}

impl FaultDef {
    /// The same fault, only for components that have what this parameter says (a flag, or more than nothing).
    pub const fn only_with(mut self, param: usize) -> FaultDef {
        self.only_with = Some(param);
        self
    }

    /// Can a component with these parameters have it?
    pub fn applies(&self, params: &[f64]) -> bool {
        is_fitted(self.only_with, params)
    }
}

/// Something the component cannot work without.
#[derive(Debug)]
pub struct NeedDef {
    /// Name: `supply`, `flow`, `air`.
    pub name: &'static str,
    /// One sentence for people.
    pub doc: &'static str,
}

/// Where a reading can be seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    /// A gauge at the component's place.
    Local,
    /// At the component's place and on the panels of its remote station.
    Remote,
    /// Not shown to trainees: for conditions, marks and the debrief.
    Hidden,
}

/// A named value with a unit.
#[derive(Debug)]
pub struct ReadingDef {
    /// Name; `component.name` addresses it.
    pub name: &'static str,
    /// Dimension; [`Dimension::None`] for states.
    pub dimension: Dimension,
    /// Words for 0, 1, 2… when the reading is a state, otherwise empty.
    pub words: &'static [&'static str],
    /// Where it can be seen.
    pub seen: Seen,
    /// Does it tell of something latched, which the component's reset puts back?
    pub latched: bool,
    /// One sentence for people.
    pub doc: &'static str,
}

impl ReadingDef {
    /// It tells of something latched: what is not its first word stays until the component is reset.
    pub const fn latched(mut self) -> ReadingDef {
        self.latched = true;
        self
    }
}

/// A fact that a step can produce, besides alerts and needs.
#[derive(Debug)]
pub struct FindingDef {
    /// Stable word, e.g. `tripped-overcurrent`.
    pub code: &'static str,
    /// Sentence for people; `{measured}` and `{limit}` are replaced by quantities of `dimension`.
    pub text: &'static str,
    /// Dimension of measured value and limit.
    pub dimension: Dimension,
}

/// A hydraulic branch between two ports of the component.
#[derive(Debug)]
pub struct BranchDef {
    /// Port index where positive flow enters.
    pub from: usize,
    /// Port index where positive flow leaves, or [`ATMOSPHERE`].
    pub to: usize,
}

/// A liquid branch that passes one way only.
#[derive(Debug)]
pub struct OneWay {
    /// Index into [`KindDef::liquid_branches`].
    pub branch: usize,
    /// Flag parameter that makes it so; `None`: it always is.
    pub when: Option<usize>,
    /// A spring holds it shut below a pressure (a relief valve).
    pub sprung: bool,
}

/// What a kind is to the nets it is joined to: by this a ship that cannot work is refused when it is read.
pub struct Joints {
    /// Liquid branches that are pumps: liquid must be able to reach where they begin.
    pub pumps: &'static [usize],
    /// Liquid branches that pass one way only, pumps apart.
    pub one_way: &'static [OneWay],
    /// Flag parameter that says whether ports which set a pressure also give liquid; `None`: they do.
    pub gives: Option<usize>,
    /// Pairs of liquid branches between which heat passes: they belong to two circuits.
    pub exchanges: &'static [(usize, usize)],
    /// Air ports at which it stores air.
    pub stores_air: &'static [usize],
    /// AC ports at which it is a source.
    pub sources: &'static [usize],
    /// Shaft ports that it can turn.
    pub turns: &'static [usize],
    /// Does it bring a moment of inertia to its shaft ports, with these parameters?
    pub brings_inertia: fn(&[f64]) -> bool,
}

impl Joints {
    /// Nothing of the kind.
    pub const NONE: Joints = Joints {
        pumps: &[],
        one_way: &[],
        gives: None,
        exchanges: &[],
        stores_air: &[],
        sources: &[],
        turns: &[],
        brings_inertia: |_| false,
    };
}

/// In a [`BranchDef`] of air: the branch blows to the atmosphere.
pub const ATMOSPHERE: usize = usize::MAX;

/// Why an act was refused.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// Stable word, e.g. `not-primed`.
    pub code: &'static str,
    /// What is in the way and what would allow it.
    pub text: String,
}

/// An act on a component as the plant sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Act {
    /// Which of the kind's [`ActDef`]s.
    pub index: usize,
    /// Value for settings, SI or index of the word; otherwise 0.
    pub value: f64,
    /// From a remote station or from automation (`true`), or by a hand at the component itself.
    pub remote: bool,
}

/// A function of a kind that changes the component while stepping.
pub type Hook = fn(&mut Ctx<'_>);

/// The functions of a kind. The order in which they are called stands in `Plant::step`.
pub struct Hooks {
    /// Once, after the start state is set: derive state that follows from other state.
    pub settle: Option<Hook>,
    /// Each tick, first: selectors, sequences, protection, commands to others.
    pub control: Option<Hook>,
    /// Each sub-step, before the electric solve: stamp admittances and sources.
    pub electric: Option<Hook>,
    /// Each sub-step, after the electric solve: torques onto shafts, fluxes, AVR, governor.
    pub motion: Option<Hook>,
    /// Each tick, before the liquid solve: set branches and boundary pressures.
    pub liquid: Option<Hook>,
    /// Each tick, before the air solve: set air branches.
    pub air: Option<Hook>,
    /// Each tick, after liquid and air are solved: levels, contents, mechanical load of pumps.
    pub after: Option<Hook>,
    /// Each heat step: heat into nodes and streams.
    pub heat: Option<Hook>,
    /// Each tick, last: readings and needs.
    pub publish: Option<Hook>,
    /// May this act be done now? Adds a [`Block`] for each thing in the way. Changes nothing.
    pub permit: Option<fn(&View<'_>, Act, &mut Vec<Block>)>,
    /// Does the act.
    pub act: Option<fn(&mut Ctx<'_>, Act)>,
}

/// No functions at all: kinds write `Hooks { publish: Some(f), ..Hooks::NONE }`.
impl Hooks {
    /// A kind that does nothing.
    pub const NONE: Hooks = Hooks {
        settle: None,
        control: None,
        electric: None,
        motion: None,
        liquid: None,
        air: None,
        after: None,
        heat: None,
        publish: None,
        permit: None,
        act: None,
    };
}

/// Nominal voltage, V, and frequency, Hz, of the node at an AC port; 0 where there is none.
pub type Nominal<'a> = &'a dyn Fn(usize) -> (f64, f64);

/// From parameters and what AC ports are made for to the numbers that follow from both.
pub type Follows = fn(params: &[f64], nominal: Nominal<'_>) -> Vec<f64>;

/// Everything about a kind.
pub struct KindDef {
    /// Name, and the key of its tables in ship files: `[[centrifugal-pump]]`.
    pub name: &'static str,
    /// What it is, for people.
    pub doc: &'static str,
    /// Equations in words, with what is left out.
    pub physics: &'static str,
    /// Where the equations come from.
    pub source: &'static str,
    /// Ports.
    pub ports: &'static [PortDef],
    /// Parameters.
    pub params: &'static [ParamDef],
    /// Links.
    pub links: &'static [LinkDef],
    /// State.
    pub state: &'static [StateDef],
    /// What a person can do to it.
    pub acts: &'static [ActDef],
    /// What can go wrong with it.
    pub faults: &'static [FaultDef],
    /// What it cannot work without.
    pub needs: &'static [NeedDef],
    /// What can be read.
    pub readings: &'static [ReadingDef],
    /// What a step can report of it.
    pub findings: &'static [FindingDef],
    /// Hydraulic branches it makes (liquid ports).
    pub liquid_branches: &'static [BranchDef],
    /// Air branches it makes (air ports).
    pub air_branches: &'static [BranchDef],
    /// Electric connections between two of its AC ports: `(port, port)`.
    pub ac_branches: &'static [BranchDef],
    /// What it is to the nets.
    pub joints: Joints,
    /// What follows from its parameters and never changes, worked out once when a plant is compiled: kept after them, so
    /// that the first is read as parameter `params.len()`. For what every sub-step needs.
    pub follows: Follows,
    /// Functions.
    pub hooks: Hooks,
}

impl KindDef {
    /// A kind that declares nothing; kinds write `KindDef { name: …, ..KindDef::EMPTY }`.
    pub const EMPTY: KindDef = KindDef {
        name: "",
        doc: "",
        physics: "",
        source: "",
        ports: &[],
        params: &[],
        links: &[],
        state: &[],
        acts: &[],
        faults: &[],
        needs: &[],
        readings: &[],
        findings: &[],
        liquid_branches: &[],
        air_branches: &[],
        ac_branches: &[],
        joints: Joints::NONE,
        follows: |_, _| Vec::new(),
        hooks: Hooks::NONE,
    };
}

/// The name says which kind it is; the rest would fill pages.
impl std::fmt::Debug for KindDef {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "KindDef({})", self.name)
    }
}
