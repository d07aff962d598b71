//! Which nodes and branches make a circuit, and where circuits end at nodes whose pressures are set.

use super::branch::LiquidBranch;
use crate::nets::elimination::Pattern;

/// Branches and nodes of one circuit: nodes joined by branches, cut where a component sets the pressure.
#[derive(Clone, Debug)]
pub(super) struct Circuit {
    /// Nodes in the order of elimination.
    pub(super) nodes: Vec<usize>,
    pub(super) branches: Vec<usize>,
    /// Place in `nodes` of both ends of each branch; [`SET`] where a component sets the pressure.
    pub(super) ends: Vec<(usize, usize)>,
    pub(super) pattern: Pattern,
}

/// Stands for the place of a node whose pressure is set.
pub(super) const SET: usize = usize::MAX;

/// Where circuits begin and end at nodes whose pressures are set.
pub(super) fn find_mouths(
    circuits: &[Circuit],
    fixed: &[bool],
    branches: &[LiquidBranch],
) -> Vec<(usize, usize, usize, usize)> {
    let mut mouths = Vec::new();
    for (c, circuit) in circuits.iter().enumerate() {
        for &b in &circuit.branches {
            let (from, to) = (branches[b].from, branches[b].to);
            match (fixed[from], fixed[to]) {
                (true, false) => mouths.push((b, from, to, c)),
                (false, true) => mouths.push((b, to, from, c)),
                _ => {}
            }
        }
    }
    mouths
}

/// Joins the nodes that share branches, cutting at fixed nodes. A branch between two fixed nodes belongs to no
/// circuit: its flow follows from the two pressures alone.
pub(super) fn find_circuits(n: usize, fixed: &[bool], branches: &[LiquidBranch]) -> Vec<Circuit> {
    let mut label: Vec<usize> = (0..n).collect();
    loop {
        let mut changed = false;
        for b in branches {
            if fixed[b.from] || fixed[b.to] {
                continue;
            }
            let low = label[b.from].min(label[b.to]);
            changed |= label[b.from] != low || label[b.to] != low;
            label[b.from] = low;
            label[b.to] = low;
        }
        if !changed {
            break;
        }
    }
    let mut circuits = Vec::new();
    for root in 0..n {
        let nodes: Vec<usize> = (0..n).filter(|&i| !fixed[i] && label[i] == root).collect();
        if nodes.is_empty() {
            continue;
        }
        let member = |node: usize| !fixed[node] && label[node] == root;
        let inside: Vec<usize> =
            (0..branches.len()).filter(|&b| member(branches[b].from) || member(branches[b].to)).collect();
        circuits.push(lay_out(&nodes, inside, branches));
    }
    circuits
}

/// Puts a circuit's nodes into the order of elimination.
fn lay_out(nodes: &[usize], inside: Vec<usize>, branches: &[LiquidBranch]) -> Circuit {
    let place = |node: usize| nodes.iter().position(|&n| n == node);
    let joined = inside.iter().filter_map(|&b| Some((place(branches[b].from)?, place(branches[b].to)?)));
    let pattern = Pattern::new(nodes.len(), joined);
    let nodes: Vec<usize> = pattern.order.iter().map(|&i| nodes[i]).collect();
    let place = |node: usize| nodes.iter().position(|&n| n == node).unwrap_or(SET);
    let ends = inside.iter().map(|&b| (place(branches[b].from), place(branches[b].to))).collect();
    Circuit { nodes, branches: inside, ends, pattern }
}
