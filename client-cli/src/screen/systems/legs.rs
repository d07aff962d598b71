//! Components with several ways through them that one spindle or one drive sets: which way is open.

use super::graph::{Edge, Graph};
use crate::screen::model::{Model, number};
use crate::screen::state::{Shape, StateNow, state_of};
use deadship_run::view::{Chart, Flows};

/// How one way through a component is. A word that names the way says that it is open; one that names another, that it
/// is not. A share is told at the first way only: it says nothing of the others by itself.
pub(super) fn way_state(model: &Model, chart: &Chart, graph: &Graph, edge: &Edge) -> StateNow {
    let state = state_of(model, edge.component);
    let ways = joined(graph, edge);
    if ways.len() < 2 || state.shape == Shape::Unseen {
        return state;
    }
    let name = &chart.components[edge.component].name;
    if model.reading(name, "position").is_some_and(|text| number(text).is_some()) {
        let other = StateNow { shape: Shape::Value, word: String::new() };
        return if ways.first() == Some(edge) { state } else { other };
    }
    let names: Vec<&str> = ways.iter().map(|way| way_name(chart, way, &ways)).collect();
    let own = way_name(chart, edge, &ways);
    let electric = matches!(chart.nodes[edge.from].flows, Flows::Ac | Flows::Dc);
    let is = |open: bool| match (open, electric) {
        (true, true) => StateNow { shape: Shape::Made, word: "closed".to_owned() },
        (false, true) => StateNow { shape: Shape::Broken, word: "open".to_owned() },
        (true, false) => StateNow { shape: Shape::Open, word: "open".to_owned() },
        (false, false) => StateNow { shape: Shape::Shut, word: "shut".to_owned() },
    };
    if state.word == own {
        return is(true);
    }
    if names.contains(&state.word.as_str()) || matches!(state.word.as_str(), "none" | "shut") {
        return is(false);
    }
    state
}

/// The ways through a component that have a port in common with this one, itself among them.
fn joined(graph: &Graph, edge: &Edge) -> Vec<Edge> {
    let same = |other: &&Edge| {
        other.component == edge.component && (other.ports.0 == edge.ports.0 || other.ports.1 == edge.ports.1)
    };
    graph.edges.iter().filter(same).copied().collect()
}

/// The port that tells a way from the others.
fn way_name<'c>(chart: &'c Chart, way: &Edge, ways: &[Edge]) -> &'c str {
    let port = if ways.iter().all(|other| other.ports.0 == way.ports.0) { way.ports.1 } else { way.ports.0 };
    &chart.kind(way.component).ports[port].0
}
