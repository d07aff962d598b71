//! Which nodes and branches make a circuit, and where circuits end at nodes whose pressures are set.

use super::branch::LiquidBranch;
use crate::nets::elimination::Pattern;

/// Branches and nodes of one circuit: nodes joined by branches, cut where a component sets the pressure.
#[derive(Clone, Debug)]
pub(super) struct Circuit {
    /// Nodes in the order of elimination.
    pub(super) nodes: Vec<usize>,
    pub(super) links: Vec<Link>,
    pub(super) pattern: Pattern,
    /// Branches between the circuit and nodes whose pressure is set: branch, set node, free node.
    pub(super) mouths: Vec<(usize, usize, usize)>,
}

/// A branch in its circuit. What concerns a node whose pressure is set goes to one place, and one slot of the matrix, more
/// than the circuit has: nobody looks there.
#[derive(Clone, Copy, Debug)]
pub(super) struct Link {
    pub(super) branch: usize,
    /// Places of both ends in `nodes`.
    pub(super) from: usize,
    pub(super) to: usize,
    /// Slots in the matrix of both ends' own.
    pub(super) from_own: usize,
    pub(super) to_own: usize,
    /// Slots in the matrix for what the ends have to do with each other: what `from` gets from `to`, and `to` from `from`.
    pub(super) back: usize,
    pub(super) forth: usize,
}

/// Where a circuit begins and ends at nodes whose pressures are set.
fn find_mouths(inside: &[usize], fixed: &[bool], branches: &[LiquidBranch]) -> Vec<(usize, usize, usize)> {
    let mut mouths = Vec::new();
    for &b in inside {
        let (from, to) = (branches[b].from, branches[b].to);
        match (fixed[from], fixed[to]) {
            (true, false) => mouths.push((b, from, to)),
            (false, true) => mouths.push((b, to, from)),
            _ => {}
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
        let mouths = find_mouths(&inside, fixed, branches);
        circuits.push(lay_out(&nodes, inside, mouths, branches));
    }
    circuits
}

/// Puts a circuit's nodes into the order of elimination.
fn lay_out(
    nodes: &[usize],
    inside: Vec<usize>,
    mouths: Vec<(usize, usize, usize)>,
    branches: &[LiquidBranch],
) -> Circuit {
    let place = |node: usize| nodes.iter().position(|&n| n == node);
    let joined = inside.iter().filter_map(|&b| Some((place(branches[b].from)?, place(branches[b].to)?)));
    let pattern = Pattern::new(nodes.len(), joined);
    let nodes: Vec<usize> = pattern.order.iter().map(|&i| nodes[i]).collect();
    let place = |node: usize| nodes.iter().position(|&n| n == node);
    let link = |&branch: &usize| {
        let (from, to) = (place(branches[branch].from), place(branches[branch].to));
        let slot = |a: Option<usize>, b: Option<usize>| match (a, b) {
            (Some(a), Some(b)) => pattern.slot(a, b),
            _ => pattern.slots(),
        };
        Link {
            branch,
            from: from.unwrap_or(nodes.len()),
            to: to.unwrap_or(nodes.len()),
            from_own: slot(from, from),
            to_own: slot(to, to),
            back: slot(from, to),
            forth: slot(to, from),
        }
    };
    let links = inside.iter().map(link).collect();
    Circuit { links, nodes, pattern, mouths }
}
