//! What is measured, as data: for reports, exports and screens.

use crate::setup::ticks;
use crate::timeline::length;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// The measures of a run.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Measures {
    /// Run.
    pub run: Uuid,
    /// Title of the drill.
    pub drill: String,
    /// Name of the ship.
    pub ship: String,
    /// Last tick recorded.
    pub ticks: u64,
    /// The recovery, in the order in which it is usually done.
    pub measures: Vec<Measure>,
    /// Every fault that was set, in order.
    pub faults: Vec<FaultTimes>,
    /// Load by alerts.
    pub alerts: AlertLoad,
    /// Orders and what became of them.
    pub orders: Vec<Measure>,
    /// Every time an engine was cranked.
    pub starts: Vec<StartTry>,
    /// What could have hurt people or machines.
    pub unsafe_acts: Vec<UnsafeAct>,
    /// The order in which things came back.
    pub restart: RestartOrder,
    /// The moments that are proposed for the talk afterwards, the weightiest first.
    pub moments: Vec<Moment>,
    /// What could not be measured, and why; empty: all was.
    pub not_computed: Vec<String>,
    /// Safety words.
    pub safety: String,
}

/// One measure.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Measure {
    /// Stable word.
    pub name: String,
    /// For people.
    pub title: String,
    /// How it is defined, in short; in full in `docs/measures.md`.
    pub definition: String,
    /// What became of it.
    pub reached: Reached,
    /// Value in `unit`; `None` where there is none to give.
    pub value: Option<f64>,
    /// Unit: `s`, `%`, `1/10 min`, or empty for counts.
    pub unit: String,
    /// What it is to be held against, with its source; empty: nothing.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub reference: String,
    /// For people: the value and what it rests on.
    pub text: String,
    /// Tick from which it is counted.
    pub from_tick: Option<u64>,
    /// Tick at which it was reached.
    pub tick: Option<u64>,
    /// Events that prove it.
    pub seqs: Vec<u64>,
}

impl Measure {
    /// The value alone, short enough for a table.
    pub fn short(&self) -> String {
        match (self.reached, self.value, self.unit.as_str()) {
            (Reached::Kept, ..) => "kept".to_owned(),
            (Reached::NotReached, ..) => "not reached".to_owned(),
            (Reached::Nothing, ..) => "none".to_owned(),
            (Reached::NotComputed, ..) => "not measured".to_owned(),
            (Reached::Measured, None, _) => self.text.clone(),
            (Reached::Measured, Some(value), "s") => length(ticks(value)),
            (Reached::Measured, Some(value), "") => value.to_string(),
            (Reached::Measured, Some(value), "1/10 min") => format!("{value} in 10 min"),
            (Reached::Measured, Some(value), unit) => format!("{value} {unit}"),
        }
    }
}

/// What became of a measure.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Reached {
    /// It has a value.
    #[default]
    Measured,
    /// It was never lost, so there was nothing to bring back.
    Kept,
    /// It had not come when the log ends.
    NotReached,
    /// Nothing in the run or on the ship that it could be about.
    Nothing,
    /// It cannot be worked out from this record; the text says why.
    NotComputed,
}

/// An instant with its event.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Point {
    /// Tick.
    pub tick: u64,
    /// Event.
    pub seq: u64,
    /// What happened, for people.
    pub text: String,
}

/// What became of a fault.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct FaultTimes {
    /// `component.fault`.
    pub name: String,
    /// Component.
    pub component: String,
    /// Who set it.
    pub by: String,
    /// Event that set it.
    pub seq: u64,
    /// Tick at which it was set.
    pub set_tick: u64,
    /// First sign of it.
    pub sign: Option<Point>,
    /// First that shows that someone saw it.
    pub noticed: Option<Point>,
    /// First words about it.
    pub reported: Option<Point>,
    /// The component named.
    pub diagnosed: Option<Point>,
    /// First right action.
    pub acted: Option<Point>,
    /// It is gone, or its signs are.
    pub cured: Option<Point>,
}

/// Load by alerts.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AlertLoad {
    /// Figures, with what they are held against.
    pub figures: Vec<Measure>,
    /// Alerts that stood for more than ten minutes.
    pub standing: Vec<AlertSpan>,
    /// Alerts that came three times within a minute.
    pub chattering: Vec<AlertSpan>,
    /// Those that nobody acknowledged, the longest first.
    pub unanswered: Vec<AlertSpan>,
}

/// An alert over a time.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct AlertSpan {
    /// Alert.
    pub alert: String,
    /// Text on the alert list.
    pub text: String,
    /// Event that raised it.
    pub seq: u64,
    /// Tick at which it came up.
    pub from_tick: u64,
    /// Tick at which it went, or the log ends.
    pub to_tick: u64,
}

/// One time that an engine was cranked.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct StartTry {
    /// Component that cranked it.
    pub component: String,
    /// Tick.
    pub tick: u64,
    /// What became of it.
    pub end: StartEnd,
    /// For people.
    pub text: String,
    /// Events: cranking, firing, at speed.
    pub seqs: Vec<u64>,
}

/// What became of a start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum StartEnd {
    /// It fired and came to speed.
    Ran,
    /// It was blown through with open indicator cocks, as it should be after a standstill.
    BlownThrough,
    /// Cranked for nothing.
    Wasted,
    /// The log ends before it is decided.
    Open,
}

/// Something that could have hurt people or machines.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct UnsafeAct {
    /// Stable word.
    pub name: String,
    /// For people.
    pub title: String,
    /// Who did it; the plant, where it was found out.
    pub who: String,
    /// Tick.
    pub tick: u64,
    /// Event.
    pub seq: u64,
    /// What happened.
    pub text: String,
    /// All events that it rests on.
    pub seqs: Vec<u64>,
}

/// The order in which things came back.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RestartOrder {
    /// Against the places in the ship's restart sequence.
    pub by_ship: Option<OrderCheck>,
    /// Against the procedure that the team was given.
    pub by_procedure: Option<OrderCheck>,
}

/// An order held against a list.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OrderCheck {
    /// The list, for people.
    pub list: String,
    /// Pairs of which both were done and of which the list says which comes first.
    pub pairs: u64,
    /// Those of them done in the order of the list.
    pub in_order: u64,
    /// What the list has, in its order.
    pub items: Vec<RestartItem>,
    /// Items done before one that the list has earlier: what, and before what.
    pub out_of_order: Vec<String>,
}

/// An item of such a list.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct RestartItem {
    /// Component or act.
    pub name: String,
    /// Tick at which it came or was done; `None`: it was not.
    pub tick: Option<u64>,
    /// Event.
    pub seq: Option<u64>,
}

/// A moment that is worth talking about.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Moment {
    /// What sort: `trip`, `unsafe-act`, `first-out`, `unanswered-alert`, `right-action`, `power-back`.
    pub sort: String,
    /// Tick.
    pub tick: u64,
    /// Event.
    pub seq: u64,
    /// For people.
    pub title: String,
    /// Why it is proposed.
    pub why: String,
    /// Readings worth plotting, by full name.
    pub readings: Vec<String>,
    /// From here…
    pub from_tick: u64,
    /// …to here.
    pub to_tick: u64,
}
