//! What joins what: the ports of the components as ways through them and things attached, told from the ports' names.

use deadship_run::view::{Chart, ChartKind, Flows};

/// Ports that lead into one another, from where the medium or the power usually comes. Besides these, a port `inlet` or
/// `…-inlet` leads to its `outlet`. A port of another name is something attached.
const THROUGH: [(&str, &str); 15] = [
    ("suction", "delivery"),
    ("cooled", "common"),
    ("bypass", "common"),
    ("diesel", "outlet"),
    ("heavy", "outlet"),
    ("return", "overboard"),
    ("return", "recirculation"),
    ("lube-gallery", "lube-sump"),
    ("lube", "lube-sump"),
    ("from", "to"),
    ("primary", "secondary"),
    ("generator", "bus"),
    ("normal", "bus"),
    ("emergency", "bus"),
    ("cable", "bus"),
];

/// Ports that take nothing out of a node and put nothing in: what is fitted there feels or warms it only.
const FEELS: [&str; 3] = ["sensor", "ht", "tank"];

/// Ports at which power comes into an electric net.
pub(super) const SOURCES: [&str; 2] = ["terminals", "output"];

/// A way through a component.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Edge {
    /// The component.
    pub(super) component: usize,
    /// Its port at the beginning, and at the end.
    pub(super) ports: (usize, usize),
    /// Node at the beginning.
    pub(super) from: usize,
    /// Node at the end.
    pub(super) to: usize,
}

/// A component that is attached to a node.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Attached {
    /// The component.
    pub(super) component: usize,
    /// Its port.
    pub(super) port: usize,
    /// The node.
    pub(super) node: usize,
    /// Can the medium come or go here, or be kept?
    pub(super) holds: bool,
}

/// What joins what.
#[derive(Clone, Debug)]
pub(super) struct Graph {
    /// Ways through components, in their order.
    pub(super) edges: Vec<Edge>,
    /// What is attached, in the order of the components.
    pub(super) attached: Vec<Attached>,
}

impl Graph {
    /// Of a drawing.
    pub(super) fn new(chart: &Chart) -> Graph {
        let mut graph = Graph { edges: Vec::new(), attached: Vec::new() };
        for (component, known) in chart.components.iter().enumerate() {
            let kind = chart.kind(component);
            let mut used = vec![false; known.ports.len()];
            for (from, to) in legs(kind) {
                let (Some(Some(start)), Some(Some(end))) = (known.ports.get(from), known.ports.get(to))
                else {
                    continue;
                };
                if start != end && chart.nodes[*start].flows == chart.nodes[*end].flows {
                    (used[from], used[to]) = (true, true);
                    graph.edges.push(Edge { component, ports: (from, to), from: *start, to: *end });
                }
            }
            for (port, node) in known.ports.iter().enumerate() {
                let Some(node) = node.filter(|_| !used[port]) else { continue };
                let holds = holds(kind, port);
                graph.attached.push(Attached { component, port, node, holds });
            }
        }
        graph
    }

    /// What is attached to a node.
    pub(super) fn at(&self, node: usize) -> impl Iterator<Item = &Attached> {
        self.attached.iter().filter(move |attached| attached.node == node)
    }

    /// Can the medium come, go or be kept at this node besides what flows through?
    pub(super) fn holds(&self, node: usize) -> bool {
        self.at(node).any(|attached| attached.holds)
    }
}

/// Ways through a kind, as indices of its ports.
fn legs(kind: &ChartKind) -> Vec<(usize, usize)> {
    let find = |name: &str| kind.ports.iter().position(|(known, _)| known == name);
    let named = kind.ports.iter().enumerate().filter_map(|(from, (name, _))| {
        let side = name.strip_suffix("inlet")?;
        Some((from, find(&format!("{side}outlet"))?))
    });
    let listed = THROUGH.iter().filter_map(|(from, to)| Some((find(from)?, find(to)?)));
    named.chain(listed).collect()
}

fn holds(kind: &ChartKind, port: usize) -> bool {
    let name = kind.ports[port].0.as_str();
    // A gauge has nothing but what it shows; an opening at the same port lets through.
    let gauge =
        kind.readings.iter().all(|reading| matches!(reading.name.as_str(), "pressure" | "temperature"));
    let shows = name == "line" && gauge && !kind.readings.is_empty();
    !shows && !FEELS.contains(&name)
}

/// Is it a medium in pipes?
pub(super) fn piped(flows: Flows) -> bool {
    matches!(flows, Flows::SeaWater | Flows::FreshWater | Flows::Fuel | Flows::LubeOil | Flows::Air)
}

/// The part of a name before its first dot.
pub(super) fn head(name: &str) -> &str {
    name.split('.').next().unwrap_or(name)
}
