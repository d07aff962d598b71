//! The liquid net: pressures of nodes and flows of branches, solved every tick for each circuit.
//!
//! Every branch obeys one law, from which valves, pipes, filters, pumps and relief valves are made:
//!
//! `p_from - p_to + head = lin * Q + quad * Q |Q|`
//!
//! * valve or pipe: `head = 0`, `quad = 1e5 rho / 1000 / Kv^2` (IEC 60534: Kv is the flow of water of 1000 kg/m3 at 1 bar);
//! * laminar resistance: `lin`, proportional to viscosity (Hagen-Poiseuille);
//! * centrifugal pump: `head = rho g H0 r^2`, `quad = rho g a` (affinity laws: H = H0 r^2 - a Q^2);
//! * gear pump: `lin = slip resistance`, `head = lin * displacement flow` (slip proportional to pressure).
//!
//! Inverted, the law gives Q as a smooth, rising function of the pressure difference, so that the Jacobian of a
//! circuit is symmetric and positive definite: damped Newton with a sparse elimination, warm-started.
//! Near zero difference the square root is regularised at [`SMOOTH_PA`] (error 0.25 % at ten times that).
//! Each node has a small compliance (liquid, hoses, trapped air), so a blocked-in section keeps its pressure. A node
//! that is drawn down to vapour pressure holds there while a cavity grows in it; the cavity must be filled again
//! before the pressure rises, and a node that has run empty gives nothing. So no liquid is made or lost.

mod branch;
mod cavity;
mod circuit;
mod newton;

use super::elimination::Pattern;
use branch::Flow;
use circuit::{Circuit, find_circuits};

pub use branch::{LiquidBranch, SMOOTH_PA};
pub use cavity::VAPOUR_PA;
pub use newton::LiquidFailure;

/// The net.
#[derive(Clone, Debug)]
pub struct LiquidNet {
    /// Gauge pressure of each node against the air at sea level, without the weight of its own height, Pa.
    pub pressure_pa: Vec<f64>,
    /// Flow of each branch, m3/s.
    pub flow_m3_s: Vec<f64>,
    /// Branches.
    pub branches: Vec<LiquidBranch>,
    /// Liquid put into a node from outside the net, m3/s (reset each tick).
    pub source_m3_s: Vec<f64>,
    /// For nodes whose pressure is set: 1 while there is liquid to give, 0 when empty.
    pub wet: Vec<f64>,
    /// Gauge pressure at which each node's liquid boils: lower where a node lies below the level that pressures refer to.
    pub boils_pa: Vec<f64>,
    /// By how much air that has come into each circuit keeps its cavities above that, Pa.
    pub lift_pa: Vec<f64>,
    /// Gauge pressure at which each node's cavity stands, with vapour or with air in it, Pa.
    vapour_pa: Vec<f64>,
    /// Density of each node's liquid, kg/m3.
    pub density_kg_m3: Vec<f64>,
    volume_m3: Vec<f64>,
    fixed: Vec<bool>,
    circuits: Vec<Circuit>,
    /// Branches that join two nodes whose pressures are set: they belong to no circuit.
    between_set: Vec<usize>,
    /// Flow of each branch by its law as last worked out, and for what.
    worked_out: Vec<Flow>,
    slope_m3_s_pa: Vec<f64>,
    /// Share of its volume that a node without a component of its own still holds, and fades with near nothing.
    left_share: Vec<f64>,
    /// Branches at each node.
    at_node: Vec<Vec<usize>>,
    matrix: Vec<f64>,
    step_pa: Vec<f64>,
    residual: Vec<f64>,
    /// What each node of a circuit held at the beginning of the tick.
    held_m3: Vec<f64>,
}

impl LiquidNet {
    /// Makes a net of nodes with these volumes and densities; `fixed` nodes have their pressure set by a component.
    pub fn new(
        volume_m3: Vec<f64>,
        density_kg_m3: Vec<f64>,
        fixed: Vec<bool>,
        ends: &[(usize, usize)],
    ) -> Self {
        let n = volume_m3.len();
        let branches: Vec<_> = ends.iter().map(|&(from, to)| LiquidBranch::new(from, to)).collect();
        let circuits = find_circuits(n, &fixed, &branches);
        let largest = circuits.iter().map(|c| c.nodes.len()).max().unwrap_or(0);
        let slots = circuits.iter().map(|c| c.pattern.slots()).max().unwrap_or(0);
        let between_set =
            (0..branches.len()).filter(|&b| fixed[branches[b].from] && fixed[branches[b].to]).collect();
        let at_node = (0..n)
            .map(|node| {
                (0..branches.len()).filter(|&b| branches[b].from == node || branches[b].to == node).collect()
            })
            .collect();
        LiquidNet {
            at_node,
            pressure_pa: vec![0.0; n],
            flow_m3_s: vec![0.0; branches.len()],
            source_m3_s: vec![0.0; n],
            wet: vec![1.0; n],
            boils_pa: vec![VAPOUR_PA; n],
            lift_pa: vec![0.0; circuits.len()],
            vapour_pa: vec![VAPOUR_PA; n],
            density_kg_m3,
            volume_m3,
            fixed,
            circuits,
            between_set,
            worked_out: branches.iter().map(Flow::at_rest).collect(),
            slope_m3_s_pa: vec![0.0; branches.len()],
            left_share: vec![1.0; n],
            matrix: vec![0.0; slots + 1],
            step_pa: vec![0.0; largest],
            residual: vec![0.0; largest + 1],
            held_m3: vec![0.0; largest],
            branches,
        }
    }

    /// What flows into a node over its branches, m3/s.
    pub fn net_inflow_m3_s(&self, node: usize) -> f64 {
        let mut sum = 0.0;
        for &b in &self.at_node[node] {
            if self.branches[b].to == node {
                sum += self.flow_m3_s[b];
            }
            if self.branches[b].from == node {
                sum -= self.flow_m3_s[b];
            }
        }
        sum
    }

    /// Nodes (in the order of elimination) and pattern of each circuit, for the heat net.
    pub(super) fn circuit_patterns(&self) -> Vec<(Vec<usize>, Pattern)> {
        self.circuits.iter().map(|c| (c.nodes.clone(), c.pattern.clone())).collect()
    }

    /// Branches of one circuit, each with its slots in a matrix of the circuit's pattern: what its first end gets from
    /// its second, and the second from the first.
    pub(super) fn circuit_branches(&self, c: usize) -> impl Iterator<Item = (usize, (usize, usize))> {
        let circuit = &self.circuits[c];
        circuit.links.iter().map(|link| (link.branch, (link.back, link.forth)))
    }

    /// Volume of a node, m3; without meaning where a component sets its pressure.
    pub(super) fn volume_m3(&self, node: usize) -> f64 {
        self.volume_m3[node]
    }

    /// Does a component set this node's pressure?
    pub fn is_set(&self, node: usize) -> bool {
        self.fixed[node]
    }
}

#[cfg(test)]
mod tests;
