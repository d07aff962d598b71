//! Words and quantities beside a component in a pipe.

use super::graph::piped;
use super::pen::Pen;
use crate::screen::state::{Shape, StateNow};
use deadship_run::view::{Chart, ChartReading};

/// Quantities that are shown beside a component, by what their names contain.
const SHOWN: [&str; 6] = ["pressure", "temperature", "level", "difference", "viscosity", "vacuum"];

/// Words of running and standing; others say how something works and stand in brackets.
const PLAIN: [&str; 6] = ["running", "stopped", "on", "off", "excited", "dead"];

/// What a port is among the others of its component.
#[derive(Clone, Copy)]
pub(super) struct AtPort<'c> {
    /// The component.
    pub(super) component: usize,
    /// Name of the port where the medium comes in, or of the only one.
    pub(super) port: &'c str,
    /// Name of the port where it goes out.
    pub(super) to: Option<&'c str>,
}

/// Readings that belong to this port, as far as they can be seen, at most so many.
pub(super) fn readings(pen: &Pen<'_>, chart: &Chart, at: AtPort<'_>, most: usize) -> Vec<String> {
    let name = &chart.components[at.component].name;
    let readings = chart.kind(at.component).readings.iter();
    let wanted = readings.filter(|reading| wanted(reading) && belongs(chart, at, &reading.name));
    let seen = wanted.filter_map(|reading| {
        let text = pen.model.reading(name, &reading.name)?;
        let what = what(&reading.name, at).filter(|_| pen.roomy());
        Some(match what {
            // What is no pressure at a place is said to be the difference of two.
            _ if reading.name == "difference" => format!("Δp {text}"),
            _ if reading.name == "vacuum" => format!("vacuum {text}"),
            Some(what) => format!("{what} {text}"),
            None => text.to_owned(),
        })
    });
    seen.take(most).collect()
}

/// What stands before the quantity in a reading's name, without the side that the port says: `outlet` of
/// `cold-outlet-temperature`.
fn what(reading: &str, at: AtPort<'_>) -> Option<String> {
    let (what, quantity) = reading.rsplit_once('-')?;
    // A side is what stands before `-inlet`, or the port at which something is fitted.
    let fitted = at.to.is_none().then_some(at.port);
    let side = at.port.split_once('-').map(|(side, _)| side).or(fitted);
    let rest = side.and_then(|side| what.strip_prefix(side)).unwrap_or(what).trim_start_matches('-');
    let said = !rest.is_empty() && matches!(quantity, "pressure" | "temperature");
    said.then(|| rest.replace('-', " "))
}

fn wanted(reading: &ChartReading) -> bool {
    let shown = SHOWN.iter().any(|shown| reading.name.contains(shown)) || reading.name == "recirculating";
    shown && reading.seen != "hidden" && reading.words.is_empty()
}

fn belongs(chart: &Chart, at: AtPort<'_>, reading: &str) -> bool {
    let (known, kind) = (&chart.components[at.component], chart.kind(at.component));
    if reading == "recirculating" {
        return at.to == Some("recirculation");
    }
    let named = |beginning: &str| reading.strip_prefix(beginning).is_some_and(|rest| rest.starts_with('-'));
    // Behind an outlet that is free there is nothing to be told.
    let outlet = kind.ports.iter().position(|(name, _)| name == "outlet");
    if named("outlet") && outlet.is_some_and(|outlet| known.ports[outlet].is_none()) {
        return false;
    }
    let wet = known.ports.iter().flatten().filter(|node| piped(chart.nodes[**node].flows)).count();
    let side = at.port.split_once('-').map_or(at.port, |(side, _)| side);
    // Of a component that joins several circuits: what its name gives to this side, or to none.
    wet <= 2 || named(at.port) || (named(side) && at.port != "lube-sump") || !reading.contains('-')
}

/// The word beside a shape, where it is needed or there is room.
pub(super) fn word(pen: &Pen<'_>, state: &StateNow) -> Option<String> {
    match state.shape {
        Shape::Unseen | Shape::Value => None,
        Shape::Open => pen.roomy().then(|| state.word.clone()),
        Shape::On | Shape::Off if !PLAIN.contains(&state.word.as_str()) => Some(format!("({})", state.word)),
        _ => Some(state.word.clone()),
    }
}
