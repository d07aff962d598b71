//! Whether a board is live, by what can be seen: a voltmeter on it, or a closed switch to a board that is live.

use super::graph::{Edge, Graph, SOURCES};
use crate::screen::model::{Model, number};
use crate::screen::state::{Shape, state_of};
use deadship_run::view::{Chart, Flows};

/// Readings of voltage and frequency, with the ports at which they are taken.
const VOLTAGE: [(&str, &[&str]); 3] = [
    ("bus-voltage", &["bus"]),
    ("secondary-voltage", &["secondary"]),
    ("voltage", &["from", "bus", "terminals", "output"]),
];
const FREQUENCY: [(&str, &[&str]); 2] = [("bus-frequency", &["bus"]), ("frequency", &["bus", "terminals"])];

/// Below this share of its nominal voltage a board is dead; common practice, no source.
const DEAD: f64 = 0.1;

/// Boards one after another that are looked at; more is a ring.
const MOST_STEPS: usize = 8;

/// How a board is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Live {
    /// There is voltage: as shown.
    Shown(String),
    /// There is none: as shown.
    Dead(String),
    /// Closed on a live board through this component.
    Fed(String),
    /// Every switch to it is seen open, or closed on a board without voltage; the first of them.
    NotFed(String),
    /// Nothing of it can be seen.
    Unseen,
}

/// How the board at a node is.
pub(super) fn live(model: &Model, chart: &Chart, graph: &Graph, node: usize) -> Live {
    look(model, chart, graph, node, MOST_STEPS)
}

fn look(model: &Model, chart: &Chart, graph: &Graph, node: usize, steps: usize) -> Live {
    if let Some(volts) = shown(model, chart, node, &VOLTAGE) {
        let nominal = chart.nodes[node].voltage_v;
        if number(volts).is_some_and(|volts| volts.abs() < DEAD * nominal.max(1.0)) {
            return Live::Dead(volts.to_owned());
        }
        let hertz = shown(model, chart, node, &FREQUENCY).filter(|_| chart.nodes[node].flows == Flows::Ac);
        return Live::Shown(hertz.map_or_else(|| volts.to_owned(), |hertz| format!("{volts} {hertz}")));
    }
    if steps == 0 {
        return Live::Unseen;
    }
    let ins: Vec<&Edge> = graph.edges.iter().filter(|edge| edge.to == node).collect();
    let name = |edge: &Edge| chart.components[edge.component].name.clone();
    // An ideal switch that is closed: what is on its one side is on the other.
    let mut not_fed = None;
    // What makes power at the board itself, and is not seen, can make it live.
    let source =
        graph.at(node).any(|at| SOURCES.contains(&chart.kind(at.component).ports[at.port].0.as_str()));
    let mut unseen = ins.is_empty() || source;
    for edge in ins {
        match state_of(model, edge.component).shape {
            Shape::Made => match look(model, chart, graph, edge.from, steps - 1) {
                Live::Shown(_) | Live::Fed(_) => return Live::Fed(name(edge)),
                Live::Dead(_) | Live::NotFed(_) => {
                    not_fed = not_fed.or_else(|| Some(format!("nothing before {}", name(edge))));
                }
                Live::Unseen => unseen = true,
            },
            Shape::Broken => not_fed = not_fed.or_else(|| Some(format!("{} open", name(edge)))),
            _ => unseen = true,
        }
    }
    not_fed.filter(|_| !unseen).map_or(Live::Unseen, Live::NotFed)
}

/// The first reading of a component at the node that can be seen.
fn shown<'m>(model: &'m Model, chart: &Chart, node: usize, table: &[(&str, &[&str])]) -> Option<&'m str> {
    let at = |component: &usize| chart.components[*component].ports.contains(&Some(node));
    (0..chart.components.len()).filter(at).find_map(|component| {
        let (known, kind) = (&chart.components[component], chart.kind(component));
        table.iter().find_map(|(reading, ports)| {
            // A reading is taken at the first of its ports that the kind has.
            let port = ports.iter().find_map(|port| kind.ports.iter().position(|(name, _)| name == port))?;
            let here = known.ports.get(port) == Some(&Some(node));
            let text = model.reading(&known.name, reading).filter(|_| here)?;
            number(text).is_some().then_some(text)
        })
    })
}
