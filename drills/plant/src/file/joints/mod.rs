//! Can the ship as joined work at all? Looked at once everything in the files is sound in itself.
//!
//! What a kind is to its nets stands in its [`crate::kind::Joints`]; nothing here knows a kind by name.

mod electric;
mod liquid;
mod others;

use super::components::Component;
use super::nodes::Node;
use super::sheet::Sheet;
use super::toml_reader::Spot;
use crate::kind::{BranchDef, KindDef, Net};

/// What is looked at.
pub(super) struct Ship<'s, 'a> {
    pub sheet: &'s Sheet<'a>,
    pub nodes: &'s [Node],
    pub components: &'s [Component<'a>],
}

/// All checks.
pub(super) fn check(sheet: &Sheet<'_>, nodes: &[Node], components: &[Component<'_>]) {
    let ship = Ship { sheet, nodes, components };
    liquid::check(&ship);
    // A rig is a piece of a ship: its test turns shafts, fills vessels and looks at a machine without a bus.
    if sheet.is_ship() {
        others::check_air(&ship);
        others::check_shafts(&ship);
        electric::check(&ship);
    }
}

/// A branch of a component between two nodes.
#[derive(Clone, Copy)]
struct Edge {
    from: usize,
    to: usize,
    component: usize,
    /// Index into the kind's list of branches.
    branch: usize,
}

impl<'a> Ship<'_, 'a> {
    /// Branches of one sort that have a node at either end.
    fn edges(&self, list: impl Fn(&KindDef) -> &'static [BranchDef]) -> Vec<Edge> {
        let mut edges = Vec::new();
        for (index, component) in self.components.iter().enumerate() {
            for (branch, def) in list(component.spec.kind).iter().enumerate() {
                let port = |port: usize| component.spec.ports.get(port).copied().flatten();
                if let (Some(from), Some(to)) = (port(def.from), port(def.to)) {
                    edges.push(Edge { from, to, component: index, branch });
                }
            }
        }
        edges
    }

    /// Components with the port that names this node.
    fn ports_on(&self, node: usize) -> impl Iterator<Item = (&Component<'a>, usize)> {
        self.components.iter().flat_map(move |component| {
            let ports = component.spec.ports.iter().enumerate();
            ports.filter(move |(_, named)| **named == Some(node)).map(move |(port, _)| (component, port))
        })
    }

    fn nodes_of(&self, net: Net) -> impl Iterator<Item = usize> {
        (0..self.nodes.len()).filter(move |&node| self.nodes[node].spec.net == net)
    }

    /// Says what is wrong with a group of nodes, at the one that is written first.
    fn report_nodes(&self, group: &[usize], message: impl Fn(&str) -> String, help: &str) {
        let Some(&first) = group.iter().min_by_key(|&&node| self.nodes[node].spot) else { return };
        let names = group.iter().map(|&node| self.nodes[node].spec.name.as_str());
        self.report(self.nodes[first].spot, message(&listed(names)), help);
    }

    fn report(&self, spot: Spot, message: String, help: &str) {
        self.sheet.problems.report_with_help(spot, message, help);
    }
}

/// "`a`", "`a` and `b`", "`a`, `b`, `c` and 4 more".
fn listed<'n>(names: impl Iterator<Item = &'n str>) -> String {
    const SHOWN: usize = 4;
    let names: Vec<String> = names.map(|name| format!("`{name}`")).collect();
    match names.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] if names.len() <= SHOWN => format!("{} and {last}", most.join(", ")),
        more => format!("{} and {} more", more[..SHOWN - 1].join(", "), more.len() + 1 - SHOWN),
    }
}

/// Nodes in groups that hang together.
struct Groups {
    label: Vec<usize>,
}

impl Groups {
    fn new(nodes: usize) -> Groups {
        Groups { label: (0..nodes).collect() }
    }

    fn root(&self, node: usize) -> usize {
        let mut at = node;
        while self.label[at] != at {
            at = self.label[at];
        }
        at
    }

    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        self.label[a.max(b)] = a.min(b);
    }

    fn are_joined(&self, a: usize, b: usize) -> bool {
        self.root(a) == self.root(b)
    }

    /// The groups that the given nodes form, in order.
    fn of(&self, nodes: impl Iterator<Item = usize>) -> Vec<Vec<usize>> {
        let mut groups = std::collections::BTreeMap::<usize, Vec<usize>>::new();
        for node in nodes {
            groups.entry(self.root(node)).or_default().push(node);
        }
        groups.into_values().collect()
    }
}
