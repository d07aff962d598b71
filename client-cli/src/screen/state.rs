//! How a component is, in a word and a shape, told from the readings that can be seen and its kind's declaration.

use super::model::{Model, number};
use deadship_run::view::{ChartReading, Flows};

/// What the shape tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Shape {
    /// A valve that is open.
    Open,
    /// A valve that is shut.
    Shut,
    /// A valve between open and shut.
    Between,
    /// A switch that is closed: it carries.
    Made,
    /// A switch that is open.
    Broken,
    /// Running, on.
    On,
    /// Standing, off.
    Off,
    /// Latched: it needs a reset.
    Latched,
    /// A value.
    Value,
    /// It cannot be seen from here.
    Unseen,
}

impl Shape {
    /// Two cells. Valves after the triangles of ISO 10628, switches after the contact of IEC 60617, as near as letters come.
    pub(crate) const fn sign(self) -> &'static str {
        match self {
            Shape::Open => "▷◁",
            Shape::Shut => "▶◀",
            Shape::Between => "▷◀",
            Shape::Made => "─■",
            Shape::Broken => "─/",
            Shape::On => "● ",
            Shape::Off => "○ ",
            Shape::Latched => "✖ ",
            Shape::Value => "· ",
            Shape::Unseen => "  ",
        }
    }
}

/// How something is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct StateNow {
    /// Shape.
    pub(crate) shape: Shape,
    /// Word or value.
    pub(crate) word: String,
}

/// States that say most of what someone wants to know, the most telling first.
const TELLING: [&str; 9] =
    ["running", "closed", "open", "position", "on", "phase", "supply", "mode", "excited"];

/// How a component is, as far as it can be seen.
pub(crate) fn state_of(model: &Model, component: usize) -> StateNow {
    let unseen = StateNow { shape: Shape::Unseen, word: String::new() };
    let Some(chart) = &model.chart else { return unseen };
    let (known, kind) = (&chart.components[component], chart.kind(component));
    let seen = |reading: &ChartReading| model.reading(&known.name, &reading.name).map(str::to_owned);
    for reading in kind.readings.iter().filter(|reading| reading.latched) {
        let Some(word) = seen(reading).filter(|word| reading.words.first() != Some(word)) else { continue };
        let word = if word == "yes" { reading.name.replace('-', " ") } else { word };
        return StateNow { shape: Shape::Latched, word: word.replace("overload tripped", "tripped") };
    }
    let first = known.ports.iter().flatten().next().map(|&node| chart.nodes[node].flows);
    for name in TELLING {
        let Some(reading) = kind.readings.iter().find(|reading| reading.name == name) else { continue };
        if let Some(text) = seen(reading) {
            return telling(name, &text, first);
        }
    }
    let words = kind.readings.iter().filter(|reading| !reading.words.is_empty());
    let shown = kind.readings.iter().filter(|reading| reading.words.is_empty()).chain(words);
    for reading in shown {
        if let Some(word) = seen(reading) {
            return StateNow { shape: Shape::Value, word };
        }
    }
    unseen
}

fn telling(name: &str, text: &str, first: Option<Flows>) -> StateNow {
    let electric = matches!(first, Some(Flows::Ac | Flows::Dc));
    let (shape, word) = match (name, text) {
        ("running", "yes") => (Shape::On, "running"),
        ("running", _) => (Shape::Off, "stopped"),
        ("closed", "yes") => (Shape::Made, "closed"),
        ("closed", _) => (Shape::Broken, "open"),
        ("open", "yes") if electric => (Shape::Broken, "open"),
        ("open", "yes") => (Shape::Open, "open"),
        ("open", _) if electric => (Shape::Made, "closed"),
        ("open", _) => (Shape::Shut, "shut"),
        ("on", "yes") => (Shape::On, "on"),
        ("on", _) => (Shape::Off, "off"),
        ("excited", "yes") => (Shape::On, "excited"),
        ("excited", _) => (Shape::Off, "dead"),
        ("phase", "stopped" | "waiting") | ("supply", "none") | ("mode", "off") => (Shape::Off, text),
        ("phase" | "supply" | "mode", _) => (Shape::On, text),
        ("position", text) => match number(text) {
            Some(percent) if percent <= 0.5 => (Shape::Shut, "shut"),
            Some(percent) if percent >= 99.5 => (Shape::Open, "open"),
            Some(_) => (Shape::Between, text),
            None if text == "shut" => (Shape::Shut, text),
            None => (Shape::Open, text),
        },
        _ => (Shape::Value, text),
    };
    StateNow { shape, word: word.to_owned() }
}
